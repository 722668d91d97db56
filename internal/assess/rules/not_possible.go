package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/station"
)

// NotPossible: an act that could not have been done as the log has it.
var NotPossible = &assess.Rule{
	Name:       "not-possible",
	Doc:        "Every act can be done in the state the {station} is in.",
	Why:        "A sequence with a step that cannot be done is not one that anybody can follow at the {station}.",
	Next:       "Look for the step that is missing just before this one.",
	Source:     "plain logic of the acts",
	Needs:      action.Order,
	OfSurfaces: true,
	Step: func(v *assess.View) {
		switch {
		case v.After.Impossible != station.Possible:
			v.Breach(assess.Breach{Surface: v.Act.Surface, Message: "“" + v.Act.Text() + "” cannot be done here: " + v.After.Impossible.String() + "."})
		case !v.Act.Verb.Event():
			v.Kept(assess.None)
		}
	},
}
