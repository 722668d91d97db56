package training

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// Limits of practice.
const (
	maxSteps  = 400
	runAhead  = 5 * time.Second // how far a browser's clock may be before ours
	longestMs = action.Millis(4 * 60 * 60 * 1000)

	seedLength = 16 // hexadecimal digits
)

// scenario finds a scenario with its procedure.
func (s *Service) scenario(id string, kind simulate.Kind) (*simulate.Scenario, *procedure.Procedure, error) {
	in := s.present()
	sc, ok := in.Scenario(id)
	if !ok || kind != "" && sc.Kind != kind {
		return nil, nil, noScenario()
	}
	p, ok := in.Procedure(sc.Procedure)
	if !ok {
		return nil, nil, fmt.Errorf("scenario %s: its procedure %q is not in the library", sc.ID, sc.Procedure)
	}
	return sc, p, nil
}

func noScenario() error {
	return refuse(ErrNotFound, "There is no such scenario. Choose one on your first page.")
}

// asDrafted is the scenario of a draft as its seed makes it.
func (s *Service) asDrafted(d Draft) (*simulate.Scenario, *procedure.Procedure, error) {
	sc, p, err := s.scenario(d.ScenarioID, d.Kind)
	if err != nil {
		return nil, nil, err
	}
	return sc.Variant(d.Seed), p, nil
}

// NextTry is a scenario as the person's next try of it will be: what is told before
// it begins is what it then is, and discarding it makes no other.
func (s *Service) NextTry(ctx context.Context, actor Actor, scenarioID string, guided bool) (OwnScenario, error) {
	if err := need(actor); err != nil {
		return OwnScenario{}, err
	}
	sc, _, err := s.scenario(scenarioID, "")
	if err != nil {
		return OwnScenario{}, err
	}
	t, err := triesOf(ctx, s.Records, actor, sc.ID)
	return OwnScenario{Scenario: sc.Variant(s.seed(actor, t, guided)), Tries: t.Tries, Guided: t.Guided, Passed: t.Passed()}, err
}

func triesOf(ctx context.Context, r CourseReader, actor Actor, scenarioID string) (ScenarioTries, error) {
	by, err := r.CourseOf(ctx, []string{actor.Person.ID})
	if err != nil {
		return ScenarioTries{}, err
	}
	return by[actor.Person.ID].tries(scenarioID), nil
}

// seed hangs on the person's id, which is fresh and unguessable, and on how often
// she tried: every try is told and laid out anew, and a test otherwise than the practice
// before it.
func (s *Service) seed(actor Actor, so ScenarioTries, guided bool) string {
	if s.Seed != nil {
		return s.Seed(actor.Person.ID, so)
	}
	return procedure.Digest(fmt.Appendf(nil, "%s %s %d %d %v", actor.Person.ID, so.ScenarioID, so.Tries, so.Guided, guided))[:seedLength]
}

// OpenDraft is the person's unfinished build of a scenario, or search in one, a new one
// when there is none. Guided practice and the rest are two.
func (s *Service) OpenDraft(ctx context.Context, actor Actor, scenarioID string, guided bool) (Draft, error) {
	if err := need(actor); err != nil {
		return Draft{}, err
	}
	sc, _, err := s.scenario(scenarioID, "")
	if err == nil && sc.Kind == simulate.TimedRun {
		err = noScenario()
	}
	if err != nil {
		return Draft{}, err
	}
	if d, err := s.openOf(ctx, s.Records, actor, sc.ID, guided); err != nil || d != nil {
		return deref(d), err
	}
	var draft Draft
	err = s.Records.Write(ctx, func(u Unit) error {
		d, err := s.openOf(ctx, u, actor, sc.ID, guided)
		if err != nil || d != nil {
			draft = deref(d)
			return err
		}
		if draft, err = s.newDraft(ctx, u, actor, sc, 1, guided); err != nil {
			return err
		}
		return u.AddDraft(ctx, draft)
	})
	return draft, err
}

func deref(d *Draft) Draft {
	if d == nil {
		return Draft{}
	}
	return *d
}

func (s *Service) newDraft(ctx context.Context, r CourseReader, actor Actor, sc *simulate.Scenario, pace int, guided bool) (Draft, error) {
	tries, err := triesOf(ctx, r, actor, sc.ID)
	now := s.Now()
	return Draft{ID: s.NewID(), PersonID: actor.Person.ID, ScenarioID: sc.ID, Kind: sc.Kind, StartedAt: now, Pace: pace,
		Steps: []string{}, UpdatedAt: now, Seed: s.seed(actor, tries, guided), Guided: guided}, err
}

