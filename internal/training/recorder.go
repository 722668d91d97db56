package training

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Limits of a recording.
const (
	backSkewMs = 2000 // a tap this much before the last one is set to its time
	aheadMs    = int64(60 * 1000)
	maxLines   = 1500
)

// TapReader finds what a tap needs to know of those before it. Each is one query
// whose cost hardly grows with them.
type TapReader interface {
	// Recorded is how far a recording has come; zero before its first line.
	Recorded(ctx context.Context, demonstrationID string) (Recorded, error)
	// LinesUnder are the lines that came under a key.
	LinesUnder(ctx context.Context, demonstrationID, key string) ([]Observed, error)
	// LinesOfTap are the lines of the tap to which line seq belongs, and those
	// that take them back.
	LinesOfTap(ctx context.Context, demonstrationID string, seq int) ([]Observed, error)
	// BareDraft is a draft without its taps, and Tapped how far they have come.
	BareDraft(ctx context.Context, id string) (Draft, error)
	Tapped(ctx context.Context, draftID string) (Tapped, error)
}

// Recorded is how far a recording has come.
type Recorded struct {
	Lines  int
	LastMs int64
	Wipes  int // taken so far
}

// Tapped is how far the taps of a run have come.
type Tapped struct {
	Taps int
	Last action.Millis
}

// Observe stores one tap of the recorder under o.Key. With o.Step it stores every
// act of that step, each its own line at the same time; how long hands were cleaned
// is left out of them, for a tap does not tell: with o.Text as well, which is then
// the step's own act with its seconds ("rub hands 21s"), the watcher timed it. With
// o.Text alone it stores that one line ("prompted", "not seen STEP", "still wet
// SURFACE", "pause" ...). Wipes are numbered here: what takes a wipe gets the
// next number and the product on the shelf. The lines come back with their
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
	return s.record(ctx, a, actor, demoID, o, func(u Unit, d Demonstration, was Recorded) ([]string, error) {
		p, err := s.begunUnder(ctx, u, d)
		if err != nil {
			return nil, err
		}
		return observedActs(p, d, was, o)
	})
}

// record keeps the lines of a tap, as texts, after those that are there.
func (s *Service) record(ctx context.Context, a asked, actor Actor, demoID string, o Observed, texts func(Unit, Demonstration, Recorded) ([]string, error)) ([]Observed, error) {
	var lines []Observed
	_, repeated, err := s.once(ctx, a, nil, func(u Unit) (string, error) {
		d, err := s.recording(ctx, u, actor, demoID)
		if err != nil {
			return "", err
		}
		was, err := u.Recorded(ctx, demoID)
		if err != nil {
			return "", err
		}
		acts, err := texts(u, d, was)
		if err != nil {
			return "", err
		}
		if lines, err = s.linesAfter(d, was, o, acts); err != nil {
			return "", err
		}
		return demoID, u.AddObserved(ctx, demoID, lines)
	})
	switch {
	case err != nil:
		return nil, err
	case repeated:
		return s.Records.LinesUnder(ctx, demoID, o.Key)
	}
	return lines, nil
}

// observedActs are the texts of the lines that a tap stands for.
func observedActs(p *procedure.Procedure, d Demonstration, was Recorded, o Observed) ([]string, error) {
	acts, err := actsOfTap(p, o)
	if err != nil {
		return nil, err
	}
	wipes := was.Wipes
	texts := make([]string, len(acts))
	for i, a := range acts {
		a = procedure.OnShelf(a, d.Product)
		if a.Verb == action.TakeWipe {
			wipes++
			a.With = "w" + strconv.Itoa(wipes)
		}
		texts[i] = a.Text()
	}
	return texts, nil
}

