package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/station"
	"stillwet/internal/wettime"
)

// EverySurface: each listed surface is disinfected when the station is declared
// ready, and nothing has dirtied it since.
var EverySurface = &assess.Rule{
	Name:       "every-surface",
	Doc:        "Every listed surface of the {station} and of the {bucket} is wiped with disinfectant before the {station} is declared ready.",
	Why:        "Hepatitis B virus stays infectious on a surface for a week or more, also where no blood can be seen. The next patient meets every surface that was left out.",
	Next:       "Go round the {station} in the same way each time, one face at a time from the top down, so that no surface is left out.",
	Source:     notes + " (all station surfaces); the list is the clinic's",
	Needs:      action.Order,
	OfSurfaces: true,
	Close:      everySurface,
}

func everySurface(v *assess.View) {
	switch {
	case v.After.Stopped && v.Act == nil:
		v.Unknown(assess.None, "The work was stopped before the {station} was declared ready.")
		return
	case v.Act == nil && v.After.MayHave(action.DeclareReady):
		v.Unknown(assess.None, "The watcher could not see whether the {station} was declared ready.")
	case v.Act == nil && !v.After.TaggedOut:
		v.Breach(assess.Breach{
			Surface: assess.None, Message: "The work ended, and nobody had declared the {station} ready.",
			Why:  "Until somebody has said so after looking, the next one at the {station} cannot know whether it may be used.",
			Next: "When every surface has had its time and is dry, and everything is back in its place, declare the {station} ready.",
		})
	}
	for i := range v.P.Surfaces {
		if v.Listed(i) {
			disinfected(v, i)
		}
	}
}

// disinfected judges one surface at the end.
func disinfected(v *assess.View, i int) {
	x := &v.After.Surfaces[i]
	title := v.The(i)
	switch {
	case x.Clean == station.Wiped && x.BesideSpot:
		v.Breach(assess.Breach{
			Surface: i, Message: "Only the blood was wiped off, while the patient sat there, and not again afterwards: " + title + ".",
			Next: "Wipe what the patient can reach when the patient has left.",
		})
	case x.Clean == station.Wiped && x.SpotEarly:
		v.Breach(assess.Breach{
			Surface: i, Message: "Only the blood was dealt with, while used lines were still there, and this was not wiped again when they were gone: " + title + ".",
			Next: "Blood is dealt with at once. When everything used is gone, wipe the surface again with the rest of the {station}.",
		})
	case x.Clean == station.Wiped && x.Beside:
		v.Missed(i) // that it was wiped beside the patient, another rule says
	case x.Clean == station.Wiped && (x.Early || v.Contact(v.After, i) == wettime.TooShort):
		v.Missed(i) // that it was wet too short, the rule of wet time says
	case x.Clean == station.Wiped:
		v.Kept(i)
	case x.Clean == station.UnknownClean:
		notSeenWiped(v, i)
	case x.Blood:
		v.Breach(assess.Breach{Surface: i, Message: "Blood was left, and this was not disinfected: " + title + ".", Next: bloodAdvice})
	case x.Spoilt == station.SpoiltByPatient:
		v.Breach(assess.Breach{
			Surface: i, Message: "Somebody sat within reach of this, or touched it, after it was wiped, and it was not wiped anew: " + title + ".", Way: v.Trace.SurfaceWay(i),
			Next: "When somebody has sat in a finished chair or touched a finished surface, wipe what they could reach again, for its whole time.",
		})
	case x.Spoilt != station.NotSpoilt:
		v.Breach(assess.Breach{
			Surface: i, Message: "Dirtied again after it was wiped, and not wiped anew: " + title + ".", Way: v.Trace.SurfaceWay(i),
			Next: "When something used has touched a finished surface, wipe it again for its whole time before you declare the {station} ready.",
		})
	case x.SoilTold:
		v.Breach(assess.Breach{Surface: i, Message: "Wiped only over soil, or with a wipe that had taken soil up, and so not disinfected: " + title + ".", Next: bloodAdvice})
	default:
		v.Breach(assess.Breach{Surface: i, Message: "Not wiped with disinfectant: " + title + "."})
	}
}

// notSeenWiped leaves the mark open where the clinic asks that it is seen, or where
// the surface has a critical mark of its own.
func notSeenWiped(v *assess.View, i int) {
	reason := "The watcher could not see this being wiped: " + v.The(i) + "."
	own := false
	for _, m := range v.P.MarkSheet.Marks {
		own = own || m.Critical && m.Rule == "every-surface" && m.Surface == v.Surface(i).ID
	}
	if own || v.P.MustBeSeen(i) {
		v.Unknown(i, reason)
	} else {
		v.Unasked(i, reason)
	}
}
