package rules

import (
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/station"
)

// Gloved: used things, used surfaces and disinfectant are handled in gloves.
var Gloved = &assess.Rule{
	Name:   "gloved",
	Doc:    "Used things, used surfaces, needles, lines, blood and disinfectant are handled with gloves on. The canister of the wipes and clean supplies need none.",
	Why:    "Any surface of a used {station} may carry blood that nobody can see, and disinfectant harms skin.",
	Next:   "Clean your hands and put on fresh gloves before you touch anything used at the {station}.",
	Source: "42 CFR 494.30(a)(1): gloves when touching the patient's equipment at the station",
	Needs:  action.Order,
	Step:   gloved,
}

func gloved(v *assess.View) {
	if !v.Own() || !v.Handles(v.Before, v.Act) {
		return
	}
	switch {
	case v.Before.Gloves == station.UnknownGloves:
		v.UnknownHands("The watcher could not see whether gloves were on.")
	case v.Before.Gloves != station.NoGloves:
		v.Kept(assess.None)
	default: // one stretch of bare hands is one thing to learn
		v.Breach(assess.Breach{Surface: assess.None, Cause: fmt.Sprintf("stretch %d", v.After.Bare), Message: "Bare hands " + handled(v) + "."})
	}
}

func handled(v *assess.View) string {
	switch v.Act.Verb {
	case action.Wipe:
		return "handled disinfectant on " + v.The(v.Act.Surface)
	case action.Clean, action.Absorb:
		return "handled blood or soil on " + v.The(v.Act.Surface)
	case action.DiscardWipe:
		return "handled a wipe that had cleaned off soil"
	case action.Disconnect:
		return "handled the lines at the patient"
	case action.ReachIntoSharps:
		return "reached into the sharps container"
	case action.Disinfect:
		return "handled disinfectant on " + v.Thing()
	}
	if v.Act.Verb == action.Touch {
		return "touched " + v.Thing()
	}
	return "handled " + v.Thing()
}
