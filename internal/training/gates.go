package training

import (
	"context"
	"fmt"
	"runtime"
	"strconv"
)

// gates keep password checks in order: those of one name one after another, so
// that guesses sent at once count one by one, and in all no more hashes at once
// than there are cores, for each takes its memory (19 MiB).
type gates struct {
	names   [64]chan struct{}
	hashing chan struct{}
}

func newGates() *gates {
	g := &gates{hashing: make(chan struct{}, runtime.NumCPU())}
	for i := range g.names {
		g.names[i] = make(chan struct{}, 1)
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

func (g *gates) hash(ctx context.Context) (leave func(), err error) { return enter(ctx, g.hashing) }

func (g *gates) name(ctx context.Context, nameHash string) (leave func(), err error) {
	n, err := strconv.ParseUint(nameHash[:2], 16, 8)
	if err != nil {
		return nil, fmt.Errorf("gate of a name: %w", err)
	}
	return enter(ctx, g.names[int(n)%len(g.names)])
}
