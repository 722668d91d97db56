package views

import (
	"cmp"
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

// deckColumns is how many columns of buttons a tablet takes side by side.
const deckColumns = 6

// columns puts groups side by side. When there are more than columns, the tallest
// come first and each goes into the column with the most room; within columns, and
// from column to column, groups keep their order.
func columns(groups []StepGroup, most int) (all [][]StepGroup) {
	byHeight := make([]int, len(groups))
	for i := range groups {
		byHeight[i] = i
	}
	slices.SortStableFunc(byHeight, func(a, b int) int { return cmp.Compare(height(groups[b]), height(groups[a])) })
	in := make([][]int, min(most, len(groups))) // groups of each column
	full := make([]int, len(in))
	for _, g := range byHeight {
		c := slices.Index(full, slices.Min(full))
		in[c], full[c] = append(in[c], g), full[c]+height(groups[g])
	}
	for _, c := range in {
		slices.Sort(c)
	}
	slices.SortFunc(in, func(a, b []int) int { return cmp.Compare(a[0], b[0]) })
	for _, c := range in {
		var column []StepGroup
		for _, g := range c {
			column = append(column, groups[g])
		}
		all = append(all, column)
	}
	return all
}

// height of a group on the deck: a button is three times as high as a heading.
func height(g StepGroup) int { return 1 + 3*len(g.Steps) }
