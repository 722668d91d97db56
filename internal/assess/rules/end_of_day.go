package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// EndOfDay: what the procedure asks for before the work ends was done.
var EndOfDay = &assess.Rule{
	Name:   "end-of-day",
	Doc:    "What the procedure lists for the end of the work was done: internal disinfection, waste and sharps out, nothing left lying, floor level.",
	Why:    "Nobody comes by before the next morning.",
	Next:   "Go through the closing list before you declare the {station} ready.",
	Source: "the clinic's own procedure",
	Needs:  action.Order,
	Close:  endOfDay,
}

func endOfDay(v *assess.View) {
	if v.After.Stopped && v.Act == nil {
		return
	}
	for i := range v.P.Closing {
		asked := &v.P.Closing[i]
		step := v.P.StepIndex(asked.Step)
		label := "“" + v.P.Steps[step].Label + "”"
		switch {
		case !concerned(v, step): // nothing of it is there
		case v.After.Done.Has(step):
			v.Kept(assess.None)
		case v.After.NotSeen.Has(step):
			v.Unknown(assess.None, "The watcher could not see "+label+".")
		default:
			b := assess.Breach{Surface: assess.None, Message: "Left out at the end of the work: " + label + ".", Why: asked.Why, Source: asked.Basis.String()}
			b.Next = "Do this before you declare the {station} ready: " + procedure.Within(v.P.Steps[step].Label) + "."
			if asked.Custom() {
				b.Level = assess.AdviceLevel
			}
			v.Breach(b)
		}
	}
}

// concerned reports whether every item of a step is there: a sharps container that
// is not full stays.
func concerned(v *assess.View, step int) bool {
	for _, a := range v.P.Steps[step].Acts {
		if i := v.P.ItemIndex(a.Object); i >= 0 && !v.After.There(v.P, i) {
			return false
		}
	}
	return true
}
