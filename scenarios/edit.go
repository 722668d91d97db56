package scenarios

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Edit is one change of a set, as data, so that a draft's history can be kept and told.
//
//	put      fields of a row, which is made when there is none: surfaces, items, places, products, order, closing
//	drop     a row goes: order, marks, closing; what is at the station is hidden
//	hide     surfaces, items, places, products are off, scenarios are not offered
//	show     the opposite
//	replace  a product by another (field by): scenarios have that one on the shelf, and it is off
//	confirm  fields by and on (of a product also read_on, the day of its label): a row, or with none named every open one of the list; by "" takes it back
//	set      fields of a procedure: settings and cut_percent, title, owner, review_by, version
//
// A row that several procedures share is changed for all of them. Procedure names the one
// that is meant where each has its own, or which alone hides or shows something.
type Edit struct {
	Do        string            `json:"do"`
	List      string            `json:"list"`
	Row       string            `json:"row,omitempty"` // id; of a pair EARLIER LATER
	Procedure string            `json:"procedure,omitempty"`
	Fields    map[string]string `json:"fields,omitempty"`
}

// FieldFault is something wrong with a field of a row, in the loader's words.
type FieldFault struct {
	List, Row, Field, Text string
	File                   string `json:",omitempty"`
	Line                   int    `json:",omitempty"`
}

func (f FieldFault) Error() string {
	return strings.TrimSpace(strings.Join([]string{f.List, f.Row, f.Field}, " ")) + ": " + f.Text
}

// FieldFaults are all that is wrong with an edited set.
type FieldFaults []FieldFault

func (f FieldFaults) Error() string {
	var all []string
	for _, one := range f {
		all = append(all, one.Error())
	}
	return strings.Join(all, "\n")
}

// kind of a field: how its text becomes YAML.
type kind int

const (
	text    kind = iota
	plainly      // a number or true, false: the loader says when it is none
	names        // separated by commas
	times        // 3:00, 3 min or 180 s, kept in seconds
	claims       // a line each, see ClaimLine
)

// fieldsOf are the fields that edits know, by list; the others are the loader's alone.
var fieldsOf = map[string]map[string]kind{
	"surfaces": {"title": text, "face": text, "thing": text, "role": text, "high_touch": plainly, "chair_side": plainly, "must_see": plainly,
		"row": plainly, "area_dm2": plainly, "wipe_s": plainly, "dries_s": plainly, "basis": text, "name": text, "area": text},
	"items":  {"title": text, "kind": text, "goes": names, "when_named": plainly, "isolation": plainly, "basis": text},
	"places": {"title": text, "kind": text, "basis": text},
	"products": {"title": text, "level": text, "label_s": times, "claims": claims, "reading": text, "reading_words": text, "reading_by": text, "reading_on": text,
		"dries_s": times, "not_on": names, "registration": text, "good_until": text, "made_h": plainly, "good_h": plainly, "past_date": plainly,
		"area_dm2": plainly, "checked_by": text, "checked_on": text, "basis": text},
	"steps":     {"label": text, "short": text, "seconds": plainly, "seldom": plainly},
	"order":     {"why": text, "basis": text, "critical": plainly},
	"closing":   {"why": text, "basis": text},
	"marks":     {"title": text, "worth": plainly, "critical": plainly},
	"variants":  {"title": text, "without": names},
	"scenarios": {"title": text, "story": text, "product": text, "level": plainly, "teaches": text},
	"settings": {"wet": text, "staging_with_patient": plainly, "one_wipe": text, "hands": text, "patient_free_s": plainly, "clear_alone": plainly,
		"isolation": plainly, "see_one_face_of": text, "board": text, "basis": text, "cut_percent": plainly, "title": text, "owner": text, "review_by": text, "version": text, "variants": text},
}

// With is the set with edits, one after the other. Faults are those of the edits, or of
// the set that they would give (FieldFaults); then there is no set. What the edits of
// products make usual goes with them.
func (s *Set) With(edits ...Edit) (*Set, error) {
	edited, lib, err := s.with(edits)
	if err != nil || !slices.ContainsFunc(edits, func(e Edit) bool { return e.List == "products" }) {
		return edited, err
	}
	if more := usualTakes(lib); len(more) > 0 {
		edited, _, err = edited.with(more)
	}
	return edited, err
}

func (s *Set) with(edits []Edit) (*Set, *Library, error) {
	e := &editor{set: s, trees: map[string]*tree{}}
	for _, edit := range edits {
		e.do(edit)
	}
	if len(e.faults) > 0 {
		return nil, nil, e.faults
	}
	edited, err := e.written()
	if err != nil {
		return nil, nil, err
	}
	lib, err := edited.Outline()
	if err != nil {
		return nil, nil, edited.FieldFaults(err)
	}
	return edited, lib, nil
}

