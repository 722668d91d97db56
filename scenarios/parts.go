package scenarios

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"stillwet/internal/action"
)

const partSuffix = ".parts.yaml"

// The shape of a parts file: rows that several procedures share.
type partYAML struct {
	listsYAML `yaml:",inline"`
	Marks     []markYAML  `yaml:"marks"`
	Picture   pictureYAML `yaml:"picture"`
}

// What a procedure leaves out of its parts, by id.
type withoutYAML struct {
	Surfaces []string   `yaml:"surfaces"`
	Items    []string   `yaml:"items"`
	Places   []string   `yaml:"places"`
	Products []string   `yaml:"products"`
	Steps    []string   `yaml:"steps"`
	Marks    []string   `yaml:"marks"`
	Order    [][]string `yaml:"order"` // earlier, later
}

// What a procedure has otherwise than its parts: rows with the fields that differ.
type changeYAML struct {
	listsYAML `yaml:",inline"`
	Marks     []markYAML `yaml:"marks"`
}

// folder is where procedures and their parts lie.
type folder struct {
	dir    string  // what stands before a name in messages
	beside []fs.FS // where parts are looked for, in this order
	parts  map[string]*part
	gone   map[string]map[string]string // what each procedure leaves out of its parts, with its title
}

// part is a parts file, or why it cannot be used.
type part struct {
	*document
	ok bool
}

func newFolder(dir string, beside ...fs.FS) *folder {
	return &folder{dir, beside, map[string]*part{}, map[string]map[string]string{}}
}

// part reads a part once. It is nil when there is none of that name.
func (f *folder) part(name string) *part {
	if p, read := f.parts[name]; read {
		return p
	}
	f.parts[name] = f.readPart(name)
	return f.parts[name]
}

func (f *folder) readPart(name string) *part {
	if !action.ValidID(name) {
		return nil
	}
	for _, files := range f.beside {
		text, err := fs.ReadFile(files, name+partSuffix)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		p := &part{document: &document{file: f.dir + name + partSuffix}}
		if err != nil {
			p.at(1, "%v", err)
			return p
		}
		p.document, p.ok = read(p.file, text, new(partYAML))
		return p
	}
	return nil
}

// join puts the parts that a procedure names into its document and reads it anew.
// It reports whether there is a whole to look at.
func (f *folder) join(d *document, y *procedureYAML) bool {
	parts, ok := f.named(d, y.Parts)
	if !ok {
		return false
	}
	j := &joint{d, map[string][]*row{}, map[string]map[string]*row{}}
	for _, p := range parts {
		j.gather(p, func(list string) string { return list })
	}
	j.gather(d, inProcedure)
	j.change()
	j.leaveOut(&y.Without)
	j.switchOn(y.On)
	j.leaveOutOff()
	j.leaveOutWhatConcerns()
	f.gone[y.ID] = j.titlesGone(append([]string{"steps"}, mayBeOff...))
	j.put(append([]*document{d}, parts...))
	*y = procedureYAML{}
	if err := d.root.Decode(y); err != nil {
		d.yamlFault(err)
		return false
	}
	return true
}

// named gives the parts of these names.
func (f *folder) named(d *document, names []string) (parts []*document, ok bool) {
	ok = true
	for i, name := range names {
		p, at := f.part(name), fmt.Sprintf("parts.%d", i)
		switch {
		case slices.Contains(names[:i], name):
			d.fault(at, "part %q is named twice", name)
			continue
		case p == nil:
			d.fault(at, "there is no part %q: its file would be %s", name, f.dir+name+partSuffix)
		default:
			d.faults = append(d.faults, p.faults...)
		}
		if ok = ok && p != nil && p.ok; ok {
			parts = append(parts, p.document)
		}
	}
	return parts, ok
}

