package training

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/ledger"
	"stillwet/internal/procedure"
)

// mostCorrections is how many changes a demonstration may have after its close. More is a
// demonstration that was not watched.
const mostCorrections = 40

// Correction is a change of the log after its close: it strikes a recorded tap, or puts an
// act. What was recorded stays as it was.
type Correction struct {
	Event, N int
	Struck   int    // number of a recorded line, 0 when it puts something
	AtMs     int64  // where it is put
	Step     string // with all its acts, or
	Text     string // one line
}

// Correct changes the log of a closed demonstration for a reason, and has it judged anew.
// Its preceptor only, before anybody has signed; the outcome is chosen once more.
func (s *Service) Correct(ctx context.Context, actor Actor, key, demoID, why string, changes []Correction) (Demonstration, error) {
	why, err := s.reason(why, "Say why the log is corrected: it is kept.")
	if err != nil {
		return Demonstration{}, err
	}
	return s.decide(ctx, actor, key, demoID, decision{act: "correct the log", body: []any{why, changes}, do: func(u Unit, d Demonstration) error {
		if err := d.mayCorrect(actor); err != nil {
			return err
		}
		if n := len(changes); n == 0 || n+len(d.Corrections) > mostCorrections {
			return refuse(ErrInvalid, "A log can be corrected in 1 to %d places. Where more is wrong, withdraw the demonstration and watch another.", mostCorrections)
		}
		p, err := s.begunUnder(ctx, u, d)
		if err != nil {
			return err
		}
		recorded, err := u.Observations(ctx, d.ID)
		if err != nil {
			return err
		}
		lines, err := corrected(p, d.Product, recorded, slices.Concat(d.Corrections, changes))
		if err != nil {
			return err
		}
		if err := judgeDemonstration(p, &d, lines); err != nil {
			return err
		}
		return s.comeTo(ctx, u, d, DemonstrationEvent{State: Ended, Why: why}, actor.Person, changes...)
	}})
}

// mayCorrect says who may correct the log of a demonstration, and until when.
func (d *Demonstration) mayCorrect(actor Actor) error {
	if err := d.own(actor); err != nil {
		return err
	}
	if len(d.Signatures) > 0 {
		return refuse(ErrConflict, "It is signed as it stands, so its log is not corrected any more. An educator can withdraw the demonstration, with a reason.")
	}
	return d.may(Ended)
}

// MayCorrect reports whether the actor may correct a demonstration's log now.
func (d *Demonstration) MayCorrect(actor Actor) bool { return d.mayCorrect(actor) == nil }

// Corrected is the log of a demonstration with its corrections, as lines: what was struck
// stands with a line that takes it back, what was put stands at its time.
func (s *Service) Corrected(ctx context.Context, actor Actor, d Demonstration) ([]CorrectedLine, error) {
	if err := need(actor); err != nil {
		return nil, err
	}
	if d.PreceptorID != actor.Person.ID && !mayRead(actor, d.TraineeID) {
		return nil, refuse(ErrNotFound, "There is no such demonstration.")
	}
	p, err := s.begunUnder(ctx, s.Records, d)
	if err != nil {
		return nil, err
	}
	recorded, err := s.Records.Observations(ctx, d.ID)
	if err != nil {
		return nil, err
	}
	return placed(p, d.Product, recorded, d.Corrections)
}

// CorrectedLine is a line of a corrected log.
type CorrectedLine struct {
	Observed
	By int // the event that put it there or took it back, 0 for none

	id, takes int // of itself, and of the line that it takes back
}

func corrected(p *procedure.Procedure, product string, recorded []Observed, all []Correction) ([]Observed, error) {
	placed, err := placed(p, product, recorded, all)
	lines := make([]Observed, len(placed))
	for i, l := range placed {
		lines[i] = l.Observed
	}
	return lines, err
}

// placed puts corrections into recorded lines, event by event: what is struck is taken back
// at once behind its tap, what is put stands behind all that was up to its time.
func placed(p *procedure.Procedure, product string, recorded []Observed, all []Correction) ([]CorrectedLine, error) {
	f := correcting{p: p, product: product}
	for _, o := range recorded {
		l := CorrectedLine{Observed: o, id: o.Seq}
		if of, ok := strings.CutPrefix(o.Text, "undone "); ok {
			l.takes, _ = strconv.Atoi(of) // nothing else can be recorded there
		}
		f.lines = append(f.lines, l)
	}
	for i, c := range all {
		if i == 0 || c.Event != all[i-1].Event {
			f.shown = idsOf(f.lines)
		}
		do := f.put
		if c.Struck > 0 {
			do = f.strike
		}
		if err := do(c); err != nil {
			return nil, err
		}
	}
	return f.numbered(), nil
}

