package web

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/scenarios"
	"stillwet/views"
)

// asking is a form that asks for one edit of the draft, read and worked out.
type asking struct {
	bench    *bench
	asked    asked
	in       map[string]string
	revision int
	edit     scenarios.Edit
	none     bool // it changes nothing, or there is nothing to be changed
}

func (v *visit) asking() (k asking, err error) {
	if k.in, k.revision, err = v.draftForm("do", "list", "procedure", "row"); err != nil {
		return k, err
	}
	b, none, err := v.bench(outlined)
	if err != nil {
		return k, err
	}
	k.bench, k.asked = b, asked{k.in["list"], k.in["procedure"], k.in["row"], k.in["row"] == "" && k.in["do"] == "put"}
	if k.none = none || b.lib == nil; !k.none {
		k.onTop()
		var changed bool
		k.edit, changed = v.edit(b, k.asked, k.in)
		k.none = !changed
	}
	return k, nil
}

// onTop lets a change go on top of others that were made since the form was shown, when none
// of them changed its row.
func (k *asking) onTop() {
	form, ok := k.bench.form(k.asked)
	if ok && k.bench.draft.Open && k.in["seen"] != "" && k.in["seen"] == form.SeenAs() {
		k.revision = k.bench.draft.Revision
	}
}

// changedBetween says that the row of a form is not as it was shown any more.
func (v *visit) changedBetween(k asking, text string) string {
	d := k.bench.draft
	if k.in["seen"] == "" || !d.Open || d.ByID != v.actor.Person.ID || k.bench.sets.Proposed != 0 {
		return text
	}
	return "It is your own change, in another tab, at " + d.UpdatedAt.Time().In(v.Service.Zone()).Format("15:04") + ": the row is not as this form showed it. What you typed is still here; keep it again if it is to hold, or open the row anew."
}

// changeSet makes one edit of the draft.
func changeSet(v *visit) error {
	k, err := v.asking()
	if err != nil {
		return err
	}
	if k.none {
		return v.goTo(views.EditURL(k.asked.list, "", ""))
	}
	if k.asked.list == "products" && k.in["do"] == "confirm" && (k.asked.row == "" || k.in["label"] != "yes") {
		return v.showEdit(422, k.bench, k.asked, nil, nil, "Labels are confirmed one by one: open the product, have its label before you, and say so.")
	}
	faults := v.wrongDays(k)
	if len(faults) > 0 {
		return v.showEdit(422, k.bench, k.asked, k.in, faults, "")
	}
	next, err := k.bench.set.With(k.edit)
	if errors.As(err, &faults) {
		return v.showEdit(422, k.bench, k.asked, k.in, faults, "")
	}
	if err != nil {
		return err
	}
	return v.keepEdit(k, next)
}

// trySet says what the loader has against a form as it is typed; nothing is kept.
func trySet(v *visit) error {
	k, err := v.asking()
	if err != nil {
		return err
	}
	answer := struct {
		Wrong   map[string]string `json:"wrong"` // by field
		Problem string            `json:"problem"`
	}{Wrong: map[string]string{}}
	if k.none {
		return v.JSON(answer)
	}
	_, err = k.bench.set.With(k.edit)
	var faults scenarios.FieldFaults
	if err == nil && len(v.wrongDays(k)) > 0 {
		err = v.wrongDays(k)
	}
	if err != nil && !errors.As(err, &faults) {
		return err
	}
	form, _ := k.bench.form(k.asked)
	k.bench.fill(&form, nil, faults)
	for _, x := range form.Fields {
		if x.Wrong != "" {
			answer.Wrong[x.Name] = x.Wrong
		}
		for no, text := range x.RowWrong {
			answer.Wrong[x.WrongAt(no)] = text
		}
	}
	if len(answer.Wrong) < len(faults) {
		answer.Problem = form.Problem
	}
	return v.JSON(answer)
}

