package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/wettime"
)

// CleanLast: clean things of the next treatment, and the next patient, come only to
// a finished station.
var CleanLast = &assess.Rule{
	Name:   "clean-last",
	Doc:    "Clean supplies and the circuit of the next treatment, and the next patient, come to the {station} only when it is disinfected and dry.",
	Why:    "Clean things set down in a {station} that is not finished take up what is still there.",
	Next:   "Finish the {station} first: every surface disinfected and dry. Then bring the clean things.",
	Source: "CMS survey practice (from memory)",
	Needs:  action.Order,
	Step:   cleanLast,
}

func cleanLast(v *assess.View) {
	brings := v.Act.Verb == action.Bring && v.Act.Kind(v.P) == procedure.NextSet
	if !v.Done() || !brings && v.Act.Verb != action.SeatNext {
		return
	}
	who, then := "Clean things came to the {station}", "clean things came"
	if !brings {
		who, then = "The next patient was seated", "the next patient was seated"
	}
	open, unknown := unfinished(v)
	switch {
	case len(open) > 0:
		b := assess.Breach{Surface: assess.None, Cause: who, Message: who + " before everything was disinfected and dry. Open were: " + list(open) + "."}
		if !brings {
			b.Why = "Whoever sits down in a {station} that is not finished meets what the last patient left there."
			b.Next = "Finish the {station} first: every surface disinfected and dry. Then let the next patient sit down."
		}
		v.Breach(b)
	case len(unknown) > 0:
		v.Unknown(assess.None, "Nobody noted whether these were disinfected and dry before "+then+": "+list(unknown)+".")
	default:
		v.Kept(assess.None)
	}
}

// unfinished are the listed surfaces that are not disinfected and dry before the
// act, and those of which the log does not tell.
func unfinished(v *assess.View) (open, unknown []string) {
	for i := range v.P.Surfaces {
		if !v.Listed(i) {
			continue
		}
		title := v.The(i)
		wiped, status := v.Finished(v.Before, i)
		wet := v.Before.Surfaces[i].Contact.Wet
		switch {
		case !wiped || status == wettime.TooShort:
			open = append(open, title)
		case status == wettime.Unknown && !v.P.MustBeSeen(i) && !wet:
		case status == wettime.Unknown || wet && v.Witness.Has(action.Clock) && !v.Witness.Has(action.Drying):
			unknown = append(unknown, title)
		case wet:
			open = append(open, title+" (still wet)")
		}
	}
	return open, unknown
}
