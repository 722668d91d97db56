package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// SoilFirst: visible blood or soil is cleaned off before disinfecting.
var SoilFirst = &assess.Rule{
	Name:       "soil-first",
	Doc:        "A surface with visible blood or soil is cleaned first, and then disinfected with a fresh wipe.",
	Why:        "Blood uses up the disinfectant and shields germs from it. Wiping over it only spreads it.",
	Next:       bloodAdvice,
	Source:     checklist + "; soil removal is part of label directions: EPA DIS/TSS-15",
	Needs:      action.Order,
	OfSurfaces: true,
	Step:       soilFirst,
}

// bloodAdvice is what to do about blood wherever it is found.
const bloodAdvice = "Clean the blood off, throw that wipe away, change gloves with hand hygiene, and disinfect with a fresh wipe of a product allowed for blood."

func soilFirst(v *assess.View) {
	if v.Act.Verb == action.BloodOn {
		v.Kept(v.Act.Surface)
		return
	}
	if !v.Done() || !v.Act.Wipes() {
		return
	}
	s := v.Act.Surface
	before, after := &v.Before.Surfaces[s], &v.After.Surfaces[s]
	switch {
	case before.Blood && before.BloodUnseen:
		v.Unknown(s, "The watcher could not see whether the blood was cleaned off first: "+v.The(s)+".")
	case !after.SoilTold || before.SoilTold:
	case before.Blood:
		v.Breach(assess.Breach{Surface: s, Message: "Disinfectant was wiped over visible blood that had not been cleaned off: " + v.The(s) + "."})
	default:
		v.Breach(assess.Breach{Surface: s, Message: "The wipe that had just cleaned off blood or soil was used to disinfect: " + v.The(s) + "."})
	}
}
