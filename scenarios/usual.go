package scenarios

import (
	"maps"
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// usualTakes are the edits by which nothing that every turnover needs is done now and then:
// where only one of several products is allowed on a surface, its wipe is taken as a
// usual step.
func usualTakes(lib *Library) (edits []Edit) {
	for _, id := range slices.Sorted(maps.Keys(lib.procedures)) {
		p := lib.procedures[id]
		for i := range p.Steps {
			step := &p.Steps[i]
			put := Edit{Do: "put", List: "steps", Row: step.ID, Fields: map[string]string{"seldom": ""}}
			known := slices.ContainsFunc(edits, func(e Edit) bool { return e.Row == step.ID })
			if step.Seldom && len(step.Acts) == 1 && step.Acts[0].Verb == action.TakeWipe && needed(p, step.Acts[0].Of) && !known {
				edits = append(edits, put)
			}
		}
	}
	return edits
}

// needed reports whether a surface allows this product only, of several that there are.
func needed(p *procedure.Procedure, product string) bool {
	return len(p.Products) > 1 && slices.ContainsFunc(p.Surfaces, func(s procedure.Surface) bool {
		return mayGoOn(p, product, s.ID) && !slices.ContainsFunc(p.Products, func(x procedure.Product) bool {
			return x.ID != product && mayGoOn(p, x.ID, s.ID)
		})
	})
}
