package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/station"
)

// HandsAtEnd: the work ends with gloves off and clean hands.
var HandsAtEnd = &assess.Rule{
	Name:   "hands-at-end",
	Doc:    "The work ends with gloves off and hands cleaned, after the last piece of protective equipment too.",
	Why:    "What is on your gloves and hands at the end goes with you to the next patient.",
	Next:   "Last of all: gloves off, the rest off, then rub or wash your hands.",
	Source: checklist + ", part two (from memory); " + handHygiene,
	Needs:  action.Order,
	End:    handsAtEnd,
}

func handsAtEnd(v *assess.View) {
	switch {
	case v.After.Stopped:
		v.Unknown(assess.None, "The work was stopped before its end.")
	case v.After.Gloves == station.UnknownGloves || v.After.Gloves == station.NoGloves && v.After.Hands == station.HandsUnknown:
		v.Unknown(assess.None, "The watcher could not see gloves and hands at the end.")
	case v.After.Gloves != station.NoGloves:
		v.Breach(assess.Breach{Surface: assess.None, Message: "The work ended with gloves still on."})
	case v.After.Hands != station.HandsClean:
		v.Breach(assess.Breach{Surface: assess.None, Message: "The work ended without hand hygiene after the last thing that the hands touched."})
	default:
		v.Kept(assess.None)
	}
}
