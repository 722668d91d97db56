package web

import (
	"encoding/json"
	"fmt"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/scenarios"
	"stillwet/views"
)

func showSet(v *visit) error { return v.showSetWith(200, "") }

func (v *visit) showSetWith(status int, problem string) error {
	b, none, err := v.bench(proved)
	if err != nil {
		return err
	}
	page := views.SetView{NoSet: none, Problem: problem}
	if !none {
		page.Sets, page.Read = b.sets, namedOf(b.now)
		if b.fault != nil {
			page.Faults = b.fault.Error()
		} else {
			page.Changes = scenarios.Differences(b.now, b.lib)
			page.InDraft, page.Last = namedOf(b.lib), b.lastChange()
			page.Over = views.Over(proceduresOf(b.lib), "", v.Service.Today())
			page.Resting, page.Open = b.lib.Resting(), b.lib.Unconfirmed()
			page.Spoken = b.set.Spoken(b.lib)
		}
	}
	return v.page(status, views.SetPage(v.frame("The clinic's procedure", views.AtSet), page))
}

// draftForm is a form that acts on the draft as somebody read it.
func (v *visit) draftForm(names ...string) (in map[string]string, revision int, err error) {
	if in, err = v.form(append([]string{"key", "revision"}, names...)...); err == nil {
		revision, err = number(in["revision"])
	}
	return in, revision, err
}

func proposeSet(v *visit) error {
	in, revision, err := v.draftForm("why")
	if err != nil {
		return err
	}
	made, err := v.Service.ProposeSet(v.ctx, v.actor, in["key"], revision, in["why"])
	if err != nil {
		return v.afterSet(err)
	}
	return v.goTo(views.VersionURL(made.Number) + "?effect=yes")
}

func discardSet(v *visit) error {
	in, revision, err := v.draftForm()
	if err != nil {
		return err
	}
	return v.afterSet(v.Service.DiscardSetDraft(v.ctx, v.actor, in["key"], revision))
}

// undoEdit takes the last change of the draft back: the others are made anew.
func undoEdit(v *visit) error {
	in, revision, err := v.draftForm()
	if err != nil {
		return err
	}
	b, none, err := v.bench(outlined)
	if err != nil {
		return err
	}
	before, edits := b.before()
	if none || before == nil {
		return v.showSetWith(409, "There is no last change that could be taken back.")
	}
	if len(edits) == 0 {
		return v.afterSet(v.Service.DiscardSetDraft(v.ctx, v.actor, in["key"], revision))
	}
	text, err := json.Marshal(edits)
	if err != nil {
		return err
	}
	_, err = v.Service.SaveSetDraft(v.ctx, v.actor, in["key"], training.SetSaving{Revision: revision, Files: before.Map(), Edits: string(text)})
	return v.afterSet(err)
}

// aSet is the most that comes as a zip in a browser: fifteen times the built-in set. A
// larger one comes by the command.
const aSet = 1 << 20

// bringSet makes a zip the draft. One that cannot be used is told with every fault, and
// nothing of it is kept.
func bringSet(v *visit) error {
	in, revision, err := v.draftForm()
	if err != nil {
		return err
	}
	data, err := v.upload("zip", aSet)
	if err != nil {
		return err
	}
	if len(data) == 0 {
		return v.showSetWith(422, "Choose the zip first: one that this page, or stillwet set export, gave.")
	}
	set, err := scenarios.ReadZip(data)
	if err != nil {
		return v.showSetWith(422, "Nothing was brought in. "+procedure.Capital(err.Error())+".")
	}
	if _, err := set.Load(); err != nil {
		return v.showSetWith(422, "Nothing was brought in. This set has faults:\n"+firstLines(err.Error(), 40))
	}
	_, err = v.Service.SaveSetDraft(v.ctx, v.actor, in["key"], training.SetSaving{Revision: revision, Files: set.Map(), Imported: true})
	return v.afterSet(err)
}

// askApprovers says by how many people a version is approved.
func askApprovers(v *visit) error {
	in, err := v.form("key", "two", "password")
	if err != nil {
		return err
	}
	err = v.Service.AskTwoToApprove(v.ctx, v.actor, in["key"], in["two"] == "yes", approvalOf(in), in["password"], secondOf(in))
	return v.afterSet(err)
}

// afterSet shows a refused act on the page of the set, and goes to it otherwise.
func (v *visit) afterSet(err error) error {
	if told(err) {
		return v.showSetWith(explain(err))
	}
	if err != nil {
		return err
	}
	return v.goTo(views.SetURL)
}

// firstLines are the first lines of a text, with how many more there are.
func firstLines(text string, most int) string {
	lines := strings.Split(text, "\n")
	if len(lines) <= most {
		return text
	}
	return strings.Join(lines[:most], "\n") + fmt.Sprintf("\nand %d more.", len(lines)-most)
}
