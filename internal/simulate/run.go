package simulate

import (
	"cmp"
	"fmt"
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Run makes the log of a timed run that was finished at a moment. Taps come in
// the order of their times.
func Run(p *procedure.Procedure, s *Scenario, taps []Tap, finished action.Millis) (Played, error) {
	r := &runner{writer: newWriter(p, s, action.Order|action.Clock|action.Drying), dries: map[int]action.Millis{}, product: -1}
	last := action.Millis(0)
	for i, tap := range taps {
		if tap.At < last {
			return Played{}, fmt.Errorf("tap %d (%s) at %s is before the tap above it", i+1, tap.Step, tap.At)
		}
		last = tap.At
		step, err := r.step(s, i, tap.Step)
		if err != nil {
			return Played{}, err
		}
		r.busy = max(r.busy, tap.At) + action.Millis(step.Seconds)*1000
		for _, a := range step.Acts {
			r.do(a, i)
		}
	}
	r.dryUntil(max(finished, r.busy))
	return r.played(), nil
}

// runner is a worker with a clock, and the surfaces that are drying.
type runner struct {
	*writer
	busy    action.Millis         // the worker is busy until then
	dries   map[int]action.Millis // when each wet surface will dry
	product int
}

// do finishes one act; wiping and cleaning take the surface's time.
func (r *runner) do(a action.Act, from int) {
	surface := r.p.SurfaceIndex(a.Object)
	if a.Verb == action.Wipe || a.Verb == action.Clean {
		r.busy += action.Millis(r.p.Surfaces[surface].WipeS) * 1000
	}
	if a.Verb == action.TakeWipe {
		r.product = r.p.ProductIndex(cmp.Or(r.s.Product, a.Of))
	}
	if a.Verb == action.Wipe && r.dries[surface] == r.busy {
		delete(r.dries, surface) // a re-wipe that ends as the surface would dry keeps it wet
	}
	r.dryUntil(r.busy)
	r.add(a, r.busy, from)
	if a.Verb == action.Wipe && r.product >= 0 {
		r.dries[surface] = r.busy + action.Millis(r.p.DriesS(surface, r.product))*1000
	}
}

// dryUntil writes the dry-outs up to a moment, in the order in which they come.
func (r *runner) dryUntil(t action.Millis) {
	var due []int
	for surface, at := range r.dries {
		if at <= t {
			due = append(due, surface)
		}
	}
	slices.SortFunc(due, func(a, b int) int {
		return cmp.Or(cmp.Compare(r.dries[a], r.dries[b]), a-b)
	})
	for _, surface := range due {
		r.add(action.Act{Verb: action.Dry, Object: r.p.Surfaces[surface].ID}, r.dries[surface], -1)
		delete(r.dries, surface)
	}
}

// Busy is how long a step takes: its own seconds and those of its wipes.
func Busy(p *procedure.Procedure, step *procedure.Step) action.Millis {
	t := step.Seconds
	for _, a := range step.Acts {
		if a.Verb == action.Wipe || a.Verb == action.Clean {
			t += p.Surfaces[p.SurfaceIndex(a.Object)].WipeS
		}
	}
	return action.Millis(t) * 1000
}
