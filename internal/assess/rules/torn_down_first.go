package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// TornDownFirst: used things are gone before the first station wipe.
var TornDownFirst = &assess.Rule{
	Name:   "torn-down-first",
	Doc:    "Before the first wipe of the {station}, lines and dialyzer are off and in a leak-proof container, the {bucket} is empty, single-use things are thrown away and reusable ones set apart.",
	Why:    "A used line or a full bucket moved past a wiped surface drips on it, and nobody sees it.",
	Next:   "Clear the {station} of everything used first. Then wipe.",
	Source: checklist,
	Needs:  action.Order,
	Step:   tornDownFirst,
}

func tornDownFirst(v *assess.View) {
	if !v.Done() || !v.After.FirstWipe || v.Before.FirstWipe {
		return
	}
	var missing, unseen []string
	for i, it := range v.P.Items {
		state := v.Before.Items[i]
		done := state.Gone
		switch it.Kind {
		case procedure.Circuit, procedure.SingleUse, procedure.Reusable:
		case procedure.BucketItem:
			done = state.Empty
		default:
			continue
		}
		switch {
		case done:
		case state.Unknown:
			unseen = append(unseen, procedure.Within(it.Title))
		case it.Kind == procedure.BucketItem:
			missing = append(missing, procedure.Within(it.Title)+" (not emptied)")
		case state.Astray:
			missing = append(missing, procedure.Within(it.Title)+" (put where it may not go)")
		default:
			missing = append(missing, procedure.Within(it.Title))
		}
	}
	switch {
	case len(missing) > 0:
		v.Breach(assess.Breach{Surface: assess.None, Message: "The first wipe of the {station} came while used things were still to be dealt with: " + list(missing) + "."})
	case len(unseen) > 0:
		v.Unknown(assess.None, "The observer could not see what became of "+list(unseen)+".")
	default:
		v.Kept(assess.None)
	}
}
