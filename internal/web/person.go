package web

import (
	"errors"
	"strings"

	"github.com/gofiber/fiber/v2"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/views"
)

func newPerson(v *visit) error { return v.showNewPerson(200, views.NewPerson{}) }

func (v *visit) showNewPerson(status int, p views.NewPerson) (err error) {
	if p.Teams, err = v.teams(); err != nil {
		return err
	}
	return v.page(status, views.NewPersonPage(v.frame("Add a person", views.AtPeople), p))
}

// teams are the words for teams that there are.
func (v *visit) teams() ([]string, error) {
	all, err := v.inUse()
	return all.Teams, err
}

// inUse are the words that forms of educators show; others have no such forms.
func (v *visit) inUse() (training.InUse, error) {
	if !v.actor.Person.Has(training.Educator) {
		return training.InUse{}, nil
	}
	return v.Service.InUse(v.ctx, v.actor)
}

func addPerson(v *visit) error {
	in, err := v.form("key", "name", "username", "hired")
	if err != nil {
		return err
	}
	page := views.NewPerson{PersonForm: personForm(in), Username: in["username"], Left: in["left"]}
	p := page.Person()
	if p.Left = training.Day(page.Left); p.Hired == "" {
		p.Hired = "missing" // the services let it stay open; this form does not
	}
	if err := v.doubted(&page.PersonForm, p, in); err != nil || len(page.Doubts) > 0 {
		return errors.Join(err, v.showNewPerson(422, page))
	}
	person, password, err := v.Service.AddPerson(v.ctx, v.actor, in["key"], p, page.Username)
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		page.Problem = text
		return v.showNewPerson(status, page)
	}
	if err != nil {
		return err
	}
	return v.showNewPerson(200, views.NewPerson{Added: &views.Added{Person: person, Username: strings.ToLower(strings.TrimSpace(page.Username)), FirstPassword: password, Until: v.Service.Now().Add(training.FirstPasswordFor)}})
}

// personForm is what was typed of a person.
func personForm(in map[string]string) views.PersonForm {
	f := views.PersonForm{Name: in["name"], StaffNo: in["staff_no"], Hired: in["hired"], Job: in["job"], Team: in["team"], Email: in["email"], SeesToday: in["sees-today"] != ""}
	for _, r := range views.Roles {
		if in["role-"+string(r)] != "" {
			f.Roles = append(f.Roles, r)
		}
	}
	return f
}

// doubted asks about what may be a slip, unless just that was asked about before.
func (v *visit) doubted(f *views.PersonForm, p training.Person, in map[string]string) (err error) {
	if f.Doubts, err = v.Service.Doubts(v.ctx, v.actor, in["key"], p); err != nil {
		return err
	}
	if f.Sure = procedure.Digest([]byte(strings.Join(f.Doubts, "\n"))); f.Sure == in["sure"] {
		f.Doubts = nil
	}
	return nil
}

func editPerson(v *visit) error { return v.showEditPerson(200, views.EditPerson{}) }

// showEditPerson fills the page; what was typed in a form that was refused is given.
func (v *visit) showEditPerson(status int, page views.EditPerson) (err error) {
	if page.Person, err = v.Service.Person(v.ctx, v.actor, v.Params("id")); err != nil {
		return err
	}
	if page.Changes.Log, err = v.Service.Changes(v.ctx, v.actor, training.ChangeQuery{Group: training.ChangesOfPeople, PersonID: page.Person.ID}); err != nil {
		return err
	}
	if page.WrongFor != views.CorrectForm {
		kept := views.FormOf(page.Person)
		kept.Problem = page.Problem
		page.PersonForm, page.Seen = kept, training.SeenPerson(page.Person)
	} else if seen := training.SeenPerson(page.Person); status == fiber.StatusConflict && page.Seen != seen {
		page.Problem, page.Seen = page.Overtaken(), seen
	}
	if page.Teams, err = v.teams(); err != nil {
		return err
	}
	if page.Today = v.Service.Today(); page.WrongFor != views.LeaveForm {
		page.Last = string(page.Person.Left)
	}
	page.Gone = page.Person.GoneOn(page.Today)
	return v.page(status, views.EditPersonPage(v.frame(page.Person.Name, views.AtPeople), page))
}

func correctPerson(v *visit) error {
	in, err := v.form("key", "seen", "name", "why")
	if err != nil {
		return err
	}
	page := views.EditPerson{PersonForm: personForm(in), Seen: in["seen"], Why: in["why"], WrongFor: views.CorrectForm}
	p := page.PersonForm.Person()
	p.ID = v.Params("id")
	if err := v.doubted(&page.PersonForm, p, in); err != nil || len(page.Doubts) > 0 {
		return errors.Join(err, v.showEditPerson(422, page))
	}
	return v.changed(in, page, func() error { return v.Service.CorrectPerson(v.ctx, v.actor, in["key"], p, in["seen"], in["why"]) })
}

func letGo(v *visit) error {
	in, err := v.form("key", "last")
	if err != nil {
		return err
	}
	page := views.EditPerson{Last: in["last"], Why: in["why"], WrongFor: views.LeaveForm}
	page.Problem = warnedOf(training.ReasonTextWarning, in, "why")
	if page.SureWords = in["sure"]; page.Problem != "" {
		return v.showEditPerson(422, page)
	}
	return v.changed(in, page, func() error {
		return v.Service.LetGo(v.ctx, v.actor, in["key"], v.Params("id"), training.Day(in["last"]), in["why"])
	})
}

func takeBackPerson(v *visit) error {
	in, err := v.form("key", "first", "until")
	if err != nil {
		return err
	}
	page := views.EditPerson{First: in["first"], Until: in["until"], WrongFor: views.ReturnForm}
	return v.changed(in, page, func() error {
		return v.Service.Return(v.ctx, v.actor, in["key"], v.Params("id"), training.Day(in["first"]), training.Day(in["until"]))
	})
}

// changed makes a change of a person; what it is refused for is said at its form.
func (v *visit) changed(in map[string]string, page views.EditPerson, change func() error) error {
	err := v.prove(in)
	if err == nil {
		err = change()
	}
	if status, text, is := atForm(err, training.ErrProve); is {
		page.Problem = text
		return v.showEditPerson(status, page)
	}
	if err != nil {
		return err
	}
	return v.doneAt("/people/"+v.Params("id")+"/edit#changes", views.PersonChanged, 0)
}
