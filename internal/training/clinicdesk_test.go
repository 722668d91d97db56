package training_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

func TestTheClinicsDeskTellsWhatWaitsAndWhichEntitlementsEnd(t *testing.T) {
	w := staffed(t)
	d := w.watch(w.preceptor, w.GoodWork())
	w.Pass(time.Hour)
	later := w.begun("station-wipe")
	desk := func() training.ClinicDesk {
		t.Helper()
		w.educator = w.In("edda")
		desk, err := w.ClinicDesk(ctx, w.educator)
		require.NoError(t, err)
		return desk
	}
	now := desk()
	require.Len(t, now.Unsigned, 1)
	require.Equal(t, d.ID, now.Unsigned[0].ID)
	require.Len(t, now.Open, 1)
	require.Equal(t, later.ID, now.Open[0].ID)
	require.Empty(t, now.Ending)
	w.signBoth(w.preceptor, d, training.WatchedMet)
	require.Empty(t, desk().Unsigned)

	all, err := w.Records.Entitlements(ctx, w.preceptor.Person.ID)
	require.NoError(t, err)
	require.NotEmpty(t, all)
	last := all[0].Until
	w.goTo(last.AddDays(-training.EndingNotice - 1))
	require.Empty(t, desk().Ending, "a day too early")
	w.goTo(last.AddDays(-training.EndingNotice))
	ending := desk().Ending
	require.NotEmpty(t, ending)
	require.Equal(t, last, ending[0].Until)
	n := len(ending)

	e := w.entitlement(w.preceptor, last.AddDays(2), last.AddMonths(6))
	e.Founding = "The clinic is short of staff."
	_, err = w.Entitle(ctx, w.educator, w.Key(), e, training.SecondPerson{})
	require.NoError(t, err)
	require.Len(t, desk().Ending, n, "a day lies between")
	e = w.entitlement(w.preceptor, last.AddDays(1), last.AddMonths(7))
	e.Founding = "The clinic is short of staff."
	_, err = w.Entitle(ctx, w.educator, w.Key(), e, training.SecondPerson{})
	require.NoError(t, err)
	require.Len(t, desk().Ending, n-1, "carried on")

	_, err = w.ClinicDesk(ctx, w.preceptor)
	require.ErrorIs(t, err, training.ErrForbidden)
}

// Who is on leave is counted so, however far they are.
func TestUnderALeave(t *testing.T) {
	away := training.Standing{Word: training.NotStarted, Leave: &training.Absence{From: "2026-03-01"}}
	require.True(t, away.Under(training.OnLeave))
	require.True(t, away.Under(training.NotStarted))
	here := training.Standing{Word: training.NotStarted}
	require.False(t, here.Under(training.OnLeave))
}
