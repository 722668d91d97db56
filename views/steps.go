package views

import (
	"slices"
	"strings"

	"stillwet/internal/procedure"
)

// StepGroup is the steps of one area. They stand by label, so that the order
// on the page tells nothing about the right one.
type StepGroup struct {
	Title string
	Steps []procedure.Step
}

// Groups sorts the offered steps of a procedure into its areas.
func Groups(p *procedure.Procedure, offered []string) []StepGroup {
	var groups []StepGroup
	for _, area := range p.Areas {
		g := StepGroup{Title: area.Title}
		for _, id := range offered {
			if i := p.StepIndex(id); i >= 0 && p.Steps[i].Area == area.ID {
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

// columns puts groups side by side; when there are more than columns, the two
// smallest share one.
func columns(groups []StepGroup, most int) [][]StepGroup {
	var all [][]StepGroup
	for _, g := range groups {
		all = append(all, []StepGroup{g})
	}
	for len(all) > most {
		a, b := smallest(all)
		all[a] = append(all[a], all[b]...)
		all = slices.Delete(all, b, b+1)
	}
	return all
}

// smallest are the places of the two columns with the fewest steps, in order.
func smallest(all [][]StepGroup) (int, int) {
	a, b := 0, 1
	if height(all[b]) < height(all[a]) {
		a, b = b, a
	}
	for i := 2; i < len(all); i++ {
		switch {
		case height(all[i]) < height(all[a]):
			a, b = i, a
		case height(all[i]) < height(all[b]):
			b = i
		}
	}
	return min(a, b), max(a, b)
}

func height(column []StepGroup) (n int) {
	for _, g := range column {
		n += len(g.Steps)
	}
	return n
}
