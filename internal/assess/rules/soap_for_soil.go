package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/station"
)

// SoapForSoil: hands that are visibly soiled are washed; a rub is not enough.
var SoapForSoil = &assess.Rule{
	Name:   "soap-for-soil",
	Doc:    "Hands that are visibly soiled are washed with soap and water; a rub is not enough.",
	Why:    "Hand rub does not take off blood or dirt, and works badly under it.",
	Next:   "When you can see anything on your hands, go to the basin: soap, water, a clean towel.",
	Source: handHygiene + " (rub preferred unless visibly soiled)",
	Needs:  action.Order,
	Step:   soapForSoil,
}

func soapForSoil(v *assess.View) {
	if !v.Own() || v.Before.Hands != station.HandsSoiled {
		return
	}
	switch v.Act.Verb {
	case action.WashHands:
		v.Kept(assess.None)
	case action.RubHands:
		v.Breach(assess.Breach{Surface: assess.None, Message: "Hands that were visibly soiled were rubbed and not washed."})
	}
}
