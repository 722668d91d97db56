package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/station"
)

// HandsBeforePatient: hands are clean right before they touch the patient.
var HandsBeforePatient = &assess.Rule{
	Name:   "hands-before-patient",
	Doc:    "Hands are cleaned right before they touch the patient: to check, to disconnect, to help out of the {station}.",
	Why:    "What your hands bring from somewhere else goes straight to a person with an open access.",
	Next:   "Rub your hands when you come to the patient, before you check or help. Clean bare hands may do both; needles, lines and blood want fresh gloves over clean hands.",
	Source: handHygiene + " (right before touching a patient; from soiled to clean); gloves for patient care: 42 CFR 494.30(a)(1)",
	Needs:  action.Order,
	Step:   handsBeforePatient,
}

func handsBeforePatient(v *assess.View) {
	if !v.Own() || !v.Act.TouchesPatient() || v.Before.Safety() || v.Act.Verb == action.CheckStable && !v.Before.Present {
		return
	}
	switch v.Before.OnlyPatient() {
	case station.Yes:
		v.Kept(assess.None)
	case station.Unknown:
		v.UnknownHands("The watcher could not see whether hands were cleaned before they touched the patient.")
	default:
		with := "hands that had not been cleaned"
		if v.Before.Gloves != station.NoGloves {
			with = "gloves that had touched other things"
		}
		v.Breach(assess.Breach{Surface: assess.None, Message: "The patient was touched with " + with + ".", Way: gloveWay(v)})
	}
}

// gloveWay is how the gloves became dirty before the act, nothing for bare hands.
func gloveWay(v *assess.View) []station.Hop {
	if v.Before.Gloves.Dirty() {
		return v.Trace.GlovesWay()
	}
	return nil
}
