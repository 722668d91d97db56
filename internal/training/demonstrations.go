package training

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

const maxComment = 2000 // characters

// Learners are the people a preceptor may watch: everyone employed but
// educators and themself.
func (s *Service) Learners(ctx context.Context, actor Actor) ([]Person, error) {
	if err := need(actor, Preceptor, Educator); err != nil {
		return nil, err
	}
	people, err := s.Records.People(ctx)
	if err != nil {
		return nil, err
	}
	closed, err := s.Records.ClosedAccounts(ctx) // which cannot sign
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(people, func(p Person) bool {
		return p.ID == actor.Person.ID || s.gone(p) || !p.InTraining() || slices.Contains(closed, p.ID)
	}), nil
}

// Start is what is said of a demonstration before it begins.
type Start struct {
	TraineeID           string // "" of a routine observation that names nobody
	Competency, Product string
	Station             string // the procedure of a variant of the competency's station, "" for the usual one
	Setting
}

// StartDemonstration opens the recording of a return demonstration at the usual station.
func (s *Service) StartDemonstration(ctx context.Context, actor Actor, key, traineeID, competency, product string) (Demonstration, error) {
	return s.StartWatching(ctx, actor, key, Start{TraineeID: traineeID, Competency: competency, Product: product, Setting: Setting{Purpose: ForReturn}})
}

// StartWatching opens a recording. The actor is the preceptor and must be entitled today
// for the competency.
func (s *Service) StartWatching(ctx context.Context, actor Actor, key string, in Start) (Demonstration, error) {
	if err := need(actor, Preceptor, Educator); err != nil {
		return Demonstration{}, err
	}
	if err := in.Setting.tidy(); err != nil {
		return Demonstration{}, err
	}
	a, err := ask(actor.Person.ID, key, "start demonstration", in.body()...)
	if err != nil {
		return Demonstration{}, err
	}
	id, _, err := s.once(ctx, a, nil, func(u Unit) (string, error) {
		c, p, err := s.subject(in.Competency, in.Station)
		if err != nil {
			return "", err
		}
		if err := in.check(p); err != nil {
			return "", err
		}
		if err := s.confirmed(p, in); err != nil {
			return "", err
		}
		if err := s.mayWatch(ctx, u, actor, in, c); err != nil {
			return "", err
		}
		d := Demonstration{ID: s.NewID(), TraineeID: in.TraineeID, PreceptorID: actor.Person.ID, Competency: c.ID, Product: in.Product, Setting: in.Setting,
			StartedAt: s.Now(), State: Recording, Procedure: p.ID, ProcedureHash: p.Hash}
		if err := keepProcedure(ctx, u, p, d.StartedAt); err != nil {
			return "", err
		}
		return d.ID, u.AddDemonstration(ctx, d)
	})
	if err != nil {
		return Demonstration{}, err
	}
	return s.Records.Demonstration(ctx, id)
}

// body is a start for its key, so that one of before there was more to say means what it
// meant.
func (in Start) body() []any {
	body := []any{in.TraineeID, in.Competency, in.Product}
	if in.Station != "" {
		body = append(body, in.Station)
	}
	plain := Setting{Purpose: ForReturn}
	if !in.Setting.same(plain) {
		body = append(body, in.Setting)
	}
	return body
}

// subject is a competency with the procedure by which it is shown at a station.
func (s *Service) subject(competency, station string) (Competency, *procedure.Procedure, error) {
	in := s.present()
	c, ok := competencyOf(in, competency)
	if !ok {
		return c, nil, refuse(ErrInvalid, "There is no competency %q. Choose one of the list.", clip(competency))
	}
	station = cmp.Or(station, c.Procedure)
	if !slices.Contains(c.Stations(), station) {
		return c, nil, refuse(ErrInvalid, "“%s” has no station %q. Choose one of the list.", c.Title, clip(station))
	}
	p, ok := in.Procedure(station)
	if !ok {
		return c, nil, fmt.Errorf("competency %s: its procedure %q is not in the library", c.ID, station)
	}
	return c, p, nil
}

func (s *Service) mayWatch(ctx context.Context, r PeopleReader, actor Actor, in Start, c Competency) error {
	if in.TraineeID == actor.Person.ID {
		return refuse(ErrInvalid, "You cannot watch yourself. Another preceptor has to.")
	}
	if in.TraineeID != "" {
		trainee, err := r.Person(ctx, in.TraineeID)
		if err != nil {
			return said(err, ErrNotFound, "There is no such person.")
		}
		if s.gone(trainee) {
			return refuse(ErrInvalid, "%s left on %s.", trainee.Name, trainee.Left.Said())
		}
	}
	ok, err := entitled(ctx, r, actor.Person.ID, c, s.Today(), mayWatchBy)
	if err == nil && !ok {
		return refuse(ErrForbidden, "You are not entitled to watch “%s” today. %s", c.Title, whoEntitles(actor))
	}
	return err
}

// recording finds a demonstration that its own preceptor may go on recording.
func (s *Service) recording(ctx context.Context, r WatchReader, actor Actor, id string) (Demonstration, error) {
	d, err := s.ownRecording(ctx, r, actor, id)
	if err == nil && d.State != Recording {
		return d, refuse(ErrConflict, "This demonstration has ended. Nothing can be added to it.")
	}
	return d, err
}

// ownRecording finds a demonstration of its own preceptor, also when it has ended.
func (s *Service) ownRecording(ctx context.Context, r WatchReader, actor Actor, id string) (Demonstration, error) {
	d, err := s.visible(ctx, r, actor, id)
	if err == nil && d.PreceptorID != actor.Person.ID {
		return d, refuse(ErrForbidden, "Only the preceptor who started this demonstration can record it.")
	}
	return d, err
}

