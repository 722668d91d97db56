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
	Next:       "Wait until the patient has left the {station}. If the patient cannot leave yet, disinfection waits; that delay is not a breach.",
	Source:     notes,
	Needs:      action.Order,
	OfSurfaces: true,
	Step:       patientAway,
}

func patientAway(v *assess.View) {
	if v.After.WipedUnder != 0 {
		wipedUnder(v)
	}
	switch {
	case !v.Done():
	case v.P.Settings.ClearAlone && v.Act.Verb == action.TakeOff && circuit(v.Act.Kind(v.P)):
		clearedAlone(v)
	case v.Act.Wipes():
		wipedAlone(v)
	}
}

// wipedUnder: it turned out that somebody who had been taken for gone was there.
func wipedUnder(v *assess.View) {
	for i := range v.P.Surfaces {
		if v.After.WipedUnder&(1<<i) != 0 {
			v.Breach(assess.Breach{
				Surface: i, Message: "Wiped when the patient had been taken for gone, and was still in the {station}: " + v.The(i) + ".",
				Next: "Look for the patient before the first wipe, and wipe only when the {station} is empty.",
			})
		}
	}
}

func wipedAlone(v *assess.View) {
	s := v.Act.Surface
	staging := v.Surface(s).Role == procedure.StagingSurface && v.P.Settings.StagingWithPatient
	switch {
	case !v.Before.Present || staging || v.Before.Spot(s):
		v.Kept(s)
	case v.Before.PatientUnseen:
		v.Unknown(s, "The watcher could not see whether the patient was still in the {station} when this was wiped: "+v.The(s)+".")
	default:
		v.Breach(assess.Breach{Surface: s, Message: "Disinfectant was wiped while the patient was still in the {station}: " + v.The(s) + "."})
	}
}

func clearedAlone(v *assess.View) {
	switch {
	case !v.Before.Present:
		v.Kept(assess.None)
	case v.Before.PatientUnseen:
		v.Unknown(assess.None, "The watcher could not see whether the patient was still in the {station} when used things were taken down.")
	default:
		v.Breach(assess.Breach{Surface: assess.None, Message: "Used things were taken down while the patient was still in the {station}.", Source: "the clinic's own setting"})
	}
}
