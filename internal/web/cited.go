package web

import (
	"errors"
	"fmt"
	"sync"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// lately keeps what was parsed last, by its hash: a text never changes under
// its hash, so nothing goes stale.
type lately[T any] struct {
	mu    sync.Mutex
	by    map[string]T
	order []string // oldest first
}

// mostKept bounds each: a clinic has few versions that are still looked at.
const mostKept = 32

func (l *lately[T]) get(hash string, make func() (T, error)) (T, error) {
	l.mu.Lock()
	found, ok := l.by[hash]
	l.mu.Unlock()
	if ok {
		return found, nil
	}
	made, err := make()
	if err != nil {
		return made, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if _, ok := l.by[hash]; !ok {
		if l.by == nil {
			l.by = map[string]T{}
		}
		if len(l.order) == mostKept {
			delete(l.by, l.order[0])
			l.order = l.order[1:]
		}
		l.by[hash], l.order = made, append(l.order, hash)
	}
	return made, nil
}

// judgedBy is the procedure that a record was judged by, and a sentence when it
// is not the clinic's present one. whole is false when its text was not kept:
// then the present one stands in for titles.
func (v *visit) judgedBy(id, hash string) (p *procedure.Procedure, older string, whole bool, err error) {
	present, ok := v.Library.Procedure(id)
	if ok && present.Hash == hash {
		return present, "", true, nil
	}
	p, err = v.procedures.get(hash, func() (*procedure.Procedure, error) { return v.Service.CitedProcedure(v.ctx, hash) })
	switch {
	case errors.Is(err, training.ErrNotFound) && ok:
		return present, "The procedure has changed since, and the text of then was not kept. The result stays as it was judged; titles on this page are today's.", false, nil
	case err != nil:
		return nil, "", false, err
	case !ok:
		older = "the clinic has no such procedure any more"
	case present.Version == p.Version:
		older = "the clinic has changed the procedure since"
	default:
		older = "the clinic's procedure is now version " + present.Version
	}
	return p, fmt.Sprintf("Judged by version %s of “%s”; %s. The result stays as it was judged then.", p.Version, p.Definition.Title, older), true, nil
}

// titleThen is the title that a scenario had when an attempt at it was made.
func (v *visit) titleThen(a training.Attempt) (string, error) {
	sc, ok := v.Library.Scenario(a.ScenarioID)
	if ok && sc.Variant(a.Seed).Hash == a.ScenarioHash {
		return sc.Title, nil
	}
	title, err := v.titles.get(a.ScenarioHash, func() (string, error) {
		sc, err := v.Service.CitedScenario(v.ctx, a.ScenarioHash)
		if err != nil {
			return "", err
		}
		return sc.Title, nil
	})
	if errors.Is(err, training.ErrNotFound) {
		return v.scenarioTitle(a.ScenarioID), nil
	}
	return title, err
}
