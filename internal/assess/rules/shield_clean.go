package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/station"
)

// ShieldClean: eye protection that was used and taken off is disinfected or thrown
// away.
var ShieldClean = &assess.Rule{
	Name:   "shield-clean",
	Doc:    "Goggles or a shield that were worn at tear-down and taken off are disinfected or thrown away before the work ends. What is kept on may stay on.",
	Why:    "Blood that spattered on the shield goes to the face and the hands of whoever picks it up next.",
	Next:   "Disinfect the shield with gloves on before you take the last pair off, or throw it away.",
	Source: bloodborne + " (contaminated equipment); " + handHygiene,
	Needs:  action.Order,
	End:    shieldClean,
}

func shieldClean(v *assess.View) {
	switch {
	case v.After.Stopped:
	case v.After.UsedOff&station.Eyes != 0 && v.Version == 1:
		v.Unknown(assess.None, "The log is of a time that had no words for disinfecting eye protection.")
	case v.After.UsedOff&station.Eyes != 0 && (v.After.WearUnseen&station.Eyes != 0 || v.After.MayHave(action.Disinfect)):
		v.Unknown(assess.None, "The watcher could not see what became of the eye protection.")
	case v.After.UsedOff&station.Eyes != 0:
		v.Breach(assess.Breach{Surface: assess.None, Message: "Eye protection that was worn at tear-down was taken off, and neither disinfected nor thrown away."})
	case v.After.EyesUsed:
		v.Kept(assess.None)
	}
}
