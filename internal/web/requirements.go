package web

import (
	"errors"
	"strconv"

	"stillwet/internal/training"
	"stillwet/views"
)

// requirements lists what each competency takes.
func requirements(v *visit) error {
	all, err := v.Service.Requirements(v.ctx, v.actor)
	if err != nil {
		return err
	}
	return v.page(200, views.RequirementsPage(v.frame("What a sign-off takes", views.AtPeople), all))
}

// requirement is the form of one competency, with what holds in its fields.
func requirement(v *visit) error {
	return v.showRequirement(200, views.RequirementForm{})
}

func (v *visit) showRequirement(status int, p views.RequirementForm) (err error) {
	if p.Of, err = v.Service.RequirementsFor(v.ctx, v.actor, v.Params("competency")); err != nil {
		return err
	}
	if p.Typed == nil {
		terms, from, replaces := p.Of.Now.Terms, v.Service.Today(), false
		if len(p.Of.Versions) > 0 {
			newest := p.Of.Versions[0]
			terms, from, replaces = newest.Terms, max(from, newest.From), newest.From >= from
		}
		p.Typed = views.TypedRequirements(terms, from, replaces)
	}
	if p.InUse, err = v.inUse(); err != nil {
		return err
	}
	return v.page(status, views.RequirementPage(v.frame("Requirements", views.AtPeople), p))
}

// requirementDraft reads the form.
func (v *visit) requirementDraft() (in map[string]string, draft training.Requirements, err error) {
	in, err = v.form("key", "seen", "from", "why", "signer", "interval_months")
	draft = training.Requirements{Competency: v.Params("competency"), From: training.Day(in["from"]), Why: in["why"], Terms: views.ReadRequirements(in)}
	return in, draft, err
}

// previewRequirement says what the form would do, or shows it once more with what is wrong.
func previewRequirement(v *visit) error {
	in, draft, err := v.requirementDraft()
	if err != nil {
		return err
	}
	p := views.RequirementForm{Typed: in}
	if in["back"] != "" {
		delete(in, "back")
		return v.showRequirement(200, p)
	}
	if p.Wrong = patientWarning(in, "why"); p.Wrong != "" {
		return v.showRequirement(422, p)
	}
	return v.wouldDo(200, p, draft)
}

func (v *visit) wouldDo(status int, p views.RequirementForm, draft training.Requirements) error {
	preview, err := v.Service.PreviewRequirements(v.ctx, v.actor, draft)
	if err != nil {
		return v.wrongRequirement(err, p)
	}
	p.Of, p.Preview = preview.Of, &preview
	return v.page(status, views.RequirementPreviewPage(v.frame("What it would do", views.AtPeople), p))
}

// wrongRequirement shows the form again with what is wrong, each at its field.
func (v *visit) wrongRequirement(err error, p views.RequirementForm) error {
	var faults training.RequirementFaults
	switch {
	case errors.As(err, &faults):
		p.Faults = map[string]string{}
		for _, f := range faults {
			p.Faults[f.Field] = f.Text
		}
		p.Wrong = p.Faults["same"]
		if p.Wrong == "" {
			p.Wrong = "Something cannot be as it stands. Nothing is changed; look for the sentences below."
		}
		return v.showRequirement(422, p)
	case errors.Is(err, training.ErrConflict):
		status, text := explain(err)
		p.Wrong = text
		return v.showRequirement(status, p)
	}
	return err
}

// changeRequirement keeps what was seen in the preview.
func changeRequirement(v *visit) error {
	in, draft, err := v.requirementDraft()
	if err != nil {
		return err
	}
	seen, err := strconv.Atoi(in["seen"])
	if err != nil {
		return problem{400, "The form comes without the version that was seen. Load the page again."}
	}
	p := views.RequirementForm{Typed: in}
	err = v.prove(in)
	if err == nil {
		_, err = v.Service.ChangeRequirements(v.ctx, v.actor, in["key"], seen, draft)
	}
	for _, kind := range []error{training.ErrPassword, training.ErrThrottled, training.ErrProve} {
		if errors.Is(err, kind) {
			status, text := explain(err)
			p.Wrong = text
			return v.wouldDo(status, p, draft)
		}
	}
	if err != nil {
		return v.wrongRequirement(err, p)
	}
	return v.doneAt(views.RequirementURL(draft.Competency)+"#versions", views.RequirementsKept, 0)
}

// enterAbsence keeps a leave, or other days of one.
func enterAbsence(v *visit) error {
	in, err := v.form("key", "id", "from", "until", "why")
	if err != nil {
		return err
	}
	a := training.Absence{ID: in["id"], PersonID: v.Params("id"), From: training.Day(in["from"]), Until: training.Day(in["until"]), Cancelled: in["cancel"] != "", Why: in["why"]}
	warning := warnedOf(training.ReasonTextWarning, in, "why")
	if warning == "" {
		_, err = v.Service.EnterAbsence(v.ctx, v.actor, in["key"], a)
		if err == nil {
			return v.goTo("/people/" + v.Params("id") + "#leave")
		}
		if !errors.Is(err, training.ErrInvalid) && !errors.Is(err, training.ErrConflict) {
			return err
		}
		_, warning = explain(err)
	}
	return v.showRecord(422, views.Record{WrongFor: views.LeaveCard, Wrong: warning, Leave: a, Typed: typed(in)})
}

// closePlan ends a plan before a demonstration does.
func closePlan(v *visit) error {
	in, err := v.form("key", "why")
	if err != nil {
		return err
	}
	if warning := patientWarning(in, "why"); warning != "" {
		return v.showPlan(422, warning, in)
	}
	_, err = v.Service.ClosePlan(v.ctx, v.actor, in["key"], v.Params("id"), in["why"])
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		return v.showPlan(status, text, in)
	}
	if err != nil {
		return err
	}
	return v.goTo("/plans/" + v.Params("id"))
}
