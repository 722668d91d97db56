package training_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// What is only watched is recorded, judged and signed by whoever may sign anything,
// and nobody is asked for it: no standing, no sign-off.
func TestWhatIsOnlyWatched(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	w := openWorld(t, clinictest.Options{Library: lib}).staff()
	before, err := w.People(ctx, w.educator)
	require.NoError(t, err)
	for _, st := range before.Standings {
		require.False(t, st.Competency.OnlyWatched)
	}
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, "spill", "blood-wipe")
	require.NoError(t, err)
	require.Equal(t, "after-visible-blood", d.Procedure)
	_, err = w.Observe(ctx, w.preceptor, d.ID, training.Observed{Key: w.Key(), AtMs: 0, Step: "rub-hands"})
	require.NoError(t, err)
	d, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, 1000, "")
	require.NoError(t, err)
	w.signBoth(w.preceptor, d, training.WatchedNotMet)
	after, err := w.People(ctx, w.educator)
	require.NoError(t, err)
	require.Equal(t, len(before.Standings), len(after.Standings))
	err = w.MaySignOff(ctx, w.preceptor, w.trainee.Person.ID, "spill")
	require.ErrorIs(t, err, training.ErrConflict)
	require.ErrorContains(t, err, "nobody is signed off for it")
	_, err = w.StartDemonstration(ctx, w.educator, w.Key(), w.trainee.Person.ID, "spill", "blood-wipe")
	require.ErrorIs(t, err, training.ErrForbidden, "who may sign nothing")
}
