package web

import (
	"errors"
	"strings"

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
	page := views.Watch{Watching: w, Problem: wrong}
	if page.Duties, err = v.ownDuties(); err != nil {
		return err
	}
	if page.Asked, err = v.Service.AskedDemonstrations(v.ctx, v.actor); err != nil {
		return err
	}
	f := v.frame("Watch", views.AtWatch)
	f.Message = message
	return v.page(status, views.WatchPage(f, page))
}

func watchNew(v *visit) error { return v.showWatchNew(200, v.Query("person"), "") }

func (v *visit) showWatchNew(status int, person, wrong string) error {
	learners, err := v.Service.Learners(v.ctx, v.actor)
	if err != nil {
		return err
	}
	w := views.Watch{Learners: learners, Chosen: person, Problem: wrong}
	for _, c := range v.Library.Competencies() {
		for _, id := range c.Stations() {
			p, err := v.procedureOf(id)
			if err != nil {
				return err
			}
			w.Offers = append(w.Offers, views.Offer{Competency: c, Procedure: p, Today: v.Service.Today(), Several: len(c.Variants) > 0})
		}
	}
	f := v.frame("Start a demonstration", views.AtWatch)
	return v.page(status, views.WatchNewPage(f, w))
}

func startDemonstration(v *visit) error {
	in, err := v.form("key", "person", "what")
	if err != nil {
		return err
	}
	competency, product, _ := strings.Cut(in["what"], " ")
	product, station, _ := strings.Cut(product, " ")
	d, err := v.Service.StartWatching(v.ctx, v.actor, in["key"], training.Start{TraineeID: in["person"], Competency: competency, Product: product, Station: station,
		Setting: training.Setting{Purpose: training.ForReturn}})
	if errors.Is(err, training.ErrForbidden) || errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		return v.showWatchNew(status, in["person"], text)
	}
	if err != nil {
		return err
	}
	return v.goTo("/demonstrations/" + d.ID + "/record")
}
