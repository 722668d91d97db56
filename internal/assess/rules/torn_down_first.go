package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// TornDownFirst: used things are gone before the first station wipe.
var TornDownFirst = &assess.Rule{
	Name:   "torn-down-first",
	Doc:    "Before the first wipe of the {station}, lines and dialyzer are off and in a leak-proof container, the {bucket} is empty, single-use things are thrown away and reusable ones set apart.",
	Why:    "A used thing moved past a wiped surface touches it or drips on it, and nobody sees it.",
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
	things := 0
	for i := range v.P.Items {
		it := &v.P.Items[i]
		if !used(it.Kind) && it.Kind != procedure.BucketItem || !v.Before.There(v.P, i) {
			continue
		}
		things++
		title := procedure.The(it.Title)
		switch how, done := dealtWith(v, i); {
		case done:
		case v.Before.Items[i].Unknown:
			unseen = append(unseen, title)
		default:
			missing = append(missing, title+how)
		}
	}
	switch {
	case len(missing) > 0:
		v.Breach(assess.Breach{Surface: assess.None, Cause: "first wipe", Message: "The first wipe of the {station} came while used things were still to be dealt with: " + list(missing) + "."})
	case len(unseen) > 0:
		v.Unknown(assess.None, "The watcher could not see what became of "+list(unseen)+".")
	case things > 0:
		v.Kept(assess.None)
	}
}

// dealtWith reports whether an item is out of the way, and how it is not.
func dealtWith(v *assess.View, item int) (how string, done bool) {
	state := &v.Before.Items[item]
	switch {
	case v.P.Items[item].Kind == procedure.BucketItem:
		return " (not emptied)", state.Empty
	case v.P.Items[item].Kind == procedure.Reusable && v.DirtyItem(v.Before, item) == station.No:
		return "", true
	case state.Out: // that it never goes there another rule says
		return "", true
	case state.Astray:
		return " (put in a wrong place)", false
	}
	return "", state.Gone
}
