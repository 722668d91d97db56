package web

import (
	"slices"
	"strings"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/scenarios"
	"stillwet/views"
)

// editSet shows a list, a row of it, or the form of a new one.
func editSet(v *visit) error {
	b, none, err := v.bench(outlined)
	if err != nil {
		return err
	}
	if none || b.lib == nil {
		return v.goTo(views.SetURL)
	}
	return v.showEdit(200, b, asked{v.Query("list"), v.Query("procedure"), v.Query("row"), v.Query("new") == "yes"}, nil, nil, "")
}

// asked is which row of which list is meant.
type asked struct {
	list, procedure, row string
	isNew                bool
}

func (v *visit) showEdit(status int, b *bench, a asked, given map[string]string, faults scenarios.FieldFaults, trouble string) (err error) {
	f := v.frame("The clinic's procedure", views.AtSet)
	f.Script = "set.js"
	if !views.Listed(a.list) {
		return problem{404, "There is no such list of the clinic's procedure."}
	}
	if a.row == "" && !a.isNew {
		list := b.list(a, trouble)
		if list.Rests, err = b.restsNow(); err != nil {
			return err
		}
		if a.list == "products" {
			list.Over = views.Over(proceduresOf(b.lib), "", v.Service.Today())
		}
		return v.page(status, views.EditListPage(f, list))
	}
	form, ok := b.form(a)
	if !ok {
		return problem{404, "There is no such row of the clinic's procedure. Go back to its list."}
	}
	form.Problem = trouble
	if a.list == "products" && a.row != "" {
		form.Over = views.Over(proceduresOf(b.lib), a.row, v.Service.Today())
	}
	form.Revision, form.Seen = b.draft.Revision, form.SeenAs()
	if a.list == "scenarios" {
		if form.Answer, form.Rests, err = v.answer(b, a.row); err != nil {
			return err
		}
		if _, _, err := b.trial(a.row); err == nil {
			form.Try = views.TryURL(a.row)
		}
	}
	b.fill(&form, given, faults)
	return v.page(status, views.EditRowPage(f, form))
}

// answer is the right answer of a scenario as it is worked on, as the engine proves it, or
// why there is none.
func (v *visit) answer(b *bench, id string) (titles []string, rests string, err error) {
	lib, err := b.set.Load()
	if err != nil {
		return nil, "", nil // what is wrong with the draft is told elsewhere
	}
	for _, r := range lib.Resting() {
		if r.Of == "scenario" && r.ID == id && !r.Hidden {
			return nil, r.Why, nil
		}
	}
	s, ok := lib.Scenario(id)
	if !ok || s.Kind == simulate.FindWrong {
		return nil, "", nil
	}
	p, _ := lib.Procedure(s.Procedure)
	rows, err := v.orders.get(p.Hash+s.Hash, func() ([]course.StepRow, error) { return course.RightOrder(p, s) })
	for _, row := range rows {
		titles = append(titles, row.Title)
	}
	return titles, "", err
}

func (b *bench) list(a asked, trouble string) views.EditList {
	l := views.EditList{List: a.list, Rows: views.EditRows(a.list, proceduresOf(b.lib), b.lib.Scenarios(), b.lib.Resting()), Revision: b.draft.Revision, Waits: b.sets.Proposed, Problem: trouble}
	l.Away = b.set.Away(a.list)
	if a.list == "variants" {
		l.Rows = views.VariantRows(b.set.StationVariants(), proceduresOf(b.lib))
	}
	if a.list == "surfaces" {
		l.Pictures = views.Pictured(proceduresOf(b.lib))
	}
	for _, x := range b.lib.Unconfirmed() {
		if x.List == a.list {
			l.Open++
		}
	}
	return l
}

