package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// LookedFirst: surfaces are looked at for blood and soil before the first wipe.
var LookedFirst = &assess.Rule{
	Name:   "looked-first",
	Doc:    "All surfaces of the {station} are looked at for blood and soil before the first wipe.",
	Why:    "Blood that nobody looked for is wiped over and spread.",
	Next:   "When everything used is gone, look over the whole {station} from the top down. Then take the first wipe.",
	Source: checklist,
	Needs:  action.Order,
	Step:   lookedFirst,
}

func lookedFirst(v *assess.View) {
	if !v.Done() || !v.After.FirstWipe || v.Before.FirstWipe {
		return
	}
	switch {
	case v.Before.Looked:
		v.Kept(assess.None)
	case v.Before.MayHave(action.LookAt):
		v.Unknown(assess.None, "The watcher could not see whether the {station} was looked over for blood and soil.")
	default:
		v.Breach(assess.Breach{Surface: assess.None, Message: "The first wipe came before the {station} was looked over for blood and soil."})
	}
}
