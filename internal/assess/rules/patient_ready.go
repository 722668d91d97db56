package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// PatientReady: nobody is moved or taken off before the treatment is complete
// and the patient stable.
var PatientReady = &assess.Rule{
	Name:   "patient-ready",
	Doc:    "Nobody is moved, and no used line is taken off, before it was checked that the treatment is complete and the patient stable.",
	Why:    "A patient who is bleeding, faint or still connected must not be moved. Patient safety comes before every step of the turnover.",
	Next:   "First see that the treatment is complete and the patient is stable, as your clinic's policy says. If not, stop and get help.",
	Source: commonPractice,
	Needs:  action.Order,
	Step:   patientReady,
}

func patientReady(v *assess.View) {
	switch {
	case v.Act.Verb == action.PatientLeaves && v.Before.Present && !v.Before.Stable:
		v.Unknown(assess.None, "The log does not show whether the patient was checked before leaving.")
	case !v.Done():
	case v.After.StableTold && !v.Before.StableTold:
		what := "The patient was helped out of the station"
		if v.Act.Verb != action.HelpOut {
			what = "Used lines or dialyzer came off"
		}
		v.Breach(assess.Breach{Surface: assess.None, Message: what + " before it was checked that the treatment is complete and the patient stable."})
	case v.Act.Verb == action.HelpOut && v.Before.StableUnseen && !v.Before.Stable:
		v.Unknown(assess.None, "The observer could not see the check of the patient.")
	case v.Act.Verb == action.HelpOut, v.Act.Kind(v.P) == procedure.Circuit && v.Before.Present:
		v.Kept(assess.None)
	}
}