// editor makes edits on the trees of a set's files.
type editor struct {
	set    *Set
	trees  map[string]*tree
	faults FieldFaults
	Edit
}

func (e *editor) fault(field, format string, args ...any) {
	e.faults = append(e.faults, FieldFault{List: e.List, Row: e.Row, Field: field, Text: fmt.Sprintf(format, args...)})
}

func (e *editor) do(edit Edit) {
	e.Edit = edit
	if !e.known() {
		return
	}
	switch e.Do {
	case "put":
		e.put()
	case "set":
		e.setProcedures()
	case "confirm":
		e.confirm()
	case "drop":
		e.drop()
	case "replace":
		e.replace()
	case "hide", "show":
		e.show(e.Do == "show")
	}
}

// deeds are the lists in which each kind of edit can be done.
var deeds = map[string][]string{
	"put":     {"surfaces", "items", "places", "products", "steps", "order", "closing", "marks", "scenarios", "variants"},
	"set":     {"settings"},
	"confirm": {"surfaces", "items", "places", "products", "order", "closing", "marks", "settings"},
	"drop":    {"surfaces", "items", "places", "products", "order", "closing", "marks"},
	"replace": {"products"},
	"hide":    {"surfaces", "items", "places", "products", "scenarios", "variants"},
	"show":    {"surfaces", "items", "places", "products", "scenarios", "variants"},
}

// known reports whether everything that the edit names is there.
func (e *editor) known() bool {
	before := len(e.faults)
	switch in, ok := deeds[e.Do]; {
	case !ok:
		e.fault("", "%q is none of put, drop, hide, show, replace, confirm, set", e.Do)
	case !slices.Contains(in, e.List):
		e.fault("", "%q cannot be done in %q", e.Do, e.List)
	case e.Row == "" && e.Do != "confirm" && e.Do != "set": // every row would be meant
		e.fault("id", "say which row is meant")
	}
	if ids := e.procedureIDs(); e.Procedure != "" && !slices.Contains(ids, e.Procedure) {
		e.fault("", "unknown procedure %q; nearest: %s", e.Procedure, action.Nearest(e.Procedure, ids))
	}
	known := fieldsOf[e.List]
	if e.Do == "confirm" {
		known = map[string]kind{"by": text, "on": text}
		if e.List == "products" {
			known["read_on"] = text
		}
	}
	if e.Do == "replace" {
		known = map[string]kind{"by": text}
	}
	for field, value := range e.Fields {
		if _, ok := known[field]; !ok {
			e.fault(field, "unknown field %q", field)
		}
		if len(value) > procedure.MaxText/4 || strings.ContainsFunc(value, func(r rune) bool { return r < ' ' && r != '\n' && r != '\t' || r == 0x7f || r == '\ufffd' }) {
			e.fault(field, "is too long, or has signs that are no text")
		}
	}
	if e.List == "products" {
		e.Fields = maps.Clone(e.Fields)
		e.timed()
		e.claimTimes()
		e.calledAsAnother()
	}
	return len(e.faults) == before
}

func (e *editor) procedureIDs() (ids []string) {
	for _, name := range e.procedureFiles() {
		ids = append(ids, strings.TrimSuffix(name, procedureSuffix))
	}
	return ids
}

// procedures are the files of those that are meant.
func (e *editor) procedures() (files []string) {
	for _, id := range e.procedureIDs() {
		if e.Procedure == "" || e.Procedure == id {
			files = append(files, id+procedureSuffix)
		}
	}
	return files
}

// ofTheirOwn are likewise those that are no variants, which have the settings of what they
// are of.
func (e *editor) ofTheirOwn() (files []string) {
	for _, file := range e.procedures() {
		if _, base := e.baseTree(e.tree(file)); base == nil {
			files = append(files, file)
		}
	}
	return files
}

func (e *editor) put() {
	switch e.List {
	case "scenarios":
		e.putScenario()
		return
	case "variants":
		e.putVariant()
		return
	}
	found := e.rows(e.List, e.Row)
	switch {
	case len(found) > 0:
		e.change(found)
	case slices.Contains(mayBeOff, e.List) && !action.ValidID(e.Row): // steps would be named after it
		e.fault("id", "%q cannot be an id: use lower-case letters, digits and single hyphens", e.Row)
	case e.List == "surfaces":
		e.newSurface()
	case e.List == "items":
		e.newItem()
	case e.List == "places":
		e.newPlace()
	case e.List == "products":
		e.newProduct()
	case e.List == "order":
		e.newPair()
	case e.List == "closing":
		e.newClosing()
	default:
		e.unknownRow()
	}
}

func (e *editor) unknownRow() {
	known := e.keys(e.List)
	what := oneOf[e.List]
	if e.List == "closing" {
		what = "closing row"
	}
	if len(known) == 0 {
		e.fault("", "there is no %s %q; there are none", what, e.Row)
		return
	}
	e.fault("", "there is no %s %q; nearest: %s", what, e.Row, action.Nearest(e.Row, known))
}

