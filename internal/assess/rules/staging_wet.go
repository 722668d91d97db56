package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
	"stillwet/internal/wettime"
)

// StagingWet: supplies are set down on the staging surface only, and only when it
// is disinfected.
var StagingWet = &assess.Rule{
	Name:   "staging-wet",
	Doc:    "Supplies are set down only where they may lie, and only when that surface was wiped and has been wet for its time.",
	Why:    "Supplies set down on a used surface are used supplies.",
	Next:   "Wipe the staging surface, let it have its time, and set everything clean down there and nowhere else.",
	Source: commonPractice,
	Needs:  action.Order,
	Custom: true,
	Step:   stagingWet,
}

func stagingWet(v *assess.View) {
	kind := v.Act.Kind(v.P)
	set := v.Act.Verb == action.Bring || v.Act.Verb == action.SetAt
	if !v.Done() || !set || kind != procedure.Supplies && kind != procedure.NextSet {
		return
	}
	if v.Act.PlaceKind(v.P).Away() {
		return // what leaves the station is another rule's
	}
	if !v.Act.MayGo(v.P) {
		v.Breach(assess.Breach{Surface: assess.None, Message: "Set down " + into(v) + ", where it may not lie: " + v.Thing() + "."})
		return
	}
	if v.Act.On < 0 {
		return
	}
	on := v.The(v.Act.On)
	wiped, status := v.Finished(v.Before, v.Act.On)
	switch {
	case v.Before.Surfaces[v.Act.On].Clean == station.UnknownClean:
		v.Unknown(assess.None, "The watcher could not see whether this was wiped before supplies were set on it: "+on+".")
	case !wiped:
		v.Breach(assess.Breach{Surface: assess.None, Message: "Supplies were set down on a surface that was not disinfected: " + on + "."})
	case status == wettime.TooShort:
		v.Missed(assess.None) // that it was wet too short, the rule of wet time says
	default:
		v.Kept(assess.None)
	}
}
