package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
	"stillwet/internal/wettime"
)

// BucketDry: the prime bucket goes back only disinfected and dry.
var BucketDry = &assess.Rule{
	Name:   "bucket-dry",
	Doc:    "The {bucket} is put back only when all of it is disinfected and dry.",
	Why:    "Clinics that reused priming buckets without disinfection had about twice the odds of hepatitis C (Shimokura 2011; an association). A wet bucket holds disinfectant that must not reach the circuit.",
	Next:   "Leave the {bucket} where it can air dry, away from used things. Put it back last, when it is dry.",
	Source: checklist + ", part two (from memory)",
	Needs:  action.Order,
	Step:   bucketDry,
}

func bucketDry(v *assess.View) {
	if !v.Done() || v.Act.Verb != action.PutBack || v.Act.Kind(v.P) != procedure.BucketItem {
		return
	}
	var not, wet, unknown, undried []string
	for i := range v.P.Surfaces {
		if v.Surface(i).Role != procedure.BucketSurface {
			continue
		}
		title := v.The(i)
		x := &v.Before.Surfaces[i]
		wiped, status := v.Finished(v.Before, i)
		switch {
		case !wiped || x.Early || status == wettime.TooShort:
			not = append(not, title)
		case x.Clean == station.UnknownClean || status == wettime.Unknown && v.P.MustBeSeen(i):
			unknown = append(unknown, title)
		case x.Contact.Wet && v.Witness.Has(action.Clock) && !v.Witness.Has(action.Drying):
			undried = append(undried, title)
		case x.Contact.Wet:
			wet = append(wet, title)
		}
	}
	switch {
	case len(not) > 0:
		v.Breach(assess.Breach{Surface: assess.None, Message: "The {bucket} was put back before it was disinfected for its whole time: " + list(not) + "."})
	case len(wet) > 0:
		v.Breach(assess.Breach{Surface: assess.None, Message: "The {bucket} was put back while it was still wet: " + list(wet) + "."})
	case len(unknown) > 0:
		v.Unknown(assess.None, "Nobody noted whether the {bucket} was disinfected for its time and dry: "+list(append(unknown, undried...))+".")
	case len(undried) > 0:
		v.Unknown(assess.None, "Nobody noted whether the {bucket} was dry when it was put back: "+list(undried)+".")
	default:
		v.Kept(assess.None)
	}
}
