package scenarios

import (
	"errors"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"stillwet/internal/action"
)

// FieldFaults are the faults that loading the set gave, each at its list, row and field,
// so that a page can show it there.
func (s *Set) FieldFaults(err error) (all FieldFaults) {
	e := &editor{set: s, trees: map[string]*tree{}}
	for _, one := range apart(err) {
		var f *action.Fault
		if !errors.As(one, &f) {
			all = append(all, FieldFault{Text: one.Error()})
			continue
		}
		at := e.fieldOf(f)
		at.File, at.Line = f.File, f.Line
		all = append(all, at)
	}
	return all
}

// apart are the faults that were joined.
func apart(err error) []error {
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		var all []error
		for _, one := range many.Unwrap() {
			all = append(all, apart(one)...)
		}
		return all
	}
	return []error{err}
}

var faultPath = regexp.MustCompile(`^([a-z_]+(?:\.[a-z0-9_]+)*): `)

// fieldOf finds the field that a fault of a file is about: by the path that stands before
// its text, or else by its line.
func (e *editor) fieldOf(f *action.Fault) FieldFault {
	if id, ok := strings.CutSuffix(f.File, ".model.log"); ok {
		return FieldFault{List: "scenarios", Row: id, Field: "model", Text: f.Text}
	}
	t := e.tree(f.File)
	if t == nil {
		return FieldFault{List: listOf(f.File), Row: rowOf(f.File), Text: f.Text}
	}
	if m := faultPath.FindStringSubmatch(f.Text); m != nil {
		at := at(f.File, t.root, strings.Split(m[1], "."))
		at.Text = strings.TrimPrefix(f.Text, m[0])
		return at
	}
	at := at(f.File, t.root, t.pathOf(f))
	at.Text = f.Text
	return at
}

// listOf is what a whole file is a row of.
func listOf(file string) string {
	switch {
	case strings.HasSuffix(file, procedureSuffix):
		return "settings"
	case strings.HasSuffix(file, partSuffix):
		return "parts"
	case file == programmeFile:
		return "competencies"
	case file == courseFile:
		return "course"
	}
	return "scenarios"
}

func rowOf(file string) string {
	for _, suffix := range []string{procedureSuffix, partSuffix, ".yaml"} {
		if id, ok := strings.CutSuffix(file, suffix); ok {
			return id
		}
	}
	return file
}

// at is a path of a file in words of edits: the innermost list that edits know, the row by
// its key, and what is left of the path.
func at(file string, root *yaml.Node, path []string) FieldFault {
	whole := FieldFault{List: listOf(file), Row: rowOf(file), Field: strings.Join(path, ".")}
	if listOf(file) == "scenarios" {
		return whole
	}
	if of, _ := walk(root, "variant_of"); strings.HasSuffix(file, procedureSuffix) && of.Value != "" {
		whole.List, whole.Field = "variants", variantField(path)
	}
	switch path = slices.Clone(path); {
	case len(path) == 0:
		return whole
	case path[0] == "change" && len(path) > 1, path[0] == "mark_sheet" && len(path) > 1 && path[1] == "marks":
		root, _ = walk(root, path[0])
		path = path[1:]
	case path[0] == "settings", path[0] == "mark_sheet":
		whole.Field = strings.Join(path[1:], ".")
		return whole
	}
	list := path[0]
	if list == "picture" && len(path) > 1 {
		list, path = "picture."+path[1], path[1:]
		root, _ = walk(root, "picture")
	}
	if len(path) < 2 {
		return whole
	}
	row, _ := walk(root, path[0]+"."+path[1])
	if row.Kind != yaml.MappingNode {
		return whole
	}
	key := keyOf(list, row)
	if list == "picture.shapes" {
		list = "surfaces"
	}
	return FieldFault{List: list, Row: key, Field: strings.Join(path[2:], ".")}
}

var quoted = regexp.MustCompile("[\"`]([^\"`]*)[\"`]")

// pathOf leads to what stands in a fault's line: the innermost node whose key or value the
// fault names, else the last row that begins there or above.
func (t *tree) pathOf(f *action.Fault) (path []string) {
	var named []string
	for _, m := range quoted.FindAllStringSubmatch(f.Text, -1) {
		named = append(named, m[1])
	}
	var look func(n *yaml.Node, here []string)
	look = func(n *yaml.Node, here []string) {
		for i := range n.Content {
			key, value := strconv.Itoa(i), n.Content[i]
			if n.Kind == yaml.MappingNode {
				if i%2 == 1 {
					continue
				}
				key, value = value.Value, n.Content[i+1]
			}
			to := append(slices.Clone(here), key)
			line := n.Content[i].Line == f.Line || value.Line == f.Line
			switch hit := line && (slices.Contains(named, key) || value.Kind == yaml.ScalarNode && slices.Contains(named, value.Value)); {
			case hit, line && value.Kind == yaml.MappingNode && n.Kind == yaml.SequenceNode && (len(path) < len(to)):
				path = to
			case line && len(path) == 0:
				path = to
			}
			look(value, to)
		}
	}
	look(t.root, nil)
	return path
}