func idsOf(lines []CorrectedLine) []int {
	ids := make([]int, len(lines))
	for i, l := range lines {
		ids[i] = l.id
	}
	return ids
}

// correcting is a log as it is corrected.
type correcting struct {
	p       *procedure.Procedure
	product string
	lines   []CorrectedLine
	shown   []int // ids of the lines as they stood when an event struck and put
}

// strike takes back every line of the tap that one is of.
func (f *correcting) strike(c Correction) error {
	if c.Struck > len(f.shown) {
		return refuse(ErrInvalid, "There is no line %d in the log. Load the page again.", c.Struck)
	}
	of := f.lines[slices.IndexFunc(f.lines, func(l CorrectedLine) bool { return l.id == f.shown[c.Struck-1] })]
	last := 0
	var back []CorrectedLine
	for i, l := range f.lines {
		if l.Key != of.Key || l.takes > 0 {
			continue
		}
		if slices.ContainsFunc(f.lines, func(x CorrectedLine) bool { return x.takes == l.id }) {
			return refuse(ErrConflict, "What stands in line %d was taken back before.", c.Struck)
		}
		last, f.lines[i].By = i, c.Event
		back = append(back, CorrectedLine{Observed: Observed{Key: fmt.Sprintf("struck %d.%d", c.Event, c.N), AtMs: l.AtMs}, By: c.Event, takes: l.id})
	}
	if len(back) == 0 {
		return refuse(ErrInvalid, "Line %d takes something back. Put what was done instead.", c.Struck)
	}
	f.insert(last+1, back)
	return nil
}

// put adds the acts of a step or a text.
func (f *correcting) put(c Correction) error {
	acts, err := actsOfTap(f.p, c.Step, c.Text)
	if err != nil {
		return err
	}
	if end := f.lines[len(f.lines)-1].AtMs; c.AtMs < 0 || c.AtMs > end {
		return refuse(ErrInvalid, "The log lasts until %s. What is added has to lie in it.", clock(end))
	}
	at := slices.IndexFunc(f.lines, func(l CorrectedLine) bool { return l.AtMs > c.AtMs })
	if at < 0 {
		at = len(f.lines)
	}
	var more []CorrectedLine
	for _, a := range acts {
		a = procedure.OnShelf(a, f.product)
		if a.Verb == action.TakeWipe {
			a.With = "w" + strconv.Itoa(f.wipes()+1)
		}
		more = append(more, CorrectedLine{Observed: Observed{Key: fmt.Sprintf("put %d.%d", c.Event, c.N), AtMs: c.AtMs, Text: a.Text(), Step: c.Step}, By: c.Event})
	}
	f.insert(at, more)
	return nil
}

// wipes is how many were taken.
func (f *correcting) wipes() (n int) {
	for _, l := range f.lines {
		if strings.HasPrefix(l.Text, "take wipe w") {
			n++
		}
	}
	return n
}

func (f *correcting) insert(at int, more []CorrectedLine) {
	for i := range more {
		more[i].id = len(f.lines) + i + 1
	}
	f.lines = slices.Insert(f.lines, at, more...)
}

// numbered gives lines their places, and what takes others back the places of those.
func (f *correcting) numbered() []CorrectedLine {
	place := map[int]int{}
	for i, l := range f.lines {
		place[l.id] = i + 1
	}
	for i := range f.lines {
		l := &f.lines[i]
		if l.Seq = i + 1; l.takes > 0 {
			l.Text = "undone " + strconv.Itoa(place[l.takes])
		}
	}
	return f.lines
}

// correctionFields is what is signed of corrections.
func correctionFields(all []Correction) []ledger.Fields {
	of := make([]ledger.Fields, len(all))
	for i, c := range all {
		of[i] = ledger.Fields{"event": c.Event, "n": c.N, "struck": c.Struck, "at_ms": int(c.AtMs), "step": c.Step, "text": c.Text}
	}
	return of
}
