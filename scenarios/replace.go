package scenarios

import (
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"stillwet/internal/action"
)

// replace has the stations use another product in the place of one: every scenario that
// has it on the shelf gets the other one, and it is there no more.
func (e *editor) replace() {
	by := e.Fields["by"]
	switch known := e.keys("products"); {
	case len(e.rows("products", e.Row)) == 0:
		e.unknownRow()
		return
	case !slices.Contains(known, by):
		e.fault("by", "unknown product %q; nearest: %s", by, action.Nearest(by, known))
		return
	case by == e.Row:
		e.fault("by", "it would be replaced by itself")
		return
	}
	for _, file := range e.set.names {
		t := e.tree(file)
		if t == nil || !isScenario(file) {
			continue
		}
		if product, _ := walk(t.root, "product"); product.Value == e.Row {
			t.set(t.root, "product", by, text)
		}
		e.wipesOf(t, t.root, by)
	}
	e.Fields = nil
	e.show(false)
}

// wipesOf has what happens in a scenario's story happen with a wipe of the other product.
func (e *editor) wipesOf(t *tree, n *yaml.Node, by string) {
	if n.Kind == yaml.ScalarNode {
		if a, err := action.ParseAct(n.Value, nil); err == nil && a.Verb == action.TakeWipe && a.Of == e.Row {
			n.Value, t.dirty = strings.TrimSuffix(n.Value, e.Row)+by, true
		}
	}
	for _, child := range n.Content {
		e.wipesOf(t, child, by)
	}
}
