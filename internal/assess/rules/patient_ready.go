package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// PatientReady: nobody is moved or taken off before the treatment is complete
// and the patient stable.
var PatientReady = &assess.Rule{
	Name:     "patient-ready",
	Doc:      "Nobody is moved, and no used line is taken off, before it was checked that the treatment is complete and the patient stable.",
	Why:      "A patient who is bleeding, faint or still connected must not be moved. Patient safety comes before every step of the turnover.",
	Next:     "First see that the treatment is complete and the patient is stable, as your clinic's policy says. If not, stop and get help.",
	Source:   commonPractice,
	Needs:    action.Order,
	Critical: true,
	Step:     patientReady,
}

func patientReady(v *assess.View) {
	left := v.Before.Present && v.Before.Treated && !v.After.Present
	switch {
	case left && v.Act.Verb != action.HelpOut && v.Act.Verb != action.WatchingFrom && !v.Before.Stable:
		v.Unknown(assess.None, "The log does not show whether the patient was checked before leaving.")
	case !v.Done():
	case v.After.StableTold && !v.Before.StableTold:
		v.Breach(assess.Breach{Surface: assess.None, Message: moved(v) + " before it was checked that the treatment is complete and the patient stable."})
	case !moves(v) || v.Before.CheckedLate: // what was checked before watching began is no part of it
	case v.Before.MayHave(action.CheckStable) && !v.Before.Stable:
		v.Unknown(assess.None, "The watcher could not see the check of the patient.")
	default:
		v.Kept(assess.None)
	}
}

// moves reports whether the act moves the patient or takes something off.
func moves(v *assess.View) bool {
	switch v.Act.Verb {
	case action.HelpOut, action.Disconnect:
		return true
	case action.TakeOut:
		return v.Before.Present
	}
	return v.Act.Verb == action.TakeOff && circuit(v.Act.Kind(v.P)) && v.Before.Present
}

func moved(v *assess.View) string {
	switch v.Act.Verb {
	case action.HelpOut:
		return "The patient was helped out of the {station}"
	case action.Disconnect:
		return "The patient was disconnected"
	case action.TakeOut:
		return "Needles came out"
	}
	return "Used lines or the dialyzer came off"
}
