package web

import (
	"maps"
	"strconv"

	"stillwet/internal/training"
	"stillwet/views"
)

// changeLog is who changed what, narrowed by what stands in the address.
func changeLog(v *visit) error {
	q := training.ChangeQuery{Group: v.Query("kind"), Name: v.Query("name"), From: training.Day(v.Query("from")), To: training.Day(v.Query("to"))}
	if text := v.Query("under"); text != "" {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 1 {
			return problem{404, "There is no such page of changes."}
		}
		q.Before = n
	}
	log, err := v.Service.Changes(v.ctx, v.actor, q)
	if err != nil {
		return err
	}
	page := views.ChangeLogPageData{Log: log, Query: q, Titles: map[string]string{}}
	maps.Copy(page.Titles, log.Items)
	for _, c := range v.Library.Competencies() {
		page.Titles[c.ID] = c.Title
	}
	return v.page(200, views.ChangeLogPage(v.frame("Log of changes", views.AtPeople), page))
}
