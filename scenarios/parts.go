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
	j := &joint{document: d, rows: map[string][]*row{}, first: map[string]map[string]*row{}, variant: y.VariantOf != ""}
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

	variant bool // of another station: what it does without is not in its picture
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
