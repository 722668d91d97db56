package rules

import (
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// OneFaceOneWipe: each face of a thing gets its own wipe.
var OneFaceOneWipe = &assess.Rule{
	Name:       "one-face-one-wipe",
	Doc:        "A wipe that was used on one face of a thing is not carried to the next.",
	Why:        "A used wipe carries germs on to the next surface; all disinfectant wipes that were tested did.",
	Next:       "Take a fresh wipe for each face, and always one between machine and chair.",
	Source:     "Antimicrob Resist Infect Control 2020 (s13756-020-00797-4); one wipe, one surface, one direction, discard: Int J Mol Sci 2020;21:9659",
	Needs:      action.Order,
	OfSurfaces: true,
	Soft:       true,
	Step:       oneFaceOneWipe,
}

// oneFaceOneWipe tells a wipe once, however many faces it goes to; once more when it
// goes to another thing and the clinic asks for a fresh one there only.
func oneFaceOneWipe(v *assess.View) {
	choice := v.P.Settings.OneWipe
	if !v.Own() || !v.Act.Wipes() || choice == procedure.AnyWipe {
		return
	}
	s, wipe := v.Act.Surface, &v.After.Wipe
	before := v.Before.Wipe.Crossed
	if v.Before.Wipe.Number != wipe.Number {
		before = 0
	}
	crossed := wipe.Crossed &^ before
	level := assess.AdviceLevel
	if choice == procedure.FaceBreach || choice == procedure.ThingBreach && crossed&station.ToThing != 0 {
		level = assess.BreachLevel
	}
	switch {
	case crossed&station.ToFace != 0, crossed&station.ToThing != 0 && choice == procedure.ThingBreach:
		v.Breach(assess.Breach{
			Surface: s, Level: level, Cause: fmt.Sprintf("wipe %d", wipe.Number),
			Message: "One wipe went from " + v.The(int(wipe.Face)) + " to another face: " + v.The(s) + ".",
		})
	case wipe.Crossed == 0:
		v.Kept(s)
	}
}
