package scenarios

import (
	"slices"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Changes are the differences of a procedure for whoever decides what follows from them,
// each with its weight. One that was not there before is one change.
func Changes(was, is *procedure.Procedure) (all []training.Change) {
	if was == nil {
		return []training.Change{{Kind: "procedure", ID: is.ID, Text: "Procedure " + quote(is.Definition.Title) + ": new", Weight: training.Told}}
	}
	for _, d := range compare(sayings(was), sayings(is)) {
		if is.VariantOf != "" && d.Kind == "setting" && d.Field != "station" {
			continue // it has those of the procedure that it is of, where it is told
		}
		all = append(all, training.Change{Kind: d.Kind, ID: d.ID, Text: d.Text(), Weight: weigh(d, was, is)})
	}
	return all
}

// Text is a difference as a person reads it.
func (d Difference) Text() string {
	switch {
	case d.Was == "":
		return d.What + ": " + d.Is
	case d.Is == "":
		return d.What + ": no more (was " + d.Was + ")"
	}
	return d.What + ": " + d.Is + ", was " + d.Was
}

// light are the fields that nobody at the station does anything otherwise for: who
// confirmed a row and on what it rests, and what only runs, boards and pictures know.
var light = map[string][]string{
	"setting": {"version", "owner", "review by", "form of the boards", "what the choices rest on", "what the lowest score rests on"},
	"surface": {"short name in the picture", "height, from the top", "square decimetres", "time of one wipe", "standing"},
	"item":    {"there only when named", "standing"},
	"place":   {"standing"},
	"product": {"square decimetres of one wipe", "standing"},
	"step":    {"area", "time", "seldom done"},
	"pair":    {"why", "standing"},
	"closing": {"why", "standing"},
	"mark":    {"confirmed"},
}

// weigh is the one place that knows what a change asks of people. What it does not know is
// to be read.
func weigh(d Difference, was, is *procedure.Procedure) training.Weight {
	switch {
	case d.Kind == "scenario", d.Kind == "competency", slices.Contains(light[d.Kind], d.Field):
		return training.NoWeight
	case d.Kind == "product" && d.Field == "contact time":
		if label(is, d.ID) > label(was, d.ID) {
			return training.Longer
		}
		return training.Retimed
	case d.Kind == "product" && d.Field == "" && d.Was == "":
		return training.Retimed // nobody has kept its time yet
	case d.Field == oneMissFails && d.Is == yes(true):
		return training.Failing
	case d.Field != "" && d.Field != "asked for":
		return training.Told
	case fails(is, d.Kind, d.ID):
		return training.Failing
	case demanded(is, d.Kind, d.ID):
		return training.Demanded
	}
	return training.Told
}

func label(p *procedure.Procedure, product string) int {
	if i := p.ProductIndex(product); i >= 0 {
		return p.Products[i].LabelS
	}
	return 0
}

// demanded reports whether a row is a demand: a pair or an end that is no advice.
func demanded(p *procedure.Procedure, kind, id string) bool {
	switch kind {
	case "pair":
		return slices.ContainsFunc(p.Order, func(o procedure.Pair) bool { return o.Earlier+" "+o.Later == id && !o.Custom() })
	case "closing":
		return slices.ContainsFunc(p.Closing, func(c procedure.Closing) bool { return c.Step == id && !c.Custom() })
	}
	return false
}

// fails reports whether one miss of a row fails the whole.
func fails(p *procedure.Procedure, kind, id string) bool {
	switch kind {
	case "pair":
		return demanded(p, kind, id) && slices.ContainsFunc(p.Order, func(o procedure.Pair) bool { return o.Earlier+" "+o.Later == id && o.Critical })
	case "mark":
		i := p.MarkIndex(id)
		return i >= 0 && p.MarkSheet.Marks[i].Critical
	}
	return false
}
