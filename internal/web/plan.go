package web

import (
	"errors"

	"stillwet/internal/training"
	"stillwet/views"
)

// plan shows what somebody is to practise after an unmet demonstration.
func plan(v *visit) error { return v.showPlan(200, "", nil) }

func (v *visit) showPlan(status int, wrong string, in map[string]string) error {
	p, err := v.Service.Plan(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	who, err := v.Service.Person(v.ctx, v.actor, p.PersonID)
	if err != nil {
		return err
	}
	page := views.PlanPageData{Plan: p, Person: who, Competency: v.competencyTitle(p.Competency), Wrong: wrong, Typed: typed(in),
		MayAnswer: v.actor.Person.Has(training.Educator) && p.Last().State == training.PlanProposed,
		MayClose:  v.actor.Person.Has(training.Educator) && p.Open()}
	for _, id := range p.Scenarios {
		title := id
		if s, ok := v.Library.Scenario(id); ok {
			title = s.Title
		}
		page.Scenarios = append(page.Scenarios, views.Link{Href: "/practice/" + id, Text: title})
	}
	return v.page(status, views.PlanPage(v.frame("Plan of "+who.Name, views.AtPeople), page))
}

func answerPlan(v *visit) error {
	in, err := v.form("key", "state", "due", "why")
	if err != nil {
		return err
	}
	if warning := patientWarning(in, "why"); warning != "" {
		return v.showPlan(422, warning, in)
	}
	_, err = v.Service.AnswerPlan(v.ctx, v.actor, in["key"], v.Params("id"), training.PlanState(in["state"]), training.Day(in["due"]), in["why"])
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		return v.showPlan(status, text, in)
	}
	if err != nil {
		return err
	}
	return v.goTo("/plans/" + v.Params("id"))
}
