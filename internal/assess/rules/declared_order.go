package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// DeclaredOrder: the earlier and later pairs of the clinic's own procedure. The
// earlier step counts when the whole of it is done in its place.
var DeclaredOrder = &assess.Rule{
	Name:   "declared-order",
	Doc:    "Steps come in the order that the clinic's procedure declares.",
	Why:    "The clinic's procedure puts these steps in this order.",
	Next:   "Do the step that comes first in your clinic's procedure before this one.",
	Source: "the clinic's own procedure",
	Needs:  action.Order,
	Step:   declaredOrder,
}

func declaredOrder(v *assess.View) {
	if !v.Done() || v.Act.Verb == action.CheckGone && v.After.Present {
		return
	}
	begun(v.P, v.Act, &v.Before.Progress, func(i int, kept bool) {
		pair := v.P.Pairs()[i]
		switch {
		case kept:
			v.Kept(assess.None)
		case v.Before.LateSteps.Has(pair.Earlier): // no part of this demonstration
		case v.Before.NotSeen.Has(pair.Earlier):
			v.UnknownIf(v.P.Order[i].Critical, "The watcher could not see: "+procedure.Within(v.P.Steps[pair.Earlier].Label)+".")
		default:
			outOfOrder(v, &v.P.Order[i], pair)
		}
	})
}

// begun tells each pair whose later step an act has begun, and whether the earlier one
// was done before.
func begun(p *procedure.Procedure, a *station.Act, before *station.Progress, each func(pair int, kept bool)) {
	for _, part := range a.Parts {
		if before.Begun.Has(part.Step) {
			continue
		}
		for _, i := range p.PairsOf(part.Step) {
			each(i, before.Done.Has(p.Pairs()[i].Earlier))
		}
	}
}

func outOfOrder(v *assess.View, declared *procedure.Pair, pair procedure.IndexPair) {
	later, earlier := "“"+v.P.Steps[pair.Later].Label+"”", "“"+v.P.Steps[pair.Earlier].Label+"”"
	b := assess.Breach{
		Surface: assess.None, Cause: "before " + declared.Earlier, Message: later + " came before " + earlier + " was done.", Why: declared.Why, Source: declared.Basis.String(),
		Never: later + " was done, and " + earlier + ", which comes first, was not.", NeverSteps: procedure.StepSet{}.With(pair.Earlier),
	}
	if declared.Custom() {
		b.Level = assess.AdviceLevel
	}
	if declared.Critical { // told apart from pairs with the same earlier step that are not
		b.Critical, b.Cause = true, "critical, "+b.Cause
	}
	v.Breach(b)
}
