package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/station"
)

// GlovesStay: gloves do not leave the station.
var GlovesStay = &assess.Rule{
	Name:     "gloves-stay",
	Doc:      "Gloves come off before the {station} is left, except on the way straight to drain or waste with a used thing; the same gloves are never worn at two stations.",
	Why:      "Gloves that walk through the unit put one {station}'s blood on handles, keyboards and the next patient.",
	Next:     "Gloves off and hands cleaned before you go, also when you only fetch something. When a patient is in danger, run; gloves come off on the way.",
	Source:   "KDIGO 2018, Hepatitis C in CKD, table 7 (gloves come off when leaving the station)",
	Needs:    action.Order,
	Critical: true,
	Step:     glovesStay,
	End: func(v *assess.View) {
		if v.After.Left.Gloved {
			worn(v, v.After.Left, v.After.Gloves)
		}
	},
}

func glovesStay(v *assess.View) {
	if v.After.Parting.Gloved {
		worn(v, v.After.Parting, v.Before.Gloves)
	}
	if v.After.Carried {
		v.Kept(assess.None)
	}
	if !v.Own() || v.Act.Verb != action.LeaveStation && v.Act.Verb != action.GoToNeighbour {
		return
	}
	switch {
	case v.Before.Gloves == station.NoGloves || v.Before.Safety():
		v.Kept(assess.None)
	case v.Before.Gloves == station.UnknownGloves:
		v.UnknownHands("The watcher could not see whether gloves were worn out of the {station}.")
	case v.Act.Verb == action.GoToNeighbour:
		v.Breach(assess.Breach{Surface: assess.None, Message: "The gloves of one {station} were worn to the next.", Way: gloveWay(v)})
	}
}

// worn is gloves that left the station for no drain and no waste.
func worn(v *assess.View, left station.Left, gloves station.Gloves) {
	if gloves == station.UnknownGloves {
		v.UnknownHands("The watcher could not see whether gloves were worn out of the {station}.")
		return
	}
	v.Breach(assess.Breach{Surface: assess.None, Message: "Gloves were worn out of the {station}.", Act: int(left.Act), At: left.At})
}
