package rules

import (
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// PatientFree: the clinic's interval without a patient between two treatments.
var PatientFree = &assess.Rule{
	Name:   "patient-free",
	Doc:    "Between a patient's leaving and the next one's sitting down lies the interval that the clinic asks for.",
	Why:    "Hurry is the usual cause of stations that are wiped round a patient or used half finished. The interval is there so that nobody has to hurry.",
	Next:   "Let the interval pass, also when the {station} is ready sooner.",
	Source: notes + " (a long enough patient-free interval; the number of minutes is the clinic's)",
	Needs:  action.Order,
	Step:   patientFree,
}

func patientFree(v *assess.View) {
	need := action.Millis(v.P.Settings.PatientFreeS) * 1000
	sits := v.Act.Verb == action.SeatNext // who sits down otherwise may be the one who left
	if need == 0 || !sits || !v.Witness.Has(action.Clock) || v.Before.LeftAt < 0 || !v.Before.FirstWipe {
		return
	}
	free := v.After.Now - v.Before.LeftAt
	switch {
	case free >= need+v.Slack():
		v.Kept(assess.None)
	case free >= need-v.Slack() && v.Slack() > 0:
		v.Unknown(assess.None, "The interval without a patient was as long as asked for, give or take two seconds.")
	default:
		v.Breach(assess.Breach{Surface: assess.None, Message: fmt.Sprintf("The next patient sat down %s after the last one had left; the clinic asks for %s.", toSecond(free), need)})
	}
}
