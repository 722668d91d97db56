package training

import (
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Change is what one procedure has otherwise than another, told in words by whoever knows
// them ([Config].Differ): these services know a set as names and bytes, and what weighs is
// decided where the differences are told, so that one place knows both. What follows from a
// change is decided here, for it needs people, modules and competencies.
type Change struct {
	Kind       string   `json:"kind"`
	ID         string   `json:"id"`
	Text       string   `json:"text"`
	Weight     Weight   `json:"weight"`
	Procedures []string `json:"procedures"` // ids of those that differ so
}

// Weight is what a change asks of those who work by the procedure.
type Weight string

// The weights, each heavier than the one before.
const (
	NoWeight Weight = "none"         // nobody does anything otherwise: who confirmed a row, a story
	Told     Weight = "told"         // it has to be read
	Retimed  Weight = "contact time" // and wet time has to be practised again
	Longer   Weight = "longer time"  // the same, and what was watched with the shorter one is no proof any more
	Demanded Weight = "demand"       // what was advice is asked for: to be practised and shown again
	Failing  Weight = "critical"     // the same, and one miss fails the whole; older records call it a demand
)

var weights = []Weight{NoWeight, Told, Retimed, Longer, Demanded, Failing}

// heavier reports whether a weight is at least another.
func (w Weight) heavier(than Weight) bool {
	return slices.Index(weights, w) >= slices.Index(weights, than)
}

// critical reports whether a demonstration that was begun before a change cannot be signed
// as met after it: something is a demand that was none, or the label of a product that was
// used asks for a longer time. A surface, thing or place that is new or gone is not: who
// worked rightly by what held then has shown that they work rightly.
func (c Change) critical(used []string) bool {
	return c.Weight.heavier(Demanded) || c.Weight == Longer && slices.Contains(used, c.ID)
}

// productsUsed are the products that wipes were of in a demonstration, and the one on the
// shelf.
func productsUsed(d Demonstration) []string {
	used := []string{d.Product}
	log, err := action.Parse("log", d.Log, nil)
	if err != nil {
		return used // it is judged already; whoever verifies is told
	}
	for _, a := range log.Acts {
		if a.Verb == action.TakeWipe {
			used = append(used, procedure.OnShelf(a, d.Product).Of)
		}
	}
	return used
}

// changes are what a library's procedures have otherwise than another's, each told once.
func (s *Service) changes(was, is Library) (all []Change) {
	if s.Differ == nil {
		return nil
	}
	for _, id := range procedureIDs(was, is) {
		before, _ := was.Procedure(id)
		now, ok := is.Procedure(id)
		if !ok {
			continue // nobody works by it any more
		}
		for _, c := range s.Differ(before, now) {
			if i := slices.IndexFunc(all, c.same); i >= 0 {
				all[i].Procedures = append(all[i].Procedures, id)
				continue
			}
			c.Procedures = []string{id}
			all = append(all, c)
		}
	}
	for i := range all {
		if at := stationsOnly(is, all[i].Procedures); at != "" {
			all[i].Text = "At " + at + ": " + all[i].Text
		}
	}
	return all
}

// stationsOnly names the stations of another kind when something is so at these alone.
func stationsOnly(lib Library, procedures []string) string {
	var at []string
	for _, id := range procedures {
		p, ok := lib.Procedure(id)
		if !ok || p.VariantOf == "" {
			return ""
		}
		at = append(at, "“"+p.Variant+"”")
	}
	return strings.Join(at, ", ")
}

func (c Change) same(x Change) bool {
	return c.Kind == x.Kind && c.ID == x.ID && c.Text == x.Text && c.Weight == x.Weight
}

// procedureIDs are those that people practise or are watched in, at stations of every kind,
// in some libraries.
func procedureIDs(libs ...Library) (ids []string) {
	for _, lib := range libs {
		for _, c := range lib.Competencies() {
			ids = append(ids, c.Stations()...)
		}
		for _, sc := range lib.Scenarios() {
			ids = append(ids, sc.Procedure)
		}
	}
	return eachOnce(ids)
}