// form is the form of a row as it stands.
func (b *bench) form(a asked) (views.EditForm, bool) {
	form := views.EditForm{List: a.list, Row: a.row, Procedure: a.procedure, New: a.isNew}
	all := proceduresOf(b.lib)
	if a.list == "variants" {
		return form, b.variantForm(&form, all)
	}
	if a.isNew {
		form.Title, form.Fields = views.NewTitle(a.list), views.WithTicks(a.list, "", views.NewFields(a.list), all)
		if a.list == "order" {
			form.Steps = views.StepOptions(all)
		}
		if a.list == "surfaces" {
			form.Fields = append(form.Fields, views.StationField(all)...)
			form.Standing = "It stands under the picture, as a box with its name. What the picture knows and your stations do not have yet is in the list of surfaces."
		}
		if a.list == "items" {
			form.Aside = views.NewItemAside
		}
		return form, form.Fields != nil
	}
	title, fields, ok := views.FieldsOf(a.list, a.row, all)
	if a.list == "scenarios" {
		var told scenarios.Told
		if told, ok = b.set.Told(a.row); ok {
			title, fields = told.Title, views.ScenarioFields(told, all)
		}
		form.Off = slices.ContainsFunc(b.lib.Resting(), func(r scenarios.Rest) bool { return r.Of == "scenario" && r.ID == a.row && r.Hidden })
	}
	form.Title, form.Fields = title, views.WithTicks(a.list, a.row, fields, all)
	if a.list == "settings" {
		form.Fields = append(form.Fields, b.coverField(a.row)...)
	}
	if a.list == "surfaces" {
		form.Picture = views.PictureWith(all, a.row)
	}
	form.Done = views.DoneWith(all, a.list, a.row)
	if a.list == "products" {
		form.LabelSays, form.Instead = views.LabelSays(all, a.row), views.Instead(all, a.row)
	}
	for _, r := range views.EditRows(a.list, all, nil, nil) {
		if r.Row == a.row {
			form.Standing, form.Open = r.Standing, r.Open
		}
	}
	return form, ok
}

// fill puts what was typed back into a form, and each fault at its field.
func (b *bench) fill(form *views.EditForm, given map[string]string, faults scenarios.FieldFaults) {
	var elsewhere []string
	for _, f := range faults {
		at := slices.IndexFunc(form.Fields, func(x views.EditField) bool {
			return x.Name == f.Field || strings.HasPrefix(f.Field, x.Name+".")
		})
		switch here := at >= 0 && (f.Row == form.Row || form.New); {
		case f.Field == "read_on" && form.LabelSays != "":
			form.ReadOnWrong = f.Text
		case !here:
			elsewhere = append(elsewhere, b.saidOf(f, form))
		case !form.Fields[at].AddRowWrong(f.Field, plainFault(f.Text)):
			form.Fields[at].Wrong = plainFault(f.Text)
		}
	}
	form.ReadOn = given["read-on"]
	for i := range form.Fields {
		if text, ok := given["f-"+form.Fields[i].Name]; ok {
			form.Fields[i].Value = text
		}
	}
	if len(elsewhere) > 0 {
		form.Problem = strings.Join(elsewhere[:min(len(elsewhere), 5)], "\n")
	} else if len(faults) > 0 && form.Problem == "" {
		form.Problem = "Nothing was changed yet. See the fields that are marked."
	}
}

// saidOf is a fault of no field of a form in words. One of another row leads there.
func (b *bench) saidOf(f scenarios.FieldFault, form *views.EditForm) string {
	title, _, known := views.FieldsOf(f.List, f.Row, proceduresOf(b.lib))
	if !known || f.Row == form.Row || f.Row == "" {
		return procedure.Capital(strings.TrimSuffix(f.Text, ".")) + "."
	}
	link := views.Link{Href: views.EditURL(f.List, "", f.Row), Text: title}
	if !slices.Contains(form.Leads, link) {
		form.Leads = append(form.Leads, link)
	}
	if strings.Contains(f.Text, title) {
		return procedure.Capital(strings.TrimSuffix(f.Text, ".")) + "."
	}
	return "“" + title + "”: " + strings.TrimSuffix(f.Text, ".") + "."
}

// plainFault says in plain words what a decoder says of a field.
func plainFault(text string) string {
	if strings.Contains(text, "cannot unmarshal") {
		return "write a whole number here, in digits."
	}
	return text
}
