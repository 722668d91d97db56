package training_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/training"
)

func TestAnOrderThatDidNotPassIsTakenUpAgain(t *testing.T) {
	w := staffed(t)
	d, err := w.OpenDraft(ctx, w.trainee, "ordinary-turnover", false)
	require.NoError(t, err)
	_, err = w.SaveSteps(ctx, w.trainee, d.ID, 0, []string{"gloves-on", "rub-hands"})
	require.NoError(t, err)
	a, err := w.FinishBuild(ctx, w.trainee, w.Key(), d.ID, 1)
	require.NoError(t, err)

	_, _, err = w.TakeUp(ctx, w.preceptor, w.Key(), a.ID)
	require.ErrorIs(t, err, training.ErrNotFound, "somebody else's")
	key := w.Key()
	up, kept, err := w.TakeUp(ctx, w.trainee, key, a.ID)
	require.NoError(t, err)
	require.False(t, kept)
	require.True(t, up.Guided)
	require.Equal(t, []string{"gloves-on", "rub-hands"}, up.Steps)
	require.Equal(t, a.Seed, up.Seed, "it is the same story")
	hints, err := w.Hints(up)
	require.NoError(t, err)
	require.NotEmpty(t, hints)
	require.Equal(t, []int{0}, hints[0].Rows, "gloves over hands that were not cleaned")

	_, err = w.SaveSteps(ctx, w.trainee, up.ID, 0, []string{"rub-hands", "gloves-on"})
	require.NoError(t, err)
	again, kept, err := w.TakeUp(ctx, w.trainee, w.Key(), a.ID)
	require.NoError(t, err)
	require.True(t, kept, "what is open is kept")
	require.Equal(t, []string{"rub-hands", "gloves-on"}, again.Steps)
	same, kept, err := w.TakeUp(ctx, w.trainee, key, a.ID)
	require.NoError(t, err)
	require.False(t, kept)
	require.Equal(t, up.ID, same.ID)
	still, err := w.Attempt(ctx, w.trainee, a.ID)
	require.NoError(t, err)
	require.Equal(t, a, still, "the attempt stays as it was judged")
}

func TestWhatPassedOrWasARunIsNotTakenUp(t *testing.T) {
	w := staffed(t)
	_, _, err := w.TakeUp(ctx, w.trainee, w.Key(), w.Play(w.trainee).ID)
	require.ErrorIs(t, err, training.ErrInvalid)
	sc, ok := w.Library.Scenario("ordinary-turnover")
	require.True(t, ok)
	d, err := w.OpenDraft(ctx, w.trainee, sc.ID, false)
	require.NoError(t, err)
	_, err = w.SaveSteps(ctx, w.trainee, d.ID, 0, sc.Variant(d.Seed).Answer())
	require.NoError(t, err)
	a, err := w.FinishBuild(ctx, w.trainee, w.Key(), d.ID, 1)
	require.NoError(t, err)
	_, _, err = w.TakeUp(ctx, w.trainee, w.Key(), a.ID)
	require.ErrorIs(t, err, training.ErrInvalid)
}

// What passed with a breach in it can be mended as well.
func TestWhatPassedWithABreachIsTakenUp(t *testing.T) {
	w := staffed(t)
	steps := w.Steps("ordinary-turnover")
	require.Equal(t, "rub-hands", steps[0])
	a := w.build(w.trainee, "ordinary-turnover", false, steps[1:]) // the patient is touched with hands that were not cleaned
	require.Equal(t, assess.Pass, a.Outcome)
	d, kept, err := w.TakeUp(ctx, w.trainee, w.Key(), a.ID)
	require.NoError(t, err)
	require.False(t, kept)
	require.Equal(t, steps[1:], d.Steps)
}
