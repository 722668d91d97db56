package scenarios

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// A variant is a procedure for another station: a machine of another make, a bed instead of
// a chair. Its file says of which procedure (variant_of) and what the station is called
// (variant), then what that station has otherwise: without, on, change, and rows of its own.
// Settings and marks are those of the procedure that it is of, so that the same work is
// judged the same way. Shapes of what it does without are not in its picture.

// ofVariant are the keys that a variant's file may have.
var ofVariant = []string{"id", "variant_of", "variant", "hidden", "without", "on", "change", "surfaces", "items", "places", "products", "steps", "order", "closing", "picture"}

// inherit puts what the procedure has that a variant is of into the variant's document, and
// reads it anew. It reports whether there is a whole to look at.
func (f *folder) inherit(d *document, y *procedureYAML) bool {
	base := f.baseOf(d, y.VariantOf)
	for i := 0; i+1 < len(d.root.Content); i += 2 {
		if key := d.root.Content[i].Value; !slices.Contains(ofVariant, key) {
			d.fault(key, "a variant has this from the procedure that it is of; leave it out")
		}
	}
	if base == nil || len(d.faults) > 0 {
		return false
	}
	title, _ := walk(base.root, "title")
	named := scalar(title.Value+": "+y.Variant, text)
	named.Line = title.Line
	maps.Copy(d.places, base.places)
	d.places[named] = base.places[title]
	merge(d, d.root, base.root)
	assign(d.root, "title", named, title.Line)
	*y = procedureYAML{}
	if err := d.root.Decode(y); err != nil {
		d.yamlFault(err)
		return false
	}
	return true
}

// baseOf reads the procedure that a variant is of.
func (f *folder) baseOf(d *document, id string) *document {
	for _, files := range f.beside {
		if !action.ValidID(id) {
			break
		}
		text, err := fs.ReadFile(files, id+procedureSuffix)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		var y procedureYAML
		base, ok := read(f.dir+id+procedureSuffix, text, &y)
		switch {
		case err != nil || !ok:
			d.faults = append(d.faults, base.faults...)
			return nil
		case y.VariantOf != "":
			d.fault("variant_of", "%q is a variant itself", id)
			return nil
		}
		return base
	}
	d.fault("variant_of", "there is no procedure %q: its file would be %s", id, f.dir+id+procedureSuffix)
	return nil
}

// merge puts what a base says under what its variant says: lists come before the
// variant's own.
func merge(d *document, own, base *yaml.Node) {
	for i := 0; i+1 < len(base.Content); i += 2 {
		key, value := base.Content[i], plain(base.Content[i+1])
		there, _ := child(own, key.Value)
		there = plain(there)
		switch {
		case there.Kind == 0:
			own.Content = append(own.Content, key, value)
		case there.Kind == yaml.MappingNode && value.Kind == yaml.MappingNode:
			merge(d, there, value)
		case there.Kind == yaml.SequenceNode && value.Kind == yaml.SequenceNode:
			there.Content = append(slices.Clone(value.Content), there.Content...)
		}
	}
}

// hiddenVariant reports whether a procedure is a variant that the clinic does not offer.
func (l *loader) hiddenVariant(name string, p *procedure.Procedure) bool {
	text, _ := fs.ReadFile(l.files, name)
	var y struct {
		Hidden bool `yaml:"hidden"`
	}
	if yaml.Unmarshal(text, &y) != nil || !y.Hidden {
		return false
	}
	if p.VariantOf == "" {
		l.faults = append(l.faults, &action.Fault{File: name, Line: 1, Text: "hidden: only a variant can be hidden"})
	}
	return true
}

// Variants are those of a procedure that are offered, by id.
func (l *Library) Variants(of string) (all []*procedure.Procedure) {
	for _, id := range slices.Sorted(maps.Keys(l.procedures)) {
		if p := l.procedures[id]; p.VariantOf == of && of != "" {
			all = append(all, p)
		}
	}
	return all
}

// variantIDs are likewise their ids.
func (l *Library) variantIDs(of string) (ids []string) {
	for _, p := range l.Variants(of) {
		ids = append(ids, p.ID)
	}
	return ids
}

// StationVariant is a variant as it is edited.
type StationVariant struct {
	ID, Of, Title string
	Without       []string // surfaces that it leaves out of the procedure that it is of
	Hidden        bool
}

// StationVariants are all of a set, also those that are hidden.
func (s *Set) StationVariants() (all []StationVariant) {
	e := &editor{set: s, trees: map[string]*tree{}}
	for _, file := range e.procedureFiles() {
		t := e.tree(file)
		of, _ := walk(t.root, "variant_of")
		if of.Value == "" {
			continue
		}
		title, _ := walk(t.root, "variant")
		hidden, _ := walk(t.root, "hidden")
		all = append(all, StationVariant{ID: strings.TrimSuffix(file, procedureSuffix), Of: of.Value, Title: title.Value,
			Without: t.names("without.surfaces"), Hidden: hidden.Value == "true"})
	}
	return all
}