// change puts the fields into a row wherever it stands, and where a procedure has it
// otherwise than its part.
func (e *editor) change(found []spot) {
	was, _ := walk(found[0].node, "title")
	went, _ := walk(found[0].node, "goes")
	places := wordsOf(went)
	for _, at := range found {
		ruled := rulingOf(at.node)
		for _, field := range e.sortedFields() {
			if e.List == "surfaces" && (field == "name" || field == "area") {
				continue
			}
			at.tree.set(at.node, field, e.Fields[field], fieldsOf[e.List][field])
		}
		if e.List == "products" {
			e.relabel(at, ruled)
		}
	}
	for _, at := range e.changes(e.List, e.Row) {
		for field, value := range e.Fields {
			if there, _ := child(at.node, field); there != nil {
				at.tree.set(at.node, field, value, fieldsOf[e.List][field])
			}
		}
	}
	if title := e.Fields["title"]; title != "" && title != was.Value {
		e.renamed(was.Value, title)
	}
	if e.List == "items" && e.Fields["goes"]+e.Fields["kind"] != "" {
		for _, at := range found {
			e.moved(at, places)
			e.handledBySomeStep(at)
		}
	}
	if e.List == "surfaces" && e.Fields["face"] != "" {
		e.partSteps(found)
	}
	if name, ok := e.Fields["name"]; ok && e.List == "surfaces" {
		shapes := e.rows("picture.shapes", e.Row)
		if len(shapes) == 0 {
			e.fault("name", "the picture does not show this surface")
		}
		for _, at := range shapes {
			at.tree.set(at.node, "name", name, text)
		}
	}
}

// renamed has what says a title follow a new one.
func (e *editor) renamed(was, is string) {
	switch e.List {
	case "surfaces":
		e.rename(was, is)
	case "items":
		e.renameItem(was, is)
	case "products":
		e.renameProduct(was, is)
	}
}

func (e *editor) putScenario() {
	t := e.tree(e.Row + ".yaml")
	if t == nil || !isScenario(e.Row+".yaml") {
		e.fault("", "there is no scenario %q", e.Row)
		return
	}
	for _, field := range e.sortedFields() {
		t.set(t.root, field, e.Fields[field], fieldsOf["scenarios"][field])
	}
}

// setProcedures sets what a procedure says of itself and of its work as a whole.
func (e *editor) setProcedures() {
	for _, file := range e.ofTheirOwn() {
		t := e.tree(file)
		for _, field := range e.sortedFields() {
			at := t.root
			switch field {
			case "variants":
				e.coverVariants(strings.TrimSuffix(file, procedureSuffix))
				continue
			case "title", "owner", "review_by", "version":
			case "cut_percent":
				at = t.mapping(t.root, "mark_sheet")
			default:
				at = t.mapping(t.root, "settings")
			}
			t.set(at, field, e.Fields[field], fieldsOf["settings"][field])
		}
	}
}

// confirm writes who took a row, or every open row of a list, as the clinic's own.
func (e *editor) confirm() {
	if e.List == "settings" {
		for _, file := range e.ofTheirOwn() {
			t := e.tree(file)
			t.confirm(t.mapping(t.root, "settings"), e.Fields)
			t.confirm(t.mapping(t.root, "mark_sheet"), e.Fields)
		}
		return
	}
	found := e.rows(e.List, e.Row)
	if len(found) == 0 && e.Row != "" {
		e.unknownRow()
	}
	for _, at := range found {
		if e.Row != "" || e.open(at) {
			at.tree.confirm(at.node, e.Fields)
			if e.List == "products" {
				e.checked(at)
			}
		}
	}
}

// open reports whether a row waits for somebody to confirm it.
func (e *editor) open(at spot) bool {
	if checked, _ := walk(at.node, "checked_by"); e.List == "products" && checked.Value == "" {
		return true
	}
	if by, _ := walk(at.node, "confirmed.by"); by.Value != "" {
		return false
	}
	if e.List == "marks" {
		rule, _ := walk(at.node, "rule")
		watcher, _ := walk(at.node, "watcher")
		return customMark(&procedure.Mark{Rule: rule.Value, Watcher: watcher.Value == "true"})
	}
	basis, _ := walk(at.node, "basis")
	return !strings.HasPrefix(basis.Value, string(procedure.Published))
}

func (e *editor) drop() {
	if !slices.Contains([]string{"order", "closing", "marks"}, e.List) {
		e.show(false)
		return
	}
	found := e.rows(e.List, e.Row)
	if len(found) == 0 {
		e.unknownRow()
	}
	for _, at := range append(found, e.changes(e.List, e.Row)...) {
		at.tree.remove(at.list, at.node)
	}
	for _, file := range e.procedureFiles() {
		e.tree(file).unname("without."+e.List, e.Row)
	}
}
