package web

import (
	"cmp"
	"errors"
	"slices"
	"strings"

	"stillwet/internal/training"
	"stillwet/views"
)

func watch(v *visit) error {
	home, err := v.Service.Home(v.ctx, v.actor)
	if err != nil {
		return err
	}
	standings, err := v.Service.People(v.ctx, v.actor)
	if err != nil {
		return err
	}
	w := views.Watch{Names: map[string]string{}, Next: watchNext(standings, v.actor.Person.ID)}
	for _, s := range standings {
		w.Names[s.Person.ID] = s.Person.Name
		if s.Ready && s.Person.ID != v.actor.Person.ID {
			w.Ready = append(w.Ready, s)
		}
	}
	for _, d := range home.Watched {
		switch {
		case d.PreceptorID != v.actor.Person.ID || d.State == training.Abandoned:
		case d.State == training.Recording:
			w.Open = append(w.Open, d)
		case len(d.Signatures) < 2:
			w.Waiting = append(w.Waiting, d)
		case len(w.Done) < 8:
			w.Done = append(w.Done, d)
		}
	}
	return v.page(200, views.WatchPage(v.frame("Watch", views.AtWatch), w))
}

// urgency orders the people to watch: those whose time is over first.
var urgency = map[training.StandingWord]int{training.Lapsed: 1, training.DueSoon: 2, training.InTraining: 3}

// watchNext are the people whose modules are passed and who lack clean
// demonstrations.
func watchNext(all []training.Standing, self string) (next []training.Standing) {
	for _, s := range all {
		if s.Person.ID != self && urgency[s.Word] > 0 && len(s.MissingModules) == 0 && len(s.Clean) < s.Needed {
			next = append(next, s)
		}
	}
	slices.SortStableFunc(next, func(a, b training.Standing) int {
		return cmp.Or(cmp.Compare(urgency[a.Word], urgency[b.Word]), cmp.Compare(a.Due, b.Due))
	})
	return next[:min(len(next), 8)]
}

func watchNew(v *visit) error { return v.showWatchNew(200, v.Query("person"), "") }

func (v *visit) showWatchNew(status int, person, wrong string) error {
	learners, err := v.Service.Learners(v.ctx, v.actor)
	if err != nil {
		return err
	}
	w := views.Watch{Learners: learners, Chosen: person, Problem: wrong}
	for _, c := range v.Library.Competencies() {
		p, err := v.procedureOf(c.Procedure)
		if err != nil {
			return err
		}
		w.Offers = append(w.Offers, views.Offer{Competency: c, Products: p.Products})
	}
	f := v.frame("Start a demonstration", views.AtWatch)
	f.Narrow = true
	return v.page(status, views.WatchNewPage(f, w))
}

func startDemonstration(v *visit) error {
	in, err := v.form("key", "person", "what")
	if err != nil {
		return err
	}
	competency, product, _ := strings.Cut(in["what"], " ")
	d, err := v.Service.StartDemonstration(v.ctx, v.actor, in["key"], in["person"], competency, product)
	if errors.Is(err, training.ErrForbidden) || errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		return v.showWatchNew(status, in["person"], text)
	}
	if err != nil {
		return err
	}
	return v.goTo("/demonstrations/" + d.ID + "/record")
}
