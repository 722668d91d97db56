package web

import (
	"cmp"
	"errors"
	"slices"
	"time"

	"stillwet/internal/training"
	"stillwet/views"
)

func watch(v *visit) error { return v.showWatch(200, "", "") }

// showWatch says what a copy brought, or why it brought nothing.
func (v *visit) showWatch(status int, message, wrong string) error {
	w, err := v.Service.Watching(v.ctx, v.actor)
	if err != nil {
		return err
	}
	page := views.Watch{Watching: w, Problem: wrong, Educator: v.actor.Person.Has(training.Educator)}
	late := v.Service.Now().Add(-24 * time.Hour)
	for _, p := range w.Plans {
		page.Waits = append(page.Waits, views.PlanRow{Plan: p, Name: w.Names[p.PersonID], Late: p.Last().At < late})
	}
	if page.Observed, err = v.Service.ObservedNow(v.ctx, v.actor); err != nil {
		return err
	}
	if page.ToSign, err = v.Service.ToSign(v.ctx, v.actor); err != nil {
		return err
	}
	if page.Duties, err = v.ownDuties(); err != nil {
		return err
	}
	if page.Asked, err = v.Service.AskedDemonstrations(v.ctx, v.actor); err != nil {
		return err
	}
	f := v.frame("Watch", views.AtWatch)
	f.Message = cmp.Or(message, f.Message)
	return v.page(status, views.WatchPage(f, page))
}

func watchNew(v *visit) error {
	in := map[string]string{}
	if person := v.Query("person"); person != "" {
		in["person"] = person
	}
	return v.showWatchNew(200, in, "")
}

func (v *visit) showWatchNew(status int, in map[string]string, wrong string) error {
	learners, err := v.Service.Learners(v.ctx, v.actor)
	if err != nil {
		return err
	}
	offers, err := v.offers()
	if err != nil {
		return err
	}
	w := views.Watch{Learners: learners, Offers: offers, Typed: typed(in), Problem: wrong, Educator: v.actor.Person.Has(training.Educator)}
	return v.page(status, views.WatchNewPage(v.frame("Start watching", views.AtWatch), w))
}

// offers are what can be watched: those towards a sign-off first.
func (v *visit) offers() (offers []views.Offer, err error) {
	for _, c := range v.Library.Competencies() {
		for _, id := range c.Stations() {
			p, err := v.procedureOf(id)
			if err != nil {
				return nil, err
			}
			o := views.Offer{Competency: c, Procedure: p, Today: v.Service.Today(), Several: len(c.Variants) > 0}
			if v.Service.Unconfirmed != nil {
				o.Open = v.Service.Unconfirmed(p, nil)
				for _, x := range p.Products {
					if len(v.Service.Unconfirmed(p, []string{x.ID})) > len(o.Open) {
						o.Unread = append(o.Unread, x.ID)
					}
				}
			}
			offers = append(offers, o)
		}
	}
	only := func(o views.Offer) bool { return o.Competency.OnlyWatched }
	last := slices.DeleteFunc(slices.Clone(offers), func(o views.Offer) bool { return !only(o) })
	return append(slices.DeleteFunc(offers, only), last...), nil
}

func startDemonstration(v *visit) error {
	in, err := v.form("key", "purpose", "person", "announced", "what")
	if err != nil {
		return err
	}
	start, wrong, err := v.startOf(in)
	if err != nil {
		return err
	}
	if wrong != "" {
		return v.showWatchNew(422, in, wrong)
	}
	d, err := v.Service.StartWatching(v.ctx, v.actor, in["key"], start)
	if errors.Is(err, training.ErrForbidden) || errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		return v.showWatchNew(status, in, text)
	}
	if err != nil {
		return err
	}
	return v.goTo("/demonstrations/" + d.ID + "/record")
}

// startOf reads the card, or says what it lacks.
func (v *visit) startOf(in map[string]string) (s training.Start, wrong string, err error) {
	offers, err := v.offers()
	if err != nil {
		return s, "", err
	}
	at := slices.IndexFunc(offers, func(o views.Offer) bool { return o.Value() == in["what"] })
	switch {
	case at < 0:
		return s, "Choose the procedure that is watched.", nil
	case in["clean"] == "":
		return s, "Wipe the tablet first, then say that it is clean.", nil
	case in["covered"] == "":
		return s, "Whoever has patients of their own does not record alone. Say that somebody looks after yours.", nil
	}
	o := offers[at]
	s = training.Start{TraineeID: in["person"], Competency: o.Competency.ID, Setting: training.Setting{Purpose: training.Purpose(in["purpose"]), Announced: in["announced"]}}
	if o.Procedure.VariantOf != "" {
		s.Station = o.Procedure.ID
	}
	if s.TraineeID == "" {
		s.Discipline, s.Shift = in["discipline"], in["shift"]
	}
	mixed := false
	for _, x := range o.Procedure.Products {
		if in[o.UseField(x.ID)] != "" {
			s.InUse = append(s.InUse, training.ProductInUse{ID: x.ID, MadeAt: in[o.MadeField(x.ID)]})
			mixed = mixed || in[o.MadeField(x.ID)] != ""
		}
	}
	if len(s.InUse) == 0 {
		return s, "Tick the products that are in use.", nil
	}
	s.Product = s.InUse[0].ID
	if len(s.InUse) == 1 && !mixed {
		s.InUse = nil
	}
	return s, "", nil
}

// endings counts how demonstrations of the last twelve months ended.
func endings(v *visit) error {
	to := v.Service.Today()
	from := to.AddMonths(-12).AddDays(1)
	all, err := v.Service.EndingsBy(v.ctx, v.actor, from, to)
	if err != nil {
		return err
	}
	return v.page(200, views.EndingsPage(v.frame("How demonstrations ended", views.AtWatch), views.EndingsPageData{From: from, To: to, All: all}))
}
