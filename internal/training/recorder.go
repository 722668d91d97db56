package training

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Limits of a recording.
const (
	aheadMs     = int64(60 * 1000)
	maxLines    = 1500 // that acts stand for; what takes them back comes besides
	maxActs     = 4000 // received, those that were refused included
	mostInBatch = 200
)

// TapReader finds what a tap needs to know of those before it. Each is one query
// whose cost hardly grows with them.
type TapReader interface {
	// WatchedLike are the acts of a demonstration that have a key of these, or their device's number.
	WatchedLike(ctx context.Context, demonstrationID string, acts []Watched) ([]Watched, error)
	WatchedSoFar(ctx context.Context, demonstrationID string) (WatchedSoFar, error)
	// Holding is the device that records, zero before the first.
	Holding(ctx context.Context, demonstrationID string) (Holding, error)
	// BareDraft is a draft without its taps, and Tapped how far they have come.
	BareDraft(ctx context.Context, id string) (Draft, error)
	Tapped(ctx context.Context, draftID string) (Tapped, error)
}

// WatchedSoFar is how many acts were received, and for how many lines they stand.
type WatchedSoFar struct{ Acts, Lines int }

// Tapped is how far the taps of a run have come.
type Tapped struct {
	Taps        int
	First, Last action.Millis
}

// Watched is one act of a recorder as it was received. With Step it stands for every act
// of that step, each its own line at the same time; how long hands were cleaned is left
// out of them, for a tap does not tell: with Text as well, which is then the step's own
// act with its seconds ("rub hands 21s"), the watcher timed it; or of which of the products in
// use the wipe was that it takes from the shelf ("take wipe w of bleach"). With Text alone it is that
// one line ("prompted", "not seen STEP", "still wet SURFACE", "pause" ...). With Undo it
// takes back the act with that key.
type Watched struct {
	Key    string  // client-made
	Device string  // which numbers its acts of a demonstration from 1
	N      int     //
	AtMs   int64   // since the start, never less than that of the act before it
	Wall   Instant // by the clock of the device, as it was told

	Step, Text, Undo string

	Lines        int // that it stands for
	ReceivedAt   Instant
	ByID, ByName string
	Late         bool   // it came after the close, and is no part of the record
	Refused      string // why it is none either
}

// sameAs reports whether two sendings are of one act.
func (w *Watched) sameAs(o *Watched) bool {
	return w.Device == o.Device && w.N == o.N && w.AtMs == o.AtMs && w.Wall == o.Wall && w.Step == o.Step && w.Text == o.Text && w.Undo == o.Undo
}

// Holding is which device records, from when on.
type Holding struct {
	Seq          int
	Device       string
	At           Instant
	ByID, ByName string
}

// KeptAs is what became of an act that was sent.
type KeptAs string

// What becomes of acts.
const (
	KeptStored  KeptAs = "stored"
	KeptSame    KeptAs = "same" // it was there already
	KeptLate    KeptAs = "late" // stored, and no part of the record
	KeptRefused KeptAs = "refused"
)

// Kept is the answer to one act.
type Kept struct {
	Key string
	As  KeptAs
	Why string // in words, of what is refused or late
}

const tooLate = "The demonstration was closed before this came. It is kept beside the record and is no part of it."

// Batch stores acts of one device, in any order, each once by its key, and says what
// became of each and which device records. What a device sends that does not record any
// more counts all the same.
func (s *Service) Batch(ctx context.Context, actor Actor, demoID, device string, acts []Watched) (kept []Kept, holds Holding, err error) {
	switch {
	case len(acts) == 0 || len(acts) > mostInBatch:
		return nil, holds, refuse(ErrInvalid, "%d acts came at once; 1 to %d can.", len(acts), mostInBatch)
	case !keyPattern.MatchString(device):
		return nil, holds, refuse(ErrInvalid, "The acts came without the name of their device. Load the page again.")
	}
	acts = slices.Clone(acts)
	for i := range acts {
		acts[i] = Watched{Key: acts[i].Key, Device: device, N: acts[i].N, AtMs: acts[i].AtMs, Wall: acts[i].Wall,
			Step: acts[i].Step, Text: acts[i].Text, Undo: acts[i].Undo}
	}
	err = s.Records.Write(ctx, func(u Unit) error {
		d, err := s.ownRecording(ctx, u, actor, demoID)
		if err != nil {
			return err
		}
		if kept, err = s.receive(ctx, u, actor, d, acts); err != nil {
			return err
		}
		holds, err = s.holds(ctx, u, actor, d, device)
		return err
	})
	return kept, holds, err
}