func (s *Service) openOf(ctx context.Context, r PracticeReader, actor Actor, scenarioID string, guided bool) (*Draft, error) {
	d, err := r.DraftOf(ctx, actor.Person.ID, scenarioID, guided)
	if errors.Is(err, ErrNotFound) {
		return nil, nil
	}
	return &d, err
}

// Draft is one's own unfinished work.
func (s *Service) Draft(ctx context.Context, actor Actor, draftID string) (Draft, error) {
	if err := need(actor); err != nil {
		return Draft{}, err
	}
	return s.ownDraft(ctx, s.Records, actor, draftID)
}

func (s *Service) ownDraft(ctx context.Context, r PracticeReader, actor Actor, id string, kinds ...simulate.Kind) (Draft, error) {
	return ownedBy(actor, kinds...)(r.Draft(ctx, id))
}

// ownedBy lets through a draft of the actor's own, of some kinds or of any.
func ownedBy(actor Actor, kinds ...simulate.Kind) func(Draft, error) (Draft, error) {
	return func(d Draft, err error) (Draft, error) {
		if err == nil && (d.PersonID != actor.Person.ID || len(kinds) > 0 && !slices.Contains(kinds, d.Kind)) {
			err = ErrNotFound
		}
		if err != nil {
			return Draft{}, said(err, ErrNotFound, "This work is not there any more: it was finished or discarded. Your first page shows what there is.")
		}
		return d, nil
	}
}

// SaveSteps saves the whole list of a build, or all rows that are marked. revision is the one the list was
// made from; when the draft has moved on it is ErrConflict. The same save sent
// twice is answered twice and counts once.
func (s *Service) SaveSteps(ctx context.Context, actor Actor, draftID string, revision int, steps []string) (Draft, error) {
	if err := need(actor); err != nil {
		return Draft{}, err
	}
	var d Draft
	err := s.Records.Write(ctx, func(u Unit) error {
		var err error
		if d, err = s.ownDraft(ctx, u, actor, draftID, simulate.BuildOrder, simulate.FindWrong); err != nil {
			return err
		}
		if d.Revision == revision+1 && slices.Equal(d.Steps, steps) {
			return nil
		}
		if d.Revision != revision {
			return stale()
		}
		if err := s.checkSteps(d, steps); err != nil {
			return err
		}
		d.Steps, d.Revision, d.UpdatedAt = append([]string{}, steps...), revision+1, s.Now()
		return said(u.SaveDraft(ctx, d, revision), ErrConflict, "%v", stale())
	})
	if err != nil {
		return Draft{}, err
	}
	return d, nil
}

func stale() error {
	return refuse(ErrConflict, "This list was changed in another window since the page was loaded. Load the page again to go on from there.")
}

func (s *Service) checkSteps(d Draft, steps []string) error {
	sc, p, err := s.asDrafted(d)
	if err != nil {
		return err
	}
	if d.Kind == simulate.FindWrong {
		return checkPicks(p, sc, steps)
	}
	return FitsOrder(sc, steps)
}

// FitsOrder refuses steps that a scenario does not offer, and a list that is too long.
func FitsOrder(sc *simulate.Scenario, steps []string) error {
	if len(steps) > maxSteps {
		return refuse(ErrInvalid, "The list has %d steps; %d is the most.", len(steps), maxSteps)
	}
	for _, id := range steps {
		if !slices.Contains(sc.Steps, id) {
			return refuse(ErrInvalid, "%q is no step of this scenario. Load the page again.", clip(id))
		}
	}
	return nil
}

// clip keeps what somebody sent short enough for a sentence.
func clip(text string) string {
	if r := []rune(text); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return text
}

// Unfinished is the person's unfinished work on a scenario, guided or not, nil when
// there is none.
func (s *Service) Unfinished(ctx context.Context, actor Actor, scenarioID string, guided bool) (*Draft, error) {
	if err := need(actor); err != nil {
		return nil, err
	}
	return s.openOf(ctx, s.Records, actor, scenarioID, guided)
}

