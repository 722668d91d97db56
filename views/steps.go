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
	for _, area := range procedure.Areas {
		g := StepGroup{Title: area.Title}
		for _, id := range offered {
			if i := p.StepIndex(id); i >= 0 && p.Steps[i].Area == area.Area {
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