// receive stores what is new of a batch.
func (s *Service) receive(ctx context.Context, u Unit, actor Actor, d Demonstration, acts []Watched) ([]Kept, error) {
	p, err := s.begunUnder(ctx, u, d)
	if err != nil {
		return nil, err
	}
	there, err := u.WatchedLike(ctx, d.ID, acts)
	if err != nil {
		return nil, err
	}
	sofar, err := u.WatchedSoFar(ctx, d.ID)
	if err != nil {
		return nil, err
	}
	r := receiving{p: p, sofar: sofar, mark: Watched{ReceivedAt: max(s.Now(), d.StartedAt), ByID: actor.Person.ID, ByName: actor.Person.Name, Late: d.State != Recording}}
	r.know(there)
	kept := make([]Kept, len(acts))
	for i, a := range acts {
		kept[i] = r.take(a)
	}
	return kept, u.AddWatched(ctx, d.ID, r.fresh)
}

// receiving is a batch as it is gone through.
type receiving struct {
	p     *procedure.Procedure
	sofar WatchedSoFar
	mark  Watched // what every act of it has in common
	byKey map[string]Watched
	byN   map[int]string // keys by the device's number
	fresh []Watched
}

func (r *receiving) know(acts []Watched) {
	r.byKey, r.byN = map[string]Watched{}, map[int]string{}
	for _, a := range acts {
		r.byKey[a.Key] = a
	}
	for _, a := range acts {
		r.byN[a.N] = a.Key
	}
}

func (r *receiving) take(a Watched) Kept {
	if was, ok := r.byKey[a.Key]; ok {
		if !was.sameAs(&a) {
			return Kept{a.Key, KeptRefused, "Another act came under the same key before. That one is kept."}
		}
		return was.answer(KeptSame)
	}
	if why := r.unfit(&a); why != "" {
		return Kept{a.Key, KeptRefused, why}
	}
	a.ReceivedAt, a.ByID, a.ByName, a.Late = r.mark.ReceivedAt, r.mark.ByID, r.mark.ByName, r.mark.Late
	a.Lines, a.Refused = r.weigh(&a)
	if a.Refused == "" {
		r.sofar.Lines += a.Lines
	}
	r.sofar.Acts++
	r.byKey[a.Key], r.byN[a.N] = a, a.Key
	r.fresh = append(r.fresh, a)
	return a.answer(KeptStored)
}

func (w *Watched) answer(as KeptAs) Kept {
	switch {
	case w.Refused != "":
		return Kept{w.Key, KeptRefused, w.Refused}
	case w.Late:
		return Kept{w.Key, KeptLate, tooLate}
	}
	return Kept{Key: w.Key, As: as}
}

// unfit is why an act cannot be stored at all, not even as refused.
func (r *receiving) unfit(a *Watched) string {
	switch {
	case !keyPattern.MatchString(a.Key):
		return "It came without its key."
	case a.N < 1 || a.N > 1_000_000:
		return "It came without its number."
	case len(a.Step) > 200 || len(a.Text) > 400 || len(a.Undo) > 100 || len(a.Wall) > 40:
		return "It is longer than any act."
	case r.byN[a.N] != "":
		return fmt.Sprintf("Another act of this device has the number %d. That one is kept.", a.N)
	case r.sofar.Acts >= maxActs:
		return fmt.Sprintf("This demonstration has %d entries, which is the most. End it.", r.sofar.Acts)
	}
	return ""
}

// weigh is for how many lines an act stands, or why it cannot be a part of the record.
// Times are never a reason, but for one that is far beyond any demonstration.
func (r *receiving) weigh(a *Watched) (lines int, refused string) {
	switch {
	case a.AtMs < 0:
		return 0, "It is of before the start."
	case a.AtMs > int64(longestMs):
		return 0, fmt.Sprintf("This demonstration has lasted more than %s. End it.", clock(int64(longestMs)))
	case (a.Undo == "") == (a.Step == "" && a.Text == ""):
		return 0, "It says neither what was done nor what is taken back."
	case a.Undo != "":
		return 0, ""
	}
	acts, err := actsOfTap(r.p, a.Step, a.Text)
	var why *Refusal
	switch {
	case errors.As(err, &why):
		return 0, why.Sentence
	case err != nil:
		return 0, "It could not be read."
	case r.sofar.Lines+len(acts) > maxLines:
		return 0, fmt.Sprintf("This demonstration has %d entries, which is the most. End it.", r.sofar.Lines)
	}
	return len(acts), ""
}

// holds is which device records; the first that sends does.
func (s *Service) holds(ctx context.Context, u Unit, actor Actor, d Demonstration, device string) (Holding, error) {
	h, err := u.Holding(ctx, d.ID)
	if err != nil || h.Seq > 0 || d.State != Recording {
		return h, err
	}
	return s.hold(ctx, u, actor, d, h, device)
}

