package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// HandsAfterGloves: hand hygiene is the next act of the hands after gloves come
// off, other than taking off further equipment of the same doffing.
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
	if !v.Before.NeedHands {
		return
	}
	cleaned := v.Act.Verb == action.RubHands || v.Act.Verb == action.WashHands
	switch {
	case v.Act.Verb == action.NotSeen && !v.After.NeedHands:
		v.Unknown(assess.None, "The observer could not see the hands after gloves came off.")
	case !v.Done():
	case cleaned:
		v.Kept(assess.None)
	case !v.After.NeedHands:
		v.Breach(assess.Breach{Surface: assess.None, Message: "After the gloves came off, the next thing the hands did was: " + procedure.Within(v.Act.Text()) + ". No hand hygiene came between."})
	}
}
