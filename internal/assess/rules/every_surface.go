package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// EverySurface: each listed surface is disinfected when the station is declared
// ready, and nothing has dirtied it since.
var EverySurface = &assess.Rule{
	Name:       "every-surface",
	Doc:        "Every listed surface of the {station}, the {bucket} inside, sides and outside too, is wiped with disinfectant before the {station} is declared ready.",
	Why:        "Hepatitis B virus stays infectious on a surface for a week or more, also where no blood can be seen. The next patient meets every surface that was left out.",
	Next:       "Go round the {station} in the same way each time, one face at a time from the top down, so that no surface is left out.",
	Source:     notes + " (all station surfaces); the list is the clinic's",
	Needs:      action.Order,
	OfSurfaces: true,
	Step: func(v *assess.View) {
		if v.Done() && v.Act.Verb == action.DeclareReady {
			everySurface(v)
		}
	},
	End: everySurface,
}

func everySurface(v *assess.View) {
	if !v.Declared() {
		return
	}
	if v.Act == nil {
		v.Breach(assess.Breach{
			Surface: assess.None, Message: "The work ended, and nobody had declared the {station} ready.",
			Why:  "Until somebody has said so after looking, the next one at the {station} cannot know whether it may be used.",
			Next: "When every surface has had its time and is dry, and everything is back in its place, declare the {station} ready.",
		})
	}
	for i := range v.P.Surfaces {
		if !v.Listed(i) {
			continue
		}
		x := &v.After.Surfaces[i]
		if x.Clean == station.Wiped {
			v.Kept(i)
			continue
		}
		title := procedure.Within(v.Surface(i).Title)
		switch {
		case x.Clean == station.UnknownClean:
			v.Unknown(i, "The observer could not see this being wiped: "+title+".")
		case x.Blood:
			v.Breach(assess.Breach{Surface: i, Message: "Blood was left, and this was not disinfected: " + title + "."})
		case x.Spoilt:
			v.Breach(assess.Breach{Surface: i, Message: "Dirtied again after it was wiped, and not wiped anew: " + title + ".", Chain: v.Trace.SurfaceChain(i)})
		default:
			v.Breach(assess.Breach{Surface: i, Message: "Not wiped with disinfectant: " + title + "."})
		}
	}
}
