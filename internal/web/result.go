package web

import (
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/training"
	"stillwet/views"
)

// result reads a stored result for showing, by the procedure that judged it.
// Nothing is judged again. It names the version of the set that was in force
// when the work began. Whoever knows where the acts came from numbers its steps.
func (v *visit) result(procedureID, hash, logText string, stored []byte, begun training.Instant) (views.Result, error) {
	p, older, whole, err := v.judgedBy(procedureID, hash)
	if err != nil {
		return views.Result{}, err
	}
	r := views.Result{Procedure: p, Older: older}
	if r.Version, err = v.Service.SetVersionAt(v.ctx, v.actor, begun); err != nil {
		return r, err
	}
	if r.Result, err = assess.ParseResult(stored); err != nil {
		return r, fmt.Errorf("stored result: %w", err)
	}
	words := p.Words
	if !whole {
		words = nil // the log may name what today's procedure does not have
	}
	if r.Log, err = action.Parse("stored log", logText, words); err != nil {
		return r, fmt.Errorf("stored log: %w", err)
	}
	if r.Log.Witness.Has(action.Clock) && whole {
		if r.Spells, err = assess.Spells(p, r.Log); err != nil {
			return r, err
		}
	}
	return r, nil
}

// tapsOf numbers what was done in a log that somebody tapped: the acts of one tap
// have one time. Events count for none, nor does what was taken back.
func tapsOf(log *action.Log) []int {
	steps := make([]int, len(log.Acts))
	n, last := 0, action.Untimed
	for _, a := range log.Live() {
		if a.Verb.Event() {
			continue
		}
		if a.At == action.Untimed || a.At != last {
			n, last = n+1, a.At
		}
		steps[a.Number-1] = n
	}
	return steps
}

// stepsFrom numbers the acts of an attempt by the steps that the trainee chose.
func stepsFrom(from []int) []int {
	steps := make([]int, len(from))
	for i, step := range from {
		steps[i] = step + 1 // -1 is what happened by itself
	}
	return steps
}