func (s *Service) visible(ctx context.Context, r WatchReader, actor Actor, id string) (Demonstration, error) {
	if err := need(actor); err != nil {
		return Demonstration{}, err
	}
	d, err := r.Demonstration(ctx, id)
	if err == nil && !mayRead(actor, d.TraineeID) {
		err = ErrNotFound
	}
	return d, said(err, ErrNotFound, "There is no such demonstration.")
}

// LastOf is the number of the last act that a device made.
type LastOf struct {
	Device string
	N      int
}

// EndDemonstration stops the recording and judges it. It is refused while acts of which
// is known that they were made have not come.
func (s *Service) EndDemonstration(ctx context.Context, actor Actor, key, demoID string, atMs int64, comment string, made ...LastOf) (Demonstration, error) {
	comment, err := tidy("The comment", comment, maxComment)
	if err != nil {
		return Demonstration{}, err
	}
	if atMs < 0 || atMs > int64(longestMs) {
		return Demonstration{}, refuse(ErrInvalid, "A demonstration lasts no longer than %s. Abandon this one.", clock(int64(longestMs)))
	}
	return s.closing(ctx, actor, key, "end demonstration", demoID, []any{atMs, comment}, func(u Unit, d *Demonstration) error {
		p, err := s.begunUnder(ctx, u, *d)
		if err != nil {
			return err
		}
		lines, err := s.written(ctx, u, p, *d, made)
		if err != nil {
			return err
		}
		d.State, d.Comment = Ended, comment
		if err := judgeDemonstration(p, d, lines); err != nil {
			return err
		}
		return errors.Join(keepProcedure(ctx, u, p, d.EndedAt), s.ledgerDemonstration(ctx, u, *d, lines))
	})
}

// written writes the lines for which the acts stand, and gives them after those that
// were there.
func (s *Service) written(ctx context.Context, u Unit, p *procedure.Procedure, d Demonstration, made []LastOf) ([]Observed, error) {
	before, err := u.Observations(ctx, d.ID)
	if err != nil {
		return nil, err
	}
	acts, err := u.Watched(ctx, d.ID)
	if err != nil {
		return nil, err
	}
	if err := complete(acts, made); err != nil {
		return nil, err
	}
	lines, err := derive(p, d.Product, before, acts)
	switch {
	case err != nil:
		return nil, err
	case len(lines) == 0:
		return nil, refuse(ErrInvalid, "Nothing was recorded yet. Record what you see, or abandon this demonstration.")
	}
	return lines, u.AddObserved(ctx, d.ID, lines[len(before):])
}

// ledgerDemonstration adds the leaf of a judged demonstration.
func (s *Service) ledgerDemonstration(ctx context.Context, u Unit, d Demonstration, lines []Observed) error {
	f, err := demonstrationFields(d, lines)
	if err != nil {
		return err
	}
	people, err := s.watchers(ctx, u, d)
	if err != nil {
		return err
	}
	_, err = s.ledgered(ctx, u, LeafAbout{Kind: DemonstrationLeaf, Record: d.ID, At: d.EndedAt, People: people}, f)
	return err
}

func judgeDemonstration(p *procedure.Procedure, d *Demonstration, lines []Observed) (err error) {
	acts := make([]action.Act, len(lines))
	for i, o := range lines {
		if acts[i], err = action.ParseAct(o.Text, p.Words); err != nil {
			return refuse(ErrConflict, "Line %d (%s) does not fit the procedure any more: %v. Abandon this demonstration.", o.Seq, o.Text, err)
		}
		acts[i].At = action.Millis(o.AtMs)
	}
	log, err := simulate.Observed(p, acts)
	if err != nil {
		return err
	}
	j, err := judge(p, log, d.ID)
	if err != nil {
		return err
	}
	d.Log, d.ResultJSON, d.Outcome, d.Prompted = j.log, j.result, j.outcome, log.Prompted()
	d.Procedure, d.ProcedureHash, d.RulesVersion = p.ID, p.Hash, assess.RulesVersion
	return nil
}

// AbandonDemonstration stops a recording that is not to be judged (the station
// was needed, the wrong person was chosen). Its lines are kept.
func (s *Service) AbandonDemonstration(ctx context.Context, actor Actor, key, demoID string) (Demonstration, error) {
	return s.closing(ctx, actor, key, "abandon demonstration", demoID, nil, func(_ Unit, d *Demonstration) error {
		d.State = Abandoned
		return nil
	})
}

func (s *Service) closing(ctx context.Context, actor Actor, key, act, demoID string, body []any, finish func(Unit, *Demonstration) error) (Demonstration, error) {
	if err := need(actor); err != nil {
		return Demonstration{}, err
	}
	a, err := ask(actor.Person.ID, key, act, append([]any{demoID}, body...)...)
	if err != nil {
		return Demonstration{}, err
	}
	id, _, err := s.once(ctx, a, nil, func(u Unit) (string, error) {
		d, err := s.recording(ctx, u, actor, demoID)
		if err != nil {
			return "", err
		}
		d.EndedAt = max(s.Now(), d.StartedAt)
		if err := finish(u, &d); err != nil {
			return "", err
		}
		return d.ID, u.CloseDemonstration(ctx, d)
	})
	if err != nil {
		return Demonstration{}, err
	}
	return s.Records.Demonstration(ctx, id)
}

// Demonstration is one demonstration with its signatures: for its trainee, and
// for preceptors and educators.
func (s *Service) Demonstration(ctx context.Context, actor Actor, id string) (Demonstration, error) {
	d, err := s.visible(ctx, s.Records, actor, id)
	if err != nil {
		return Demonstration{}, err
	}
	return d, nil
}