// StartRun starts a run; an unfinished run of the scenario is ErrConflict.
// pace is 1 (real time) or the scenario's own.
func (s *Service) StartRun(ctx context.Context, actor Actor, key, scenarioID string, pace int, guided bool) (Draft, error) {
	if err := need(actor); err != nil {
		return Draft{}, err
	}
	a, err := ask(actor.Person.ID, key, "start run", scenarioID, pace, guided)
	if err != nil {
		return Draft{}, err
	}
	id, _, err := s.once(ctx, a, nil, func(u Unit) (string, error) {
		sc, _, err := s.scenario(scenarioID, simulate.TimedRun)
		if err != nil {
			return "", err
		}
		if pace != 1 && pace != sc.Pace {
			return "", refuse(ErrInvalid, "The clock of this scenario runs in real time or %d times as fast.", sc.Pace)
		}
		d, err := s.newDraft(ctx, u, actor, sc, max(1, pace), guided)
		if err != nil {
			return "", err
		}
		return d.ID, said(u.AddDraft(ctx, d), ErrConflict, "You have an unfinished run of this scenario. Go on with it, or discard it first.")
	})
	if err != nil {
		return Draft{}, err
	}
	return s.ownDraft(ctx, s.Records, actor, id, simulate.TimedRun)
}

// Tap adds a tap to a run. at is the time since the run was opened, at the scenario's pace;
// the clock by which it is judged begins with the first tap. Time may neither run
// backwards nor ahead of the server's clock (ErrInvalid). It answers how many
// taps the run has.
func (s *Service) Tap(ctx context.Context, actor Actor, draftID, key, step string, at action.Millis) (int, error) {
	if err := need(actor); err != nil {
		return 0, err
	}
	a, err := ask(actor.Person.ID, key, "tap", draftID, step, at)
	if err != nil {
		return 0, err
	}
	count, _, err := s.once(ctx, a, nil, func(u Unit) (string, error) {
		d, err := ownedBy(actor, simulate.TimedRun)(u.BareDraft(ctx, draftID))
		if err != nil {
			return "", err
		}
		was, err := u.Tapped(ctx, draftID)
		if err != nil {
			return "", err
		}
		if err := s.checkSteps(d, []string{step}); err != nil {
			return "", err
		}
		if was.Taps >= maxSteps {
			return "", refuse(ErrInvalid, "The run has %d steps, which is the most. Finish it.", maxSteps)
		}
		if err := s.checkRunTime(d, was, at); err != nil {
			return "", err
		}
		n := was.Taps + 1
		return strconv.Itoa(n), u.AddTap(ctx, draftID, n, simulate.Tap{Step: step, At: at})
	})
	if err != nil {
		return 0, err
	}
	n, err := strconv.Atoi(count)
	if err != nil { // kept before taps were answered by their number
		was, err := s.Records.Tapped(ctx, draftID)
		return was.Taps, err
	}
	return n, nil
}

// checkRunTime refuses a moment that cannot be, of taps counted from when the run was opened.
func (s *Service) checkRunTime(d Draft, was Tapped, at action.Millis) error {
	elapsed := action.Millis(s.Now().Time().Sub(d.StartedAt.Time()).Milliseconds()) * action.Millis(d.Pace)
	switch {
	case at < was.Last:
		return refuse(ErrInvalid, "The tap at %s came after one at %s. Load the page again; the run is still there.", at, was.Last)
	case at > elapsed+action.Millis(runAhead.Milliseconds()):
		return refuse(ErrInvalid, "The tap at %s is ahead of the run's clock, which stands at %s. Load the page again.", at, elapsed)
	case was.Taps > 0 && at-was.First > longestMs:
		return refuse(ErrInvalid, "The run has lasted more than %s. Discard it and start again.", longestMs)
	}
	return nil
}

// DiscardDraft throws unfinished work away. Nothing of it is kept.
func (s *Service) DiscardDraft(ctx context.Context, actor Actor, key, draftID string) error {
	if err := need(actor); err != nil {
		return err
	}
	a, err := ask(actor.Person.ID, key, "discard", draftID)
	if err != nil {
		return err
	}
	_, _, err = s.once(ctx, a, nil, func(u Unit) (string, error) {
		if _, err := s.ownDraft(ctx, u, actor, draftID); err != nil {
			return "", err
		}
		return draftID, u.EndDraft(ctx, draftID)
	})
	return err
}

// Attempt is a finished attempt: one's own, or anyone's for preceptors and
// educators; guided practice of others only as far as one may see it.
func (s *Service) Attempt(ctx context.Context, actor Actor, id string) (Attempt, error) {
	if err := need(actor); err != nil {
		return Attempt{}, err
	}
	at, err := s.Records.Attempt(ctx, id)
	if err == nil && !mayRead(actor, at.PersonID) {
		err = ErrNotFound
	}
	if err == nil && at.Guided {
		err = s.maySeePractice(ctx, actor, at.PersonID)
	}
	if errors.Is(err, ErrNotFound) {
		return Attempt{}, refuse(ErrNotFound, "There is no such attempt. Your first page shows your own.")
	}
	return at, err
}
