package training_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/training"
)

func TestABuildSurvivesAndIsJudged(t *testing.T) {
	w := staffed(t)
	d, err := w.OpenDraft(ctx, w.trainee, "ordinary-turnover", false)
	require.NoError(t, err)
	d, err = w.SaveSteps(ctx, w.trainee, d.ID, 0, []string{"rub-hands", "gloves-on"})
	require.NoError(t, err)
	require.Equal(t, 1, d.Revision)
	again, err := w.SaveSteps(ctx, w.trainee, d.ID, 0, []string{"rub-hands", "gloves-on"})
	require.NoError(t, err, "the same save sent twice")
	require.Equal(t, d, again)
	w.Close()
	w.Open()
	same, err := w.OpenDraft(ctx, w.trainee, "ordinary-turnover", false)
	require.NoError(t, err)
	require.Equal(t, d, same)

	_, err = w.SaveSteps(ctx, w.trainee, d.ID, 0, []string{"gloves-on"})
	require.ErrorIs(t, err, training.ErrConflict, "made from a stale page")
	_, err = w.SaveSteps(ctx, w.trainee, d.ID, 1, []string{"no-such-step"})
	require.ErrorIs(t, err, training.ErrInvalid)
	_, err = w.SaveSteps(ctx, w.preceptor, d.ID, 1, nil)
	require.ErrorIs(t, err, training.ErrNotFound, "somebody else's draft")
	_, err = w.FinishBuild(ctx, w.trainee, w.Key(), d.ID, 0)
	require.ErrorIs(t, err, training.ErrConflict)

	key := w.Key()
	a, err := w.FinishBuild(ctx, w.trainee, key, d.ID, 1)
	require.NoError(t, err)
	twice, err := w.FinishBuild(ctx, w.trainee, key, d.ID, 1)
	require.NoError(t, err)
	require.Equal(t, a, twice)
	require.Equal(t, assess.NotPass, a.Outcome)
	require.Contains(t, a.Log, "procedure between-patients "+w.Procedure.Hash+"\n")
	log, err := action.Parse("log", a.Log, w.Procedure.Words)
	require.NoError(t, err)
	require.Equal(t, a.Log, action.Format(log))
	require.Len(t, a.Lines, len(log.Acts))
	require.Equal(t, []string{"rub-hands", "gloves-on"}, a.Steps)
	result, err := assess.ParseResult(a.ResultJSON)
	require.NoError(t, err)
	require.Equal(t, a.Outcome, result.Marks.Result)
	_, err = w.Draft(ctx, w.trainee, d.ID)
	require.ErrorIs(t, err, training.ErrNotFound, "a finished draft is gone")
	_, err = w.FinishBuild(ctx, w.trainee, key, d.ID, 2)
	require.ErrorIs(t, err, training.ErrKeyReused)
}

func TestAnEmptyBuildIsNotJudged(t *testing.T) {
	w := staffed(t)
	d, err := w.OpenDraft(ctx, w.trainee, "ordinary-turnover", false)
	require.NoError(t, err)
	_, err = w.FinishBuild(ctx, w.trainee, w.Key(), d.ID, 0)
	require.ErrorIs(t, err, training.ErrInvalid)
	_, err = w.OpenDraft(ctx, w.trainee, "against-the-clock", false)
	require.ErrorIs(t, err, training.ErrNotFound, "a run is not built")
	require.NoError(t, w.DiscardDraft(ctx, w.trainee, w.Key(), d.ID))
	require.ErrorIs(t, w.DiscardDraft(ctx, w.trainee, w.Key(), d.ID), training.ErrNotFound)
}

// A run is judged by a clock that begins with its first act, however long it was open before;
// what was tapped is kept as it came.
func TestARunIsJudgedFromItsFirstAct(t *testing.T) {
	w := staffed(t)
	d, err := w.StartRun(ctx, w.trainee, w.Key(), "against-the-clock", 1, false)
	require.NoError(t, err)
	w.Pass(10 * time.Hour)
	open := action.Millis(10 * 60 * 60 * 1000)
	_, err = w.Tap(ctx, w.trainee, d.ID, w.Key(), "rub-hands", open)
	require.NoError(t, err, "whoever left the page open begins when she begins")
	w.Pass(5 * time.Hour)
	_, err = w.Tap(ctx, w.trainee, d.ID, w.Key(), "gloves-on", open+5*60*60*1000)
	require.ErrorContains(t, err, "has lasted more than")
	_, err = w.Tap(ctx, w.trainee, d.ID, w.Key(), "gloves-on", open+60_000)
	require.NoError(t, err)
	a, err := w.FinishRun(ctx, w.trainee, w.Key(), d.ID, open+90_000)
	require.NoError(t, err)
	require.Contains(t, a.Log, "\n0:20 rub hands 20s\n1:08 put on gloves\n")
}

func TestTimeOfARunNeitherGoesBackNorAhead(t *testing.T) {
	w := staffed(t)
	_, err := w.StartRun(ctx, w.trainee, w.Key(), "against-the-clock", 40, false)
	require.ErrorIs(t, err, training.ErrInvalid)
	key := w.Key()
	d, err := w.StartRun(ctx, w.trainee, key, "against-the-clock", 4, false)
	require.NoError(t, err)
	_, err = w.StartRun(ctx, w.trainee, w.Key(), "against-the-clock", 4, false)
	require.ErrorIs(t, err, training.ErrConflict)
	same, err := w.StartRun(ctx, w.trainee, key, "against-the-clock", 4, false)
	require.NoError(t, err)
	require.Equal(t, d, same)
	_, err = w.FinishRun(ctx, w.trainee, w.Key(), d.ID, 0)
	require.ErrorIs(t, err, training.ErrInvalid, "nothing was done")

	w.Pass(10 * time.Second) // 40 s of the scenario's clock
	tap := func(at action.Millis) error {
		_, err := w.Tap(ctx, w.trainee, d.ID, w.Key(), "check-stable", at)
		return err
	}
	require.NoError(t, tap(40_000))
	require.ErrorIs(t, tap(39_999), training.ErrInvalid)
	require.NoError(t, tap(45_000))
	require.ErrorIs(t, tap(45_001), training.ErrInvalid, "five seconds ahead is the most")
	_, err = w.Tap(ctx, w.trainee, d.ID, w.Key(), "look-away", 45_000)
	require.ErrorIs(t, err, training.ErrInvalid)
	once := w.Key()
	for range 3 {
		n, err := w.Tap(ctx, w.trainee, d.ID, once, "help-out", 45_000)
		require.NoError(t, err)
		require.Equal(t, 3, n)
	}
	_, err = w.Tap(ctx, w.trainee, d.ID, once, "check-gone", 45_000)
	require.ErrorIs(t, err, training.ErrKeyReused)
	d, err = w.Draft(ctx, w.trainee, d.ID)
	require.NoError(t, err)
	require.Len(t, d.Taps, 3)
	w.Close()
	w.Open()
	open, err := w.Unfinished(ctx, w.trainee, "against-the-clock", false)
	require.NoError(t, err)
	require.Equal(t, d, *open)
	_, err = w.FinishRun(ctx, w.trainee, w.Key(), d.ID, 50_000)
	require.ErrorIs(t, err, training.ErrInvalid)
	w.Pass(time.Minute)
	a, err := w.FinishRun(ctx, w.trainee, w.Key(), d.ID, 50_000)
	require.NoError(t, err)
	require.Equal(t, 3, strings.Count(a.Log, "patient")-strings.Count(a.Log, "between-patients"))
}
