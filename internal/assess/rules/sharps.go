package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// Sharps: needles go straight from the chair into the sharps container.
var Sharps = &assess.Rule{
	Name:     "sharps",
	Doc:      "Needles go straight into the sharps container. Nobody puts a cap back on, and nobody reaches into the container.",
	Why:      "A used needle in the wrong place finds the hand of the next one who clears up.",
	Next:     "Make the needle safe at the chair and drop it into the sharps container at once. If it went elsewhere, stop, keep others away, and follow your clinic's policy.",
	Source:   bloodborne + " (sharps; no recapping, no reaching in: from memory)",
	Needs:    action.Order,
	Critical: true,
	Step:     sharps,
	Close:    sharpsLeft,
}

func sharps(v *assess.View) {
	if !v.Done() {
		return
	}
	sharp := v.Act.Kind(v.P) == procedure.Sharp
	switch v.Act.Verb {
	case action.Recap:
		v.Breach(assess.Breach{Surface: assess.None, Message: "A cap was put back on: " + v.Thing() + "."})
	case action.ReachIntoSharps:
		v.Breach(assess.Breach{Surface: assess.None, Message: "A hand reached into the sharps container."})
	case action.PutInSharps:
		if sharp {
			v.Kept(assess.None)
		}
	case action.Discard, action.SetAt, action.Bring:
		switch {
		case !sharp:
		case v.Act.PlaceKind(v.P) == procedure.Sharps:
			v.Kept(assess.None)
		default:
			v.Breach(assess.Breach{Surface: assess.None, Message: "Not put into the sharps container but " + into(v) + ": " + v.Thing() + "."})
		}
	}
}

// sharpsLeft looks at the end for needles that went nowhere.
func sharpsLeft(v *assess.View) {
	if v.After.Stopped {
		return
	}
	for i := range v.P.Items {
		it := &v.After.Items[i]
		if v.P.Items[i].Kind != procedure.Sharp || !v.After.There(v.P, i) || it.Gone || it.Astray {
			continue
		}
		if it.Unknown || v.After.MayHave(action.PutInSharps) {
			v.Unknown(assess.None, "The watcher could not see what became of "+procedure.The(v.P.Items[i].Title)+".")
			continue
		}
		v.Breach(assess.Breach{Surface: assess.None, Message: "Never put into the sharps container: " + procedure.The(v.P.Items[i].Title) + "."})
	}
}
