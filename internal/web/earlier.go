package web

import (
	"stillwet/internal/roster"
	"stillwet/internal/training"
	"stillwet/views"
)

var earlierLists = listKind{
	page: views.ListImport{Heading: "Import sign-offs from paper", Up: views.Link{Href: "/earlier", Text: "Sign-offs from paper"}, Action: "/earlier/import", Confirm: "Take it over to be read",
		Lead: "A list of who was signed off on which day, by whom, and where the paper lies. It counts once you have read and signed it on the next page.", Kind: roster.EarlierList},
	kind: roster.EarlierList,
	preview: func(v *visit, l *roster.List) (training.ListPlan, error) {
		return v.Service.PreviewEarlier(v.ctx, v.actor, l)
	},
	confirm: func(v *visit, key string, l *roster.List, seen string) (string, error) {
		id, err := v.Service.BringEarlier(v.ctx, v.actor, key, l, seen)
		return afterDone("/earlier#batch-"+id, views.PapersBrought, 0), err
	},
}

func earlierListPage(v *visit) error { return earlierLists.show(v) }

func previewEarlier(v *visit) error { return earlierLists.look(v) }

func bringEarlier(v *visit) error { return earlierLists.take(v) }

func earlier(v *visit) error { return v.showEarlier(200, "", "") }

func (v *visit) showEarlier(status int, wrong, at string) error {
	waiting, err := v.Service.EarlierWaiting(v.ctx, v.actor)
	if err != nil {
		return err
	}
	page := views.EarlierPageData{Waiting: waiting, Titles: map[string]string{}, Wrong: wrong, WrongAt: at}
	for _, c := range v.Library.Competencies() {
		page.Titles[c.ID] = c.Title
	}
	return v.page(status, views.EarlierPage(v.frame("Sign-offs from paper", views.AtPeople), page))
}

func confirmEarlier(v *visit) error {
	in, err := v.form("key", "password")
	if err != nil {
		return err
	}
	waiting, err := v.Service.EarlierWaiting(v.ctx, v.actor)
	if err != nil {
		return err
	}
	n := 0 // it waits no more when this is a repeat
	for _, d := range waiting {
		if d.ID == v.Params("id") {
			n = len(d.Lines)
		}
	}
	err = onlyPassword(v.Service.ConfirmEarlier(v.ctx, v.actor, in["key"], v.Params("id"), in["password"]))
	if status, text, told := atForm(err); told {
		return v.showEarlier(status, text, v.Params("id"))
	}
	if err != nil {
		return err
	}
	return v.doneAt("/people", views.PapersConfirmed, n)
}

func discardEarlier(v *visit) error {
	in, err := v.form("key")
	if err != nil {
		return err
	}
	if err := v.Service.DiscardEarlier(v.ctx, v.actor, in["key"], v.Params("id")); err != nil {
		return err
	}
	return v.doneAt("/earlier", views.PapersAside, 0)
}

// paperIn is what was typed of an earlier sign-off.
func paperIn(in map[string]string, person string) training.EarlierLine {
	return training.EarlierLine{PersonID: person, Competency: in["competency"], On: training.Day(in["on"]), SignedBy: in["signed-by"], Evidence: in["evidence"], Due: training.Day(in["due"]),
		Site: in["site"], Here: in["here"] != "no"}
}

func newPaper(v *visit) error { return v.showNewPaper(200, views.PaperForm{}) }

func (v *visit) showNewPaper(status int, page views.PaperForm) (err error) {
	if page.Person, err = v.Service.Person(v.ctx, v.actor, v.Params("id")); err != nil {
		return err
	}
	page.Competencies = v.signedFor()
	return v.page(status, views.NewPaperPage(v.frame("A sign-off from paper", views.AtPeople), page))
}

// signedFor are the competencies that people are signed off for.
func (v *visit) signedFor() (all []training.Competency) {
	for _, c := range v.Library.Competencies() {
		if !c.OnlyWatched {
			all = append(all, c)
		}
	}
	return all
}

func enterPaper(v *visit) error {
	in, err := v.form("key", "competency", "on", "password")
	if err != nil {
		return err
	}
	page := views.PaperForm{Wrong: warned(in, "evidence", "site", "signed-by"), WrongAt: views.PaperEnter}
	if page.Typed = typed(in); page.Wrong != "" {
		return v.showNewPaper(422, page)
	}
	person := v.Params("id")
	err = onlyPassword(v.Service.EnterEarlier(v.ctx, v.actor, in["key"], paperIn(in, person), in["password"]))
	if status, text, told := atForm(err); told {
		page.Wrong = text
		return v.showNewPaper(status, page)
	}
	if err != nil {
		return err
	}
	return v.doneAt("/people/"+person+"#sign-offs", views.PaperEntered, 0)
}

func paper(v *visit) error { return v.showPaper(200, views.PaperForm{}) }

func (v *visit) showPaper(status int, page views.PaperForm) (err error) {
	if page.Line, err = v.Service.EarlierSignOff(v.ctx, v.actor, v.Params("id")); err != nil {
		return err
	}
	if page.ByInterval, err = v.Service.DueByInterval(v.ctx, v.actor, page.Line); err != nil {
		return err
	}
	if page.Person, err = v.Service.Person(v.ctx, v.actor, page.Line.PersonID); err != nil {
		return err
	}
	page.Competencies = v.signedFor()
	return v.page(status, views.PaperPage(v.frame("Sign-off from paper", views.AtPeople), page))
}

func correctPaper(v *visit) error {
	in, err := v.form("key", "competency", "on", "why", "password")
	if err != nil {
		return err
	}
	l, err := v.Service.EarlierSignOff(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	return v.paperDone(in, views.EntryCorrect, []string{"evidence", "site", "signed-by", "why"}, func() (string, error) {
		if err := v.Service.CorrectEarlier(v.ctx, v.actor, in["key"], l.ID, paperIn(in, l.PersonID), in["why"], in["password"]); err != nil {
			return "", err
		}
		was, err := v.Service.EarlierSignOff(v.ctx, v.actor, l.ID)
		return afterDone("/earlier-entries/"+was.By, views.PaperCorrected, 0), err
	})
}

func withdrawPaper(v *visit) error {
	in, err := v.form("key", "why", "password")
	if err != nil {
		return err
	}
	id := v.Params("id")
	return v.paperDone(in, views.EntryWithdraw, []string{"why"}, func() (string, error) {
		return afterDone("/earlier-entries/"+id, views.PaperWithdrawn, 0), v.Service.WithdrawEarlier(v.ctx, v.actor, in["key"], id, in["why"], in["password"])
	})
}

// paperDone does an act on an earlier sign-off, which answers where to go then; what it is
// refused for is said at its form.
func (v *visit) paperDone(in map[string]string, form string, texts []string, do func() (to string, err error)) error {
	page := views.PaperForm{Wrong: warned(in, texts...), WrongAt: form}
	if page.Typed = typed(in); page.Wrong != "" {
		return v.showPaper(422, page)
	}
	to, err := do()
	err = onlyPassword(err)
	if status, text, told := atForm(err); told {
		page.Wrong = text
		return v.showPaper(status, page)
	}
	if err != nil {
		return err
	}
	return v.goTo(to)
}
