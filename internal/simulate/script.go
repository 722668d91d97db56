package simulate

import (
	"fmt"
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Script finds the taps that write a log of a scenario: the longest step that
// fits, from line to line. Each tap stands at the moment at which it must be
// made so that its acts end as the log has them; without a clock all stand at 0.
func Script(p *procedure.Procedure, s *Scenario, log *action.Log) ([]Tap, error) {
	var acts []action.Act
	for _, a := range log.Live()[min(len(s.Start), len(log.Acts)):] {
		if !a.Verb.Event() {
			acts = append(acts, a)
		}
	}
	var taps []Tap
	times := map[string]int{}
	for len(acts) > 0 {
		step := longestFit(p, s, acts)
		if step == nil {
			return nil, fmt.Errorf("act %d (%s): no step of scenario %q does this", acts[0].Number, acts[0].Text(), s.ID)
		}
		at := acts[len(step.Acts)-1].At - Busy(p, step)
		taps = append(taps, Tap{Step: step.ID, At: max(0, at)})
		times[step.ID]++
		acts = acts[len(step.Acts)+driven(s.follow(step.ID, times[step.ID])):]
	}
	return taps, nil
}

// driven is how many acts the world makes the worker do.
func driven(events []action.Act) (n int) {
	for _, a := range events {
		if !a.Verb.Event() {
			n++
		}
	}
	return n
}

func longestFit(p *procedure.Procedure, s *Scenario, acts []action.Act) *procedure.Step {
	var best *procedure.Step
	for i := range p.Steps {
		step := &p.Steps[i]
		if slices.Contains(s.Steps, step.ID) && begins(acts, step.Acts, s.Product) && (best == nil || len(step.Acts) > len(best.Acts)) {
			best = step
		}
	}
	return best
}

func begins(acts, step []action.Act, shelf string) bool {
	if len(acts) < len(step) {
		return false
	}
	for i := range step {
		a := procedure.OnShelf(step[i], shelf)
		if acts[i].Verb != a.Verb || acts[i].Object != a.Object || acts[i].Place != a.Place || acts[i].Of != a.Of {
			return false
		}
	}
	return true
}
