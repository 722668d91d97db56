package scenarios

import (
	"cmp"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// newProduct puts a product behind the others, and a step that takes a wipe of it.
func (e *editor) newProduct() {
	row, t := flowRow("id", e.Row), &tree{}
	for _, field := range []string{"title", "level", "label_s", "claims", "reading", "reading_words", "reading_by", "reading_on", "dries_s", "not_on", "registration", "good_until",
		"made_h", "good_h", "past_date", "area_dm2", "basis"} {
		t.set(row, field, cmp.Or(e.Fields[field], map[string]string{"basis": string(procedure.ClinicToConfirm)}[field]), fieldsOf["products"][field])
	}
	products := e.rows("products", "")
	takes := e.stepsDoing(func(a *action.Act) bool { return a.Verb == action.TakeWipe })
	if len(products) == 0 || len(takes) == 0 {
		e.fault("", "no procedure that is meant has a product and a step that takes a wipe of it")
		return
	}
	in := products[0].file
	host := e.in(in, pathIn(in, "products"), "products", "")
	last := host[len(host)-1]
	last.tree.insert(last.list, last.node, row)
	step := takes[0]
	for _, s := range takes {
		if s.file == step.file {
			step = s
		}
	}
	area, _ := walk(step.node, "area")
	take := flowRow("id", "take-"+e.Row, "label", takeLabel(cmp.Or(e.Fields["title"], e.Row)), "area", area.Value)
	take.Content = append(take.Content, scalar("acts", text), actList("take wipe w of "+e.Row), scalar("seconds", text), scalar("3", plainly), scalar("seldom", text), scalar("true", plainly))
	step.tree.insert(step.list, step.node, take)
}

// calledAsAnother is the fault of a product with the name of another one that is there:
// nobody could tell them apart.
func (e *editor) calledAsAnother() {
	title := strings.TrimSpace(e.Fields["title"])
	for _, at := range e.rows("products", "") {
		if title != "" && keyOf("products", at.node) != e.Row && valueOf(at.node, "off") != "true" && strings.EqualFold(valueOf(at.node, "title"), title) {
			e.fault("title", "there is a product %s already; tell them apart by their names", quote(valueOf(at.node, "title")))
			return
		}
	}
}

// takeLabel names the step that takes a wipe of a product, whose name is written as it is.
func takeLabel(product string) string { return "Take a wipe of " + product }

// renameProduct has the step that takes a wipe of a product say its new name.
func (e *editor) renameProduct(was, is string) {
	for _, at := range e.rows("steps", "") {
		if valueOf(at.node, "label") == takeLabel(was) {
			at.tree.set(at.node, "label", takeLabel(is), text)
		}
	}
}
