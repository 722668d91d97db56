package views

import (
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// StepGroup is the steps of one area. They stand by label, so that the order
// on the page tells nothing about the right one; where an order is built, as the seed
// of the try has them.
type StepGroup struct {
	Title string
	Steps []procedure.Step
}

// Groups sorts the usual steps among those offered into the areas of a procedure.
func Groups(p *procedure.Procedure, offered []string) []StepGroup {
	return groups(p, offered, func(s *procedure.Step) bool { return !s.Seldom })
}

// SeldomGroups is the other steps: what is done now and then.
func SeldomGroups(p *procedure.Procedure, offered []string) []StepGroup {
	return groups(p, offered, func(s *procedure.Step) bool { return s.Seldom })
}

// happens reports whether a step is only what happens by itself.
func happens(s *procedure.Step) bool {
	return !slices.ContainsFunc(s.Acts, func(a action.Act) bool { return !a.Verb.Event() })
}

func groups(p *procedure.Procedure, offered []string, shown func(*procedure.Step) bool) []StepGroup {
	var groups []StepGroup
	for _, area := range p.Areas {
		g := StepGroup{Title: area.Title}
		for _, id := range offered {
			if i := p.StepIndex(id); i >= 0 && p.Steps[i].Area == area.ID && shown(&p.Steps[i]) {
				g.Steps = append(g.Steps, p.Steps[i])
			}
		}
		if len(g.Steps) == 0 {
			continue
		}
		slices.SortFunc(g.Steps, func(a, b procedure.Step) int {
			return strings.Compare(strings.ToLower(a.Label), strings.ToLower(b.Label))
		})
		groups = append(groups, g)
	}
	return groups
}
