package web

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
	"stillwet/scenarios"
	"stillwet/views"
)

// bench is the set as somebody works on it: the draft, or what holds while there is none.
type bench struct {
	sets  training.Sets
	draft training.SetDraft
	set   *scenarios.Set
	lib   *scenarios.Library // nil while the draft cannot be used
	fault error              // why
	below *scenarios.Set     // the newest version that stands, on which a draft builds
	now   *scenarios.Library // what the newest version that stands has
}

// bench reads what is being worked on, as read does. none is true where the set lies in no
// data file.
func (v *visit) bench(read reading) (b *bench, none bool, err error) {
	b = &bench{}
	if b.sets, err = v.Service.Sets(v.ctx, v.actor); err != nil {
		return nil, false, err
	}
	if len(b.sets.Versions) == 0 {
		return nil, true, nil
	}
	files, err := v.Service.SetFiles(v.ctx, v.actor, b.sets.Base)
	if err != nil {
		return nil, false, err
	}
	if b.set, b.now, err = read(files); err != nil {
		return nil, false, err
	}
	b.lib, b.below = b.now, b.set
	if b.draft = b.sets.Draft; !b.draft.Open {
		return b, false, nil
	}
	if b.draft, err = v.Service.SetDraft(v.ctx, v.actor); err != nil {
		return nil, false, err
	}
	if b.set, err = scenarios.SetOf(b.draft.Files); err != nil {
		return nil, false, err
	}
	_, b.lib, b.fault = read(b.draft.Files)
	return b, false, nil
}

// reading is how a set is read: whole, or without its models, which is enough for its rows.
type reading func(files map[string][]byte) (*scenarios.Set, *scenarios.Library, error)

func outlined(files map[string][]byte) (*scenarios.Set, *scenarios.Library, error) {
	set, err := scenarios.SetOf(files)
	if err != nil {
		return nil, nil, err
	}
	lib, err := set.Outline()
	return set, lib, err
}

// loaded reads a set; its library is there once it was proved.
func loaded(files map[string][]byte) (*scenarios.Set, *scenarios.Library, error) {
	set, err := scenarios.SetOf(files)
	if err != nil {
		return nil, nil, err
	}
	lib, err := set.Load()
	return set, lib, err
}

// proceduresOf are those of a library that its competencies or scenarios are of, each once.
func proceduresOf(lib *scenarios.Library) (all []*procedure.Procedure) {
	add := func(id string) {
		p, ok := lib.Procedure(id)
		if ok && !slices.Contains(all, p) {
			all = append(all, p)
		}
	}
	for _, c := range lib.Competencies() {
		add(c.Procedure)
	}
	for _, s := range lib.Scenarios() {
		add(s.Procedure)
	}
	return withVariants(lib, all)
}

// namedOf are the procedures of a library by title.
func namedOf(lib *scenarios.Library) (all []views.Named) {
	for _, p := range proceduresOf(lib) {
		all = append(all, views.Named{ID: p.ID, Title: p.Definition.Title})
	}
	return all
}

func showSet(v *visit) error { return v.showSetWith(200, "") }

func (v *visit) showSetWith(status int, problem string) error {
	b, none, err := v.bench(loaded)
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
			page.Over = views.Over(proceduresOf(b.lib), "", v.Service.Today())
			page.Resting, page.Open = b.lib.Resting(), b.lib.Unconfirmed()
		}
	}
	return v.page(status, views.SetPage(v.frame("The clinic's procedure", views.AtSet), page))
}

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
	form.Revision = b.draft.Revision
	if a.list == "scenarios" {
		if form.Answer, form.Rests, err = v.answer(b, a.row); err != nil {
			return err
		}
	}
	fill(&form, given, faults)
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
		titles = append(titles, p.Title(row.Step))
	}
	return titles, "", err
}

// restsNow is what cannot follow the draft and did follow what holds: told where the change
// is made, not only where the draft is proposed.
func (b *bench) restsNow() (all []views.Rest, err error) {
	if !b.draft.Open {
		return nil, nil
	}
	was, err := b.below.Load()
	if err != nil {
		return nil, err
	}
	is, err := b.set.Load()
	if err != nil {
		return nil, nil // what is wrong with it is told elsewhere
	}
	before := was.Resting()
	for _, r := range is.Resting() {
		same := func(x scenarios.Rest) bool { return x.Of == r.Of && x.ID == r.ID }
		if !r.Hidden && !slices.ContainsFunc(before, same) {
			all = append(all, r)
		}
	}
	return all, nil
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
			form.Steps = stepOptions(all)
		}
		if a.list == "surfaces" {
			form.Fields = append(form.Fields, views.StationField(all)...)
			form.Standing = "It stands under the picture, as a box with its name. What the picture knows and your stations do not have yet is in the list of surfaces."
		}
		return form, form.Fields != nil
	}
	title, fields, ok := views.FieldsOf(a.list, a.row, all)
	if a.list == "scenarios" {
		var told scenarios.Told
		if told, ok = b.set.Told(a.row); ok {
			title, fields = told.Title, views.ScenarioFields(told, all)
		}
	}
	for _, r := range b.lib.Resting() {
		if a.list == "scenarios" && r.Of == "scenario" && r.ID == a.row {
			form.Off = r.Hidden
		}
	}
	form.Title, form.Fields = title, views.WithTicks(a.list, a.row, fields, all)
	if a.list == "settings" {
		form.Fields = append(form.Fields, b.coverField(a.row)...)
	}
	if a.list == "surfaces" {
		form.Picture = views.PictureWith(all, a.row)
	}
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

