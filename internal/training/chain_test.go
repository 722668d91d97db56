package training_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

func (w *world) standing(personID string) training.Standing {
	rec, err := w.Record(ctx, w.educator, personID)
	require.NoError(w.T, err)
	require.Len(w.T, rec.Standings, 1)
	return rec.Standings[0]
}

func TestTheWholeChain(t *testing.T) {
	w := staffed(t)
	id := w.trainee.Person.ID
	require.Equal(t, training.NotStarted, w.standing(id).Word)
	_, err := w.OpenDraft(ctx, w.trainee, "ordinary-turnover", false)
	require.NoError(t, err)
	require.Equal(t, training.InTraining, w.standing(id).Word)
	o := w.signedOff()
	require.Equal(t, training.Day("2026-03-03"), o.On)
	require.Equal(t, training.Day("2027-03-03"), o.Due)
	require.Len(t, o.Demonstrations, 2)
	require.Len(t, o.Attempts, 3)
	st := w.standing(id)
	require.Equal(t, training.Current, st.Word)
	require.False(t, st.Ready, "evidence of one sign-off is not evidence of the next")

	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
	// An educator and three others with their accounts, three own passwords, two entitlements,
	// three attempts, two demonstrations with a choice and an outcome each, four signatures
	// and a sign-off.
	require.EqualValues(t, 2+3*3+2+3+2+4+4+1, report.Leaves)
	require.Equal(t, report.Leaves-1, o.Leaf)

	a, err := w.Annual(ctx, w.educator, 2026)
	require.NoError(t, err)
	require.Len(t, a.SignOffs, 1)
	require.Len(t, a.Demonstrations, 2)
	require.Len(t, a.Standings, 3, "the trainee and both preceptors, who are re-checked too")
	require.Equal(t, report.Head.Root, a.Ledger.Root)
	home, err := w.Home(ctx, w.trainee)
	require.NoError(t, err)
	require.Len(t, home.Scenarios, 3)
	for _, m := range home.Scenarios {
		require.True(t, m.Passed)
		require.Equal(t, 1, m.Tries)
		require.Empty(t, m.Open)
	}
	require.Len(t, home.Watched, 2)
}
