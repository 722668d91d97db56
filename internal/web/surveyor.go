package web

import (
	"slices"

	"stillwet/internal/training"
	"stillwet/views"
)

// survey is the records of the people whom the address names, each once.
func survey(v *visit) error {
	all, err := v.Service.Survey(v.ctx, v.actor, v.chosen())
	if err != nil {
		return err
	}
	page := views.Survey{Surveyed: all, Titles: map[string]string{}}
	for _, c := range v.Library.Competencies() {
		page.Titles[c.ID] = c.Title
	}
	for _, one := range all.Records {
		sheet, err := v.surveySheet(one)
		if err != nil {
			return err
		}
		page.Sheets = append(page.Sheets, sheet)
	}
	f := v.frame("Record for a surveyor", views.AtPeople)
	f.Script = printScript
	return v.page(200, views.SurveyPage(f, page))
}

// chosen are the ids of the people whom the address names, each once.
func (v *visit) chosen() (ids []string) {
	for _, raw := range v.Context().QueryArgs().PeekMulti("person") {
		if id := string(raw); !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	return ids
}

func (v *visit) surveySheet(one training.SurveyRecord) (views.SurveySheet, error) {
	sheet := views.SurveySheet{SurveyRecord: one}
	for _, d := range one.Demonstrations {
		r, err := v.result(d.Procedure, d.ProcedureHash, d.Log, d.ResultJSON, d.StartedAt)
		if err != nil {
			return sheet, err
		}
		r.Steps = tapsOf(r.Log)
		sheet.Results = append(sheet.Results, r)
	}
	return sheet, nil
}
