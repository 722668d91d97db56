package training

import (
	"context"
	"fmt"

	"stillwet/internal/ledger"
)

// evidence is demonstrations and attempts as a whole, by their ids.
type evidence struct {
	demonstrations map[string]WholeDemonstration
	attempts       map[string]WholeAttempt
}

func evidenceOf(ctx context.Context, r WholeReader, watched, practised []string) (e evidence, err error) {
	if e.demonstrations, err = wholeDemonstrations(ctx, r, watched); err != nil {
		return e, err
	}
	e.attempts, err = wholeAttempts(ctx, r, practised)
	return e, err
}

func wholeDemonstrations(ctx context.Context, r WholeReader, ids []string) (map[string]WholeDemonstration, error) {
	all, err := r.WholeDemonstrations(ctx, ids)
	of := make(map[string]WholeDemonstration, len(all))
	for _, d := range all {
		of[d.ID] = d
	}
	return of, err
}

func wholeAttempts(ctx context.Context, r WholeReader, ids []string) (map[string]WholeAttempt, error) {
	all, err := r.WholeAttempts(ctx, ids)
	of := make(map[string]WholeAttempt, len(all))
	for _, a := range all {
		of[a.ID] = a
	}
	return of, err
}

// signed is what a sign-off signs of its evidence.
func (e evidence) signed(o SignOff) (ledger.Fields, error) {
	var watched []Demonstration
	var practised []WholeAttempt
	for _, id := range o.Demonstrations {
		d, ok := e.demonstrations[id]
		if !ok {
			return nil, fmt.Errorf("demonstration %s: %w", id, ErrNotFound)
		}
		watched = append(watched, d.Demonstration)
	}
	for _, id := range o.Attempts {
		a, ok := e.attempts[id]
		if !ok {
			return nil, fmt.Errorf("attempt %s: %w", id, ErrNotFound)
		}
		practised = append(practised, a)
	}
	return signOffFields(o, watched, practised), nil
}
