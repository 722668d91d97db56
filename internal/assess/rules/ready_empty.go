package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// ReadyEmpty: a station is not declared ready with somebody in it.
var ReadyEmpty = &assess.Rule{
	Name:     "ready-empty",
	Doc:      "The {station} is declared ready only when nobody is in it.",
	Why:      "Whoever is there may touch what was wiped, and then it is not what the next patient meets.",
	Next:     "See the {station} empty, then declare it ready. If somebody sat down or touched something, what they could reach is wiped again.",
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
		b := assess.Breach{Surface: assess.None, Message: "The {station} was declared ready with somebody in it."}
		if v.Before.Treated {
			b.Why, b.Next = neverLeftWhy, neverLeftNext
		}
		v.Breach(b)
	}
}

// What is said where the patient was there all the time.
const (
	neverLeftWhy  = "The patient whose {station} it was is still there, and whatever was wiped was wiped around somebody."
	neverLeftNext = "See the patient out first. Then the whole {station} is disinfected, and then declared ready."
)
