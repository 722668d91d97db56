package web

import (
	"errors"
	"maps"
	"slices"
	"strings"

	"stillwet/internal/training"
	"stillwet/views"
)

// askDays is how long people are offered for what is asked of them.
const askDays = 30

// askPage is the form that asks something of people. The address has those who were ticked on
// the page before; with nobody ticked and a filter it is of everybody under it.
func askPage(v *visit) error {
	page := views.AskPageData{Due: string(v.Service.Today().AddDays(askDays)), Ticked: map[string]bool{}}
	for _, id := range v.chosen() {
		page.Ticked[id] = true
	}
	return v.showAsk(200, page, len(page.Ticked) == 0 && v.filter().Narrow())
}

// showAsk shows the form; tick ticks all who are shown.
func (v *visit) showAsk(status int, page views.AskPageData, tick bool) (err error) {
	if page.Askable, err = v.Service.Askable(v.ctx, v.actor); err != nil {
		return err
	}
	page.Filter = v.filter()
	if page.Filter.Narrow() {
		roll, err := v.Service.People(v.ctx, v.actor)
		if err != nil {
			return err
		}
		under := views.People{Roll: roll, Filter: page.Filter, Today: v.Service.Today()}.Under()
		page.People = slices.DeleteFunc(page.People, func(p training.Person) bool { return !under[p.ID] && !page.Ticked[p.ID] })
	}
	for _, p := range page.People {
		if tick {
			page.Ticked[p.ID] = true
		}
	}
	return v.page(status, views.AskPage(v.frame("Ask something of people", views.AtPeople), page))
}

// askedIn is what a form asks, and of whom.
func askedIn(in map[string]string) (a training.Ask, page views.AskPageData) {
	kind, of, _ := strings.Cut(in["what"], ":")
	page = views.AskPageData{What: in["what"], Due: in["due"], Why: in["why"], Ticked: map[string]bool{}}
	for name := range in {
		if id, is := strings.CutPrefix(name, views.AskTick); is {
			page.Ticked[id] = true
		}
	}
	return training.Ask{Kind: training.DutyKind(kind), Of: of, Due: training.Day(in["due"]), Why: in["why"]}, page
}

// previewAsk says of whom it is asked; its other buttons tick rows, or lead back to the form.
func previewAsk(v *visit) error {
	in, err := v.form("what", "due", "why")
	if err != nil {
		return err
	}
	asked, page := askedIn(in)
	switch in[views.DoName] {
	case views.DoAll:
		return v.showAsk(200, page, true)
	case views.DoNone:
		page.Ticked = map[string]bool{}
		return v.showAsk(200, page, false)
	case views.DoAlter:
		return v.showAsk(200, page, false)
	}
	page.Wrong = warnedOf(training.ReasonTextWarning, in, "why")
	if page.Sure = in["sure"]; page.Wrong != "" {
		return v.showAsk(422, page, false)
	}
	return v.showPreview(200, views.AskPreviewData{Sure: in["sure"]}, asked, page)
}

// showPreview shows of whom something is asked, or the form when it cannot be.
func (v *visit) showPreview(status int, p views.AskPreviewData, asked training.Ask, form views.AskPageData) (err error) {
	p.Filter = v.filter()
	p.AssignmentPreview, err = v.Service.PreviewAssignment(v.ctx, v.actor, asked, slices.Sorted(maps.Keys(form.Ticked)))
	if status, text, is := atForm(err); is {
		form.Wrong = text
		return v.showAsk(status, form, false)
	}
	if err != nil {
		return err
	}
	return v.page(status, views.AskPreviewPage(v.frame("Of whom it is asked", views.AtPeople), p))
}

// assign asks what was seen in a preview; where something changed since, it is shown anew.
func assign(v *visit) error {
	in, err := v.form("key", "what", "due", "why", "seen")
	if err != nil {
		return err
	}
	asked, form := askedIn(in)
	a, err := v.Service.Assign(v.ctx, v.actor, in["key"], asked, slices.Sorted(maps.Keys(form.Ticked)), in["seen"])
	if errors.Is(err, training.ErrConflict) || errors.Is(err, training.ErrInvalid) {
		status, text := explain(err)
		return v.showPreview(status, views.AskPreviewData{Sure: in["sure"], Wrong: text}, asked, form)
	}
	if err != nil {
		return err
	}
	return v.goTo(views.AssignmentURL(a.ID))
}

func assignments(v *visit) error {
	all, err := v.Service.Assignments(v.ctx, v.actor)
	if err != nil {
		return err
	}
	return v.page(200, views.AssignmentsPage(v.frame("What was asked of people", views.AtPeople), all))
}

func assignment(v *visit) error { return v.showAssignment(200, "") }

func (v *visit) showAssignment(status int, wrong string) error {
	p, err := v.Service.Assignment(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	return v.page(status, views.AssignmentPage(v.frame("What was asked of people", views.AtPeople), views.AssignmentData{AssignmentPage: p, Wrong: wrong}))
}

func undoAssignment(v *visit) error {
	in, err := v.form("key")
	if err != nil {
		return err
	}
	err = v.Service.UndoAssignment(v.ctx, v.actor, in["key"], v.Params("id"))
	if status, text, is := atForm(err); is {
		return v.showAssignment(status, text)
	}
	if err != nil {
		return err
	}
	return v.goTo(views.AssignmentURL(v.Params("id")))
}
