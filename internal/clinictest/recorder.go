package clinictest

import (
	"context"
	"fmt"
	"sync/atomic"

	"stillwet/internal/training"
)

// tablet is the recorder of a clinic: it numbers what it sends.
type tablet struct {
	device string
	made   map[string]int // by demonstration
	n      map[string]int // by key
	wall   map[string]training.Instant
}

// tablets counts them, so that two clinics over one file have each their own.
var tablets atomic.Int64

// sent is an act of the clinic's recorder; sent again it is the same.
func (c *Clinic) sent(demoID string, a training.Watched) (string, training.Watched) {
	now := c.Now()
	c.mu.Lock()
	defer c.mu.Unlock()
	t := &c.tablet
	if t.made == nil {
		*t = tablet{device: fmt.Sprintf("tablet-%06d", tablets.Add(1)), made: map[string]int{}, n: map[string]int{}, wall: map[string]training.Instant{}}
	}
	if t.n[a.Key] == 0 {
		t.made[demoID]++
		t.n[a.Key], t.wall[a.Key] = t.made[demoID], training.InstantOf(now)
	}
	a.N = t.n[a.Key]
	a.Wall = t.wall[a.Key]
	return t.device, a
}

// Observe sends one act of the clinic's recorder and gives the lines for which it stands.
func (c *Clinic) Observe(ctx context.Context, actor training.Actor, demoID string, o training.Observed) ([]training.Observed, error) {
	return c.told(ctx, actor, demoID, training.Watched{Key: o.Key, AtMs: o.AtMs, Step: o.Step, Text: o.Text})
}

// Undo takes back the act to which line seq belongs.
func (c *Clinic) Undo(ctx context.Context, actor training.Actor, demoID, key string, seq int, atMs int64) ([]training.Observed, error) {
	_, lines, err := c.Observations(ctx, actor, demoID)
	if err != nil {
		return nil, err
	}
	return c.told(ctx, actor, demoID, training.Watched{Key: key, AtMs: atMs, Undo: lines[seq-1].Key})
}

func (c *Clinic) told(ctx context.Context, actor training.Actor, demoID string, a training.Watched) (own []training.Observed, err error) {
	if err := c.Send(ctx, actor, demoID, a); err != nil {
		return nil, err
	}
	_, lines, err := c.Observations(ctx, actor, demoID)
	for _, l := range lines {
		if l.Key == a.Key {
			own = append(own, l)
		}
	}
	return own, err
}

// Send sends one act of the clinic's recorder. What is not made a part of the record is
// an error.
func (c *Clinic) Send(ctx context.Context, actor training.Actor, demoID string, a training.Watched) error {
	device, a := c.sent(demoID, a)
	kept, _, err := c.Batch(ctx, actor, demoID, device, []training.Watched{a})
	if err != nil {
		return err
	}
	switch k := kept[0]; k.As {
	case training.KeptRefused:
		return fmt.Errorf("%w: %s", training.ErrInvalid, k.Why)
	case training.KeptLate:
		return fmt.Errorf("%w: %s", training.ErrConflict, k.Why)
	}
	return nil
}

// Observations are the lines of a recording so far.
func (c *Clinic) Observations(ctx context.Context, actor training.Actor, demoID string) (training.Demonstration, []training.Observed, error) {
	r, err := c.Recorded(ctx, actor, demoID)
	return r.Demonstration, r.Lines, err
}
