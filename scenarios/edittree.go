package scenarios

import (
	"bytes"
	"maps"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// tree is a file of a set while it is edited, with its comments and the order of its rows.
type tree struct {
	whole *yaml.Node
	root  *yaml.Node
	dirty bool
}

// spot is a row in the list of a file.
type spot struct {
	file string
	tree *tree
	list *yaml.Node
	node *yaml.Node
}

// tree reads a file once; nil when there is none, or no mapping.
func (e *editor) tree(file string) *tree {
	if t, ok := e.trees[file]; ok {
		return t
	}
	e.trees[file] = nil
	var whole yaml.Node
	if yaml.Unmarshal(e.set.texts[file], &whole) == nil && len(whole.Content) == 1 && whole.Content[0].Kind == yaml.MappingNode {
		e.trees[file] = &tree{whole: &whole, root: whole.Content[0]}
	}
	return e.trees[file]
}

// written is the set with the files that were edited.
func (e *editor) written() (*Set, error) {
	texts := maps.Clone(e.set.texts)
	for file, t := range e.trees {
		if t == nil || !t.dirty {
			continue
		}
		var out bytes.Buffer
		enc := yaml.NewEncoder(&out)
		enc.SetIndent(2)
		if err := enc.Encode(t.whole); err != nil {
			return nil, err
		}
		if err := enc.Close(); err != nil {
			return nil, err
		}
		texts[file] = out.Bytes()
	}
	c := collector{texts: map[string][]byte{}}
	for _, name := range newSet(texts).names {
		if err := c.add(name, int64(len(texts[name])), bytes.NewReader(texts[name])); err != nil {
			return nil, err
		}
	}
	return c.set()
}

func (e *editor) sortedFields() []string { return slices.Sorted(maps.Keys(e.Fields)) }

// procedureFiles are the files of all procedures.
func (e *editor) procedureFiles() (files []string) {
	for _, name := range e.set.names {
		if strings.HasSuffix(name, procedureSuffix) && e.tree(name) != nil {
			files = append(files, name)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(e.trees)) { // those that these edits make
		if _, there := e.set.texts[name]; !there && strings.HasSuffix(name, procedureSuffix) && e.trees[name] != nil {
			files = append(files, name)
		}
	}
	return files
}

// holders are the files in which rows of the procedures that are meant stand: their own,
// and their parts.
func (e *editor) holders() (files []string) {
	for _, file := range e.procedures() {
		t := e.tree(file)
		if t == nil {
			continue
		}
		parts, base := t.names("parts"), ""
		if of, bt := e.baseTree(t); bt != nil {
			parts, base = bt.names("parts"), of
		}
		for _, name := range parts {
			if holder := name + partSuffix; !slices.Contains(files, holder) && e.tree(holder) != nil {
				files = append(files, holder)
			}
		}
		for _, own := range []string{base, file} {
			if own != "" && !slices.Contains(files, own) {
				files = append(files, own)
			}
		}
	}
	return files
}

// pathIn is where a list stands in a file.
func pathIn(file, list string) string {
	if strings.HasSuffix(file, procedureSuffix) {
		return inProcedure(list)
	}
	return list
}

// rows are the places of a row with this key, or of every row where none is named.
func (e *editor) rows(list, key string) (found []spot) {
	for _, file := range e.holders() {
		found = append(found, e.in(file, pathIn(file, list), list, key)...)
	}
	return found
}

// changes are the places where procedures have a row otherwise than its part.
func (e *editor) changes(list, key string) (found []spot) {
	for _, file := range e.procedureFiles() {
		found = append(found, e.in(file, "change."+list, list, key)...)
	}
	return found
}

func (e *editor) in(file, path, list, key string) (found []spot) {
	t := e.tree(file)
	rows, _ := walk(t.root, path)
	for _, n := range rows.Content {
		if key == "" || keyOf(list, n) == key {
			found = append(found, spot{file, t, rows, n})
		}
	}
	return found
}

func (e *editor) keys(list string) (keys []string) {
	for _, at := range e.rows(list, "") {
		keys = append(keys, keyOf(list, at.node))
	}
	return keys
}

// keyOf is what edits know a row by.
func keyOf(list string, n *yaml.Node) string {
	value := func(field string) string {
		v, _ := walk(n, field)
		return v.Value
	}
	switch list {
	case "order":
		return value("earlier") + " " + value("later")
	case "closing":
		return value("step")
	case "picture.shapes":
		return value("surface")
	}
	return value("id")
}

// names are the words of a list at a path.
func (t *tree) names(path string) (all []string) {
	list, _ := walk(t.root, path)
	return wordsOf(list)
}

func wordsOf(list *yaml.Node) (all []string) {
	for _, n := range list.Content {
		all = append(all, n.Value)
	}
	return all
}

// unname takes a word, or a pair, from a list at a path; the list goes with its last.
func (t *tree) unname(path, name string) {
	list, _ := walk(t.root, path)
	left := slices.DeleteFunc(slices.Clone(list.Content), func(n *yaml.Node) bool {
		var words []string
		for _, w := range n.Content {
			words = append(words, w.Value)
		}
		return n.Value == name && len(words) == 0 || strings.Join(words, " ") == name
	})
	if len(left) == len(list.Content) {
		return
	}
	list.Content, t.dirty = left, true
	if parent, last := t.parent(path); len(left) == 0 {
		t.unset(parent, last)
		if len(parent.Content) == 0 && parent != t.root {
			t.unset(t.root, strings.TrimSuffix(path, "."+last))
		}
	}
}

func (t *tree) parent(path string) (at *yaml.Node, last string) {
	head, last, deep := strings.Cut(path, ".")
	if !deep {
		return t.root, head
	}
	at, _ = walk(t.root, head)
	return at, last
}

// name adds a word to a list at a path.
func (t *tree) name(path, word string) {
	if slices.Contains(t.names(path), word) {
		return
	}
	at, last := t.root, path
	if head, rest, deep := strings.Cut(path, "."); deep {
		at, last = t.mapping(t.root, head), rest
	}
	list := t.list(at, last)
	list.Style = yaml.FlowStyle
	list.Content, t.dirty = append(list.Content, scalar(word, text)), true
}

// mapping is the mapping of a key, made when there is none.
func (t *tree) mapping(at *yaml.Node, key string) *yaml.Node {
	return t.made(at, key, yaml.MappingNode, "!!map")
}

// list is likewise a list.
func (t *tree) list(at *yaml.Node, key string) *yaml.Node {
	return t.made(at, key, yaml.SequenceNode, "!!seq")
}

func (t *tree) made(at *yaml.Node, key string, kind yaml.Kind, tag string) *yaml.Node {
	if there, _ := child(at, key); there != nil && there.Kind == kind {
		return there
	}
	n := &yaml.Node{Kind: kind, Tag: tag}
	assign(at, key, n, 0)
	t.dirty = true
	return n
}

// set puts a field into a mapping; an empty text takes it away.
func (t *tree) set(at *yaml.Node, field, value string, as kind) {
	if value == "" {
		t.unset(at, field)
		return
	}
	was, _ := child(at, field)
	is := scalar(value, as)
	if was != nil && was.Kind == yaml.ScalarNode {
		is.LineComment, is.HeadComment, is.FootComment = was.LineComment, was.HeadComment, was.FootComment
		if was.Style == yaml.FoldedStyle && as == text {
			is.Style = was.Style
		}
	}
	t.dirty = true
	for i := 0; i+1 < len(at.Content); i += 2 {
		if at.Content[i].Value == field {
			at.Content[i+1] = is // the key keeps its comments
			return
		}
	}
	at.Content = append(at.Content, scalar(field, text), is)
}

func (t *tree) unset(at *yaml.Node, field string) {
	for i := 0; i+1 < len(at.Content); i += 2 {
		if at.Content[i].Value == field {
			at.Content, t.dirty = slices.Delete(at.Content, i, i+2), true
			return
		}
	}
}

// confirm writes who confirmed a row and when, or takes it back.
func (t *tree) confirm(row *yaml.Node, as map[string]string) {
	if as["by"] == "" {
		t.unset(row, "confirmed")
		return
	}
	by := t.mapping(row, "confirmed")
	by.Style = yaml.FlowStyle
	t.set(by, "by", as["by"], text)
	t.set(by, "on", as["on"], text)
}

func (t *tree) remove(list, row *yaml.Node) {
	list.Content = slices.DeleteFunc(list.Content, func(n *yaml.Node) bool { return n == row })
	t.dirty = true
}

// insert puts a row behind another one of its list, or at the end.
func (t *tree) insert(list, behind, row *yaml.Node) {
	at := len(list.Content)
	if i := slices.Index(list.Content, behind); i >= 0 {
		at = i + 1
	}
	list.Content, t.dirty = slices.Insert(list.Content, at, row), true
}

func scalar(value string, as kind) *yaml.Node {
	switch as {
	case plainly, times:
		return &yaml.Node{Kind: yaml.ScalarNode, Value: value}
	case claims:
		return claimNodes(value)
	case names:
		list := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Style: yaml.FlowStyle}
		for _, name := range strings.FieldsFunc(value, func(r rune) bool { return r == ',' || r == ' ' || r == '\n' }) {
			list.Content = append(list.Content, scalar(name, text))
		}
		return list
	}
	return &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: value}
}

// flowRow is a row on one line.
func flowRow(pairs ...string) *yaml.Node {
	n := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Style: yaml.FlowStyle}
	for i := 0; i+1 < len(pairs); i += 2 {
		n.Content = append(n.Content, scalar(pairs[i], text), scalar(pairs[i+1], text))
	}
	return n
}
