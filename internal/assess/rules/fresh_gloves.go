package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// FreshGloves: gloves are changed between dirty and clean work.
var FreshGloves = &assess.Rule{
	Name:       "fresh-gloves",
	Doc:        "Between dirty and clean work gloves come off, hands are cleaned and fresh gloves go on: after gathering supplies, after tear-down, after cleaning off blood, after the {bucket}, before the machine.",
	Why:        "Gloves that took off used lines or emptied the bucket carry blood to every surface they wipe.",
	Next:       "Before the next part of the work: gloves off, clean hands, fresh gloves.",
	Source:     checklist + ", gloves and hands between its two parts (from memory); the other changes: " + commonPractice,
	Needs:      action.Order,
	OfSurfaces: true,
	Step:       freshGloves,
}

func freshGloves(v *assess.View) {
	if !v.Done() {
		return
	}
	after, dirty := v.ChangeAfter(v.Act)
	switch {
	case after == 0 && !dirty:
	case v.Before.Gloves == station.UnknownGloves:
		v.Unknown(assess.None, "The observer could not see whether these were fresh gloves.")
	case v.After.Mixed && !v.Before.Mixed:
		v.Breach(assess.Breach{
			Surface: v.Act.Surface,
			Message: "The same gloves went from " + from(v.After.Clash) + " to " + to(v) + ".",
			Chain:   v.Trace.GlovesChain(),
		})
	case v.Before.Gloves != station.NoGloves:
		v.Kept(assess.None)
	}
}

func from(t station.Task) string {
	switch {
	case t&station.SoilCleaned != 0:
		return "cleaning off blood"
	case t&station.TornDown != 0:
		return "handling used things"
	case t&station.BucketWork != 0:
		return "the {bucket}"
	case t&station.Gathered != 0:
		return "gathering supplies"
	}
	return "touching something used"
}

func to(v *assess.View) string {
	switch v.Act.Verb {
	case action.Wipe:
		return "wiping " + procedure.Within(v.Surface(v.Act.Surface).Title)
	case action.Bring:
		return "bringing " + procedure.Within(v.P.Title(v.Act.Object))
	}
	return "handling " + procedure.Within(v.P.Title(v.Act.Object))
}