// The lists of a parts file, by their paths there, and what one row is called.
var (
	lists = []string{"areas", "surfaces", "items", "places", "products", "steps", "order", "marks", "picture.shapes", "picture.labels"}
	oneOf = map[string]string{
		"areas": "area", "surfaces": "surface", "items": "item", "places": "place", "products": "product", "steps": "step", "order": "pair",
		"marks": "mark", "picture.shapes": "shape", "picture.labels": "label",
	}
	things   = []string{"surfaces", "items", "places"}
	mayBeOff = append(slices.Clone(things), "products")
)

// inProcedure is the path of a list in a procedure's file.
func inProcedure(list string) string {
	if list == "marks" {
		return "mark_sheet.marks"
	}
	return list
}

// row is a row of a list.
type row struct {
	node *yaml.Node
	head
	out bool // it is left out
}

// head is what other rows know a row by, and what it concerns.
type head struct {
	ID, Earlier, Later, Surface, Pair string
	Acts                              []string
	Off                               bool
}

// key is what a row is known by in its list, with the field that says so; scenery
// and labels have none.
func (r *row) key(list string) (key, field string) {
	switch list {
	case "order":
		return pairKey(r.Earlier, r.Later), "earlier"
	case "picture.shapes":
		return r.Surface, "surface"
	}
	return r.ID, "id"
}

func pairKey(steps ...string) string { return strings.Join(steps, " before ") }

// joint is a procedure while it is put together.
type joint struct {
	*document
	rows  map[string][]*row          // by list
	first map[string]map[string]*row // the first of a key, by list
}

// gather adds the rows of a part, or those of the procedure itself. What two files
// say of one id is a fault.
func (j *joint) gather(from *document, path func(list string) string) {
	maps.Copy(j.places, from.places)
	for _, list := range lists {
		if j.first[list] == nil {
			j.first[list] = map[string]*row{}
		}
		for _, r := range j.rowsOf(from.root, path(list)) {
			key, field := r.key(list)
			switch first := j.find(list, key); {
			case first == nil:
				j.first[list][key] = r
			case j.places[first.node].file != j.places[r.node].file:
				j.faultIn(r.node, field, "%s %q stands in %s:%d already; a procedure that wants it otherwise says so under “change”",
					oneOf[list], key, j.places[first.node].file, first.node.Line)
				continue
			}
			j.rows[list] = append(j.rows[list], r)
		}
	}
}

func (j *joint) rowsOf(root *yaml.Node, path string) (rows []*row) {
	list, _ := walk(root, path)
	for _, n := range list.Content {
		r := &row{node: n}
		if err := n.Decode(&r.head); err != nil {
			j.yamlFault(err)
		}
		rows = append(rows, r)
	}
	return rows
}

// find gives a row by its key; what has none is never found.
func (j *joint) find(list, key string) *row {
	if key == "" {
		return nil
	}
	return j.first[list][key]
}

// unknown reports, at a key of a node, that a list has no row of a name.
func (j *joint) unknown(n *yaml.Node, key, name string, in ...string) {
	var known []string
	for _, list := range in {
		for _, r := range j.rows[list] {
			k, _ := r.key(list)
			known = append(known, k)
		}
	}
	if len(known) == 0 {
		j.faultIn(n, key, "there is no %s %q; there are none", oneOf[in[0]], name)
		return
	}
	j.faultIn(n, key, "there is no %s %q; nearest: %s", oneOf[in[0]], name, action.Nearest(name, known))
}

// change gives rows the fields that this procedure has otherwise.
func (j *joint) change() {
	for _, list := range lists {
		for _, with := range j.rowsOf(j.root, "change."+list) {
			key, field := with.key(list)
			if r := j.find(list, key); r == nil {
				j.unknown(with.node, field, key, list)
			} else {
				j.alter(r, with.node)
			}
		}
	}
}

