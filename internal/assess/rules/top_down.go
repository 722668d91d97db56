package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/station"
)

// TopDown: what is higher is wiped before what is lower. Advice only.
var TopDown = &assess.Rule{
	Name:   "top-down",
	Doc:    "On each thing the higher surfaces are wiped before the lower ones.",
	Why:    "What drips from above falls on a surface already done.",
	Next:   "Begin at the top of each thing and work down.",
	Source: "general cleaning principle (from memory)",
	Needs:  action.Order,
	Soft:   true,
	Step:   topDown,
}

func topDown(v *assess.View) {
	if !v.Done() || !v.Act.Wipes() {
		return
	}
	here, was := v.Surface(v.Act.Surface), &v.Before.Surfaces[v.Act.Surface]
	if here.Row == 0 || was.Clean != station.Used || was.Spoilt != station.NotSpoilt {
		return // of no height, or wiped anew
	}
	for i := range v.P.Surfaces {
		below := v.Surface(i)
		if below.ThingOf() != here.ThingOf() || below.Row <= here.Row || v.Before.Surfaces[i].Clean != station.Wiped {
			continue
		}
		v.Breach(assess.Breach{
			Surface: assess.None, Cause: here.ThingOf(),
			Message: "Wiped after what is below it: " + v.The(v.Act.Surface) + " after " + v.The(i) + ".",
		})
		return
	}
	v.Kept(assess.None)
}
