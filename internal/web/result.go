package web

import (
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/views"
)

// result reads a stored result for showing. Nothing is judged again: a record
// stays as it was judged, also when the procedure has changed since.
func (s *server) result(procedureID, hash, logText string, stored []byte) (views.Result, error) {
	p, err := s.procedureOf(procedureID)
	if err != nil {
		return views.Result{}, err
	}
	r := views.Result{Procedure: p, Older: hash != p.Hash}
	if r.Result, err = assess.ParseResult(stored); err != nil {
		return r, fmt.Errorf("stored result: %w", err)
	}
	words := p.Words
	if r.Older {
		words = nil // an older log may name what is no longer there
	}
	if r.Log, err = action.Parse("stored log", logText, words); err != nil {
		return r, fmt.Errorf("stored log: %w", err)
	}
	if r.Log.Witness.Has(action.Clock) && !r.Older {
		if r.Spells, err = assess.Spells(p, r.Log); err != nil {
			return r, err
		}
	}
	return r, nil
}
