package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// NotPossible: an act that could not have been done as the log has it. One line
// that was forgotten for sure is assumed and noted; it costs nothing.
var NotPossible = &assess.Rule{
	Name:   "not-possible",
	Doc:    "Every act can be done in the state the {station} is in.",
	Why:    "A sequence with a step that cannot be done is not one that anybody can follow at the {station}.",
	Next:   "Look for the step that is missing just before this one.",
	Source: "plain logic of the acts",
	Needs:  action.Order,
	Step:   notPossible,
}

func notPossible(v *assess.View) {
	if v.After.Assumed == station.WasWiped {
		v.Note(v.Act.Surface, "Nobody noted when this was wiped, and it was seen wet: "+v.The(v.Act.Surface)+".")
	}
	if v.Act.Verb.Event() {
		return
	}
	switch v.After.Assumed {
	case station.CameBack:
		v.Note(assess.None, missing(v)+"the coming back to the {station} before "+doing(v)+". It was taken as done.")
	case station.TookWipe:
		if !v.Before.WipeTold {
			v.Note(v.Act.Surface, missing(v)+"the taking of a wipe before "+doing(v)+". It was taken as done.")
		}
	case station.GlovesHadComeOff:
		v.Note(assess.None, missing(v)+"the taking off of the old gloves before hands were cleaned and new ones put on. It was taken as done.")
	}
	switch {
	case v.After.Impossible == station.NotWorn && v.Act.Object == action.Gloves && v.Before.BareTold:
		v.Note(assess.None, "Gloves came off, and nobody noted that they had gone on.")
	case v.After.Impossible != station.Possible:
		b := assess.Breach{Surface: assess.None, Message: procedure.Capital(doing(v)) + " cannot be done here: " + v.After.Impossible.String() + "."}
		if v.After.Impossible == station.GlovesOn { // people do it all the same
			b.Why, b.Next = overGlovesWhy, overGlovesNext
		}
		v.Breach(b)
	default:
		v.Kept(assess.None)
	}
}

// missing begins what is said of a line that was forgotten: by a watcher, or in an
// order by whoever put it together.
func missing(v *assess.View) string {
	if v.Witness.Has(action.Clock) && !v.Witness.Has(action.Drying) {
		return "Nobody noted "
	}
	return "Missing in the order is "
}

// What is said of hands that were rubbed or washed in gloves.
const (
	overGlovesWhy  = "Gloves do not come clean by rubbing or washing them, and the hands in them stay as they were."
	overGlovesNext = "Take the gloves off, then rub or wash your hands. Put on fresh gloves if the work goes on."
)
