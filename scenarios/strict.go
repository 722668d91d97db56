package scenarios

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// place is where a node of a YAML file stands: its line is the node's own.
type place struct{ file, path string }

// document is a tree of YAML nodes, of one file or put together from several,
// which knows where every node stands; and the faults.
type document struct {
	file   string
	root   *yaml.Node // what the file holds; nil when it could not be read
	places map[*yaml.Node]place
	faults []error

	knows func(name string) bool // when something may rest: whether a step is, or was, the procedure's
	rests []error                // and why it does
}

// read decodes one YAML document strictly into out: unknown and repeated fields
// are faults. It reports whether out can be used.
func read(file string, text []byte, out any) (*document, bool) {
	d := &document{file: file, places: map[*yaml.Node]place{}}
	if len(text) > procedure.MaxText {
		d.at(1, "the file is larger than %d bytes", procedure.MaxText)
		return d, false
	}
	var whole yaml.Node
	if err := yaml.Unmarshal(text, &whole); err != nil {
		d.yamlFault(err)
		return d, false
	}
	dec := yaml.NewDecoder(bytes.NewReader(text))
	dec.KnownFields(true)
	if err := dec.Decode(out); err != nil {
		if errors.Is(err, io.EOF) {
			err = errors.New("the file is empty")
		}
		d.yamlFault(err)
		return d, false
	}
	if err := dec.Decode(new(any)); !errors.Is(err, io.EOF) {
		d.at(1, "the file holds more than one document")
	}
	d.root = &whole
	if len(whole.Content) > 0 {
		d.root = whole.Content[0]
	}
	d.note(d.root, "")
	return d, true
}

// note keeps where every node of the file stands.
func (d *document) note(n *yaml.Node, path string) {
	d.places[n] = place{d.file, path}
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			d.note(n.Content[i+1], under(path, n.Content[i].Value))
		}
	case yaml.SequenceNode:
		for i, element := range n.Content {
			d.note(element, under(path, strconv.Itoa(i)))
		}
	}
}

// under is the path of something inside of something else.
func under(path string, keys ...string) string {
	return strings.Trim(strings.Join(append([]string{path}, keys...), "."), ".")
}

var linePattern = regexp.MustCompile(`^(?:yaml: )?line (\d+): (.*)$`)
var typePattern = regexp.MustCompile(` in type scenarios\.\w+`)

// yamlFault turns the decoder's messages into file:line ones.
func (d *document) yamlFault(err error) {
	var many *yaml.TypeError
	messages := []string{err.Error()}
	if errors.As(err, &many) {
		messages = many.Errors
	}
	for _, m := range messages {
		line := 1
		if g := linePattern.FindStringSubmatch(m); g != nil {
			if n, err := strconv.Atoi(g[1]); err == nil {
				line = n
			}
			m = g[2]
		}
		m = typePattern.ReplaceAllString(strings.ReplaceAll(m, "\n", " "), "")
		if rest, ok := strings.CutPrefix(m, "field "); ok && strings.HasSuffix(m, " not found") {
			m = "unknown field " + strconv.Quote(strings.TrimSuffix(rest, " not found"))
		}
		d.at(line, "%s", m)
	}
}

func (d *document) at(line int, format string, args ...any) {
	d.faults = append(d.faults, &action.Fault{File: d.file, Line: line, Text: fmt.Sprintf(format, args...)})
}

// fault reports a fault at a path such as "surfaces.3.face", in the words and
// with the line of the file in which it stands.
func (d *document) fault(path, format string, args ...any) {
	d.faultIn(d.root, path, format, args...)
}

// faultIn reports a fault at a path that begins at a node.
func (d *document) faultIn(n *yaml.Node, path, format string, args ...any) {
	at, line := d.places[n], n.Line
	keys := strings.Split(path, ".")
	for i, key := range keys {
		next, l := child(n, key)
		if next == nil {
			at.path = under(at.path, keys[i:]...)
			break
		}
		n, at, line = next, d.places[next], l
	}
	text := at.path + ": " + fmt.Sprintf(format, args...)
	d.faults = append(d.faults, &action.Fault{File: at.file, Line: line, Text: text})
}

// cannot reports what is written as it should be and cannot be done with the model or
// the procedure as it is: a fault, or where all names are known a reason to rest.
func (d *document) cannot(path string, err error, names ...string) {
	unknown := func(name string) bool { return name != "" && !isWait(name) && !d.knows(name) }
	if d.knows == nil || slices.ContainsFunc(names, unknown) {
		d.fault(path, "%v", err)
		return
	}
	d.rests = append(d.rests, err)
}

// walk follows the keys of a path and gives what stands there and the line of its
// key: an empty node and 0 when there is nothing.
func walk(n *yaml.Node, path string) (*yaml.Node, int) {
	line := 0
	for _, key := range strings.Split(path, ".") {
		if n, line = child(plain(n), key); n == nil {
			return &yaml.Node{}, 0
		}
	}
	return plain(n), line
}

// plain is what an alias stands for, and an empty node for nothing.
func plain(n *yaml.Node) *yaml.Node {
	switch {
	case n == nil:
		return &yaml.Node{}
	case n.Kind == yaml.AliasNode:
		return n.Alias
	}
	return n
}

// child is the value of a mapping's key or a sequence's element, with the line
// to name in a message.
func child(n *yaml.Node, key string) (*yaml.Node, int) {
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			if n.Content[i].Value == key {
				return n.Content[i+1], n.Content[i].Line
			}
		}
	case yaml.SequenceNode:
		if i, err := strconv.Atoi(key); err == nil && i >= 0 && i < len(n.Content) {
			return n.Content[i], n.Content[i].Line
		}
	}
	return nil, 0
}
