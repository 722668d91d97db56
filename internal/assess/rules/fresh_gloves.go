package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/station"
)

// FreshGloves: gloves are changed between dirty and clean work.
var FreshGloves = &assess.Rule{
	Name:       "fresh-gloves",
	Doc:        "Between dirty and clean work gloves come off, hands are cleaned and fresh gloves go on: after tear-down, after cleaning off blood, after the {bucket}, before the machine.",
	Why:        "Gloves that handled used things or cleaned off blood carry it to every surface they wipe.",
	Next:       "Before the next part of the work: gloves off, clean hands, fresh gloves.",
	Source:     checklist + ", gloves and hands between its two parts (from memory); from soiled to clean: " + handHygiene,
	Needs:      action.Order,
	SomeCustom: true,
	OfSurfaces: true,
	Step:       freshGloves,
}

func freshGloves(v *assess.View) {
	if !v.Own() {
		return
	}
	asked, _, _ := v.Clash(v.Before, v.Act)
	switch {
	case !asked:
	case v.Before.Gloves == station.UnknownGloves:
		v.UnknownHands("The watcher could not see whether these were fresh gloves.")
	case v.After.Mixed && !v.Before.Mixed:
		v.Breach(assess.Breach{
			Surface: v.Act.Surface,
			Message: "The same gloves went from " + fromWhat(v) + " to " + doing(v) + ".",
			Way:     onward(v),
		})
	case v.After.MixedBucket && !v.Before.MixedBucket && !v.After.Mixed:
		v.Breach(assess.Breach{
			Surface: v.Act.Surface, Custom: true, Source: commonPractice,
			Message: "The same gloves went from wiping the {bucket} to " + doing(v) + ".",
		})
	case v.Before.Gloves != station.NoGloves:
		v.Kept(assess.None)
	}
}

// onward is how the gloves became dirty, and where they went with it.
func onward(v *assess.View) []station.Hop {
	way := v.Trace.GlovesWay()
	if len(way) == 0 {
		return nil
	}
	return append(way, station.Hop{Act: v.Act.Number, From: station.ByGloves, To: v.Act.Object})
}

// fromWhat names what made the gloves dirty.
func fromWhat(v *assess.View) string {
	way := v.Trace.GlovesWay()
	switch {
	case v.Before.Gloves == station.SoiledGloves:
		return "cleaning off blood"
	case len(way) > 0:
		return fromThing(v, way[len(way)-1].From)
	case v.Before.Dirt&station.ByWork != 0:
		return "handling used things"
	case v.Before.Dirt&station.ByBucket != 0:
		return "the {bucket}"
	}
	return "the patient"
}

func fromThing(v *assess.View, id string) string {
	what := assess.ThingWords(v.P, id)
	if i := v.P.ItemIndex(id); i >= 0 && used(v.P.Items[i].Kind) {
		return "handling used things such as " + what
	}
	return "touching " + what
}
