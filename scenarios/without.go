package scenarios

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"stillwet/internal/action"
)

// What a procedure does without: rows that it leaves out of its parts, what is off, and
// what goes with them.

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
		case s.Off, s.out && j.variant:
			shape.out = true
		case s.out:
			j.empty(shape, "surface")
		}
	}
	j.partPairs()
	if j.variant {
		j.leaveOutLabels()
	}
	for _, list := range mayBeOff {
		for _, r := range j.rows[list] {
			r.out = r.out || r.Off
		}
	}
}

// leaveOutLabels: in the picture of a variant nothing is named of which it has no part.
func (j *joint) leaveOutLabels() {
	left, gone := map[string]bool{}, map[string]bool{}
	for _, s := range j.rows["surfaces"] {
		face, _ := walk(s.node, "face")
		thing, _ := walk(s.node, "thing")
		name := strings.ToLower(cmp.Or(thing.Value, face.Value))
		if s.out || s.Off {
			gone[name] = true
		} else {
			left[name] = true
		}
	}
	for _, label := range j.rows["picture.labels"] {
		text, _ := walk(label.node, "text")
		name := strings.ToLower(text.Value)
		label.out = gone[name] && !left[name]
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
