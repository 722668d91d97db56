package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// Gloved: used things, used surfaces and disinfectant are handled in gloves.
var Gloved = &assess.Rule{
	Name:   "gloved",
	Doc:    "Used things, used surfaces and disinfectant are handled with gloves on.",
	Why:    "Any surface of a used {station} may carry blood that nobody can see, and disinfectant harms skin.",
	Next:   "Clean your hands and put on fresh gloves before you touch anything used at the {station}.",
	Source: "42 CFR 494.30(a)(1): gloves when touching the patient's equipment at the station",
	Needs:  action.Order,
	Step:   gloved,
}

func gloved(v *assess.View) {
	if !v.Done() || !v.Handles(v.Before, v.Act) {
		return
	}
	switch {
	case v.Before.Gloves == station.UnknownGloves:
		v.Unknown(assess.None, "The observer could not see whether gloves were on.")
	case v.Before.Gloves != station.NoGloves:
		v.Kept(assess.None)
	case !v.Before.BareTold:
		v.Breach(assess.Breach{Surface: assess.None, Message: "Bare hands handled " + handled(v) + "."})
	}
}

func handled(v *assess.View) string {
	switch v.Act.Verb {
	case action.TakeWipe:
		return "a wipe with disinfectant"
	case action.Wipe, action.Clean:
		return "disinfectant on " + procedure.Within(v.Surface(v.Act.Surface).Title)
	}
	return procedure.Within(v.P.Title(v.Act.Object))
}
