package training

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

const (
	backSkewMs = 2000 // a tap this much before the last one is set to its time
	aheadMs    = int64(60 * 1000)
	maxLines   = 1500
	maxComment = 2000
)

// Learners are the people a preceptor may watch: everyone employed but themself.
func (s *Service) Learners(ctx context.Context, actor Actor) ([]Person, error) {
	if err := need(actor, Preceptor, Educator); err != nil {
		return nil, err
	}
	people, err := s.Records.People(ctx)
	if err != nil {
		return nil, err
	}
	var learners []Person
	for _, p := range people {
		if p.ID != actor.Person.ID && !s.gone(p) && p.Role != Educator {
			learners = append(learners, p)
		}
	}
	return learners, nil
}

// StartDemonstration opens a recording. The actor is the preceptor and must be
// entitled today for the competency.
func (s *Service) StartDemonstration(ctx context.Context, actor Actor, key, traineeID, competency, product string) (Demonstration, error) {
	if err := need(actor, Preceptor, Educator); err != nil {
		return Demonstration{}, err
	}
	c, p, err := s.subject(competency)
	if err != nil {
		return Demonstration{}, err
	}
	if p.ProductIndex(product) < 0 {
		return Demonstration{}, refuse(ErrInvalid, "There is no product %q in this procedure. Choose one of the list.", clip(product))
	}
	a, err := ask(actor.Person.ID, key, "start demonstration", traineeID, c.ID, product)
	if err != nil {
		return Demonstration{}, err
	}
	id, _, err := s.once(ctx, a, func(u Unit) (string, error) {
		if err := s.mayWatch(ctx, u, actor, traineeID, c); err != nil {
			return "", err
		}
		d := Demonstration{ID: s.NewID(), TraineeID: traineeID, PreceptorID: actor.Person.ID, Competency: c.ID, Product: product,
			StartedAt: s.Now(), State: Recording, Procedure: p.ID, ProcedureHash: p.Hash}
		return d.ID, u.AddDemonstration(ctx, d)
	})
	if err != nil {
		return Demonstration{}, err
	}
	return s.Records.Demonstration(ctx, id)
}

func (s *Service) subject(competency string) (Competency, *procedure.Procedure, error) {
	c, ok := s.competency(competency)
	if !ok {
		return c, nil, refuse(ErrInvalid, "There is no competency %q. Choose one of the list.", clip(competency))
	}
	p, ok := s.Library.Procedure(c.Procedure)
	if !ok {
		return c, nil, fmt.Errorf("competency %s: its procedure %q is not in the library", c.ID, c.Procedure)
	}
	return c, p, nil
}

func (s *Service) mayWatch(ctx context.Context, r Reader, actor Actor, traineeID string, c Competency) error {
	if traineeID == actor.Person.ID {
		return refuse(ErrInvalid, "You cannot watch yourself. Another preceptor has to.")
	}
	trainee, err := r.Person(ctx, traineeID)
	if err != nil {
		return said(err, ErrNotFound, "There is no such person.")
	}
	if s.gone(trainee) {
		return refuse(ErrInvalid, "%s left on %s.", trainee.Name, trainee.Left)
	}
	ok, err := entitled(ctx, r, actor.Person.ID, c.ID, s.Today())
	if err == nil && !ok {
		return refuse(ErrForbidden, "You are not entitled to sign “%s” today. The educator can entitle you.", c.Title)
	}
	return err
}

// recording finds a demonstration that its own preceptor may go on recording.
func (s *Service) recording(ctx context.Context, r Reader, actor Actor, id string) (Demonstration, error) {
	d, err := s.visible(ctx, r, actor, id)
	switch {
	case err != nil:
		return d, err
	case d.PreceptorID != actor.Person.ID:
		return d, refuse(ErrForbidden, "Only the preceptor who started this demonstration can record it.")
	case d.State != Recording:
		return d, refuse(ErrConflict, "This demonstration has ended. Nothing can be added to it.")
	}
	return d, nil
}

func (s *Service) visible(ctx context.Context, r Reader, actor Actor, id string) (Demonstration, error) {
	if err := need(actor); err != nil {
		return Demonstration{}, err
	}
	d, err := r.Demonstration(ctx, id)
	if err == nil && !mayRead(actor, d.TraineeID) {
		err = ErrNotFound
	}
	return d, said(err, ErrNotFound, "There is no such demonstration.")
}

