package training_test

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/store"
	"stillwet/internal/training"
)

var fixture = flag.String("fixture", "", "folder to write a data folder of this version to, for testdata/upgrades")

// A clinic with every kind of record, finished and not, signed and not: what a
// later version must be able to open. With -fixture it is kept.
func TestAClinicWithEverythingVerifies(t *testing.T) {
	w, searches := newWorld(t), 0
	if *fixture != "" { // what a clinic has is the living set
		w, searches = living(t), 1
	}
	w.staff()
	w.everything()
	for range searches {
		w.search(false, all)
	}
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
	require.EqualValues(t, 23+1+1+2+1+1+searches, report.Leaves, "those of the whole chain; an attempt, a demonstration and its signatures, one that did not pass, a closed account")
	w.Close()
	if *fixture == "" {
		return
	}
	require.NoError(t, os.MkdirAll(*fixture, 0o755))
	for _, name := range []string{store.DataFile, store.KeyFile} {
		text, err := os.ReadFile(filepath.Join(w.Dir, name))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(*fixture, name), text, 0o600))
	}
	require.NoError(t, os.WriteFile(filepath.Join(*fixture, "head.txt"), []byte(report.Head.Note), 0o600))
}

// everything lets the people do every kind of thing there is.
func (w *world) everything() {
	w.signedOff()
	w.Build(w.trainee, "ordinary-turnover", func(steps []string) []string { return steps[:len(steps)-3] })
	w.Pass(30 * 24 * time.Hour)
	w.unfinished()
	lines := w.GoodWork()
	w.signBoth(w.preceptor, w.watch(w.preceptor, w.watched("prompted")), training.WatchedPractice)
	w.Pass(time.Hour)
	require.Equal(w.T, "not pass", string(w.watch(w.other, lines[:40]).Outcome))
	w.Pass(time.Hour)
	stopped := w.begun("blood-wipe")
	_, err := w.AbandonDemonstration(ctx, w.preceptor, w.Key(), stopped.ID)
	require.NoError(w.T, err)
	w.Pass(time.Hour)
	w.begun("station-wipe")
	_, _, err = w.SignIn(ctx, "tess", "not the password of anybody")
	require.ErrorIs(w.T, err, training.ErrPassword)
	w.educator = w.In("edda")
	require.NoError(w.T, w.SetDisabled(ctx, w.educator, w.Key(), w.other.Person.ID, true))
}

// unfinished leaves a run and a build where they are.
func (w *world) unfinished() {
	d, err := w.StartRun(ctx, w.trainee, w.Key(), w.Run.ID, w.Run.Pace, false)
	require.NoError(w.T, err)
	w.Pass(10 * time.Second)
	_, err = w.Tap(ctx, w.trainee, d.ID, w.Key(), "rub-hands", 9000)
	require.NoError(w.T, err)
	o, err := w.OpenDraft(ctx, w.trainee, "blood-on-the-machine", false)
	require.NoError(w.T, err)
	_, err = w.SaveSteps(ctx, w.trainee, o.ID, o.Revision, []string{"rub-hands", "gloves-on"})
	require.NoError(w.T, err)
}

// begun is a recording with one tap.
func (w *world) begun(product string) training.Demonstration {
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, w.Competency.ID, product)
	require.NoError(w.T, err)
	_, err = w.Observe(ctx, w.preceptor, d.ID, training.Observed{Key: w.Key(), AtMs: 10, Step: "rub-hands"})
	require.NoError(w.T, err)
	return d
}
