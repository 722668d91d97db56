package web

import (
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
	"stillwet/views"
)

// find shows somebody else's work, in which something is to be found.
func (v *visit) find(sc *simulate.Scenario, p *procedure.Procedure, d training.Draft) error {
	_, acts, err := v.Service.Shown(d)
	if err != nil {
		return err
	}
	told, err := v.Service.Told(d)
	if err != nil {
		return err
	}
	f := v.frame(sc.Title, views.AtPractice)
	f.Script = "find.js"
	page := views.Find{Scenario: sc, Procedure: p, Draft: d, Acts: acts, Told: views.ToldOf(told)}
	if v.Query("did") == "marked" {
		page.Said = "The marks are saved."
	}
	return v.page(200, views.FindPage(f, page))
}

// marks reads the plain form of a search.
func (v *visit) marks() (in map[string]string, revision int, picks []string, err error) {
	if in, err = v.form("draft", "revision", "key"); err != nil {
		return nil, 0, nil, err
	}
	revision, err = number(in["revision"])
	return in, revision, views.Rows(in), err
}

func saveMarks(v *visit, sc *simulate.Scenario) error {
	in, revision, picks, err := v.marks()
	if err != nil {
		return err
	}
	d, err := v.Service.SaveSteps(v.ctx, v.actor, in["draft"], revision, picks)
	if err != nil {
		return err
	}
	return v.goTo(views.AsURL(sc.ID, d.Guided) + "&did=marked#marked")
}

func finishFind(v *visit) error {
	in, revision, picks, err := v.marks()
	if err != nil {
		return err
	}
	a, err := v.Service.FinishFind(v.ctx, v.actor, in["key"], in["draft"], revision, picks)
	if err != nil {
		return err
	}
	return v.goTo("/attempts/" + a.ID)
}

// sought shows what became of a search.
func (v *visit) sought(f views.Frame, a training.Attempt, page views.Attempt) error {
	seen, err := assess.ParseSeen(a.ResultJSON)
	if err != nil {
		return err
	}
	return v.page(200, views.SoughtPage(f, views.Sought{Attempt: page, Picks: a.Steps, Seen: seen}))
}
