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
	r := newRunner(p, s)
	last := action.Millis(0)
	for i, tap := range taps {
		if tap.At < last {
			return Played{}, fmt.Errorf("tap %d (%s) at %s is before the tap above it", i+1, tap.Step, tap.At)
		}
		last = tap.At
		if err := r.tap(i, tap); err != nil {
			return Played{}, err
		}
	}
	r.passUntil(max(finished, r.busy))
	return r.played(), nil
}

// runner is a worker with a clock, the surfaces that are drying, and the world's
// events that are still to come.
type runner struct {
	*writer
	busy    action.Millis // the worker is busy until then
	wet     map[int]film  // the surfaces that are wet, by index
	product int           // of the wipe in hand, -1 without one
	gloved  bool
	coming  []Event // with a time, earliest first
}

// film is the wetness of one surface.
type film struct {
	since, dry, need action.Millis // end of its first wipe, when it will dry, the contact time
}

func newRunner(p *procedure.Procedure, s *Scenario) *runner {
	r := &runner{writer: newWriter(p, s, action.Order|action.Clock|action.Drying), wet: map[int]film{}, product: -1}
	for _, e := range s.Events {
		if e.At >= 0 {
			r.coming = append(r.coming, e)
		}
	}
	slices.SortStableFunc(r.coming, func(a, b Event) int { return cmp.Compare(a.At, b.At) })
	return r
}

// tap does a step, which begins when the one before it is finished.
func (r *runner) tap(i int, tap Tap) error {
	step, err := r.step(r.s, i, tap.Step)
	if err != nil {
		return err
	}
	r.busy = max(r.busy, tap.At) + action.Millis(step.Seconds)*1000
	for _, a := range step.Acts {
		r.do(a, i)
	}
	for _, a := range r.followed(tap.Step) {
		r.add(a, r.busy, -1)
	}
	return nil
}

// do finishes one act; wiping and cleaning take the surface's time.
func (r *runner) do(a action.Act, from int) {
	a = procedure.OnShelf(a, r.s.Product)
	surface := r.p.SurfaceIndex(a.Object)
	if a.Verb == action.Wipe || a.Verb == action.Clean {
		r.busy += action.Millis(r.p.Surfaces[surface].WipeS) * 1000
	}
	r.hold(a)
	was, wet := r.wet[surface]
	if a.Verb == action.Wipe && was.dry == r.busy {
		delete(r.wet, surface) // a re-wipe that ends as the surface would dry keeps it wet
	}
	r.passUntil(r.busy)
	r.add(a, r.busy, from)
	if a.Verb == action.Wipe && r.product >= 0 {
		r.wipe(surface, was, wet && was.dry >= r.busy)
	}
}

// hold follows the wipe in hand: it goes with the gloves that are taken off, as
// in the station's state.
func (r *runner) hold(a action.Act) {
	gloves := a.Object == action.Gloves
	switch {
	case a.Verb == action.TakeWipe:
		r.product = r.p.ProductIndex(a.Of)
	case a.Verb == action.DropWipe, a.Verb == action.TakeOff && gloves && r.gloved:
		r.product = -1
	}
	if gloves {
		r.gloved = a.Verb == action.PutOn
	}
}

func (r *runner) wipe(surface int, was film, on bool) {
	f := film{since: r.busy, dry: r.busy + action.Millis(r.p.DriesS(surface, r.product))*1000,
		need: action.Millis(r.p.Products[r.product].LabelS) * 1000}
	if on {
		f.since = was.since
	}
	r.wet[surface] = f
}

// passUntil writes what happens up to a moment, in the order in which it comes:
// the world's events, and the dry-outs.
func (r *runner) passUntil(t action.Millis) {
	for len(r.coming) > 0 && r.coming[0].At <= t {
		e := r.coming[0]
		r.coming = r.coming[1:]
		r.dryUntil(e.At - 1)
		r.add(e.Act, e.At, -1)
	}
	r.dryUntil(t)
}

func (r *runner) dryUntil(t action.Millis) {
	var due []int
	for surface, f := range r.wet {
		if f.dry <= t {
			due = append(due, surface)
		}
	}
	slices.SortFunc(due, func(a, b int) int {
		return cmp.Or(cmp.Compare(r.wet[a].dry, r.wet[b].dry), a-b)
	})
	for _, surface := range due {
		r.add(action.Act{Verb: action.Dry, Object: r.p.Surfaces[surface].ID}, r.wet[surface].dry, -1)
		delete(r.wet, surface)
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
