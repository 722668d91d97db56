package simulate

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// Run makes the log of a timed run that was finished at a moment. Taps come in
// the order of their times.
func Run(p *procedure.Procedure, s *Scenario, taps []Tap, finished action.Millis) (Played, error) {
	r, err := newRunner(p, s)
	if err != nil {
		return Played{}, err
	}
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
	err = r.passUntil(max(finished, r.busy))
	return r.played(), err
}

// runner is a worker with a clock, the surfaces that are drying, and the world's
// events that are still to come. Whether a wipe wets anything is the station's to
// say: one that cannot be done, or that goes over blood, wets nothing.
type runner struct {
	*writer
	busy    action.Millis // the worker is busy until then
	wet     map[int]film  // the surfaces that are wet, by index
	coming  []Event       // with a time, earliest first
	machine station.Machine
	binder  *station.Binder
	state   station.State
}

// film is the wetness of one surface.
type film struct {
	since, dry, need action.Millis // end of its first wipe, when it will dry, the contact time
}

func newRunner(p *procedure.Procedure, s *Scenario) (*runner, error) {
	const witness = action.Order | action.Clock | action.Drying
	r := &runner{writer: newWriter(p, s, witness),
		wet: map[int]film{}, machine: station.Machine{P: p, Witness: witness, Usual: int8(max(0, p.ProductIndex(s.Product)))}, binder: station.NewBinder(p), state: station.Start(p)}
	for _, e := range s.Events {
		if e.At >= 0 {
			r.coming = append(r.coming, e)
		}
	}
	slices.SortStableFunc(r.coming, func(a, b Event) int { return cmp.Compare(a.At, b.At) })
	for _, a := range s.Start {
		if err := r.write(a, 0, -1); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// write writes an act or event and lets the station follow.
func (r *runner) write(a action.Act, at action.Millis, from int) error {
	r.add(a, at, from)
	bound, err := r.binder.Bind(&r.log.Acts[len(r.log.Acts)-1])
	if err != nil {
		return err
	}
	r.machine.Apply(&r.state, &bound)
	if a.Verb == action.BloodOn {
		delete(r.wet, bound.Surface) // what is under blood does not dry as disinfectant
	}
	return nil
}

// tap does a step, which begins when the one before it is finished.
func (r *runner) tap(i int, tap Tap) error {
	step, err := r.step(r.s, i, tap.Step)
	if err != nil {
		return err
	}
	r.busy = max(r.busy, tap.At) + action.Millis(step.Seconds)*1000
	for _, a := range step.Acts {
		if err := r.do(a, i); err != nil {
			return err
		}
	}
	for _, a := range r.followed(tap.Step) {
		if err := r.write(a, r.busy, -1); err != nil {
			return err
		}
	}
	return nil
}

// do finishes one act; wiping and cleaning take the surface's time.
func (r *runner) do(a action.Act, from int) error {
	surface := r.p.SurfaceIndex(a.Object)
	if a.Verb == action.Wipe || a.Verb == action.Clean {
		r.busy += action.Millis(r.p.Surfaces[surface].WipeS) * 1000
	}
	if err := errors.Join(r.worldUntil(r.busy), r.dryUntil(r.busy-1)); err != nil {
		return err
	}
	wets, product, err := r.wets(a)
	if err != nil {
		return err
	}
	was, on := r.wet[surface]
	on = on && was.dry >= r.busy
	if wets && was.dry == r.busy {
		delete(r.wet, surface) // a re-wipe that ends as the surface would dry keeps it wet
	}
	if err := errors.Join(r.dryUntil(r.busy), r.write(a, r.busy, from)); err != nil {
		return err
	}
	switch {
	case wets:
		r.wipe(surface, product, was, on)
	case a.Verb == action.WipeDry:
		delete(r.wet, surface)
	}
	return nil
}

// wets reports whether an act would leave its surface wet with disinfectant, and
// with which product.
func (r *runner) wets(a action.Act) (wets bool, product int, err error) {
	if a.Verb != action.Wipe {
		return false, 0, nil
	}
	bound, err := r.binder.Bind(&a)
	if err != nil {
		return false, 0, err
	}
	wets, product = r.machine.Wets(r.state, &bound)
	return wets, product, nil
}

func (r *runner) wipe(surface, product int, was film, on bool) {
	f := film{since: r.busy, dry: r.busy + action.Millis(r.p.DriesS(surface, product))*1000,
		need: action.Millis(r.p.Products[product].LabelS) * 1000}
	if on {
		f.since, f.need = was.since, max(was.need, f.need)
	}
	r.wet[surface] = f
}

// passUntil writes what happens up to a moment, in the order in which it comes:
// the world's events, and the dry-outs.
func (r *runner) passUntil(t action.Millis) error {
	return errors.Join(r.worldUntil(t), r.dryUntil(t))
}

func (r *runner) worldUntil(t action.Millis) error {
	for len(r.coming) > 0 && r.coming[0].At <= t {
		e := r.coming[0]
		r.coming = r.coming[1:]
		if err := errors.Join(r.dryUntil(e.At-1), r.write(e.Act, e.At, -1)); err != nil {
			return err
		}
	}
	return nil
}

func (r *runner) dryUntil(t action.Millis) error {
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
		if err := r.write(action.Act{Verb: action.Dry, Object: r.p.Surfaces[surface].ID}, r.wet[surface].dry, -1); err != nil {
			return err
		}
		delete(r.wet, surface)
	}
	return nil
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
