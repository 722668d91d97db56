package training_test

import (
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// leaves counts those of signatures and sign-offs.
func (w *world) leaves() (n int64) {
	for l, err := range w.Store.LedgerLeaves(ctx) {
		require.NoError(w.T, err)
		if l.Kind == training.SignatureLeaf || l.Kind == training.SignOffLeaf {
			n++
		}
	}
	return n
}

func TestTheLearnerSignsFirstAndThemself(t *testing.T) {
	w := staffed(t)
	d := w.watch(w.preceptor, w.GoodWork())
	pw := training.DemoPassword
	w.Choose(w.preceptor, d.ID, training.WatchedMet)
	preceptor := func(m training.Meaning, password string) error {
		_, err := w.SignAsPreceptor(ctx, w.preceptor, w.Key(), d.ID, m, password)
		return err
	}
	learner := func(a training.Actor, username, password string) error {
		_, err := w.SignAsLearner(ctx, a, w.Key(), d.ID, training.Learner{Username: username, Password: password})
		return err
	}
	require.ErrorIs(t, preceptor(training.WatchedMet, pw), training.ErrConflict, "the learner first")
	require.ErrorIs(t, learner(w.preceptor, "pia", pw), training.ErrInvalid, "two signers the same")
	require.ErrorIs(t, learner(w.preceptor, "otto", pw), training.ErrInvalid, "somebody else")
	require.ErrorIs(t, learner(w.preceptor, "tess", "not her password"), training.ErrPassword)
	require.ErrorIs(t, learner(w.other, "tess", pw), training.ErrForbidden, "on a stranger's device")
	require.Zero(t, w.leaves(), "nothing of all that was kept")
	require.NoError(t, learner(w.preceptor, "tess", pw))
	require.ErrorIs(t, learner(w.preceptor, "tess", pw), training.ErrConflict)
	require.ErrorIs(t, preceptor(training.WatchedMet, "not her password"), training.ErrPassword)
	require.ErrorIs(t, preceptor(training.LearnerDid, pw), training.ErrInvalid)
	require.ErrorIs(t, preceptor(training.SignedOff, pw), training.ErrInvalid)
	_, err := w.SignAsPreceptor(ctx, w.other, w.Key(), d.ID, training.WatchedMet, pw)
	require.ErrorIs(t, err, training.ErrForbidden, "who did not watch")
	require.NoError(t, preceptor(training.WatchedMet, pw))
	require.ErrorIs(t, preceptor(training.WatchedNotMet, pw), training.ErrConflict)
	require.EqualValues(t, 2, w.leaves())
	got, err := w.Demonstration(ctx, w.trainee, d.ID)
	require.NoError(t, err)
	require.True(t, got.Met())
	require.Equal(t, "Tess Invented", got.Signatures[0].SignerName)
	require.Equal(t, training.WatchedMet, got.Signatures[1].Meaning)
}

func TestWhatCannotBeSignedAsMet(t *testing.T) {
	w := staffed(t)
	lines := w.GoodWork()
	prompted := w.watched("prompted")
	careless := lines[:len(lines)-6]
	takenBack := w.watched("prompted", "undone 1")
	for name, c := range map[string]struct {
		lines []clinictest.Seen
		ok    bool
	}{"prompted": {prompted, false}, "not passing": {careless, false}, "a prompt taken back": {takenBack, true}} {
		d := w.watchUndoing(c.lines)
		d, err := w.Demonstration(ctx, w.preceptor, d.ID)
		require.NoError(t, err)
		choices, err := w.Choices(ctx, w.preceptor, d)
		require.NoError(t, err)
		require.Equal(t, c.ok, choices[0].WhyNot == "", name)
		require.Empty(t, choices[1].WhyNot+choices[2].WhyNot)
		require.NotEmpty(t, choices[3].WhyNot, "nothing was left open")
		_, err = w.Service.Choose(ctx, w.preceptor, w.Key(), d.ID, training.WatchedMet, "")
		if !c.ok {
			require.ErrorIs(t, err, training.ErrConflict, name)
			w.Choose(w.preceptor, d.ID, training.WatchedPractice)
		}
		_, err = w.SignAsLearner(ctx, w.preceptor, w.Key(), d.ID, training.Learner{Username: "tess", Password: training.DemoPassword})
		require.NoError(t, err)
		before := w.leaves()
		_, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), d.ID, training.WatchedMet, training.DemoPassword)
		if c.ok {
			require.NoError(t, err, name)
			continue
		}
		require.ErrorIs(t, err, training.ErrConflict, name)
		require.Equal(t, before, w.leaves())
		_, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), d.ID, training.WatchedPractice, training.DemoPassword)
		require.NoError(t, err)
	}
}

// watchUndoing records lines, taking back what an "undone" line says.
func (w *world) watchUndoing(lines []clinictest.Seen) training.Demonstration {
	if len(lines) < 2 || lines[1].Text != "undone 1" {
		return w.watch(w.preceptor, lines)
	}
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(w.T, err)
	_, err = w.Observe(ctx, w.preceptor, d.ID, training.Observed{Key: w.Key(), Text: lines[0].Text})
	require.NoError(w.T, err)
	_, err = w.Undo(ctx, w.preceptor, d.ID, w.Key(), 1, 0)
	require.NoError(w.T, err)
	w.Pass(20 * time.Minute)
	for _, o := range lines[2:] {
		_, err := w.Observe(ctx, w.preceptor, d.ID, training.Observed{Key: w.Key(), AtMs: int64(o.At), Text: o.Text})
		require.NoError(w.T, err)
	}
	d, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, int64(lines[len(lines)-1].At), "")
	require.NoError(w.T, err)
	return d
}

