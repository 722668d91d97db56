package training

import (
	"context"
	"fmt"
	"runtime"
	"strconv"
	"sync"

	"github.com/alexedwards/argon2id"
)

// gates keep password checks in order: those of one lane one after another, so
// that guesses sent at once count one by one, and no more hashes at once than
// there are cores, for each takes its memory (19 MiB). Strangers wait at a gate
// of their own, in a queue with an end, for one hash at a time: however many
// knock, whoever is inside waits for none of them. One address has a share of that
// queue, and leaves the rest to others.
type gates struct{ inside, outside *gate }

// waiting is how many strangers may stand before the gate, and waitingFrom how many
// of them from one address: a clinic's people come from one, and a hash is quick.
const (
	waiting     = 32
	waitingFrom = 8
)

func newGates() *gates {
	return &gates{inside: newGate(runtime.NumCPU(), nil), outside: newGate(1, newQueue())}
}

func (g *gates) side(outside bool) *gate {
	if outside {
		return g.outside
	}
	return g.inside
}

type gate struct {
	queue   *queue // nil has no end
	lanes   [64]chan struct{}
	hashing chan struct{}
}

func newGate(hashes int, q *queue) *gate {
	g := &gate{queue: q, hashing: make(chan struct{}, hashes)}
	for i := range g.lanes {
		g.lanes[i] = make(chan struct{}, 1)
	}
	return g
}

// queue counts who stands before a gate, by address.
type queue struct {
	mu   sync.Mutex
	all  int
	from map[string]int
}

func newQueue() *queue { return &queue{from: map[string]int{}} }

// join takes a place, unless there is none or the address has its share.
func (q *queue) join(from string) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.all >= waiting || q.from[from] >= waitingFrom {
		return false
	}
	q.all++
	q.from[from]++
	return true
}

func (q *queue) leave(from string) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.all--
	if q.from[from]--; q.from[from] == 0 {
		delete(q.from, from)
	}
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
func (g *gate) enter(ctx context.Context, lane, from string) (leave func(), err error) {
	n, err := strconv.ParseUint(lane[:2], 16, 8)
	if err != nil {
		return nil, fmt.Errorf("gate of a lane: %w", err)
	}
	if g.queue == nil {
		return enter(ctx, g.lanes[int(n)%len(g.lanes)])
	}
	if !g.queue.join(from) {
		return nil, refuse(ErrThrottled, "Too many people are signing in at this moment. Try again in a few seconds.")
	}
	pass, err := enter(ctx, g.lanes[int(n)%len(g.lanes)])
	if err != nil {
		g.queue.leave(from)
		return nil, err
	}
	return func() { pass(); g.queue.leave(from) }, nil
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
