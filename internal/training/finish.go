package training

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// FinishBuild judges a build and ends its draft.
func (s *Service) FinishBuild(ctx context.Context, actor Actor, key, draftID string, revision int) (Attempt, error) {
	if err := need(actor); err != nil {
		return Attempt{}, err
	}
	a, err := ask(actor.Person.ID, key, "finish build", draftID, revision)
	if err != nil {
		return Attempt{}, err
	}
	return s.finish(ctx, a, func(u Unit) (Attempt, error) {
		d, err := s.ownDraft(ctx, u, actor, draftID, simulate.BuildOrder)
		if err != nil {
			return Attempt{}, err
		}
		if d.Revision != revision {
			return Attempt{}, stale()
		}
		if len(d.Steps) == 0 {
			return Attempt{}, refuse(ErrInvalid, "The list is empty. Add the steps of the %s first.", s.workOf(d.ScenarioID))
		}
		return s.judgeDraft(ctx, u, d, d.Steps, func(p *procedure.Procedure, sc *simulate.Scenario) (simulate.Played, error) {
			return simulate.Build(p, sc, d.Steps)
		})
	})
}

// FinishRun judges a run and ends its draft.
func (s *Service) FinishRun(ctx context.Context, actor Actor, key, draftID string, at action.Millis) (Attempt, error) {
	if err := need(actor); err != nil {
		return Attempt{}, err
	}
	a, err := ask(actor.Person.ID, key, "finish run", draftID, at)
	if err != nil {
		return Attempt{}, err
	}
	return s.finish(ctx, a, func(u Unit) (Attempt, error) {
		d, err := s.ownDraft(ctx, u, actor, draftID, simulate.TimedRun)
		if err != nil {
			return Attempt{}, err
		}
		if len(d.Taps) == 0 {
			return Attempt{}, refuse(ErrInvalid, "Nothing was done in this run yet. Tap the steps first, or discard it.")
		}
		first := d.Taps[0].At
		if err := s.checkRunTime(d, Tapped{Taps: len(d.Taps), First: first, Last: d.Taps[len(d.Taps)-1].At}, at); err != nil {
			return Attempt{}, err
		}
		steps := make([]string, len(d.Taps))
		for i, t := range d.Taps {
			steps[i] = t.Step
		}
		return s.judgeDraft(ctx, u, d, steps, func(p *procedure.Procedure, sc *simulate.Scenario) (simulate.Played, error) {
			return simulate.Run(p, sc, sinceFirst(d.Taps), at-first)
		})
	})
}

// sinceFirst is taps by the clock of the run, which begins with the first of them. They are
// kept as they came, by the time since the run was opened.
func sinceFirst(taps []simulate.Tap) []simulate.Tap {
	all := slices.Clone(taps)
	for i := range all {
		all[i].At -= taps[0].At
	}
	return all
}

// workOf is the word for the work of a scenario.
func (s *Service) workOf(scenarioID string) string {
	_, p, err := s.scenario(scenarioID, "")
	if err != nil {
		return "work"
	}
	return p.Work
}

// finish turns a draft into an attempt in one transaction.
func (s *Service) finish(ctx context.Context, a asked, judge func(Unit) (Attempt, error)) (Attempt, error) {
	id, _, err := s.once(ctx, a, nil, func(u Unit) (string, error) {
		at, err := judge(u)
		if err != nil {
			return "", err
		}
		draftID := at.ID
		at.ID = s.NewID()
		if err := u.AddAttempt(ctx, at); err != nil {
			return "", err
		}
		if err := s.ledgerAttempt(ctx, u, at); err != nil {
			return "", err
		}
		return at.ID, u.EndDraft(ctx, draftID)
	})
	if err != nil {
		return Attempt{}, err
	}
	return s.Records.Attempt(ctx, id)
}

// ledgerAttempt adds the leaf of a finished attempt: what a sign-off rests on later
// cannot be made up afterwards.
func (s *Service) ledgerAttempt(ctx context.Context, u Unit, a Attempt) error {
	p, err := u.Person(ctx, a.PersonID)
	if err != nil {
		return err
	}
	whole, err := a.whole()
	if err != nil {
		return err
	}
	_, err = s.ledgered(ctx, u, aboutAttempt(a, p), finishedFields(whole))
	return err
}

func aboutAttempt(a Attempt, p Person) LeafAbout {
	return LeafAbout{Kind: AttemptLeaf, Record: a.ID, At: a.FinishedAt, People: []Named{named(PartPerson, p)}}
}

// judgeDraft is the attempt that a draft makes. Its ID is still the draft's. What
// it cites is kept.
func (s *Service) judgeDraft(ctx context.Context, u DefinitionWriter, d Draft, steps []string, play func(*procedure.Procedure, *simulate.Scenario) (simulate.Played, error)) (Attempt, error) {
	sc, p, err := s.asDrafted(d)
	if err != nil {
		return Attempt{}, err
	}
	played, err := play(p, sc)
	if err != nil {
		return Attempt{}, refuse(ErrInvalid, "This work does not fit the scenario any more (%v). Discard it and start again.", err)
	}
	j, err := judgeAs(d.Kind, p, played.Log, sc.ID, steps)
	if err != nil {
		return Attempt{}, err
	}
	if d.Kind == simulate.FindWrong {
		played.From = []int{} // the steps are rows that were marked: no line came from them
	}
	now := max(s.Now(), d.StartedAt)
	if err := errors.Join(keepProcedure(ctx, u, p, now), keepScenario(ctx, u, sc, now)); err != nil {
		return Attempt{}, err
	}
	return Attempt{ID: d.ID, PersonID: d.PersonID, ScenarioID: sc.ID, ScenarioHash: sc.Hash, Kind: d.Kind, Pace: d.Pace,
		StartedAt: d.StartedAt, FinishedAt: now, Log: j.log, Procedure: p.ID, ProcedureHash: p.Hash,
		RulesVersion: assess.RulesVersion, ResultJSON: j.result, Outcome: j.outcome, Steps: steps, Lines: played.From, Seed: d.Seed, Guided: d.Guided}, nil
}

// judged is what the engine said of a log, in the form that is kept.
type judged struct {
	log     string
	result  []byte
	outcome assess.Outcome
}

func judge(p *procedure.Procedure, log *action.Log, name string) (judged, error) {
	return judgeAs("", p, log, name, nil)
}

func judgeAs(kind simulate.Kind, p *procedure.Procedure, log *action.Log, name string, steps []string) (judged, error) {
	result, kept, err := assessAs(kind, p, log, name, steps)
	if err != nil {
		return judged{}, err
	}
	text, err := kept()
	if err != nil {
		return judged{}, err
	}
	return judged{action.Format(log), text, result.Marks.Result}, nil
}

// assessAs is what the engine says of a log, with the form that is kept of it; of a search
// in the log, whose steps are the rows that were marked, what was found.
func assessAs(kind simulate.Kind, p *procedure.Procedure, log *action.Log, name string, steps []string) (*assess.Result, func() ([]byte, error), error) {
	log.Hash = p.Hash // the record says by which version, not "the current one"
	result, err := rules.Engine.Assess(p, log, name)
	if err != nil {
		return nil, nil, fmt.Errorf("judge %s: %w", name, err)
	}
	if kind != simulate.FindWrong {
		return result, result.JSON, nil
	}
	picks, err := rowsPicked(steps, len(log.Acts))
	search := assess.Sought(log, result, picks)
	return &search.Result, search.JSON, err
}