func (s *Service) hold(ctx context.Context, u Unit, actor Actor, d Demonstration, was Holding, device string) (Holding, error) {
	h := Holding{Seq: was.Seq + 1, Device: device, At: max(s.Now(), d.StartedAt), ByID: actor.Person.ID, ByName: actor.Person.Name}
	return h, u.AddHolding(ctx, d.ID, h)
}

// TakeOver lets a device record in place of the one that did. What that one has not sent
// yet counts when it comes.
func (s *Service) TakeOver(ctx context.Context, actor Actor, key, demoID, device string) (Holding, error) {
	if err := need(actor); err != nil {
		return Holding{}, err
	}
	if !keyPattern.MatchString(device) {
		return Holding{}, refuse(ErrInvalid, "It was not said which device takes over. Load the page again.")
	}
	a, err := ask(actor.Person.ID, key, "take over a recording", demoID, device)
	if err != nil {
		return Holding{}, err
	}
	if _, _, err = s.once(ctx, a, nil, func(u Unit) (string, error) {
		d, err := s.recording(ctx, u, actor, demoID)
		if err != nil {
			return "", err
		}
		h, err := u.Holding(ctx, d.ID)
		if err != nil || h.Device == device {
			return d.ID, err
		}
		_, err = s.hold(ctx, u, actor, d, h, device)
		return d.ID, err
	}); err != nil {
		return Holding{}, err
	}
	return s.Records.Holding(ctx, demoID)
}

// actsOfTap are the acts that a step or a text stands for.
func actsOfTap(p *procedure.Procedure, step, text string) ([]action.Act, error) {
	if step == "" && text == "take wipe" {
		return []action.Act{{Verb: action.TakeWipe, Of: procedure.Shelf}}, nil
	}
	var said action.Act
	if text != "" {
		var err error
		if said, err = action.ParseAct(text, p.Words); err != nil {
			return nil, refuse(ErrInvalid, "“%s” could not be read: %v.", clip(text), err)
		}
		if said.Verb == action.Undone {
			return nil, refuse(ErrInvalid, "What was tapped is taken back with Undo, not recorded as such.")
		}
	}
	if step == "" {
		return []action.Act{said}, nil
	}
	i := p.StepIndex(step)
	if i < 0 {
		return nil, refuse(ErrInvalid, "%q is no step of the procedure. Load the page again; what was saved is there.", clip(step))
	}
	return stepTapped(&p.Steps[i], said)
}

// stepTapped is the acts of a step as a watcher can vouch for them: how long hands
// were cleaned only as it was timed, and of which product a wipe from the shelf was only as
// it was said.
func stepTapped(step *procedure.Step, said action.Act) ([]action.Act, error) {
	acts := slices.Clone(step.Acts)
	fits := said.Verb == 0
	for i := range acts {
		switch verb := acts[i].Verb; {
		case verb == action.RubHands || verb == action.WashHands:
			acts[i].Millis = 0
			if verb == said.Verb && !fits {
				acts[i].Millis, fits = said.Millis, true
			}
		case verb == action.TakeWipe && acts[i].Of == procedure.Shelf && verb == said.Verb:
			acts[i].Of, fits = said.Of, true
		}
	}
	if !fits {
		return nil, refuse(ErrInvalid, "“%s” is neither a cleaning of hands nor a wipe from the shelf in the step “%s”. Load the page again; what was saved is there.", clip(said.Text()), step.Label)
	}
	return acts, nil
}

func clock(ms int64) string {
	return (time.Duration(ms) * time.Millisecond).Round(time.Second).String()
}

// Recorded is a demonstration with all that was recorded of it so far.
type Recorded struct {
	Demonstration
	Holding Holding
	Acts    []Watched  // as they were received
	Before  []Observed // lines that an earlier program wrote at once
	Lines   []Observed // of the log
}

// Recorded is for the recorder to go on, also after a reload. Its preceptor only.
func (s *Service) Recorded(ctx context.Context, actor Actor, demoID string) (r Recorded, err error) {
	err = s.Records.Snapshot(ctx, func(u Reader) error {
		if r.Demonstration, err = s.ownRecording(ctx, u, actor, demoID); err != nil {
			return err
		}
		if r.Holding, err = u.Holding(ctx, demoID); err != nil {
			return err
		}
		if r.Acts, err = u.Watched(ctx, demoID); err != nil {
			return err
		}
		if r.Lines, err = u.Observations(ctx, demoID); err != nil || r.State != Recording {
			return err
		}
		r.Before = r.Lines
		p, err := s.begunUnder(ctx, u, r.Demonstration)
		if err == nil {
			r.Lines, err = derive(p, r.Product, r.Before, r.Acts)
		}
		return err
	})
	return r, err
}