func actsOfTap(p *procedure.Procedure, o Observed) ([]action.Act, error) {
	switch {
	case o.Text == "take wipe":
		return []action.Act{{Verb: action.TakeWipe, Of: procedure.Shelf}}, nil
	case o.Step == "" && o.Text == "":
		return nil, refuse(ErrInvalid, "The tap came without what was done. Load the page again.")
	}
	var said action.Act
	if o.Text != "" {
		var err error
		if said, err = action.ParseAct(o.Text, p.Words); err != nil {
			return nil, refuse(ErrInvalid, "“%s” could not be read: %v.", clip(o.Text), err)
		}
		if said.Verb == action.Undone {
			return nil, refuse(ErrInvalid, "What was tapped is taken back with Undo, not recorded as such.")
		}
	}
	if o.Step == "" {
		return []action.Act{said}, nil
	}
	i := p.StepIndex(o.Step)
	if i < 0 {
		return nil, refuse(ErrInvalid, "%q is no step of the procedure. Load the page again; what was saved is there.", clip(o.Step))
	}
	return stepTapped(&p.Steps[i], said)
}

// stepTapped is the acts of a step as a watcher can vouch for them: how long hands
// were cleaned only as it was timed.
func stepTapped(step *procedure.Step, timed action.Act) ([]action.Act, error) {
	acts := slices.Clone(step.Acts)
	fits := timed.Verb == 0
	for i := range acts {
		if verb := acts[i].Verb; verb == action.RubHands || verb == action.WashHands {
			acts[i].Millis = 0
			if verb == timed.Verb && !fits {
				acts[i].Millis, fits = timed.Millis, true
			}
		}
	}
	if !fits {
		return nil, refuse(ErrInvalid, "“%s” is no cleaning of hands in the step “%s”. Load the page again; what was saved is there.", clip(timed.Text()), step.Label)
	}
	return acts, nil
}

// linesAfter gives texts their numbers and their time after what was recorded.
func (s *Service) linesAfter(d Demonstration, was Recorded, o Observed, texts []string) ([]Observed, error) {
	at, last := o.AtMs, was.LastMs
	elapsed := s.Now().Time().Sub(d.StartedAt.Time()).Milliseconds()
	switch {
	case at < last-backSkewMs || at < 0:
		return nil, refuse(ErrInvalid, "The tap at %s came after one at %s. Load the page again; what was saved is there.", clock(at), clock(last))
	case at > elapsed+aheadMs:
		return nil, refuse(ErrInvalid, "The tap at %s is ahead of the clock, which stands at %s. Load the page again.", clock(at), clock(elapsed))
	case at > int64(longestMs):
		return nil, refuse(ErrInvalid, "This demonstration has lasted more than %s. End it.", clock(int64(longestMs)))
	case was.Lines+len(texts) > maxLines:
		return nil, refuse(ErrInvalid, "This demonstration has %d entries, which is the most. End it.", was.Lines)
	}
	now := s.Now()
	lines := make([]Observed, len(texts))
	for i, text := range texts {
		lines[i] = Observed{Key: o.Key, Seq: was.Lines + i + 1, AtMs: max(at, last), Text: text, Step: o.Step, SentAt: now}
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
	return s.record(ctx, a, actor, demoID, Observed{Key: key, AtMs: atMs}, func(u Unit, _ Demonstration, was Recorded) ([]string, error) {
		if seq < 1 || seq > was.Lines {
			return nil, refuse(ErrInvalid, "There is no entry %d to take back.", seq)
		}
		tap, err := u.LinesOfTap(ctx, demoID, seq)
		if err != nil {
			return nil, err
		}
		return undoneTexts(tap, seq)
	})
}

// undoneTexts takes back the lines of a tap that are not taken back yet.
func undoneTexts(tap []Observed, seq int) ([]string, error) {
	gone := map[string]bool{}
	var own []Observed
	for _, o := range tap {
		switch isUndone := strings.HasPrefix(o.Text, "undone "); {
		case isUndone && o.Seq == seq:
			return nil, refuse(ErrInvalid, "Entry %d takes something back itself. Tap the step again instead.", seq)
		case isUndone:
			gone[o.Text] = true
		default:
			own = append(own, o)
		}
	}
	var texts []string
	for _, o := range own {
		if text := fmt.Sprintf("undone %d", o.Seq); !gone[text] {
			texts = append(texts, text)
		}
	}
	if len(texts) == 0 {
		return nil, refuse(ErrConflict, "Entry %d was taken back already.", seq)
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