// Observe stores one tap of the recorder under o.Key. With o.Step and no
// o.Text it stores every act of that step, each its own line at the same time;
// with o.Text it stores that one line ("prompted", "not seen STEP", "still wet
// SURFACE", "pause" ...). Wipes are numbered here: what takes a wipe gets the
// next number and the demonstration's product. The lines come back with their
// numbers. Times may not run backwards by more than two seconds (less is set to
// the time before).
func (s *Service) Observe(ctx context.Context, actor Actor, demoID string, o Observed) ([]Observed, error) {
	if err := need(actor); err != nil {
		return nil, err
	}
	a, err := ask(actor.Person.ID, o.Key, "observe", demoID, o.Step, o.Text, o.AtMs)
	if err != nil {
		return nil, err
	}
	_, _, err = s.once(ctx, a, func(u Unit) (string, error) {
		d, err := s.recording(ctx, u, actor, demoID)
		if err != nil {
			return "", err
		}
		was, err := u.Observations(ctx, demoID)
		if err != nil {
			return "", err
		}
		acts, err := s.observedActs(d, was, o)
		if err != nil {
			return "", err
		}
		lines, err := s.linesAfter(d, was, o, acts)
		if err != nil {
			return "", err
		}
		return demoID, u.AddObserved(ctx, demoID, lines)
	})
	if err != nil {
		return nil, err
	}
	return s.linesOf(ctx, demoID, o.Key)
}

// linesOf are the lines that came under a key.
func (s *Service) linesOf(ctx context.Context, demoID, key string) ([]Observed, error) {
	all, err := s.Records.Observations(ctx, demoID)
	if err != nil {
		return nil, err
	}
	var lines []Observed
	for _, o := range all {
		if o.Key == key {
			lines = append(lines, o)
		}
	}
	return lines, nil
}

// observedActs are the texts of the lines that a tap stands for.
func (s *Service) observedActs(d Demonstration, was []Observed, o Observed) ([]string, error) {
	_, p, err := s.subject(d.Competency)
	if err != nil {
		return nil, err
	}
	if o.Step != "" && p.StepIndex(o.Step) < 0 {
		return nil, refuse(ErrInvalid, "%q is no step of the procedure. Load the page again; what was saved is there.", clip(o.Step))
	}
	var acts []action.Act
	switch {
	case o.Text == "take wipe":
		acts = []action.Act{{Verb: action.TakeWipe}}
	case o.Text != "":
		a, err := action.ParseAct(o.Text, p.Words)
		if err != nil {
			return nil, refuse(ErrInvalid, "The line %q could not be read: %v.", clip(o.Text), err)
		}
		if a.Verb == action.Undone {
			return nil, refuse(ErrInvalid, "Lines are taken back with Undo, not recorded as such.")
		}
		acts = []action.Act{a}
	case o.Step != "":
		acts = p.Steps[p.StepIndex(o.Step)].Acts
	default:
		return nil, refuse(ErrInvalid, "The tap came without what was done. Load the page again.")
	}
	wipes := 0
	for _, line := range was {
		if strings.HasPrefix(line.Text, "take wipe ") {
			wipes++
		}
	}
	texts := make([]string, len(acts))
	for i, a := range acts {
		if a.Verb == action.TakeWipe {
			wipes++
			a.With, a.Of = "w"+strconv.Itoa(wipes), d.Product
		}
		texts[i] = a.Text()
	}
	return texts, nil
}

// linesAfter gives texts their numbers and their time after what was recorded.
func (s *Service) linesAfter(d Demonstration, was []Observed, o Observed, texts []string) ([]Observed, error) {
	at, last := o.AtMs, int64(0)
	if n := len(was); n > 0 {
		last = was[n-1].AtMs
	}
	elapsed := s.Now().Time().Sub(d.StartedAt.Time()).Milliseconds()
	switch {
	case at < last-backSkewMs || at < 0:
		return nil, refuse(ErrInvalid, "The tap at %s came after one at %s. Load the page again; what was saved is there.", clock(at), clock(last))
	case at > elapsed+aheadMs:
		return nil, refuse(ErrInvalid, "The tap at %s is ahead of the clock, which stands at %s. Load the page again.", clock(at), clock(elapsed))
	case at > int64(longestMs):
		return nil, refuse(ErrInvalid, "This demonstration has lasted more than %s. End it.", clock(int64(longestMs)))
	case len(was)+len(texts) > maxLines:
		return nil, refuse(ErrInvalid, "This demonstration has %d lines, which is the most. End it.", len(was))
	}
	now := s.Now()
	lines := make([]Observed, len(texts))
	for i, text := range texts {
		lines[i] = Observed{Key: o.Key, Seq: len(was) + i + 1, AtMs: max(at, last), Text: text, Step: o.Step, SentAt: now}
	}
	return lines, nil
}

