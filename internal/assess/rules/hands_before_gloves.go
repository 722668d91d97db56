package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/station"
)

// HandsBeforeGloves: gloves go on over clean hands.
var HandsBeforeGloves = &assess.Rule{
	Name:   "hands-before-gloves",
	Doc:    "Gloves are put on over clean hands.",
	Why:    "Hands that are not clean soil the outside of the gloves while putting them on, and the box they come from.",
	Next:   "Rub or wash your hands, let them dry, then put on the gloves.",
	Source: handHygiene + "; donning order (hand hygiene first): CDC, as tabulated in J Nucl Med Technol",
	Needs:  action.Order,
	Step:   handsBeforeGloves,
}

func handsBeforeGloves(v *assess.View) {
	if !v.Own() || v.Act.Verb != action.PutOn || v.Act.Object != action.Gloves {
		return
	}
	hands := v.Before.Hands
	if v.After.Assumed == station.GlovesHadComeOff {
		hands = station.HandsClean
	}
	if hands == station.HandsSoiled && v.Before.SoapTold {
		return // that a rub is not enough was told
	}
	switch hands {
	case station.HandsClean:
		v.Kept(assess.None)
	case station.HandsUnknown:
		v.UnknownHands("The watcher could not see whether hands were cleaned before gloves went on.")
	case station.HandsOnPatient:
		v.Breach(assess.Breach{Surface: assess.None, Message: "Gloves were put on over hands that had touched the patient and not been cleaned since."})
	default:
		v.Breach(assess.Breach{Surface: assess.None, Message: "Gloves were put on over hands that had not been cleaned."})
	}
}
