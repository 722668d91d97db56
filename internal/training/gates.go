package training

import (
	"context"
	"fmt"
	"runtime"
	"strconv"

	"github.com/alexedwards/argon2id"
)

// gates keep password checks in order: those of one lane one after another, so
// that guesses sent at once count one by one, and no more hashes at once than
// there are cores, for each takes its memory (19 MiB). Strangers wait at a gate
// of their own, in a queue with an end, for one hash at a time: however many
// knock, whoever is inside waits for none of them.
type gates struct{ inside, outside *gate }

// waiting is how many strangers may stand before the gate.
const waiting = 32

func newGates() *gates {
	return &gates{inside: newGate(runtime.NumCPU(), 0), outside: newGate(1, waiting)}
}

func (g *gates) side(outside bool) *gate {
	if outside {
		return g.outside
	}
	return g.inside
}

type gate struct {
	queue   chan struct{} // nil has no end
	lanes   [64]chan struct{}
	hashing chan struct{}
}

func newGate(hashes, queue int) *gate {
	g := &gate{hashing: make(chan struct{}, hashes)}
	if queue > 0 {
		g.queue = make(chan struct{}, queue)
	}
	for i := range g.lanes {
		g.lanes[i] = make(chan struct{}, 1)
	}
	return g
}

func enter(ctx context.Context, gate chan struct{}) (leave func(), err error) {
	select {
	case gate <- struct{}{}:
		return func() { <-gate }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// enter waits for the tries of a lane before this one; a full queue refuses at once.
func (g *gate) enter(ctx context.Context, lane string) (leave func(), err error) {
	n, err := strconv.ParseUint(lane[:2], 16, 8)
	if err != nil {
		return nil, fmt.Errorf("gate of a lane: %w", err)
	}
	if g.queue == nil {
		return enter(ctx, g.lanes[int(n)%len(g.lanes)])
	}
	select {
	case g.queue <- struct{}{}:
	default:
		return nil, refuse(ErrThrottled, "Too many people are signing in at this moment. Try again in a few seconds.")
	}
	pass, err := enter(ctx, g.lanes[int(n)%len(g.lanes)])
	if err != nil {
		<-g.queue
		return nil, err
	}
	return func() { pass(); <-g.queue }, nil
}

func (g *gate) matches(ctx context.Context, password, hash string) (bool, error) {
	leave, err := enter(ctx, g.hashing)
	if err != nil {
		return false, err
	}
	defer leave()
	ok, err := argon2id.ComparePasswordAndHash(password, hash)
	if err != nil {
		return false, fmt.Errorf("compare password: %w", err)
	}
	return ok, nil
}

// hash makes a new password's stored form.
func (s *Service) hash(ctx context.Context, password string) (string, error) {
	leave, err := enter(ctx, s.gates.inside.hashing)
	if err != nil {
		return "", err
	}
	defer leave()
	text, err := argon2id.CreateHash(password, s.HashCost.params())
	if err != nil {
		return "", fmt.Errorf("hash password: %w", err)
	}
	return text, nil
}
