package views

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/assess"
	"stillwet/internal/course"
	"stillwet/internal/procedure"
)

// Hint is a breach at a step of an order that is being practised, as the page and the
// script have it.
type Hint struct {
	Row     int    `json:"row"` // the learner's own number of the step
	Message string `json:"message"`
	Why     string `json:"why"`
	Next    string `json:"next"`
	Again   string `json:"again,omitempty"` // "step 7, step 9"
}

// Hints says in one what is found in the same words on several surfaces.
func Hints(p *procedure.Procedure, found []course.Located) []Hint {
	rows, findings := map[string][]int{}, make([]assess.Finding, len(found))
	same := func(f assess.Finding) string { return fmt.Sprint(f.Rule, f.Act, f.Surface, f.Worn, f.Message) }
	for i, f := range found {
		findings[i], rows[same(f.Finding)] = f.Finding, f.Rows
	}
	hints := []Hint{}
	for _, group := range assess.SaidOnce(findings) {
		x := together(group)
		at := rows[same(group[0])]
		hints = append(hints, Hint{Row: at[0] + 1, Message: shortMessage(p, x), Why: x.Why, Next: x.Next, Again: againAt(at)})
	}
	slices.SortStableFunc(hints, func(a, b Hint) int { return a.Row - b.Row })
	return hints
}

// shortMessage names a few of the surfaces, and counts the rest: a row is no list.
func shortMessage(p *procedure.Procedure, x numbered) string {
	const few = 3
	r, more := Result{Procedure: p}, len(x.Surfaces)-few
	if more < 2 || len(x.Finding.Surfaces) > 0 {
		return r.message(x)
	}
	x.Surfaces = x.Surfaces[:few]
	return strings.TrimSuffix(r.message(x), ".") + fmt.Sprintf("; and %d more.", more)
}

// againAt names the further steps of a finding.
func againAt(rows []int) string {
	var again []string
	for _, row := range rows[1:] {
		if step := "step " + strconv.Itoa(row+1); row != rows[0] && !slices.Contains(again, step) {
			again = append(again, step)
		}
	}
	return shortList(again)
}

// hintsAt are the hints of a row, from 1.
func (b Build) hintsAt(row int) []Hint {
	return slices.DeleteFunc(slices.Clone(b.Hints), func(h Hint) bool { return h.Row != row })
}

// hintsOpen reports whether hints are read at once; more would bury the order.
func (b Build) hintsOpen() bool { return len(b.Hints) <= openFindings }
