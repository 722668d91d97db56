package training

import (
	"context"
	"encoding/json"
	"slices"
	"strings"

	"stillwet/internal/assess"
	"stillwet/internal/simulate"
)

// keptBefore stands before the answer where the practice was open already.
const keptBefore = "kept "

// CanTakeUp reports whether an attempt is an order with something in it to mend: one that
// did not pass, or passed with a breach.
func (a *Attempt) CanTakeUp() bool {
	if a.Kind != simulate.BuildOrder {
		return false
	}
	if a.Outcome != assess.Pass {
		return true
	}
	var judged assess.Result
	if err := json.Unmarshal(a.ResultJSON, &judged); err != nil {
		return false // recheck tells of a result that cannot be read
	}
	return slices.ContainsFunc(judged.Findings, func(f assess.Finding) bool { return !f.Advice() })
}

// TakeUp makes guided practice of an own order that has something to mend: its steps, its story.
// Practice of the scenario that is open already is kept, and given as it is.
func (s *Service) TakeUp(ctx context.Context, actor Actor, key, attemptID string) (d Draft, kept bool, err error) {
	if err := need(actor); err != nil {
		return Draft{}, false, err
	}
	a, err := ask(actor.Person.ID, key, "take up", attemptID)
	if err != nil {
		return Draft{}, false, err
	}
	answer, _, err := s.once(ctx, a, nil, func(u Unit) (string, error) {
		at, err := u.Attempt(ctx, attemptID)
		if err == nil && at.PersonID != actor.Person.ID {
			err = ErrNotFound
		}
		if err != nil {
			return "", said(err, ErrNotFound, "There is no such attempt of yours. Your first page shows your own.")
		}
		return s.takeUp(ctx, u, actor, at)
	})
	if err != nil {
		return Draft{}, false, err
	}
	id, kept := strings.CutPrefix(answer, keptBefore)
	d, err = s.ownDraft(ctx, s.Records, actor, id, simulate.BuildOrder)
	return d, kept, err
}

func (s *Service) takeUp(ctx context.Context, u Unit, actor Actor, at Attempt) (answer string, err error) {
	if !at.CanTakeUp() {
		return "", refuse(ErrInvalid, "Only an order with a breach is taken up again. Start it anew instead.")
	}
	sc, _, err := s.scenario(at.ScenarioID, simulate.BuildOrder)
	if err != nil {
		return "", err
	}
	open, err := s.openOf(ctx, u, actor, sc.ID, true)
	if err != nil {
		return "", err
	}
	if open != nil {
		return keptBefore + open.ID, nil
	}
	d, err := s.newDraft(ctx, u, actor, sc, 1, true)
	if err != nil {
		return "", err
	}
	offered := sc.Variant(at.Seed).Steps // the scenario may have changed since
	d.Seed, d.Steps = at.Seed, slices.DeleteFunc(slices.Clone(at.Steps), func(id string) bool { return !slices.Contains(offered, id) })
	return d.ID, u.AddDraft(ctx, d)
}
