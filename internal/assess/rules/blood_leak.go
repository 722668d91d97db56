package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// BloodLeak: after blood got into the machine it is taken out of use, told, and
// disinfected inside.
var BloodLeak = &assess.Rule{
	Name:     "blood-leak",
	Doc:      "After a blood leak, or blood or fluid past an external transducer protector, the machine is tagged out of use, told to who is responsible, and disinfected inside.",
	Why:      "What is inside the machine reaches the next patient's dialysate or pressure line, and no wipe gets there.",
	Next:     "Tag the machine, tell who is responsible, start the internal disinfection as the maker says. Opening the machine is a technician's work.",
	Source:   "BC Renal, Cleaning & Disinfecting Hemodialysis Machines & Stations; KDIGO machine table, BMC Nephrol 2019;20:388; " + rr5,
	Needs:    action.Order,
	Critical: true,
	Close:    bloodLeak,
}

func bloodLeak(v *assess.View) {
	if !v.After.Leak || v.After.Stopped {
		return
	}
	var open, unseen []string
	for _, x := range []struct {
		done bool
		verb action.Verb
		text string
	}{
		{v.After.TaggedOut, action.TagOut, "tagging it out of use"},
		{v.After.Reported, action.Report, "telling who is responsible"},
		{v.After.Internal, action.StartInternal, "starting the internal disinfection"},
	} {
		switch {
		case x.done:
		case v.After.MayHave(x.verb):
			unseen = append(unseen, x.text)
		default:
			open = append(open, x.text)
		}
	}
	switch {
	case len(open) > 0:
		v.Breach(assess.Breach{Surface: assess.None, Message: "Blood or fluid may have got into the machine. What was left out: " + list(open) + "."})
	case len(unseen) > 0:
		v.Unknown(assess.None, "After blood or fluid may have got into the machine, the watcher could not see everything that followed.")
	default:
		v.Kept(assess.None)
	}
}
