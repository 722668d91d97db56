package views

import (
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// wets reports whether a step wipes a surface wet: its button is a wet timer.
func wets(s procedure.Step) bool {
	return slices.ContainsFunc(s.Acts, func(a action.Act) bool { return actOf(a).Wets })
}

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

// What buttons say before their first tap. In a run a tap begins the wiping; who
// watches taps when it is finished, and hands at both ends.
const (
	unwiped     = "Not wiped"
	tapWhenDone = "Tap when wiped"
	untimed     = "Tap at start and end"
)

func (b board) unwiped() string {
	if b.timed {
		return unwiped
	}
	return tapWhenDone
}

// happenings are the seldom steps of areas where nobody does anything: who watches
// finds them among what was seen.
func (b board) happenings() []StepGroup { return b.seldom(true) }

// deeds are the other seldom steps. In a run all of them are.
func (b board) deeds() []StepGroup {
	if b.timed {
		return SeldomGroups(b.p, b.offered)
	}
	return b.seldom(false)
}

func (b board) seldom(happening bool) []StepGroup {
	return slices.DeleteFunc(SeldomGroups(b.p, b.offered), func(g StepGroup) bool {
		all := !slices.ContainsFunc(g.Steps, func(s procedure.Step) bool { return !happens(&s) })
		return all != happening
	})
}

// note is a watcher's note: what is recorded, and how it reads.
type note struct{ Text, Words string }

// noteGroup is notes of one kind about one surface each: in place of the blank in its
// title stand the words of a note.
type noteGroup struct {
	Title string
	Notes []note
}

const blank = "…"

// notes are what a watcher can note besides the steps; what is a step of its own is
// found among those.
func notes(p *procedure.Procedure) (all []note) {
	acts := []action.Act{{Verb: action.AllDry}, {Verb: action.WipeSpent}, {Verb: action.HandsSoiled}, {Verb: action.NotSeenFor, Millis: 30_000}, {Verb: action.Alarm}}
	if p.Begins == procedure.PatientThere {
		acts = append(acts, action.Act{Verb: action.PatientLeaves}, action.Act{Verb: action.PatientBack}, action.Act{Verb: action.PatientStays}, action.Act{Verb: action.PatientSits})
	}
	if slices.ContainsFunc(p.Items, func(it procedure.Item) bool { return it.Kind == procedure.Circuit }) {
		acts = append(acts, action.Act{Verb: action.BloodLeak}, action.Act{Verb: action.ProtectorWet})
	}
	for _, a := range acts {
		if !isStep(p, a) {
			all = append(all, noteOf(p, a))
		}
	}
	return all
}

// surfaceNotes are notes about single surfaces.
func surfaceNotes(p *procedure.Procedure) (all []noteGroup) {
	verbs := []action.Verb{action.BloodOn}
	if p.Begins == procedure.PatientThere {
		verbs = append(verbs, action.PatientTouches)
	}
	for _, verb := range verbs {
		g := noteGroup{Title: ActWords(p, action.Act{Verb: verb, Object: blank})}
		for _, s := range p.Surfaces {
			if a := (action.Act{Verb: verb, Object: s.ID}); !isStep(p, a) {
				g.Notes = append(g.Notes, note{a.Text(), procedure.Within(s.Title)})
			}
		}
		if len(g.Notes) > 0 {
			all = append(all, g)
		}
	}
	return all
}

func noteOf(p *procedure.Procedure, a action.Act) note {
	if a.Verb == action.NotSeenFor {
		return note{a.Text(), "The last half minute was not seen"}
	}
	return note{a.Text(), ActWords(p, a)}
}

// isStep reports whether an act alone is a step.
func isStep(p *procedure.Procedure, a action.Act) bool {
	return slices.ContainsFunc(p.Steps, func(s procedure.Step) bool { return len(s.Acts) == 1 && s.Acts[0].Text() == a.Text() })
}
