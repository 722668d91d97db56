package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// KeptApart: used things and used gloves stay off surfaces that are disinfected
// or still wet, and away from clean things.
var KeptApart = &assess.Rule{
	Name:       "kept-apart",
	Doc:        "Used things, used gloves and another face's wipe stay off a surface that is disinfected or still wet, and used things are not set with clean ones.",
	Why:        "One touch with a used thing makes a finished surface dirty again, and nobody can see it.",
	Next:       "Keep used things away from finished surfaces. If one touches, wipe that surface again for its whole time.",
	Source:     checklist + ", part two (from memory); wipes carry germs on: Antimicrob Resist Infect Control 2020 (s13756-020-00797-4)",
	Needs:      action.Order,
	OfSurfaces: true,
	Step:       keptApart,
}

func keptApart(v *assess.View) {
	if !v.Done() {
		return
	}
	a := v.Act
	switch a.Verb {
	case action.Wipe:
		keptApartWipe(v)
	case action.Touch:
		if a.Surface >= 0 && v.Before.Surfaces[a.Surface].Clean == station.Wiped {
			spoilt(v, a.Surface, "used gloves")
		}
	case action.SetAt, action.Bring, action.Discard:
		if a.On >= 0 && v.Before.Surfaces[a.On].Clean == station.Wiped {
			spoilt(v, a.On, carried(v))
		}
		if a.Place >= 0 && v.P.Places[a.Place].Kind == procedure.CleanArea {
			cleanPlace(v)
		}
	}
}

func keptApartWipe(v *assess.View) {
	s := v.Act.Surface
	if v.Before.Surfaces[s].Clean != station.Wiped {
		return
	}
	if !v.OtherFace(v.Before, s) {
		v.Kept(s)
		return
	}
	v.Breach(assess.Breach{
		Surface: s,
		Message: "A wipe used on " + procedure.Within(v.Surface(int(v.Before.Wipe.Face)).Title) + " was put on a surface that was wiped already: " + procedure.Within(v.Surface(s).Title) + ".",
		Next:    "Take a fresh wipe for each face, also when you wet a surface again.",
	})
}

// spoilt reports a surface that an act dirtied again; gloves unknown cannot say.
func spoilt(v *assess.View, s int, by string) {
	switch {
	case v.After.Surfaces[s].Spoilt:
		v.Breach(assess.Breach{Surface: s, Message: "Wiped already, then touched by " + by + ": " + procedure.Within(v.Surface(s).Title) + ".", Chain: v.Trace.SurfaceChain(s)})
	case v.Before.Gloves == station.UnknownGloves:
		v.Unknown(s, "The observer could not see whether the gloves that touched this were used ones: "+procedure.Within(v.Surface(s).Title)+".")
	default:
		v.Kept(s)
	}
}

func carried(v *assess.View) string {
	if v.DirtyItem(v.Before, v.Act) {
		return procedure.Within(v.P.Title(v.Act.Object))
	}
	return "used gloves"
}

func cleanPlace(v *assess.View) {
	place := procedure.Within(v.P.Places[v.Act.Place].Title)
	if !v.DirtyItem(v.Before, v.Act) {
		v.Kept(assess.None)
		return
	}
	v.Breach(assess.Breach{Surface: assess.None, Message: "Put with clean things (" + place + ") before being disinfected: " + procedure.Within(v.P.Title(v.Act.Object)) + "."})
}
