package training_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// learner is a second new hire.
func (w *world) learner() training.Actor {
	return w.Hire(w.educator, "Nora Invented", "nora", training.Trainee)
}

// What was recorded under the wrong person stands again under the right one, who signs it; of
// the first nothing counts any more, and both say of each other.
func TestADemonstrationOfSomebodyElseIsPutRight(t *testing.T) {
	w := staffed(t)
	nora := w.learner()
	d := w.watch(w.preceptor, w.GoodWork())
	w.signBoth(w.preceptor, d, training.WatchedMet)
	w.Pass(time.Hour)
	as := training.Restated{TraineeID: nora.Person.ID, Product: d.Product, Why: "The wrong name was tapped."}
	_, err := w.Restate(ctx, w.preceptor, w.Key(), d.ID, as, training.DemoPassword)
	require.ErrorIs(t, err, training.ErrForbidden, "once it is signed, an educator decides")
	_, err = w.Restate(ctx, w.educator, w.Key(), d.ID, as, "not hers")
	require.ErrorIs(t, err, training.ErrPassword)
	now, err := w.Restate(ctx, w.educator, w.Key(), d.ID, as, training.DemoPassword)
	require.NoError(t, err)

	require.Equal(t, d.StartedAt, now.StartedAt)
	require.Equal(t, d.Log, now.Log, "what was seen is the same")
	require.Equal(t, d.Outcome, now.Outcome)
	require.Equal(t, training.Ended, now.Stage, "signed anew")
	require.Empty(t, now.Signatures)
	require.Equal(t, d.ID, now.Setting.Corrects)
	was, err := w.Demonstration(ctx, w.educator, d.ID)
	require.NoError(t, err)
	require.Equal(t, training.Withdrawn, was.Stage)
	require.Equal(t, "The wrong name was tapped.", was.Events[len(was.Events)-1].Why)
	at, err := w.RestatedAs(ctx, w.trainee, was)
	require.NoError(t, err)
	require.Equal(t, now.ID, at, "whoever it was recorded of can follow")

	require.Empty(t, w.standing(w.trainee.Person.ID).Clean)
	w.Choose(w.preceptor, now.ID, training.WatchedMet)
	_, err = w.SignAsLearner(ctx, w.preceptor, w.Key(), now.ID, training.Learner{Username: "nora", Password: training.DemoPassword})
	require.NoError(t, err)
	_, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), now.ID, training.WatchedMet, training.DemoPassword)
	require.NoError(t, err)
	require.Len(t, w.standing(nora.Person.ID).Clean, 1)
	w.verifies()
	_, err = w.Restate(ctx, w.educator, w.Key(), d.ID, as, training.DemoPassword)
	require.ErrorIs(t, err, training.ErrConflict, "once")
}

// Of another product the log says so, and the corrections of before are part of what was seen.
func TestADemonstrationWithAnotherProductIsJudgedAnew(t *testing.T) {
	w := staffed(t)
	id := w.watch(w.preceptor, w.GoodWork()).ID
	_, err := w.Correct(ctx, w.preceptor, w.Key(), id, "The top was wiped twice.", []training.Correction{{Step: "wipe-top", AtMs: 600_000}})
	require.NoError(t, err)
	was, err := w.Demonstration(ctx, w.preceptor, id)
	require.NoError(t, err)
	require.Contains(t, was.Log, "of station-wipe")
	now, err := w.Restate(ctx, w.preceptor, w.Key(), id, training.Restated{TraineeID: w.trainee.Person.ID, Product: "blood-wipe", Why: "The other tub stood there."}, training.DemoPassword)
	require.NoError(t, err)
	require.NotContains(t, now.Log, "of station-wipe")
	require.Equal(t, strings.Count(was.Log, "of station-wipe")+strings.Count(was.Log, "of blood-wipe"), strings.Count(now.Log, "of blood-wipe"))
	require.Equal(t, strings.Count(was.Log, "\nwipe "), strings.Count(now.Log, "\nwipe "))
	require.Empty(t, now.Corrections)
	w.verifies()
}

func TestWhatCannotBePutRightSo(t *testing.T) {
	w := staffed(t)
	id := w.ended()
	for name, c := range map[string]struct {
		as   training.Restated
		says string
	}{
		"as it is":    {training.Restated{TraineeID: w.trainee.Person.ID, Product: "station-wipe", Why: "Because."}, "recorded so already"},
		"no reason":   {training.Restated{TraineeID: w.other.Person.ID, Product: "station-wipe", Why: " "}, "Say how it came"},
		"no product":  {training.Restated{TraineeID: w.trainee.Person.ID, Product: "gravy", Why: "Because."}, "There is no product"},
		"the watcher": {training.Restated{TraineeID: w.preceptor.Person.ID, Product: "station-wipe", Why: "Because."}, "watched by themself"},
		"nobody":      {training.Restated{Product: "station-wipe", Why: "Because."}, "Choose whose work"},
		"a stranger":  {training.Restated{TraineeID: "none", Product: "station-wipe", Why: "Because."}, "There is no such person"},
	} {
		_, err := w.Restate(ctx, w.preceptor, w.Key(), id, c.as, training.DemoPassword)
		require.ErrorContains(t, err, c.says, name)
	}
	d, err := w.Demonstration(ctx, w.preceptor, id)
	require.NoError(t, err)
	require.Equal(t, training.Ended, d.Stage, "nothing was half done")
}