// alter puts the fields of a node into a copy of a row's: the part serves other
// procedures as it is.
func (j *joint) alter(r *row, with *yaml.Node) {
	n := *plain(r.node)
	n.Content = slices.Clone(n.Content)
	j.places[&n] = j.places[r.node]
	with = plain(with)
	if merged, _ := child(with, "<<"); merged != nil {
		j.faultIn(with, "<<", "write out what is changed: fields of another row would count less than the part's")
	}
	for i := 0; i+1 < len(with.Content); i += 2 {
		assign(&n, with.Content[i].Value, with.Content[i+1], with.Content[i].Line)
	}
	r.node, r.head = &n, head{}
	if err := n.Decode(&r.head); err != nil {
		j.yamlFault(err)
	}
}

// leaveOut marks the rows that this procedure does without.
func (j *joint) leaveOut(w *withoutYAML) {
	var pairs []string
	for _, pair := range w.Order {
		pairs = append(pairs, pairKey(pair...))
	}
	for _, x := range []struct {
		list string
		keys []string
	}{
		{"surfaces", w.Surfaces}, {"items", w.Items}, {"places", w.Places}, {"products", w.Products},
		{"steps", w.Steps}, {"marks", w.Marks}, {"order", pairs},
	} {
		named, _ := walk(j.root, "without."+x.list)
		for i, key := range x.keys {
			switch r := j.find(x.list, key); {
			case r == nil:
				j.unknown(named, strconv.Itoa(i), key, x.list)
			case r.out:
				j.faultIn(named, strconv.Itoa(i), "%s %q is left out twice", oneOf[x.list], key)
			default:
				r.out = true
			}
		}
	}
}

// switchOn takes what the procedure names of what is off.
func (j *joint) switchOn(ids []string) {
	named, _ := walk(j.root, "on")
	for i, id := range ids {
		var r *row
		for _, list := range mayBeOff {
			r = cmp.Or(r, j.find(list, id))
		}
		switch {
		case r == nil:
			j.unknown(named, strconv.Itoa(i), id, mayBeOff...)
		case !r.Off:
			j.faultIn(named, strconv.Itoa(i), "%q is not off, or is named twice", id)
		default:
			r.Off = false
		}
	}
}

// leaveOutOff leaves out what is off, with its shape; the shape of a surface that
// this procedure alone does without stays as scenery.
func (j *joint) leaveOutOff() {
	for _, shape := range j.rows["picture.shapes"] {
		s := j.find("surfaces", shape.Surface)
		switch {
		case s == nil:
		case s.Off:
			shape.out = true
		case s.out:
			j.empty(shape, "surface")
		}
	}
	j.partPairs()
	for _, list := range mayBeOff {
		for _, r := range j.rows[list] {
			r.out = r.out || r.Off
		}
	}
}

// partPairs: what has lost its other side is no pair any more.
func (j *joint) partPairs() {
	lost := map[string]bool{}
	for _, shape := range j.rows["picture.shapes"] {
		lost[shape.Pair] = lost[shape.Pair] || shape.out
	}
	for _, shape := range j.rows["picture.shapes"] {
		if shape.Pair != "" && !shape.out && lost[shape.Pair] {
			j.empty(shape, "pair")
		}
	}
}

// empty takes what a row says in one of its fields from it.
func (j *joint) empty(r *row, field string) {
	j.alter(r, &yaml.Node{Content: []*yaml.Node{{Value: field}, {Kind: yaml.ScalarNode, Tag: "!!str", Line: r.node.Line}}})
}

// leaveOutWhatConcerns leaves out the steps that do something to nothing but what
// is left out, and the pairs, marks and closing rows of what is. A product may not stay
// forbidden on what is not there; a step that does something else as well, or a thing that
// would have nowhere to go, is for somebody to look at.
func (j *joint) leaveOutWhatConcerns() {
	gone := j.gone(things...)
	products := j.gone("products")
	for _, step := range j.rows["steps"] {
		step.out = step.out || len(step.Acts) > 0 && !slices.ContainsFunc(step.Acts, func(line string) bool {
			a, err := action.ParseAct(line, nil)
			return err != nil || !gone[a.Object] && !gone[a.Place] && !products[a.Of]
		})
	}
	for _, product := range j.rows["products"] {
		j.lose(product, "not_on", func(id string) bool { return gone[id] })
	}
	steps := j.gone("steps")
	closing, _ := walk(j.root, "closing")
	closing.Content = slices.DeleteFunc(closing.Content, func(n *yaml.Node) bool { step, _ := walk(n, "step"); return steps[step.Value] })
	for _, pair := range j.rows["order"] {
		pair.out = pair.out || steps[pair.Earlier] || steps[pair.Later]
	}
	for _, mark := range j.rows["marks"] {
		mark.out = mark.out || gone[mark.Surface]
	}
}

