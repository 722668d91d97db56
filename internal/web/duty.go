package web

import (
	"errors"
	"fmt"
	"slices"

	"stillwet/internal/training"
	"stillwet/scenarios"
	"stillwet/views"
)

// following is what follows from a version, for its page; nil where nothing can.
func (v *visit) following(version training.SetVersion) (*views.FollowView, error) {
	if version.State() != training.SetApproved {
		return nil, nil
	}
	f, err := v.Service.Following(v.ctx, v.actor, version.Number)
	if err != nil {
		return nil, err
	}
	return views.NewFollowView(f), nil
}

// confirmFollowUp keeps what the educator says follows from a version.
func confirmFollowUp(v *visit) error {
	in, err := v.form("key", "read-by", "modules-by", "shown-by")
	if err != nil {
		return err
	}
	n, err := number(v.Params("number"))
	if err != nil {
		return err
	}
	f, err := v.Service.Following(v.ctx, v.actor, n)
	if err != nil {
		return v.afterVersion(err)
	}
	page := views.NewFollowView(f)
	page.Days, page.Chosen = views.DaysIn(in), map[string]bool{}
	_, err = v.Service.ConfirmFollowUp(v.ctx, v.actor, in["key"], n, chosenIn(in, page))
	if errors.Is(err, training.ErrConflict) || errors.Is(err, training.ErrInvalid) {
		status, text := explain(err)
		page.Problem = text
		return v.showVersionPage(status, views.SetVersionView{Follow: page})
	}
	if err != nil {
		return err
	}
	return v.goTo(views.VersionURL(n) + "#done")
}

// chosenIn is what a form asks of whom; the page remembers it for when it is refused.
func chosenIn(in map[string]string, page *views.FollowView) (chosen []training.Chosen) {
	for _, g := range page.Groups {
		for _, a := range g.Asks {
			name := views.AskName(g.Role, a.Kind, a.Of)
			if page.Chosen[name] = in[name] == "yes"; !page.Chosen[name] {
				continue
			}
			chosen = append(chosen, training.Chosen{Role: g.Role, Kind: a.Kind, Of: a.Of, Due: training.Day(page.Days[a.Kind])})
		}
	}
	return chosen
}

func duty(v *visit) error { return v.showDuty(200, views.DutyView{}) }

// showDuty shows a duty; the page may hold what was refused.
func (v *visit) showDuty(status int, page views.DutyView) error {
	d, err := v.Service.Duty(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	page.DutyPage, page.Own, page.Holds = d, d.PersonID == v.actor.Person.ID, d.InForceAt <= v.Service.Now()
	lib, version, err := v.dutyLibrary(d, page.Holds)
	if err != nil {
		return err
	}
	ids := dutyProcedures(d.Changes)
	for _, id := range ids {
		if p, ok := lib.Procedure(id); ok && slices.Contains(ids, p.VariantOf) {
			continue // it comes behind the one that it is of
		}
		for _, p := range withItsVariants(lib, id) {
			page.Procedures = append(page.Procedures, views.Link{Href: views.ProcedureURL(p.ID, "") + version, Text: p.Definition.Title})
		}
	}
	if m, ok := v.Library.Module(d.Of); ok && d.Kind == training.ModuleDuty {
		page.Tests = views.DutyTests(m, d.DutyState)
	}
	at := views.AtPeople
	if page.Own {
		at = views.AtRecord
	}
	return v.page(status, views.DutyPage(v.frame(views.DutyName(d.Duty), at), page))
}

// dutyLibrary is where the procedure of a duty is read: what holds, or the version itself
// before its day has come.
func (v *visit) dutyLibrary(d training.DutyPage, holds bool) (training.Library, string, error) {
	if holds {
		return v.Library, "", nil
	}
	lib, err := v.Service.SetLibrary(v.ctx, v.actor, d.Version)
	return lib, fmt.Sprintf("?in=%d", d.Version), err
}

// dutyProcedures are the procedures that changes are in, each once, those first that
// somebody works otherwise by.
func dutyProcedures(changes []training.Change) (ids []string) {
	seen := map[string]bool{}
	for _, heavy := range []bool{true, false} {
		for _, c := range changes {
			for _, id := range c.Procedures {
				if (c.Weight != training.NoWeight) == heavy && !seen[id] {
					seen[id] = true
					ids = append(ids, id)
				}
			}
		}
	}
	return ids
}

func acknowledge(v *visit) error {
	in, err := v.form("key", "password")
	if err != nil {
		return err
	}
	_, err = v.Service.AcknowledgeDuty(v.ctx, v.actor, in["key"], v.Params("id"), in["password"])
	return v.afterDuty(onlyPassword(err), func(status int, text string) error { return v.showDuty(status, views.DutyView{Problem: text}) })
}

func takeBackDuty(v *visit) error {
	in, err := v.form("key", "why")
	if err != nil {
		return err
	}
	_, err = v.Service.TakeBackDuty(v.ctx, v.actor, in["key"], v.Params("id"), in["why"])
	return v.afterDuty(err, func(status int, text string) error { return v.showDuty(status, views.DutyView{TakeBack: text}) })
}

// moveDuty gives a duty another day.
func moveDuty(v *visit) error {
	in, err := v.form("key", "due", "why")
	if err != nil {
		return err
	}
	_, err = v.Service.MoveDuty(v.ctx, v.actor, in["key"], v.Params("id"), training.Day(in["due"]), in["why"])
	return v.afterDuty(err, func(status int, text string) error {
		return v.showDuty(status, views.DutyView{NotMoved: text, NewDay: in["due"], WhyMoved: in["why"]})
	})
}

// afterDuty shows a refused act at its duty, and goes to it otherwise.
func (v *visit) afterDuty(err error, again func(int, string) error) error {
	if told(err, training.ErrForbidden) {
		return again(explain(err))
	}
	if err != nil {
		return err
	}
	return v.goTo(views.DutyURL(v.Params("id")))
}

// ownDuties is what the actor has to do because the procedure changed, or it was asked.
func (v *visit) ownDuties() (views.DutyList, error) {
	return v.Service.DutiesOf(v.ctx, v.actor, v.actor.Person.ID)
}

// deskLines are what waits for an educator.
func (v *visit) deskLines() ([]views.DeskLine, error) {
	desk, err := v.Service.ChangeDesk(v.ctx, v.actor)
	if err != nil {
		return nil, err
	}
	plans, err := v.Service.PlansWaiting(v.ctx, v.actor)
	if err != nil {
		return nil, err
	}
	lib, ok := v.builtOf()
	if !ok {
		return views.DeskOf(desk, v.Service.Today(), nil, 0, len(plans)), nil
	}
	return views.DeskOf(desk, v.Service.Today(), proceduresOf(lib), len(lib.Unconfirmed()), len(plans)), nil
}

// builtOf is what holds as the set's own room knows it; not where the set does not lie in
// the data file, for then nobody can change it here.
func (v *visit) builtOf() (*scenarios.Library, bool) {
	shelf, ok := v.Library.(*training.Shelf)
	if !ok {
		return nil, false
	}
	lib, ok := shelf.Current().(*scenarios.Library)
	return lib, ok
}
