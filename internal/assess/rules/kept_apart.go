package rules

import (
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// KeptApart: used things and used gloves stay off surfaces that are disinfected
// or still wet, and away from clean things.
var KeptApart = &assess.Rule{
	Name:       "kept-apart",
	Doc:        "Used things, used gloves, unclean hands and another face's wipe stay off a surface that is disinfected or still wet; used things are not set with clean ones, waste is not laid where clean supplies go, and used gloves touch nothing that goes elsewhere.",
	Why:        "One touch with a used thing makes a finished surface dirty again, and nobody can see it.",
	Next:       "Keep used things away from finished surfaces. If one touches, wipe that surface again for its whole time.",
	Source:     checklist + ", part two (from memory); wipes carry germs on: Antimicrob Resist Infect Control 2020 (s13756-020-00797-4)",
	Needs:      action.Order,
	OfSurfaces: true,
	Step:       keptApart,
	End: func(v *assess.View) {
		if p := v.After.Pend; p.On {
			touched(v, p)
		}
	},
}

func keptApart(v *assess.View) {
	if p := v.After.Settled; p.On {
		touched(v, p)
	}
	if !v.Done() {
		return
	}
	switch v.Act.Verb {
	case action.Wipe:
		keptApartWipe(v)
	case action.Touch:
		touchedOutside(v)
	case action.SetAt, action.Bring, action.Discard, action.DiscardWipe:
		laid(v)
	case action.PutBack:
		held(v)
	}
}

func keptApartWipe(v *assess.View) {
	s := v.Act.Surface
	if v.Before.Surfaces[s].Clean != station.Wiped {
		return
	}
	if v.Before.Wipe.Face < 0 || !v.OtherFace(v.Before, s) || v.Act.Helper {
		v.Kept(s)
		return
	}
	v.Breach(assess.Breach{
		Surface: s,
		Message: "A wipe used on " + v.The(int(v.Before.Wipe.Face)) + " was put on a surface that was wiped already: " + v.The(s) + ".",
		Next:    "Take a fresh wipe for each face, also when you wet a surface again.",
		Way:     v.Trace.SurfaceWay(s),
	})
}

// touched is a touch whose surface was not wiped at once.
func touched(v *assess.View, p station.Pend) {
	s := int(p.Surface)
	switch {
	case p.Spoilt:
		by := "used gloves"
		if p.Gloves == station.NoGloves {
			by = "hands that were not clean"
		}
		v.Breach(assess.Breach{Surface: s, Message: "Wiped already, then touched with " + by + ": " + v.The(s) + ".", Way: v.Trace.SurfaceWay(s), Act: int(p.Act), At: p.At})
	case p.Wiped && p.Gloves == station.UnknownGloves:
		v.Unknown(s, "The watcher could not see whether the gloves that touched this were used ones: "+v.The(s)+".")
	case p.Wiped:
		v.Kept(s)
	}
}

// touchedOutside: what dirty gloves leave on stock, cart, phone or pocket goes on.
func touchedOutside(v *assess.View) {
	if v.Act.Surface >= 0 || v.Act.Item >= 0 || !slices.Contains(action.Outside, v.Act.Object) || !v.Own() {
		return
	}
	if !v.Before.Gloves.Dirty() {
		v.Kept(assess.None)
		return
	}
	v.Breach(assess.Breach{
		Surface: assess.None, Message: "Touched with used gloves: " + v.Thing() + ".", Way: v.Trace.GlovesWay(),
		Why:  "What used gloves leave there, the next bare hand takes up, and takes along.",
		Next: "Take the gloves off and clean your hands before you touch anything that is not part of the {station}.",
	})
}

// laid is an item, or a wipe, that is put on a surface or into a clean place.
func laid(v *assess.View) {
	a := v.Act
	dirty := a.Verb == action.DiscardWipe || a.Item >= 0 && v.DirtyItem(v.Before, a.Item) == station.Yes || usedWear(v)
	switch {
	case a.On >= 0 && dirty && v.Surface(a.On).Role == procedure.StagingSurface:
		v.Breach(assess.Breach{Surface: a.On, Message: "Laid on the surface for clean supplies: " + what(v) + ".", Way: v.Trace.SurfaceWay(a.On)})
	case a.On >= 0 && v.Before.Surfaces[a.On].Clean == station.Wiped:
		laidOn(v, a.On, dirty)
	case a.PlaceKind(v.P) == procedure.CleanArea && a.Item >= 0:
		cleanPlace(v)
	case dirty && a.Item < 0:
		strayWaste(v)
	}
}

// usedWear reports whether the act throws away gloves or used equipment.
func usedWear(v *assess.View) bool {
	w := v.Act.WearOf()
	return v.Act.Verb == action.Discard && (v.Act.Item < 0 && w == 0 || (v.Before.UsedOff|v.Before.WearUsed)&w != 0)
}

// strayWaste is a used wipe or used equipment that goes anywhere but into waste.
func strayWaste(v *assess.View) {
	b := assess.Breach{Surface: assess.None, Message: "Thrown " + into(v) + ", where used things do not belong: " + what(v) + "."}
	switch place := v.Act.PlaceKind(v.P); {
	case place.ForWaste():
		v.Kept(assess.None)
		return
	case place.Away():
		b.Why, b.Next, b.Source = cleanWhy, cleanNext, cleanSource
	default:
		b.Level, b.Source = assess.AdviceLevel, commonPractice
	}
	v.Breach(b)
}

func what(v *assess.View) string {
	if v.Act.Verb == action.DiscardWipe {
		return "the used wipe"
	}
	return v.Thing()
}

func laidOn(v *assess.View, on int, dirty bool) {
	switch {
	case v.After.Surfaces[on].Spoilt != station.NotSpoilt:
		by := "used gloves"
		if dirty {
			by = what(v)
		}
		v.Breach(assess.Breach{Surface: on, Message: "Wiped already, then touched by " + by + ": " + v.The(on) + ".", Way: v.Trace.SurfaceWay(on)})
	case v.Before.Gloves == station.UnknownGloves && !v.Act.Helper:
		v.Unknown(on, "The watcher could not see whether the gloves that touched this were used ones: "+v.The(on)+".")
	default:
		v.Kept(on)
	}
}

// cleanPlace: a used thing among clean ones makes them used as well.
func cleanPlace(v *assess.View) {
	switch v.DirtyItem(v.Before, v.Act.Item) {
	case station.No:
		v.Kept(assess.None)
	case station.Unknown:
		v.Unknown(assess.None, "The watcher could not see whether this was disinfected before it was set with clean things: "+v.Thing()+".")
	default:
		v.Breach(assess.Breach{
			Surface: assess.None, Message: "A used thing was set among clean ones (" + placed(v) + "): " + v.Thing() + ".",
			Why: cleanWhy, Next: cleanAdvice(v), Source: cleanSource,
		})
	}
}

// cleanAdvice: only what can be disinfected ever goes among clean things.
func cleanAdvice(v *assess.View) string {
	switch v.Act.Kind(v.P) {
	case procedure.SingleUse, procedure.SinglePatient, procedure.Supplies, procedure.NextSet:
		return "Throw it away: what was once at a {station} never goes back among clean things."
	}
	return cleanNext
}

// What is said of used things among clean ones.
const (
	cleanWhy    = "Whoever takes something from there takes along what the used thing left."
	cleanNext   = "Throw it away, or disinfect it before it goes among clean things."
	cleanSource = "42 CFR 494.30(a)(1)(i): clean areas apart from used things"
)

// held: used gloves on a bucket that was disinfected.
func held(v *assess.View) {
	for i := range v.P.Surfaces {
		if v.After.Surfaces[i].Spoilt == station.SpoiltByWork && v.Before.Surfaces[i].Spoilt == station.NotSpoilt {
			with := "used gloves"
			if v.Before.Gloves == station.NoGloves {
				with = "hands that were not clean"
			}
			v.Breach(assess.Breach{
				Surface: i, Cause: "held", Message: "Disinfected already, then put back with " + with + ": " + v.Thing() + ".", Way: v.Trace.SurfaceWay(i),
			})
			return
		}
	}
}
