package simulate

import (
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Watched is a run's log as somebody who watches it from outside notes it: of
// the dry-outs only those of the bucket, and "still wet" for each surface when the
// wipe that first wetted it has had its label time.
func Watched(p *procedure.Procedure, log *action.Log) (lines []action.Act) {
	var label action.Millis
	wiped := map[string]bool{}
	for _, a := range log.Live() {
		switch a.Verb {
		case action.Dry:
			if p.Surfaces[p.SurfaceIndex(a.Object)].Role != procedure.BucketSurface {
				continue
			}
		case action.TakeWipe:
			label = action.Millis(p.Products[p.ProductIndex(a.Of)].LabelS) * 1000
		case action.Wipe:
			if !wiped[a.Object] {
				wiped[a.Object] = true
				lines = append(lines, action.Act{Verb: action.StillWet, Object: a.Object, At: a.At + label})
			}
		}
		lines = append(lines, a)
	}
	slices.SortStableFunc(lines, func(a, b action.Act) int { return int(a.At - b.At) })
	return lines
}
