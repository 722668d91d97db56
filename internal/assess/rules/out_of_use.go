package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// OutOfUse: a machine that is tagged out of use, or has had blood in it, is not
// declared ready.
var OutOfUse = &assess.Rule{
	Name:     "out-of-use",
	Doc:      "A machine that is tagged out of use, or into which blood or fluid may have got, is not declared ready.",
	Why:      "Blood inside the machine is out of reach of every wipe. The tag is the only thing that keeps the next patient from it.",
	Next:     "Leave the tag on, tell who is responsible, and let the machine stay out of use until it was disinfected inside and released as its maker and your policy say.",
	Source:   "BC Renal, Cleaning & Disinfecting Hemodialysis Machines & Stations (confirmed blood in effluent); KDIGO machine table (fluid past the external protector); tag: " + commonPractice,
	Needs:    action.Order,
	Critical: true,
	Step:     outOfUse,
	End: func(v *assess.View) {
		if !v.After.Ready && v.After.MayHave(action.DeclareReady) && (v.After.Leak || v.After.TaggedOut) {
			v.Unknown(assess.None, "The watcher could not see whether the {station} was declared ready all the same.")
		}
	},
}

func outOfUse(v *assess.View) {
	switch {
	case !v.Done() || v.Act.Verb != action.DeclareReady:
	case v.Before.Leak:
		v.Breach(assess.Breach{Surface: assess.None, Message: "The {station} was declared ready though blood or fluid may have got into the machine."})
	case v.Before.TaggedOut:
		v.Breach(assess.Breach{
			Surface: assess.None, Message: "The machine was tagged out of use, and the {station} was declared ready all the same.",
			Why: "Whoever put the tag on had a reason. The tag is the only thing that keeps the next patient from the machine.",
		})
	default:
		v.Kept(assess.None)
	}
}
