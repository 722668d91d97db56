package rules

import (
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
	"stillwet/internal/wettime"
)

// WetLongEnough: an unbroken wet spell of at least the contact time before the
// first touch or use, or before the station is declared ready.
var WetLongEnough = &assess.Rule{
	Name:       "wet-long-enough",
	Doc:        "Every wiped surface stays visibly wet for the whole contact time of the product's label, without a break, before it is touched, used or declared ready.",
	Why:        "The label's claim holds only for a surface that stays wet for the whole time. A surface that dries early has had no disinfection that anyone can vouch for.",
	Next:       "Watch the surface. If it starts to dry before its time, wipe it again while it is still wet; a dry gap starts the time anew.",
	Source:     "EPA DIS/TSS-15 (contact time on the label); re-apply when it dries early: Michigan MDARD FAQ on disinfectant labels",
	Needs:      action.Order,
	OfSurfaces: true,
	Step:       wetLongEnough,
	End:        wetAtEnd,
}

func wetLongEnough(v *assess.View) {
	if !v.Done() {
		return
	}
	for i := range v.P.Surfaces {
		if v.After.Surfaces[i].Early && !v.Before.Surfaces[i].Early {
			wetTooShort(v, i, "when it was used", v.Before)
		}
	}
	if v.Act.Verb == action.DeclareReady {
		wetAtEnd(v)
	}
}

func wetAtEnd(v *assess.View) {
	if !v.Declared() {
		return
	}
	when := "when the {station} was declared ready"
	if v.Act == nil {
		when = "when the log ends"
	}
	for i := range v.P.Surfaces {
		x := &v.After.Surfaces[i]
		if !v.Listed(i) || x.Clean != station.Wiped || x.Early {
			continue
		}
		wetTooShort(v, i, when, v.After)
	}
}

// wetTooShort judges the contact time of one surface as it was in s.
func wetTooShort(v *assess.View, i int, when string, s *station.State) {
	x := &s.Surfaces[i]
	rule := v.Rule(x.Product)
	status := x.Contact.Status(rule, v.After.Now)
	if status == wettime.Reached && !x.Contact.Broke {
		v.Kept(i)
		return
	}
	title := procedure.Within(v.Surface(i).Title)
	switch status {
	case wettime.Reached:
		v.Kept(i)
		v.Note(i, "Dried too early once, then wiped again for its whole time: "+title+".")
	case wettime.Unknown:
		v.Unknown(i, "Nobody noted whether this was still wet after "+rule.Need.String()+": "+title+".")
	default:
		v.Breach(assess.Breach{Surface: i, Message: tooShort(v, x, rule, when) + ": " + title + "."})
	}
}

func tooShort(v *assess.View, x *station.Surface, rule wettime.Rule, when string) string {
	if !v.Witness.Has(action.Clock) {
		return "Not left wet for its time, no wait comes between its wipe and the moment " + when
	}
	wet := x.Contact.Longest(rule, v.After.Now)
	if v.Witness.Has(action.Drying) || x.Contact.Wet {
		if x.Contact.Wet {
			return fmt.Sprintf("Wet for only %s of %s %s", toSecond(max(wet, v.After.Now-x.Contact.Since)), rule.Need, when)
		}
		return fmt.Sprintf("Wet for only %s of %s, dry at %s and not wiped again in time", toSecond(wet), rule.Need, toSecond(x.Contact.Dried))
	}
	return fmt.Sprintf("Seen dry at %s, before its %s were over", toSecond(x.Contact.Dried), rule.Need)
}

// toSecond cuts a time to the second for a sentence. It never rounds up: what
// was too short must not read as if it were not.
func toSecond(t action.Millis) action.Millis { return t / 1000 * 1000 }