// lose takes from a list in a row the names of what is left out.
func (j *joint) lose(r *row, field string, gone func(name string) bool) {
	list, line := walk(r.node, field)
	kept := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Line: list.Line}
	for _, n := range list.Content {
		if !gone(n.Value) {
			kept.Content = append(kept.Content, n)
		}
	}
	if r.out || len(kept.Content) == len(list.Content) {
		return
	}
	j.places[kept] = j.places[list]
	j.alter(r, &yaml.Node{Content: []*yaml.Node{{Value: field, Line: line}, kept}})
}

// gone are the ids of the rows that are left out.
func (j *joint) gone(in ...string) map[string]bool {
	ids := map[string]bool{}
	for _, list := range in {
		for _, r := range j.rows[list] {
			if r.out {
				ids[r.ID] = true
			}
		}
	}
	return ids
}

// titlesGone are likewise the ids, with what people call the rows.
func (j *joint) titlesGone(in []string) map[string]string {
	titles := map[string]string{}
	for _, list := range in {
		for _, r := range j.rows[list] {
			title, _ := walk(r.node, "title")
			label, _ := walk(r.node, "label")
			if r.out {
				titles[r.ID] = cmp.Or(title.Value, label.Value, r.ID)
			}
		}
	}
	return titles
}

// put writes what was gathered into the procedure's own tree. A list that stands
// in parts only has the place of the first of them.
func (j *joint) put(from []*document) {
	for _, list := range lists {
		for i, d := range from {
			path := list
			if i == 0 {
				path = inProcedure(list)
			}
			first, line := walk(d.root, path)
			if line == 0 {
				continue
			}
			whole := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Line: first.Line}
			for _, r := range j.rows[list] {
				if !r.out {
					whole.Content = append(whole.Content, r.node)
				}
			}
			j.places[whole] = j.places[first]
			j.set(inProcedure(list), whole, line)
			break
		}
	}
	j.frame(from)
}

// frame takes what a picture has once: from the procedure itself, or else from the
// one part that has it.
func (j *joint) frame(from []*document) {
	for _, field := range []string{"width", "height", "floor", "hands"} {
		path, giver := "picture."+field, -1
		for i, d := range from {
			value, line := walk(d.root, path)
			switch {
			case line == 0 || giver == 0:
			case giver > 0:
				j.faultIn(value, "", "the picture's %s stands in %s already", field, from[giver].file)
			default:
				giver = i
				j.set(path, value, line)
			}
		}
	}
}

// set puts a value at a path of the procedure's tree.
func (j *joint) set(path string, value *yaml.Node, line int) {
	at, keys := j.root, strings.Split(path, ".")
	for i, key := range keys[:len(keys)-1] {
		next, _ := child(at, key)
		if next = plain(next); next.Kind != yaml.MappingNode {
			next = &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Line: j.root.Line}
			j.places[next] = place{j.file, under("", keys[:i+1]...)}
			assign(at, key, next, j.root.Line)
		}
		at = next
	}
	assign(at, keys[len(keys)-1], value, line)
}

// assign sets the value of a mapping's key; line is where a message finds it.
func assign(m *yaml.Node, key string, value *yaml.Node, line int) {
	name := &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: key, Line: line}
	for i := 0; i+1 < len(m.Content); i += 2 {
		if m.Content[i].Value == key {
			m.Content[i], m.Content[i+1] = name, value
			return
		}
	}
	m.Content = append(m.Content, name, value)
}
