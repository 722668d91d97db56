package views

import (
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Correction is a form in which a closed log is corrected at an act, or something is added.
type Correction struct {
	Demonstration training.Demonstration
	Learner       string
	Procedure     *procedure.Procedure
	Act           int    // number of the act in the log, 0 to add something
	Said, Time    string // the act in words, and when it was
	Short         string // that in whole seconds
	Ends          string // when the log ends
	Wrong         string
	Typed         map[string]string
}

// FixKind is what a correction does.
type FixKind string

// The kinds.
const (
	FixStrike FixKind = "strike"
	FixOther  FixKind = "other"
	FixTime   FixKind = "time"
	FixAdd    FixKind = "add"
)

func (c Correction) url() string { return "/demonstrations/" + c.Demonstration.ID + "/correct" }

func (c Correction) kind() FixKind {
	if k := FixKind(c.Typed["kind"]); k != "" {
		return k
	}
	if c.Act == 0 {
		return FixAdd
	}
	return ""
}

func (c Correction) time() string {
	if t := c.Typed["time"]; t != "" {
		return t
	}
	return c.Time
}

// fixGroup is what can be put in place of an act, as the board has it.
type fixGroup struct {
	Title   string
	Options []fixOption
}

// add offers a note about something.
func (g *fixGroup) add(a action.Act, about string) {
	g.Options = append(g.Options, fixOption{"text:" + a.Text(), g.Title + ": " + about})
}

// fixOption is a step or a note; Value is what the form sends of it.
type fixOption struct{ Value, Words string }

// groups are all steps by their areas, then what a watcher notes of surfaces.
func (c Correction) groups() (all []fixGroup) {
	p := c.Procedure
	for _, area := range p.Areas {
		g := fixGroup{Title: area.Title}
		for _, s := range p.Steps {
			if s.Area == area.ID {
				g.Options = append(g.Options, fixOption{"step:" + s.ID, s.Label})
			}
		}
		all = append(all, g)
	}
	for _, verb := range []action.Verb{action.StillWet, action.Dry} {
		g := fixGroup{Title: either(verb == action.StillWet, "Still wet", "Looked dry")}
		for _, s := range p.Surfaces {
			g.add(action.Act{Verb: verb, Object: s.ID}, s.Title)
		}
		all = append(all, g)
	}
	unseen := fixGroup{Title: "Not seen"}
	for _, s := range p.Steps {
		unseen.add(action.Act{Verb: action.NotSeen, Object: s.ID}, s.Label)
	}
	return slices.DeleteFunc(append(all, unseen), func(g fixGroup) bool { return len(g.Options) == 0 })
}

func (c Correction) heading() string {
	if c.Act == 0 {
		return "Add what nobody tapped"
	}
	return "Correct: " + c.Short + " " + c.Said
}
