package course

import (
	"slices"

	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
)

// occasions say of rules that judge things of some kind, or rows of some list, whether a
// procedure has any; every other rule has its occasion in whatever is done.
var occasions = map[string]func(p *procedure.Procedure) bool{
	rules.StagingWet.Name:    has(procedure.Supplies, procedure.NextSet),
	rules.Sharps.Name:        has(procedure.Sharp),
	rules.Leakproof.Name:     has(procedure.Circuit, procedure.Reprocess),
	rules.BucketDrain.Name:   has(procedure.BucketItem),
	rules.BucketDry.Name:     has(procedure.BucketItem),
	rules.DeclaredOrder.Name: func(p *procedure.Procedure) bool { return len(p.Order) > 0 },
	rules.EndOfDay.Name:      func(p *procedure.Procedure) bool { return len(p.Closing) > 0 },
}

// has is of procedures with a thing of one of some kinds.
func has(kinds ...procedure.ItemKind) func(p *procedure.Procedure) bool {
	return func(p *procedure.Procedure) bool {
		return slices.ContainsFunc(p.Items, func(it procedure.Item) bool { return slices.Contains(kinds, it.Kind) })
	}
}

// HasOccasion reports whether a rule can ever judge anything by a procedure. One that cannot
// asks nothing, and its marks leave every score.
func HasOccasion(p *procedure.Procedure, rule string) bool {
	occasion, ok := occasions[rule]
	return !ok || occasion(p)
}
