package views

import (
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// handsOf is how a step cleans hands, as it stands in a log without its seconds; ""
// for others.
func handsOf(s procedure.Step) string {
	for _, a := range s.Acts {
		if hands := actOf(a).Hands; hands != "" {
			return hands
		}
	}
	return ""
}

// untimed is what a tile of cleaning hands says before its first tap.
const untimed = "Tap at start, at end"

// note is a watcher's note: what is recorded, and how it reads.
type note struct{ Text, Words string }

// notes are what a watcher can note besides the steps; what is a step of its own is
// found among those.
func notes(p *procedure.Procedure) (all []note) {
	acts := []action.Act{{Verb: action.AllDry}, {Verb: action.WipeSpent}, {Verb: action.HandsSoiled}, {Verb: action.Alarm}}
	if p.Begins == procedure.PatientThere {
		acts = append(acts, action.Act{Verb: action.PatientLeaves}, action.Act{Verb: action.PatientBack}, action.Act{Verb: action.PatientStays}, action.Act{Verb: action.PatientSits})
	}
	if slices.ContainsFunc(p.Items, func(it procedure.Item) bool { return it.Kind == procedure.Circuit }) {
		acts = append(acts, action.Act{Verb: action.BloodLeak}, action.Act{Verb: action.ProtectorWet})
	}
	for _, a := range acts {
		if !isStep(p, a) {
			all = append(all, note{a.Text(), ActWords(p, a)})
		}
	}
	return all
}

// aboutNotes are notes about a part of the station, which is tapped after them.
func aboutNotes(p *procedure.Procedure) []note {
	all := []note{{"blood on", "There is blood on:"}}
	if p.Begins == procedure.PatientThere {
		all = append(all, note{"patient touches", "The patient touches:"})
	}
	return all
}

// isStep reports whether an act alone is a step.
func isStep(p *procedure.Procedure, a action.Act) bool {
	return slices.ContainsFunc(p.Steps, func(s procedure.Step) bool { return len(s.Acts) == 1 && s.Acts[0].Text() == a.Text() })
}
