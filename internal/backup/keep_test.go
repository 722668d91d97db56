package backup

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

func moment(t *testing.T, text string) time.Time {
	at, err := time.Parse("2006-01-02 15:04", text)
	require.NoError(t, err)
	return at
}

func TestSpare(t *testing.T) {
	now := moment(t, "2026-11-26 10:30")
	hourly := func(n int) (list []time.Time) {
		for i := range n {
			list = append(list, now.Add(-time.Duration(i)*time.Hour))
		}
		return list
	}
	for _, c := range []struct {
		name string
		made []time.Time
		kept int
	}{
		{"none", nil, 0},
		{"one", hourly(1), 1},
		{"a day", hourly(24), 24},
		{"two days: of the 25th the last stays among the hours, of the 24th by its day", hourly(48), 25},
		{"twenty days", hourly(20 * 24), 24 + 12},
		{"two years", hourly(2 * 365 * 24), 24 + 12 + 11},
		{"several in an hour", []time.Time{now, now.Add(-time.Minute), now.Add(-2 * time.Minute)}, 1},
		{"seldom", []time.Time{now, now.AddDate(-1, 0, 0), now.AddDate(-2, 0, 0), now.AddDate(-9, 0, 0)}, 4},
	} {
		before := slices.Clone(c.made)
		spare := Spare(c.made)
		require.True(t, slices.Equal(before, c.made), "%s: it changes nothing", c.name)
		require.Equal(t, len(c.made)-c.kept, len(spare), c.name)
		require.False(t, slices.Contains(spare, now), "%s: the newest stays", c.name)
	}
}

// Thinned hour after hour, what stays is what would stay if all were there.
func TestSpareHourByHour(t *testing.T) {
	var all, kept []time.Time
	for at := moment(t, "2025-01-01 00:30"); at.Before(moment(t, "2026-12-31 00:00")); at = at.Add(time.Hour) {
		all, kept = append(all, at), append(kept, at)
		spare := Spare(kept)
		kept = slices.DeleteFunc(kept, func(k time.Time) bool { return slices.Contains(spare, k) })
	}
	spare := Spare(all)
	want := slices.DeleteFunc(all, func(k time.Time) bool { return slices.Contains(spare, k) })
	require.Equal(t, want, kept)
}

func testKeeper(t *testing.T, now *time.Time) *Keeper {
	return &Keeper{
		Dir: t.TempDir(), Clinic: "abcdefghijk", Now: func() time.Time { return *now }, Failed: func(error) {},
		Make: func(_ context.Context, out string) error { return os.WriteFile(out, nil, 0o600) },
	}
}

func TestTheKeeperKeepsWhatItShould(t *testing.T) {
	now := moment(t, "2026-01-01 00:00")
	k := testKeeper(t, &now)
	others := []string{"stillwet-zzzzzzzz-20200101T000000Z.tar", "stillwet-abcdefgh-notes.tar", "letter.txt", ".stillwet-zzzzzzzz-1.tar.part"}
	for _, name := range append(slices.Clone(others), ".stillwet-abcdefgh-20260101T000000Z.tar.part") {
		require.NoError(t, os.WriteFile(filepath.Join(k.Dir, name), nil, 0o600))
	}
	require.NoError(t, k.Start())
	require.ElementsMatch(t, others, inside(t, k.Dir), "only its own leftovers go")
	require.Equal(t, State{}, k.State())
	require.Zero(t, k.wait())
	for range 100 * 24 {
		k.once(ctx)
		require.Equal(t, State{Last: training.InstantOf(now)}, k.State())
		now = now.Add(time.Hour)
	}
	require.Len(t, inside(t, k.Dir), len(others)+24+13+2)
	again := testKeeper(t, &now)
	again.Dir = k.Dir
	require.NoError(t, again.Start())
	require.Equal(t, k.State(), again.State(), "what is there is known after a start")
}

func TestTheKeeperTellsOfAFailure(t *testing.T) {
	now := moment(t, "2026-01-01 00:00")
	k := testKeeper(t, &now)
	k.once(ctx)
	good := k.State().Last
	made := k.Make
	var told []error
	k.Failed = func(err error) { told = append(told, err) }
	k.Make = func(context.Context, string) error { return errors.New("no space left") }
	now = now.Add(2 * time.Hour)
	require.Zero(t, k.wait())
	k.once(ctx)
	require.Equal(t, State{good, "no space left"}, k.State(), "the last good one is still known")
	require.Len(t, told, 1)
	require.ErrorContains(t, told[0], "tried again in an hour")
	require.Equal(t, Every, k.wait())
	k.Make = made
	k.once(ctx)
	require.Equal(t, State{Last: training.InstantOf(now)}, k.State())
	require.Equal(t, Every, k.wait())
	now = now.Add(-48 * time.Hour)
	require.Equal(t, Every, k.wait(), "a clock that was set back")

	ended, end := context.WithCancel(ctx)
	end()
	k.Make = func(ctx context.Context, _ string) error { return ctx.Err() }
	k.once(ended)
	require.Empty(t, k.State().Err, "a server that stops has not failed")
	k.Run(ended)
}
