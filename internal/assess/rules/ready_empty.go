package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// ReadyEmpty: a station is not declared ready with somebody in it.
var ReadyEmpty = &assess.Rule{
	Name:     "ready-empty",
	Doc:      "The {station} is declared ready only when nobody is in it.",
	Why:      "Whoever sits there has made it a used {station} again, and what was wiped is not what the next patient meets.",
	Next:     "See the {station} empty, finish it, then declare it ready. If somebody sat down too soon, what they could reach is wiped again.",
	Source:   notes + " (all surfaces, after the patient has left)",
	Needs:    action.Order,
	Critical: true,
	Step:     readyEmpty,
}

func readyEmpty(v *assess.View) {
	switch {
	case !v.Done() || v.Act.Verb != action.DeclareReady:
	case !v.Before.Present:
		v.Kept(assess.None)
	case v.Before.PatientUnseen:
		v.Unknown(assess.None, "The watcher could not see whether somebody was in the {station} when it was declared ready.")
	default:
		v.Breach(assess.Breach{Surface: assess.None, Message: "The {station} was declared ready with somebody in it."})
	}
}
