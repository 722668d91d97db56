package training

import (
	"context"
	"fmt"
	"slices"
	"time"
)

// Received is what has to be known of how the acts of a demonstration came.
type Received struct {
	Clocks  []string // where clocks did not agree, in sentences
	Late    []Watched
	Refused []Watched
}

// Plain reports whether there is nothing to tell.
func (r Received) Plain() bool { return len(r.Clocks)+len(r.Late)+len(r.Refused) == 0 }

// Received tells of a demonstration to whoever may see it.
func (s *Service) Received(ctx context.Context, actor Actor, d Demonstration) (Received, error) {
	if err := need(actor); err != nil {
		return Received{}, err
	}
	if !mayRead(actor, d.TraineeID) {
		return Received{}, ErrNotFound
	}
	acts, err := s.Records.Watched(ctx, d.ID)
	if err != nil {
		return Received{}, err
	}
	r := Received{Clocks: clocksOf(d.StartedAt, acts)}
	for _, a := range acts {
		switch {
		case a.Refused != "":
			r.Refused = append(r.Refused, a)
		case a.Late:
			r.Late = append(r.Late, a)
		}
	}
	return r, nil
}

// How much clocks may differ before it is told.
const (
	offBy    = 2 * time.Minute // a device's clock and the server's
	jumpedBy = 2 * time.Second // a device's two ways to measure
)

// clocksOf tells of each device how its clock differed: from the server's, and from its own
// measure of the time since the start. Nothing was refused for it.
func clocksOf(start Instant, acts []Watched) (told []string) {
	devices := 0
	for len(acts) > 0 {
		devices++
		n := slices.IndexFunc(acts, func(a Watched) bool { return a.Device != acts[0].Device })
		if n < 0 {
			n = len(acts)
		}
		for _, what := range clockOf(start, acts[:n]) {
			told = append(told, fmt.Sprintf("Tablet %d: %s", devices, what))
		}
		acts = acts[n:]
	}
	return told
}

// clockOf tells of one device each kind of difference once, where it was first seen.
func clockOf(start Instant, acts []Watched) (told []string) {
	seen := map[string]bool{}
	note := func(kind, format string, args ...any) {
		if !seen[kind] {
			told, seen[kind] = append(told, fmt.Sprintf(format, args...)), true
		}
	}
	var last *Watched
	var before time.Duration
	for i := range acts {
		a := &acts[i]
		should := start.Time().Add(time.Duration(a.AtMs) * time.Millisecond)
		off := a.Wall.Time().Sub(should)
		at := clock(a.AtMs)
		switch {
		case a.Wall.Time().IsZero():
			note("unread", "its clock could not be read at %s.", at)
			continue
		case off.Abs() > offBy:
			note("off", "its clock was %s %s the server's.", off.Abs().Round(time.Second), aheadOr(off))
		}
		if last != nil && (off-before).Abs() > jumpedBy {
			note("jumped", "its clock was set %s %s at %s.", (off - before).Abs().Round(time.Second), onOr(off-before), at)
		}
		if last != nil && a.AtMs < last.AtMs {
			note("back", "what came at %s was measured as %s; the later time counts.", clock(last.AtMs), at)
		}
		if should.Sub(a.ReceivedAt.Time()).Milliseconds() > aheadMs {
			note("ahead", "what it measured as %s was received before that.", at)
		}
		last, before = a, off
	}
	return told
}

func aheadOr(d time.Duration) string {
	if d > 0 {
		return "ahead of"
	}
	return "behind"
}

func onOr(d time.Duration) string {
	if d > 0 {
		return "on"
	}
	return "back"
}
