package demo_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/demo"
	"stillwet/internal/store"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// The demo's year is judged by the engine and lands every standing; its ledger
// verifies.
func TestFillMakesEveryStanding(t *testing.T) {
	ctx := context.Background()
	records, err := store.Open(ctx, t.TempDir())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, records.Close()) })
	lib, err := scenarios.Load()
	require.NoError(t, err)
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	now := time.Date(2026, 11, 25, 15, 0, 0, 0, time.UTC)
	n := 0
	newID := func() string { n++; return fmt.Sprintf("id%08d", n) }
	require.NoError(t, demo.Fill(ctx, demo.Config{Records: records, Library: lib, NewID: newID, Zone: zone, Today: now}))

	s := training.New(training.Config{Records: records, Library: lib, NewID: newID, Zone: zone, Demo: true,
		Now: func() training.Instant { return training.InstantOf(now) }})
	people, err := records.People(ctx)
	require.NoError(t, err)
	require.Len(t, people, 12)
	offers := demo.Offers(people)
	require.Len(t, offers, 3)
	a, err := s.AnnualFor(ctx, 2026)
	require.NoError(t, err)
	words := map[training.StandingWord]int{}
	for _, st := range a.Standings {
		words[st.Word]++
	}
	for _, w := range []training.StandingWord{training.NotStarted, training.InTraining, training.ReadyToSign, training.Current, training.DueSoon, training.Lapsed} {
		require.Positive(t, words[w], "nobody is %q: %v", w, words)
	}
	report, err := s.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
	require.Positive(t, report.Leaves)
}