func (v *visit) keepEdit(k asking, next *scenarios.Set) error {
	edits, err := appended(k.bench.draft.Edits, k.edit)
	if err != nil {
		return err
	}
	_, err = v.Service.SaveSetDraft(v.ctx, v.actor, k.in["key"], training.SetSaving{Revision: k.revision, Files: next.Map(), Edits: edits})
	if told(err) {
		status, text := explain(err)
		if errors.Is(err, training.ErrConflict) {
			text = v.changedBetween(k, text)
		}
		return v.showEdit(status, k.bench, k.asked, k.in, nil, text)
	}
	if err != nil {
		return err
	}
	return v.goTo(views.EditURL(k.asked.list, "", ""))
}

func appended(edits string, edit scenarios.Edit) (string, error) {
	var all []scenarios.Edit
	if edits != "" {
		if err := json.Unmarshal([]byte(edits), &all); err != nil {
			return "", fmt.Errorf("the edits of the draft: %w", err)
		}
	}
	text, err := json.Marshal(append(all, edit))
	return string(text), err
}

// edit is what a form asks for: of a row only the fields that were changed.
func (v *visit) edit(b *bench, a asked, in map[string]string) (e scenarios.Edit, changed bool) {
	e = scenarios.Edit{Do: in["do"], List: a.list, Row: a.row, Procedure: a.procedure, Fields: map[string]string{}}
	switch e.Do {
	case "confirm":
		e.Fields = map[string]string{"by": v.actor.Person.Name, "on": string(v.Service.Today())}
		if on := strings.TrimSpace(in["read-on"]); a.list == "products" && on != "" {
			e.Fields["read_on"] = on
		}
		if a.list == "settings" {
			e.Row = ""
		}
		return e, true
	case "replace":
		e.Fields = map[string]string{"by": in["by"]}
		return e, true
	case "put":
	default:
		return e, true
	}
	form, _ := b.form(a)
	views.Gathered(form.Fields, in)
	for _, x := range form.Fields {
		if text, ok := in["f-"+x.Name]; ok && (a.isNew || strings.TrimSpace(text) != x.Value) {
			e.Fields[x.Name] = strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n"))
		}
	}
	if a.isNew {
		e.Row = newRow(b.set, a.list, e.Fields)
	}
	if e.Fields["face"] == views.OwnFace {
		e.Fields["face"] = procedure.Within(cmp.Or(e.Fields["title"], form.Fields[0].Value))
	}
	v.signReading(&e)
	if of, ok := e.Fields["of"]; ok {
		e.Procedure = of
		delete(e.Fields, "of")
	}
	if a.list == "settings" {
		e.Do, e.Row = "set", ""
	}
	return e, len(e.Fields) > 0
}

// wrongDays are the faults of days that only a clock knows: a label that will have been
// read, a review that is over when it is written down.
func (v *visit) wrongDays(k asking) (faults scenarios.FieldFaults) {
	today := v.Service.Today()
	wrong := func(field, text string) {
		faults = append(faults, scenarios.FieldFault{List: k.asked.list, Row: k.asked.row, Field: field, Text: text})
	}
	if on, ok := k.edit.Fields["read_on"]; ok {
		if day, err := training.ParseDay(on); err != nil {
			wrong("read_on", strconv.Quote(on)+" is no day in the form 2027-06-30.")
		} else if day > today {
			wrong("read_on", "this day is still to come. Give the one on which you read the label.")
		}
	}
	if day, err := training.ParseDay(k.edit.Fields["review_by"]); err == nil && day < today {
		wrong("review_by", "this day is over. Give the one by which it is to be reviewed next.")
	}
	return faults
}

// newRow is what names a new row: the steps of a pair, which are no fields of it, or an id
// made of its title.
func newRow(set *scenarios.Set, list string, fields map[string]string) string {
	earlier, ok := fields["earlier"]
	if !ok {
		return set.FreeID(list, fields["title"])
	}
	later := fields["later"]
	delete(fields, "earlier")
	delete(fields, "later")
	return earlier + " " + later
}
