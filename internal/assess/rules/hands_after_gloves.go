package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// HandsAfterGloves: hand hygiene is the next act of the hands after gloves come
// off, other than taking off further equipment of the same doffing. Walking is no
// act of the hands: who runs to help rubs when there, or on coming back.
var HandsAfterGloves = &assess.Rule{
	Name:   "hands-after-gloves",
	Doc:    "Right after gloves come off, hands are cleaned.",
	Why:    "Gloves have unseen holes, and taking them off soils the hands. What hands touch next takes it along.",
	Next:   "Gloves off, then rub or wash your hands before they touch anything else.",
	Source: handHygiene + " (immediately after glove removal)",
	Needs:  action.Order,
	Step:   handsAfterGloves,
}

func handsAfterGloves(v *assess.View) {
	if !v.Before.NeedHands || v.Act.Helper {
		return
	}
	cleaned := v.Act.Verb == action.RubHands || v.Act.Verb == action.WashHands
	switch {
	case (v.Act.Verb == action.NotSeen || v.Act.Verb == action.NotSeenFor) && !v.After.NeedHands:
		v.Unknown(assess.None, "The watcher could not see the hands after gloves came off.")
	case !v.Done():
	case cleaned:
		v.Kept(assess.None)
	case !v.After.NeedHands:
		v.Breach(assess.Breach{Surface: assess.None, Message: "After the gloves came off, no hand hygiene came before the next thing the hands did: " + doing(v) + "."})
	}
}

// doing is what the act does, as a noun: "touching the counter".
func doing(v *assess.View) string {
	thing := ""
	if v.Act.Object != "" {
		thing = v.Thing()
	}
	switch v.Act.Verb {
	case action.PutOn:
		if v.Act.Object == action.Gloves {
			return "putting on new gloves"
		}
		return "putting on " + thing
	case action.TakeOff, action.TakeOut:
		return "taking off " + thing
	case action.TakeWipe:
		return "taking a wipe"
	case action.DropWipe, action.DiscardWipe:
		return "throwing a wipe away"
	case action.Wipe, action.WipeDry:
		return "wiping " + thing
	case action.Clean, action.Absorb:
		return "cleaning " + thing
	case action.Touch:
		return "touching " + thing
	case action.Bring:
		return "bringing " + thing
	case action.Discard, action.PutInSharps:
		return "throwing away " + thing
	case action.SetAt:
		return "setting down " + thing
	case action.Empty:
		return "emptying " + thing
	case action.PutBack:
		return "putting back " + thing
	case action.Disinfect:
		return "disinfecting " + thing
	case action.CheckStable:
		return "checking the patient"
	case action.HelpOut:
		return "helping the patient out"
	case action.Disconnect:
		return "disconnecting the patient"
	case action.TagOut:
		return "tagging the machine"
	case action.StartInternal:
		return "starting the internal disinfection"
	case action.RubHands, action.WashHands:
		return "cleaning hands"
	case action.DeclareReady:
		return "declaring the {station} ready"
	case action.SeatNext:
		return "seating the next patient"
	case action.LookAt:
		return "looking at " + thing
	case action.HandOver:
		return "handing over " + thing
	case action.CapItem:
		return "capping " + thing
	}
	return "handling " + thing
}
