package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
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
	if !v.Done() || v.Act.Begins.Empty() {
		return
	}
	for i, pair := range v.P.Pairs() {
		if !v.Act.Begins.Has(pair.Later) || v.Before.Begun.Has(pair.Later) {
			continue
		}
		declared := &v.P.Order[i]
		switch {
		case v.Before.Done.Has(pair.Earlier):
			v.Kept(assess.None)
		case v.Before.NotSeen.Has(pair.Earlier):
			v.Unknown(assess.None, "The observer could not see: "+procedure.Within(v.P.Steps[pair.Earlier].Label)+".")
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
