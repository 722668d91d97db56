package training_test

import (
	"bytes"
	"maps"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// stricterSet are files in which gloves over hands that are not clean fail the whole.
func stricterSet(t *testing.T, files map[string][]byte) map[string][]byte {
	const mark, strict = "rule: hands-before-gloves, worth: 3, critical: false", "rule: hands-before-gloves, worth: 3, critical: true"
	files, name := maps.Clone(files), "between-patients.procedure.yaml"
	require.Contains(t, string(files[name]), mark)
	files[name] = bytes.Replace(files[name], []byte(mark), []byte(strict), 1)
	return files
}

func TestTheEffectOfASetIsToldBeforeItIsApproved(t *testing.T) {
	w := withSets(t)
	w.Build(w.trainee, "ordinary-turnover", nil)
	forgot := w.Build(w.trainee, "ordinary-turnover", func(steps []string) []string {
		return slices.Delete(steps, 4, 5) // the rub between the patient and the gloves
	})
	d := w.watch(w.preceptor, w.GoodWork())
	w.signBoth(w.preceptor, d, training.WatchedMet)

	same, err := w.Effect(ctx, w.startFiles())
	require.NoError(t, err)
	require.Equal(t, training.EffectCount{All: 2}, same.Attempts)
	require.Equal(t, training.EffectCount{All: 1}, same.Demonstrations)
	require.Zero(t, same.Different)
	require.Empty(t, same.Records)

	renamed, err := w.Effect(ctx, changedFiles(t, w.startFiles(), "Other wipe"))
	require.NoError(t, err)
	require.Equal(t, 3, renamed.Same, "a name judges nothing")

	draft := stricterSet(t, w.startFiles())
	e, err := w.Effect(ctx, draft)
	require.NoError(t, err)
	require.Equal(t, training.EffectCount{All: 2, Different: 1}, e.Attempts)
	require.Equal(t, training.EffectCount{All: 1}, e.Demonstrations)
	require.Equal(t, []training.EffectRecord{{Kind: "attempt", ID: forgot.ID, Reasons: []string{"outcome, pass -> not pass: the marks count otherwise"}}}, e.Records)
	require.Equal(t, training.SetHash(draft), e.Draft)

	again, err := w.Attempt(ctx, w.trainee, forgot.ID)
	require.NoError(t, err)
	require.Equal(t, forgot.ResultJSON, again.ResultJSON, "nothing is changed")

	// what came with the version before is not told of the next
	_, err = w.SaveSetDraft(ctx, w.educator, w.Key(), training.SetSaving{Files: draft})
	require.NoError(t, err)
	v, err := w.ProposeSet(ctx, w.educator, w.Key(), 1, "Stricter.")
	require.NoError(t, err)
	w.approved(v, w.Today())
	next, err := w.Effect(ctx, changedFiles(t, draft, "Other wipe"))
	require.NoError(t, err)
	require.Zero(t, next.Different)
	back, err := w.Effect(ctx, w.startFiles())
	require.NoError(t, err)
	require.Equal(t, e.Different, back.Different)
}
