package simulate

import (
	"fmt"
	"slices"
	"strconv"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Build makes the log of a built order: the scenario's start, then the acts of
// each step. It witnesses order only. Unknown steps are an error.
func Build(p *procedure.Procedure, s *Scenario, steps []string) (Played, error) {
	w := newWriter(p, s, action.Order)
	for _, a := range s.Start {
		w.add(a, action.Untimed, -1)
	}
	for i, id := range steps {
		step, err := w.step(s, i, id)
		if err != nil {
			return Played{}, err
		}
		for _, a := range step.Acts {
			w.add(a, action.Untimed, i)
		}
		for _, a := range w.followed(id) {
			w.add(a, action.Untimed, -1)
		}
	}
	return w.played(), nil
}

// Observed makes the log of a demonstration from the recorder's lines, which
// carry their times. It witnesses order and clock: that nobody noted a dry-out
// does not mean that there was none.
func Observed(p *procedure.Procedure, lines []action.Act) (*action.Log, error) {
	log := &action.Log{Procedure: p.ID, Hash: p.Hash, Witness: action.Order | action.Clock}
	last := action.Millis(0)
	for i, a := range lines {
		if a.At < last {
			return nil, fmt.Errorf("line %d (%s) is before the one above it", i+1, a.Text())
		}
		last = a.At
		log.Add(a)
	}
	return log, nil
}

// writer builds a log and remembers which step or tap each line came from.
type writer struct {
	p     *procedure.Procedure
	s     *Scenario
	log   *action.Log
	from  []int
	wipes int
	times map[string]int // how often each step was done
}

func newWriter(p *procedure.Procedure, s *Scenario, witness action.Witness) *writer {
	return &writer{p: p, s: s, log: &action.Log{Procedure: p.ID, Hash: p.Hash, Witness: witness}, times: map[string]int{}}
}

// step finds a step that the scenario offers.
func (w *writer) step(s *Scenario, i int, id string) (*procedure.Step, error) {
	at := w.p.StepIndex(id)
	if at < 0 || !slices.Contains(s.Steps, id) {
		return nil, fmt.Errorf("step %d: %q is not offered in scenario %q; nearest: %s", i+1, id, s.ID, action.Nearest(id, s.Steps))
	}
	return &w.p.Steps[at], nil
}

// followed counts a step as done and gives the events that follow it.
func (w *writer) followed(step string) []action.Act {
	w.times[step]++
	return w.s.follow(step, w.times[step])
}

// add writes an act; a wipe that is taken gets the next name.
func (w *writer) add(a action.Act, at action.Millis, from int) {
	a = procedure.OnShelf(a, w.s.Product)
	a.At = at
	if a.Verb == action.TakeWipe {
		w.wipes++
		a.With = "w" + strconv.Itoa(w.wipes)
	}
	w.log.Add(a)
	w.from = append(w.from, from)
}

func (w *writer) played() Played { return Played{w.log, w.from} }
