package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// PatientAway: no disinfecting wipe while the patient is in the station.
var PatientAway = &assess.Rule{
	Name:       "patient-away",
	Doc:        "Routine disinfection of a {station} does not begin before the patient has left it.",
	Why:        "Outbreak investigations repeatedly found stations being wiped around a patient. Blood from that patient can reach a surface again after it was wiped.",
	Next:       "Wait until the patient has left the {station}. If the patient cannot leave yet, disinfection waits; that delay is not a fault.",
	Source:     notes,
	Needs:      action.Order,
	OfSurfaces: true,
	Step:       patientAway,
}

func patientAway(v *assess.View) {
	switch {
	case !v.Done() || !v.Act.Disinfects():
	case v.After.WipedBeside && !v.Before.WipedBeside:
		v.Breach(assess.Breach{Surface: v.Act.Surface, Message: "Disinfectant was wiped while the patient was still in the {station}: " + procedure.Within(v.Surface(v.Act.Surface).Title) + "."})
	default:
		v.Kept(v.Act.Surface)
	}
}
