package demo_test

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/demo"
	"stillwet/internal/store"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// fill fills a clinic over a library and gives what its year came to.
func fill(t *testing.T, lib *scenarios.Library) (people []training.Person, a training.Annual) {
	ctx := context.Background()
	records, err := store.Open(ctx, t.TempDir())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, records.Close()) })
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	now := time.Date(2026, 11, 25, 15, 0, 0, 0, time.UTC)
	n := 0
	newID := func() string { n++; return fmt.Sprintf("id%08d", n) }
	require.NoError(t, demo.Fill(ctx, demo.Config{Records: records, Library: lib, NewID: newID, Zone: zone, Today: now,
		HashCost: training.HashCost{MemoryKiB: 8, Passes: 1}}))

	s := training.New(training.Config{Records: records, Library: lib, NewID: newID, Zone: zone, Demo: true,
		Now: func() training.Instant { return training.InstantOf(now) }})
	people, err = records.People(ctx)
	require.NoError(t, err)
	a, err = s.AnnualFor(ctx, 2026)
	require.NoError(t, err)
	report, err := s.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
	require.Positive(t, report.Leaves)
	return people, a
}

// The demo's year is judged by the engine and lands every standing; its ledger
// verifies.
func TestFillMakesEveryStanding(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	people, a := fill(t, lib)
	require.Len(t, people, 14)
	require.Len(t, demo.Offers(people), 4)
	words := map[training.StandingWord]int{}
	for _, st := range a.Standings {
		words[st.Word]++
	}
	require.Len(t, a.Earlier, 2)
	require.False(t, a.Earlier[0].Here, "one from another site")
	items := map[training.ItemWord]int{}
	corrected := 0
	for _, i := range a.Items {
		if items[i.Word]++; i.Entry != nil && i.Entry.CorrectedBy != "" {
			corrected++
		}
	}
	require.Equal(t, 1, corrected)
	for _, w := range training.ItemWords {
		if w != training.ItemLapsed {
			require.Positive(t, items[w], "nobody is %q: %v", w, items)
		}
	}
	for _, w := range []training.StandingWord{training.NotStarted, training.InTraining, training.ReadyToSign, training.Current, training.DueSoon, training.Lapsed} {
		require.Positive(t, words[w], "nobody is %q: %v", w, words)
	}
	asked := map[string]int{}
	for _, d := range a.Duties {
		if !d.FromVersion() {
			asked[map[bool]string{true: "overdue", false: map[bool]string{true: "open", false: "done"}[d.Open()]}[d.Overdue(a.AsOf)]]++
		}
	}
	require.Equal(t, map[string]int{"done": 5, "overdue": 1, "open": 4}, asked)
	require.Positive(t, words[training.OnLeave])
	changed := 0
	for _, st := range a.Standings {
		if st.Word == training.DueSoon && st.Due > a.AsOf.AddDays(30) {
			changed++
			require.Equal(t, 2, st.Requirements.Version)
		}
	}
	require.Equal(t, 1, changed, "one is due only because the notice became longer")
	require.Len(t, a.Observed, 2)
	month := a.Observed[1]
	require.Less(t, month.All.N(), month.Target.Monthly, "below the target")
	require.Positive(t, month.All.Right)
	require.Positive(t, month.All.Missed)
	require.Len(t, month.Shifts, 4)
	require.Equal(t, 1, month.Beside.Waiting)
	told := 0
	for _, d := range a.Demonstrations {
		if strings.HasPrefix(d.Comment, "Left out: ") {
			require.Equal(t, 1, strings.Count(d.Comment, ", "), "two surfaces, by their titles: %s", d.Comment)
			told++
		}
	}
	require.Equal(t, 2, told)
}

// The demo knows no procedure: another library fills it as well.
func TestFillWorksWithAnotherLibrary(t *testing.T) {
	lib, err := scenarios.LoadFS(os.DirFS("../../testdata/trolley"))
	require.NoError(t, err)
	people, a := fill(t, lib)
	require.Len(t, people, 14)
	outcomes := map[string]int{}
	for _, d := range a.Demonstrations {
		outcomes[string(d.Outcome)]++
		require.Equal(t, "supply-trolley", d.Procedure)
	}
	require.Positive(t, outcomes["pass"], "faultless work comes out faultless")
	require.Positive(t, outcomes["not pass"])
	require.NotEmpty(t, a.SignOffs)
}