func clock(ms int64) string {
	return (time.Duration(ms) * time.Millisecond).Round(time.Second).String()
}

// Undo takes back the tap whose line has number seq: every line of that tap
// stays and gets an "undone" line, which come back.
func (s *Service) Undo(ctx context.Context, actor Actor, demoID, key string, seq int, atMs int64) ([]Observed, error) {
	if err := need(actor); err != nil {
		return nil, err
	}
	a, err := ask(actor.Person.ID, key, "undo", demoID, seq, atMs)
	if err != nil {
		return nil, err
	}
	_, _, err = s.once(ctx, a, func(u Unit) (string, error) {
		d, err := s.recording(ctx, u, actor, demoID)
		if err != nil {
			return "", err
		}
		was, err := u.Observations(ctx, demoID)
		if err != nil {
			return "", err
		}
		texts, err := undoneTexts(was, seq)
		if err != nil {
			return "", err
		}
		lines, err := s.linesAfter(d, was, Observed{Key: key, AtMs: atMs}, texts)
		if err != nil {
			return "", err
		}
		return demoID, u.AddObserved(ctx, demoID, lines)
	})
	if err != nil {
		return nil, err
	}
	return s.linesOf(ctx, demoID, key)
}

func undoneTexts(was []Observed, seq int) ([]string, error) {
	if seq < 1 || seq > len(was) {
		return nil, refuse(ErrInvalid, "There is no line %d to take back.", seq)
	}
	gone := map[string]bool{}
	for _, o := range was {
		if strings.HasPrefix(o.Text, "undone ") {
			gone[o.Text] = true
		}
	}
	if strings.HasPrefix(was[seq-1].Text, "undone ") {
		return nil, refuse(ErrInvalid, "Line %d takes something back itself. Record the act again instead.", seq)
	}
	var texts []string
	for _, o := range was {
		if text := fmt.Sprintf("undone %d", o.Seq); o.Key == was[seq-1].Key && !gone[text] {
			texts = append(texts, text)
		}
	}
	if len(texts) == 0 {
		return nil, refuse(ErrConflict, "Line %d was taken back already.", seq)
	}
	return texts, nil
}

// Observations is a demonstration with every line recorded so far, for the
// recorder to go on after a reload. Its preceptor only.
func (s *Service) Observations(ctx context.Context, actor Actor, demoID string) (Demonstration, []Observed, error) {
	d, err := s.visible(ctx, s.Records, actor, demoID)
	if err != nil {
		return Demonstration{}, nil, err
	}
	if d.PreceptorID != actor.Person.ID {
		return Demonstration{}, nil, refuse(ErrForbidden, "Only the preceptor who started this demonstration can record it.")
	}
	lines, err := s.Records.Observations(ctx, demoID)
	return d, lines, err
}

// EndDemonstration stops the recording and judges it.
func (s *Service) EndDemonstration(ctx context.Context, actor Actor, key, demoID string, atMs int64, comment string) (Demonstration, error) {
	comment, err := tidy("The comment", comment, maxComment)
	if err != nil {
		return Demonstration{}, err
	}
	return s.closing(ctx, actor, key, "end demonstration", demoID, []any{atMs, comment}, func(u Unit, d *Demonstration) error {
		lines, err := u.Observations(ctx, demoID)
		if err != nil {
			return err
		}
		if len(lines) == 0 {
			return refuse(ErrInvalid, "Nothing was recorded yet. Record what you see, or abandon this demonstration.")
		}
		if _, err := s.linesAfter(*d, lines, Observed{AtMs: atMs}, nil); err != nil {
			return err
		}
		d.State, d.Comment = Ended, comment
		return s.judgeDemonstration(d, lines)
	})
}

func (s *Service) judgeDemonstration(d *Demonstration, lines []Observed) error {
	_, p, err := s.subject(d.Competency)
	if err != nil {
		return err
	}
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
	id, _, err := s.once(ctx, a, func(u Unit) (string, error) {
		d, err := s.recording(ctx, u, actor, demoID)
		if err != nil {
			return "", err
		}
		if err := finish(u, &d); err != nil {
			return "", err
		}
		d.EndedAt = max(s.Now(), d.StartedAt)
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
