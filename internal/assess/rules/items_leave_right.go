package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// ItemsLeaveRight: what was at a station leaves it thrown away, kept for that
// patient, or disinfected.
var ItemsLeaveRight = &assess.Rule{
	Name:       "items-leave-right",
	Doc:        "Whatever was taken to the {station} is thrown away, kept for that patient only, or cleaned and disinfected before it goes to a clean area or to another patient. Supplies that were not used never go back.",
	Why:        "An opened or unopened pack, a roll of tape, a clamp: whatever lay at one {station} carries what was there to the next patient.",
	Next:       "Throw single-use things and left-over supplies away. Set reusable things on the tray for used ones, and let them go to the clean area only when they are disinfected.",
	Source:     survey116,
	Needs:      action.Order,
	SomeCustom: true,
	Critical:   true,
	Step:       itemsLeaveRight,
}

func itemsLeaveRight(v *assess.View) {
	kind := v.Act.Kind(v.P)
	if !v.Done() || v.Act.Verb != action.SetAt && v.Act.Verb != action.Bring && v.Act.Verb != action.Discard {
		return
	}
	switch kind {
	case procedure.SingleUse, procedure.SinglePatient:
		goesAway(v, kind)
	case procedure.Reusable:
		goesBack(v)
	case procedure.Supplies, procedure.NextSet:
		staysHere(v)
	}
}

// staysHere: supplies that were brought to the station never leave it for another.
func staysHere(v *assess.View) {
	place := v.Act.PlaceKind(v.P)
	switch {
	case !v.Before.Items[v.Act.Item].Brought && v.Act.Verb == action.Bring && v.Act.MayGo(v.P):
	case place.Away():
		v.Breach(assess.Breach{Surface: assess.None, Message: "Taken from the {station} to " + placed(v) + ", though what was once there never goes back: " + v.Thing() + "."})
	case v.Before.Items[v.Act.Item].Brought:
		v.Kept(assess.None)
	}
}

// goesAway: what cannot be disinfected is thrown away.
func goesAway(v *assess.View, kind procedure.ItemKind) {
	if v.Act.MayGo(v.P) {
		v.Kept(assess.None)
		return
	}
	where := placed(v)
	message := "Not thrown away but put " + into(v) + ": " + v.Thing() + "."
	switch place := v.Act.PlaceKind(v.P); {
	case place == procedure.CleanArea:
		message = "Put back in " + where + ", though what was once at a {station} never goes back: " + v.Thing() + "."
	case place == procedure.Elsewhere && kind == procedure.SinglePatient:
		message = "Taken to " + where + ", though it cannot be disinfected and is for one patient only: " + v.Thing() + "."
	case place == procedure.Elsewhere:
		message = "Taken to " + where + ": " + v.Thing() + "."
	case place.ForWaste() && regulated(v):
		return // what belongs into a leak-proof container another rule says
	case place.ForWaste():
		v.Breach(assess.Breach{Surface: assess.None, Message: "Thrown into " + where + ", where it does not belong: " + v.Thing() + ".", Custom: true, Source: commonPractice})
		return
	}
	v.Breach(assess.Breach{Surface: assess.None, Message: message})
}

// goesBack: reusable things go to a clean place, or to another station, only when
// they are disinfected.
func goesBack(v *assess.View) {
	if !v.Act.PlaceKind(v.P).Away() {
		v.Kept(assess.None)
		return
	}
	switch v.DirtyItem(v.Before, v.Act.Item) {
	case station.No:
		v.Kept(assess.None)
	case station.Unknown:
		v.Unknown(assess.None, "The watcher could not see whether this was disinfected before it went to "+placed(v)+": "+v.Thing()+".")
	default:
		v.Breach(assess.Breach{Surface: assess.None, Message: "Taken to " + placed(v) + " before being disinfected: " + v.Thing() + "."})
	}
}
