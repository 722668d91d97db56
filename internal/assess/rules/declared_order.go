package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// DeclaredOrder: the earlier and later pairs of the clinic's own procedure.
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
	if !v.Done() || v.Act.Begins == 0 {
		return
	}
	for i, pair := range v.P.Pairs() {
		later, earlier := uint64(1)<<pair.Later, uint64(1)<<pair.Earlier
		if v.Act.Begins&later == 0 || v.Before.Begun&later != 0 {
			continue
		}
		declared := &v.P.Order[i]
		switch {
		case v.Before.Done&earlier != 0:
			v.Kept(assess.None)
		case v.Before.NotSeen&earlier != 0:
			v.Unknown(assess.None, "The observer could not see: "+lower(v.P.Steps[pair.Earlier].Label)+".")
		default:
			v.Breach(assess.Breach{
				Surface: assess.None,
				Message: "“" + v.P.Steps[pair.Later].Label + "” came before “" + v.P.Steps[pair.Earlier].Label + "”.",
				Why:     declared.Why,
				Source:  declared.Basis.String(),
			})
		}
	}
}