func stepOptions(all []*procedure.Procedure) (options []views.Option) {
	for _, p := range all {
		for _, s := range p.Steps {
			o := views.Option{Value: s.ID, Text: s.Label}
			if !slices.Contains(options, o) {
				options = append(options, o)
			}
		}
	}
	slices.SortFunc(options, func(x, y views.Option) int { return strings.Compare(x.Text, y.Text) })
	return options
}

// fill puts what was typed back into a form, and each fault at its field.
func fill(form *views.EditForm, given map[string]string, faults scenarios.FieldFaults) {
	var elsewhere []string
	for _, f := range faults {
		at := slices.IndexFunc(form.Fields, func(x views.EditField) bool {
			return x.Name == f.Field || strings.HasPrefix(f.Field, x.Name+".")
		})
		if at >= 0 && (f.Row == form.Row || form.New) && form.Fields[at].AddRowWrong(f.Field, plainFault(f.Text)) {
			continue
		}
		if at >= 0 && (f.Row == form.Row || form.New) {
			form.Fields[at].Wrong = plainFault(f.Text)
		} else {
			elsewhere = append(elsewhere, f.Error())
		}
	}
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

// plainFault says in plain words what a decoder says of a field.
func plainFault(text string) string {
	if strings.Contains(text, "cannot unmarshal") {
		return "write a whole number here, in digits."
	}
	return text
}

// asking is a form that asks for one edit of the draft, read and worked out.
type asking struct {
	bench *bench
	asked asked
	in    map[string]string
	edit  scenarios.Edit
	none  bool // it changes nothing, or there is nothing to be changed
}

func (v *visit) asking() (k asking, err error) {
	if k.in, err = v.form("key", "do", "list", "procedure", "row", "revision"); err != nil {
		return k, err
	}
	b, none, err := v.bench(outlined)
	if err != nil {
		return k, err
	}
	k.bench, k.asked = b, asked{k.in["list"], k.in["procedure"], k.in["row"], k.in["row"] == "" && k.in["do"] == "put"}
	if k.none = none || b.lib == nil; !k.none {
		var changed bool
		k.edit, changed = v.edit(b, k.asked, k.in)
		k.none = !changed
	}
	return k, nil
}

// changeSet makes one edit of the draft.
func changeSet(v *visit) error {
	k, err := v.asking()
	if err != nil {
		return err
	}
	revision, err := number(k.in["revision"])
	if err != nil {
		return err
	}
	if k.none {
		return v.goTo(views.EditURL(k.asked.list, "", ""))
	}
	if k.asked.list == "products" && k.in["do"] == "confirm" && (k.asked.row == "" || k.in["label"] != "yes") {
		return v.showEdit(422, k.bench, k.asked, nil, nil, "Labels are confirmed one by one: open the product, have its label before you, and say so.")
	}
	next, err := k.bench.set.With(k.edit)
	var faults scenarios.FieldFaults
	if errors.As(err, &faults) {
		return v.showEdit(422, k.bench, k.asked, k.in, faults, "")
	}
	if err != nil {
		return err
	}
	return v.keepEdit(k.bench, k.asked, k.in, k.edit, next, revision)
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
	if err != nil && !errors.As(err, &faults) {
		return err
	}
	form, _ := k.bench.form(k.asked)
	fill(&form, nil, faults)
	for _, x := range form.Fields {
		if x.Wrong != "" {
			answer.Wrong[x.Name] = x.Wrong
		}
		for no, text := range x.RowWrong {
			answer.Wrong[fmt.Sprintf("%s-%d", x.Name, no)] = text
		}
	}
	if len(answer.Wrong) < len(faults) {
		answer.Problem = form.Problem
	}
	return v.JSON(answer)
}

func (v *visit) keepEdit(b *bench, a asked, in map[string]string, edit scenarios.Edit, next *scenarios.Set, revision int) error {
	edits, err := appended(b.draft.Edits, edit)
	if err != nil {
		return err
	}
	_, err = v.Service.SaveSetDraft(v.ctx, v.actor, in["key"], training.SetSaving{Revision: revision, Files: next.Map(), Edits: edits})
	if errors.Is(err, training.ErrConflict) || errors.Is(err, training.ErrInvalid) {
		status, text := explain(err)
		return v.showEdit(status, b, a, in, nil, text)
	}
	if err != nil {
		return err
	}
	return v.goTo(views.EditURL(a.list, "", ""))
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
		if day, err := training.ParseDay(in["read-on"]); a.list == "products" && err == nil && day < v.Service.Today() {
			e.Fields["read_on"] = string(day) // of no other day than one that is over it is today's
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

func proposeSet(v *visit) error {
	in, err := v.form("key", "revision", "why")
	if err != nil {
		return err
	}
	revision, err := number(in["revision"])
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
	in, err := v.form("key", "revision")
	if err != nil {
		return err
	}
	revision, err := number(in["revision"])
	if err != nil {
		return err
	}
	return v.afterSet(v.Service.DiscardSetDraft(v.ctx, v.actor, in["key"], revision))
}

func showVersion(v *visit) error { return v.showVersionWith(200, "") }

func (v *visit) showVersionWith(status int, wrong string) error {
	return v.showVersionPage(status, views.SetVersionView{Problem: wrong})
}

// showVersionPage shows a version; the page may hold what was refused, of its approval or
// of what follows from it.
func (v *visit) showVersionPage(status int, page views.SetVersionView) error {
	n, err := number(v.Params("number"))
	if err != nil {
		return problem{404, "There is no such version of the clinic's procedure."}
	}
	page.Today = v.Service.Today()
	if page.Sets, err = v.Service.Sets(v.ctx, v.actor); err != nil {
		return err
	}
	at := slices.IndexFunc(page.Sets.Versions, func(x training.SetVersion) bool { return x.Number == n })
	if at < 0 {
		return problem{404, "There is no such version of the clinic's procedure."}
	}
	page.Version = page.Sets.Versions[at]
	files, err := v.Service.SetFiles(v.ctx, v.actor, n)
	if err != nil {
		return err
	}
	_, is, err := loaded(files)
	if err != nil {
		return err
	}
	page.Resting, page.Read = is.Resting(), namedOf(is)
	if page.Version.BasedOn > 0 {
		before, err := v.Service.SetFiles(v.ctx, v.actor, page.Version.BasedOn)
		if err != nil {
			return err
		}
		_, was, err := loaded(before)
		if err != nil {
			return err
		}
		page.Changes = scenarios.Differences(was, is)
	}
	if page.Version.State() == training.SetProposed && v.Query("effect") == "yes" { // it judges every stored log
		effect, err := v.Service.Effect(v.ctx, files)
		if err != nil {
			return err
		}
		page.Effect = &effect
	}
	if page.Follow == nil {
		if page.Follow, err = v.following(page.Version); err != nil {
			return err
		}
	}
	return v.page(status, views.SetVersionPage(v.frame("Version "+v.Params("number"), views.AtSet), page))
}

// versionFiles gives a version as a zip.
func versionFiles(v *visit) error {
	n, err := number(v.Params("number"))
	if err != nil {
		return problem{404, "There is no such version of the clinic's procedure."}
	}
	files, err := v.Service.SetFiles(v.ctx, v.actor, n)
	if err != nil {
		return err
	}
	set, err := scenarios.SetOf(files)
	if err != nil {
		return err
	}
	v.Set("Content-Type", "application/zip")
	v.Set("Content-Disposition", fmt.Sprintf(`attachment; filename="stillwet-set-%d.zip"`, n))
	return v.Send(set.Zip())
}

func approveSet(v *visit) error {
	in, err := v.form("key", "hash", "from", "approval", "password")
	if err != nil {
		return err
	}
	n, err := number(v.Params("number"))
	if err != nil {
		return err
	}
	ap := training.SetApproving{Version: n, Hash: in["hash"], From: training.Day(in["from"]), Approval: approvalOf(in)}
	_, err = v.Service.ApproveSet(v.ctx, v.actor, in["key"], ap, in["password"], secondOf(in))
	if told(err) {
		status, text := explain(err)
		given := views.Approving{From: in["from"], Word: wordIn(in), Problem: text}
		return v.showVersionPage(status, views.SetVersionView{Approving: given})
	}
	return v.afterVersion(err)
}

// afterVersion shows a refused act at its version, and goes to it otherwise.
func (v *visit) afterVersion(err error) error {
	if told(err) {
		return v.showVersionWith(explain(err))
	}
	if err != nil {
		return err
	}
	return v.goTo(views.SetURL + "/versions/" + v.Params("number"))
}

func withdrawSet(v *visit) error {
	in, err := v.form("key", "why")
	if err != nil {
		return err
	}
	n, err := number(v.Params("number"))
	if err != nil {
		return err
	}
	_, err = v.Service.WithdrawSet(v.ctx, v.actor, in["key"], n, in["why"])
	if told(err) {
		status, text := explain(err)
		return v.showVersionPage(status, views.SetVersionView{Approving: views.Approving{Why: in["why"], NotBack: text}})
	}
	return v.afterVersion(err)
}
