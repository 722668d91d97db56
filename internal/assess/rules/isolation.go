package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// Isolation: what belongs to an isolation room stays there, and what does not stays
// out.
var Isolation = &assess.Rule{
	Name:     "isolation",
	Doc:      "Machine, instruments, supplies and the gown of an isolation room stay in it and are used nowhere else; whoever works there does not go to a susceptible patient in the same shift, the turnover included.",
	Why:      "Hepatitis B passes on by things and hands that nobody can see anything on. Apart is the only thing that holds.",
	Next:     "Use the room's own things and leave them there. Take the gown off in the room. Let somebody else look after the others until your shift ends.",
	Source:   rr5 + ", HBV-infected patients; 42 CFR 494.30",
	Needs:    action.Order,
	Critical: true,
	Step:     isolation,
}

func isolation(v *assess.View) {
	switch {
	case !v.Done():
	case v.Act.Item >= 0:
		crossed(v)
	case v.P.Settings.Isolation && v.Own():
		leftRoom(v)
	}
}

// crossed is a thing of the room used elsewhere, or the reverse.
func crossed(v *assess.View) {
	own := v.P.Items[v.Act.Item].Isolation
	place := v.Act.PlaceKind(v.P)
	out := place == procedure.Elsewhere || place == procedure.CleanArea && own
	switch {
	case own && !v.P.Settings.Isolation:
		v.Breach(assess.Breach{Surface: assess.None, Message: "Belongs to the isolation room and was used at another {station}: " + v.Thing() + "."})
	case v.P.Settings.Isolation && out:
		v.Breach(assess.Breach{Surface: assess.None, Message: "Taken out of the isolation room to " + placed(v) + ": " + v.Thing() + "."})
	case own || v.P.Settings.Isolation:
		v.Kept(assess.None)
	}
}

func leftRoom(v *assess.View) {
	switch v.Act.Verb {
	case action.GoToNeighbour:
		if !v.Before.Safety() {
			v.Breach(assess.Breach{Surface: assess.None, Message: "Whoever works in the isolation room went to another patient in the middle of it."})
		}
	case action.LeaveStation:
		switch {
		case v.Before.Safety():
			v.Kept(assess.None)
		case v.Before.LateWear&station.GownOn != 0:
			v.Unasked(assess.None, "The watcher could not see whether the gown stayed in the isolation room.")
		case v.Before.WearUnseen&station.GownOn != 0:
			v.Unknown(assess.None, "The watcher could not see whether the gown stayed in the isolation room.")
		case v.Before.Wear&station.GownOn != 0:
			v.Breach(assess.Breach{Surface: assess.None, Message: "The gown was worn out of the isolation room."})
		default:
			v.Kept(assess.None)
		}
	}
}