// baseTree is the file of the procedure that a variant's is of, "" and nil for another.
func (e *editor) baseTree(t *tree) (file string, base *tree) {
	of, _ := walk(t.root, "variant_of")
	if of.Value == "" {
		return "", nil
	}
	return of.Value + procedureSuffix, e.tree(of.Value + procedureSuffix)
}

// putVariant makes a variant of a procedure, or changes its name and what it does without.
func (e *editor) putVariant() {
	edit, file := e.Edit, e.Row+procedureSuffix
	t := e.tree(file)
	if t == nil {
		if t = e.newVariant(file); t == nil {
			return
		}
	}
	if _, base := e.baseTree(t); base == nil {
		e.fault("id", "%q is a procedure of its own; name the variant otherwise", e.Row)
		return
	}
	if title, ok := edit.Fields["title"]; ok {
		t.set(t.root, "variant", title, text)
	}
	without, ok := edit.Fields["without"]
	if !ok {
		return
	}
	want := strings.FieldsFunc(without, func(r rune) bool { return r == ',' || r == ' ' })
	had := t.names("without.surfaces")
	for _, id := range append(slices.Clone(had), want...) {
		do := map[bool]string{true: "hide", false: "show"}[slices.Contains(want, id)]
		if slices.Contains(want, id) != slices.Contains(t.names("without.surfaces"), id) {
			e.do(Edit{Do: do, List: "surfaces", Row: id, Procedure: edit.Row})
		}
	}
	e.Edit = edit
}

// newVariant is the file of a variant that is not there yet.
func (e *editor) newVariant(file string) *tree {
	switch {
	case !action.ValidID(e.Row):
		e.fault("id", "%q cannot be an id: use lower-case letters, digits and single hyphens", e.Row)
		return nil
	case e.Procedure == "":
		e.fault("", "say of which procedure it is a variant")
		return nil
	}
	root := flowRow("id", e.Row, "variant_of", e.Procedure)
	root.Style = 0
	t := &tree{whole: &yaml.Node{Kind: yaml.DocumentNode, Content: []*yaml.Node{root}}, root: root, dirty: true}
	t.set(root, "variant", e.Fields["title"], text)
	e.trees[file] = t
	return t
}

// showVariant offers a variant, or hides it.
func (e *editor) showVariant(on bool) {
	t := e.tree(e.Row + procedureSuffix)
	if t == nil {
		e.fault("", "there is no variant %q", e.Row)
		return
	}
	if _, base := e.baseTree(t); base == nil {
		e.fault("", "%q is a procedure of its own, and cannot be hidden", e.Row)
		return
	}
	t.set(t.root, "hidden", map[bool]string{true: "", false: "true"}[on], plainly)
}

// ofItsOwn is the list of a variant's own surfaces, for a new one of that station alone, and
// the area in which what stands beside it is wiped.
func (e *editor) ofItsOwn(beside *yaml.Node) (at spot, ok bool) {
	file := e.Procedure + procedureSuffix
	t := e.tree(file)
	if e.Procedure == "" || t == nil {
		return at, false
	}
	if _, base := e.baseTree(t); base == nil {
		return at, false
	}
	if e.Fields["area"] == "" {
		e.Fields = maps.Clone(e.Fields)
		for _, s := range e.stepsWiping(keyOf("surfaces", beside)) {
			area, _ := walk(s.node, "area")
			e.Fields["area"] = area.Value
		}
	}
	return spot{file: file, tree: t, list: t.list(t.root, "surfaces")}, true
}

// variantField is a path of a variant's file as edits name it.
func variantField(path []string) string {
	switch {
	case len(path) == 0:
		return ""
	case path[0] == "variant":
		return "title"
	case path[0] == "without":
		return "without"
	}
	return strings.Join(path, ".")
}

// variantSaid tells a variant that is new by what it has otherwise than the procedure that
// it is of.
func variantSaid(is *Library, p *procedure.Procedure) []Difference {
	first := Difference{Kind: "variant", ID: p.ID, What: fmt.Sprintf("Variant %s of %s", quote(p.Variant), quote(is.titleOf(p.VariantOf))), Is: "new"}
	rows := func(p *procedure.Procedure) []said {
		return slices.DeleteFunc(sayings(p), func(x said) bool { return x.kind == "setting" }) // which are the same
	}
	all := []Difference{first}
	for _, d := range compare(rows(is.procedures[p.VariantOf]), rows(p)) {
		d.What = "At " + quote(p.Variant) + ": " + d.What
		all = append(all, d)
	}
	return all
}

func (l *Library) titleOf(procedure string) string {
	if p := l.procedures[procedure]; p != nil {
		return p.Definition.Title
	}
	return procedure
}

// coverVariants says of the competencies of a procedure whether they are shown at each
// variant of the station, or one covers all.
func (e *editor) coverVariants(procedure string) {
	t := e.tree(programmeFile)
	if t == nil {
		return
	}
	rows, _ := walk(t.root, "competencies")
	for _, row := range rows.Content {
		if of, _ := walk(row, "procedure"); of.Value == procedure {
			t.set(row, "variants", e.Fields["variants"], text)
		}
	}
}
