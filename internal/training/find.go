package training

import (
	"context"
	"slices"
	"strconv"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// Shown is somebody else's work in which something is to be found: its log, and what is so
// after each act as it looks. Nothing of it says what is wrong.
func (s *Service) Shown(d Draft) (*action.Log, []course.Shown, error) {
	log, p, err := s.shownLog(d)
	if err != nil {
		return nil, nil, err
	}
	acts, err := course.Bare(p, log)
	return log, acts, err
}

func (s *Service) shownLog(d Draft) (*action.Log, *procedure.Procedure, error) {
	sc, p, err := s.asDrafted(d)
	if err != nil {
		return nil, nil, err
	}
	played, _, err := simulate.Play(p, sc, sc.Cues)
	return played.Log, p, err
}

// RowTold is what practice says of a row that is marked: what is wrong there, or nothing.
type RowTold struct {
	Row      int // from 1
	Findings []assess.Finding
}

// Told are the rows that are marked in guided practice, with what is wrong there. A test
// has none, whoever asks.
func (s *Service) Told(d Draft) (told []RowTold, err error) {
	if !d.Guided || d.Kind != simulate.FindWrong {
		return nil, nil
	}
	log, p, err := s.shownLog(d)
	if err != nil {
		return nil, err
	}
	picks, err := rowsPicked(d.Steps, len(log.Acts))
	if err != nil { // the scenario is another one since: saving says so
		return nil, nil
	}
	whole, err := rules.Assess(p, log, d.ScenarioID)
	if err != nil {
		return nil, err
	}
	for _, n := range picks {
		row := RowTold{Row: n}
		for _, f := range whole.Findings {
			if slices.Contains(assess.RowsOf(log, []assess.Finding{f}), n) {
				row.Findings = append(row.Findings, f)
			}
		}
		told = append(told, row)
	}
	return told, nil
}

// checkPicks asks that what is marked are rows of the work.
func checkPicks(p *procedure.Procedure, sc *simulate.Scenario, steps []string) error {
	played, _, err := simulate.Play(p, sc, sc.Cues)
	if err == nil {
		_, err = rowsPicked(steps, len(played.Log.Acts))
	}
	return err
}

// rowsPicked reads the rows that somebody marked: numbers from 1 in their order, each once.
func rowsPicked(steps []string, rows int) (picks []int, err error) {
	last := 0
	for _, text := range steps {
		n, err := strconv.Atoi(text)
		if err != nil || n <= last || n > rows || strconv.Itoa(n) != text {
			return nil, refuse(ErrInvalid, "%q is no row of this work, or not in its order. Load the page again.", clip(text))
		}
		last = n
		picks = append(picks, n)
	}
	return picks, nil
}

// FinishFind judges a search by the rows that are marked, saved or not, and ends its draft.
func (s *Service) FinishFind(ctx context.Context, actor Actor, key, draftID string, revision int, picks []string) (Attempt, error) {
	if err := need(actor); err != nil {
		return Attempt{}, err
	}
	a, err := ask(actor.Person.ID, key, "finish find", draftID, revision, picks)
	if err != nil {
		return Attempt{}, err
	}
	return s.finish(ctx, a, func(u Unit) (Attempt, error) {
		d, err := s.ownDraft(ctx, u, actor, draftID, simulate.FindWrong)
		if err != nil {
			return Attempt{}, err
		}
		if d.Revision != revision {
			return Attempt{}, stale()
		}
		if len(picks) == 0 {
			return Attempt{}, refuse(ErrInvalid, "No row is marked. Mark the rows at which something is wrong first.")
		}
		if err := s.checkSteps(d, picks); err != nil {
			return Attempt{}, err
		}
		return s.judgeDraft(ctx, u, d, picks, func(p *procedure.Procedure, sc *simulate.Scenario) (simulate.Played, error) {
			played, _, err := simulate.Play(p, sc, sc.Cues)
			return played, err
		})
	})
}
