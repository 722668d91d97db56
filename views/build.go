package views

import (
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
)

// Build is the page where an order is built.
type Build struct {
	Scenario  *simulate.Scenario
	Procedure *procedure.Procedure
	Draft     training.Draft
	After     int    // rows before the place where the next step goes; -1 is the end
	Was       string // the list before the last change, for undo without a script
	WasAfter  int    // and After as it was then
	Said      string
	Hints     []Hint // of practice, at the steps they belong to
	AtEnd     bool   // hints wait until the order is judged
	Area      string // of the palette, where one is shown at a time
	Trial     string // where a scenario of the clinic's draft is tried, "" for practice and tests
	Kept      bool   // practice that was open already, when an order was to be taken up again
}

// palette is groups as the seed of the try lays them out, so that nobody learns an
// order by its place on the page. A try without a seed has them by label.
func (b Build) palette(groups []StepGroup) []StepGroup {
	if b.Draft.Seed == "" {
		return groups
	}
	answer := b.Scenario.Answer()
	for _, g := range groups {
		byID, ids := map[string]procedure.Step{}, make([]string, len(g.Steps))
		for i, s := range g.Steps {
			byID[s.ID], ids[i] = s, s.ID
		}
		for i, id := range simulate.Shuffled(b.Draft.Seed, ids, answer) {
			g.Steps[i] = byID[id]
		}
	}
	return groups
}

// times says how often a step stands in the order, "" for not at all.
func times(steps []string, id string) string {
	n := 0
	for _, s := range steps {
		if s == id {
			n++
		}
	}
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n) + "×"
}

// thenText is what the world does right after a step, "" for nothing.
func thenText(p *procedure.Procedure, s *simulate.Scenario, step string) string {
	var happens []string
	for _, e := range s.Events {
		if e.After == step {
			happens = append(happens, ActWords(p, e.Act)+".")
		}
	}
	return strings.Join(happens, " ")
}

// then is what the world does after a row: it follows a step's first use only.
func (b Build) then(row int) string {
	id := b.Draft.Steps[row]
	if slices.Index(b.Draft.Steps, id) != row {
		return ""
	}
	return thenText(b.Procedure, b.Scenario, id)
}

// orderRow is one step of the order as it stands on the page.
type orderRow struct {
	N, Of           int
	ID, Label, Then string
	Here            bool // the next step goes behind it
	Pressed         bool // its label is a button, for a script
	Hints           []Hint
	Open            bool // its hints are
}

func (b Build) row(i int) orderRow {
	id := b.Draft.Steps[i]
	return orderRow{N: i + 1, Of: len(b.Draft.Steps), ID: id, Label: b.Procedure.Title(id), Then: b.then(i), Here: b.After == i+1,
		Hints: b.hintsAt(i + 1), Open: b.hintsOpen()}
}

// TryURL is where a scenario is tried as it is worked on.
func TryURL(scenario string) string { return SetURL + "/scenarios/" + scenario + "/try" }

// trialSaid stands over everything of a trial: nobody takes it for a test.
const trialSaid = "You are trying it as the draft has it, or as it holds while there is no draft. Nothing of this is kept: no attempt, no number, no line in the ledger."

// saveURL is where the plain form goes with each change.
func (b Build) saveURL() string {
	if b.Trial != "" {
		return b.Trial + "#order"
	}
	return scenarioURL(b.Scenario.ID) + "/steps"
}

func (b Build) finishURL() string {
	if b.Trial != "" {
		return b.Trial
	}
	return scenarioURL(b.Scenario.ID) + "/finish"
}

func (b Build) kicker() string {
	if b.Trial != "" {
		return "Trial · Build the order of the steps"
	}
	if b.Draft.Guided {
		return "Practice · Build the order of the steps"
	}
	return "Test · Build the order of the steps"
}

// showsArea reports whether an area of the palette is the one in sight where there is
// room for one only.
func (b Build) showsArea(i int, g StepGroup) bool {
	return g.Title == b.Area || b.Area == "" && i == 0
}
