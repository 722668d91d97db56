package web

import (
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/views"
)

// result reads a stored result for showing, by the procedure that judged it.
// Nothing is judged again.
func (v *visit) result(procedureID, hash, logText string, stored []byte) (views.Result, error) {
	p, older, whole, err := v.judgedBy(procedureID, hash)
	if err != nil {
		return views.Result{}, err
	}
	r := views.Result{Procedure: p, Older: older}
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
