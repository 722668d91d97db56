package scenarios

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// document is one YAML file: the tree that knows the lines, and the faults.
type document struct {
	file   string
	root   yaml.Node
	faults []error
}

// read decodes one YAML document strictly into out: unknown and repeated fields
// are faults. It reports whether out can be used.
func read(file string, text []byte, out any) (*document, bool) {
	d := &document{file: file}
	if len(text) > procedure.MaxText {
		d.at(1, "the file is larger than %d bytes", procedure.MaxText)
		return d, false
	}
	if err := yaml.Unmarshal(text, &d.root); err != nil {
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
	return d, true
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

// fault reports a fault at a path such as "surfaces.3.face".
func (d *document) fault(path, format string, args ...any) {
	d.at(d.line(path), "%s: %s", path, fmt.Sprintf(format, args...))
}

// line finds the line of a path, or of the nearest thing above it that exists.
func (d *document) line(path string) int {
	if len(d.root.Content) == 0 {
		return 1
	}
	node, line := d.root.Content[0], 1
	for _, key := range strings.Split(path, ".") {
		next, at := child(node, key)
		if next == nil {
			break
		}
		node, line = next, at
	}
	return line
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
		if i, err := strconv.Atoi(key); err == nil && i < len(n.Content) {
			return n.Content[i], n.Content[i].Line
		}
	}
	return nil, 0
}