func TestEntitlementCountsOnTheDayOfSigning(t *testing.T) {
	w := staffed(t)
	w.Set(time.Date(2027, 12, 31, 20, 0, 0, 0, time.UTC))
	d := w.watch(w.preceptor, w.GoodWork())
	w.Choose(w.preceptor, d.ID, training.WatchedMet)
	_, err := w.SignAsLearner(ctx, w.preceptor, w.Key(), d.ID, training.Learner{Username: "tess", Password: training.DemoPassword})
	require.NoError(t, err)
	w.Pass(24 * time.Hour)
	_, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), d.ID, training.WatchedMet, training.DemoPassword)
	require.ErrorIs(t, err, training.ErrForbidden)
	w.Choose(w.preceptor, d.ID, training.WatchedNotMet) // what was chosen cannot be signed any more
	_, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), d.ID, training.WatchedNotMet, training.DemoPassword)
	require.NoError(t, err, "that needs no entitlement")
}

func TestDoubleSubmitIsOneSignature(t *testing.T) {
	w := staffed(t)
	d := w.watch(w.preceptor, w.GoodWork())
	w.Choose(w.preceptor, d.ID, training.WatchedMet)
	for _, send := range []func(key string) (training.Demonstration, error){
		func(key string) (training.Demonstration, error) {
			return w.SignAsLearner(ctx, w.preceptor, key, d.ID, training.Learner{Username: "tess", Password: training.DemoPassword})
		},
		func(key string) (training.Demonstration, error) {
			return w.SignAsPreceptor(ctx, w.preceptor, key, d.ID, training.WatchedMet, training.DemoPassword)
		},
	} {
		before, key := w.leaves(), w.Key()
		var all sync.WaitGroup
		answers := make([]training.Demonstration, 20)
		for i := range answers {
			all.Go(func() {
				var err error
				answers[i], err = send(key)
				assert.NoError(t, err)
			})
		}
		all.Wait()
		require.Equal(t, before+1, w.leaves())
		for _, a := range answers {
			require.Equal(t, answers[0], a)
		}
	}
	got, err := w.Demonstration(ctx, w.preceptor, d.ID)
	require.NoError(t, err)
	require.Len(t, got.Signatures, 2)
}

func TestSignOffNeedsItsEvidence(t *testing.T) {
	w := staffed(t)
	id, pw := w.trainee.Person.ID, training.DemoPassword
	off := func(a training.Actor, person, password string) error {
		_, err := w.SignOff(ctx, a, w.Key(), person, turnover, password)
		return err
	}
	require.ErrorIs(t, off(w.preceptor, id, pw), training.ErrConflict)
	w.Modules(w.trainee)
	require.ErrorIs(t, off(w.preceptor, id, pw), training.ErrConflict)
	w.signBoth(w.preceptor, w.watch(w.preceptor, w.GoodWork()), training.WatchedMet)
	w.signBoth(w.preceptor, w.watch(w.preceptor, w.GoodWork()), training.WatchedMet)
	require.ErrorIs(t, off(w.preceptor, id, pw), training.ErrConflict, "both on one day")
	w.Pass(24 * time.Hour)
	w.signBoth(w.preceptor, w.watch(w.preceptor, w.GoodWork()), training.WatchedMet)
	require.ErrorIs(t, off(w.preceptor, id, "not her password"), training.ErrPassword)
	require.ErrorIs(t, off(w.educator, id, pw), training.ErrForbidden, "not entitled")
	require.ErrorIs(t, off(w.trainee, id, pw), training.ErrForbidden)
	require.ErrorIs(t, off(w.preceptor, w.preceptor.Person.ID, pw), training.ErrForbidden, "oneself")
	require.NoError(t, w.MaySignOff(ctx, w.preceptor, id, turnover))
	before, key := w.leaves(), w.Key()
	var all sync.WaitGroup
	for range 20 {
		all.Go(func() {
			_, err := w.SignOff(ctx, w.preceptor, key, id, turnover, pw)
			assert.NoError(t, err)
		})
	}
	all.Wait()
	require.Equal(t, before+1, w.leaves())
	require.ErrorIs(t, off(w.preceptor, id, pw), training.ErrConflict, "the evidence is used")
}

func TestAFirstPasswordSignsNothing(t *testing.T) {
	w := staffed(t)
	d := w.watch(w.preceptor, w.GoodWork())
	w.Choose(w.preceptor, d.ID, training.WatchedMet)
	first, err := w.NewFirstPassword(ctx, w.educator, w.Key(), w.trainee.Person.ID)
	require.NoError(t, err)
	_, err = w.SignAsLearner(ctx, w.preceptor, w.Key(), d.ID, training.Learner{Username: "tess", Password: first})
	require.ErrorIs(t, err, training.ErrForbidden, "the educator knows it too")
	_, err = w.SignAsLearner(ctx, w.preceptor, w.Key(), d.ID, training.Learner{Username: "tess", Password: training.DemoPassword})
	require.ErrorIs(t, err, training.ErrPassword, "the old one is gone")
	require.Zero(t, w.leaves())
}
