package simulate

import (
	"cmp"
	"maps"
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Watched is a run's log as somebody who watches it from outside notes it: for
// each surface that is wetted, "still wet" when the wipe has had its label time and
// the two seconds by which a tap may be off, or
// that it looks dry when it dries before; of later dry-outs those of the bucket.
func Watched(p *procedure.Procedure, log *action.Log) (lines []action.Act) {
	var label action.Millis
	due := map[string]action.Millis{} // when somebody looks, of the surfaces that are wet
	for _, a := range log.Live() {
		switch a.Verb {
		case action.Dry:
			at, wet := due[a.Object]
			delete(due, a.Object)
			early := wet && a.At < at
			if wet && !early {
				lines = append(lines, action.Act{Verb: action.StillWet, Object: a.Object, At: at})
			}
			if !early && p.Surfaces[p.SurfaceIndex(a.Object)].Role != procedure.BucketSurface {
				continue
			}
		case action.TakeWipe:
			label = action.Millis(p.Products[p.ProductIndex(a.Of)].LabelS) * 1000
		case action.Wipe:
			if _, wet := due[a.Object]; !wet {
				due[a.Object] = a.At + label + action.TapSlack
			}
		}
		lines = append(lines, a)
	}
	end := action.Millis(0)
	if n := len(log.Acts); n > 0 {
		end = log.Acts[n-1].At
	}
	for _, surface := range slices.Sorted(maps.Keys(due)) {
		if at := due[surface]; at <= end { // wet to the end
			lines = append(lines, action.Act{Verb: action.StillWet, Object: surface, At: at})
		}
	}
	slices.SortStableFunc(lines, func(a, b action.Act) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(rank(a), rank(b)))
	})
	return lines
}

// rank lets somebody look before what happens at the same moment.
func rank(a action.Act) int {
	if a.Verb == action.StillWet {
		return 0
	}
	return 1
}
