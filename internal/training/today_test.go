package training_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

func TestTodaySaysWhoMayWorkAloneAndNothingElse(t *testing.T) {
	w := staffed(t)
	_, err := w.TodayFor(ctx, w.trainee, "")
	require.ErrorIs(t, err, training.ErrForbidden)
	list, err := w.TodayFor(ctx, w.preceptor, "")
	require.NoError(t, err)

	all, err := w.People(ctx, w.educator)
	require.NoError(t, err)
	n := 0
	for _, p := range list.Parts {
		n += len(p.Alone) + len(p.Watched) + len(p.Not)
		for _, st := range all.Standings {
			if st.Competency.ID != p.ID {
				continue
			}
			may, _ := st.MayWorkAlone()
			name := training.TodayName{Name: st.Person.Name, Team: st.Person.Team}
			require.Equal(t, may, contains(p.Alone, name), st.Person.Name)
			require.Equal(t, !may && (st.Word == training.NotStarted || st.Leave != nil), contains(p.Not, name), st.Person.Name)
		}
	}
	require.Equal(t, len(all.Standings), n, "each is in one list")

	require.NoError(t, w.correct(w.trainee.Person.ID, "", func(p *training.Person) { p.SeesToday, p.Team = true, "Early" }))
	w.trainee = w.In("tess")
	list, err = w.TodayFor(ctx, w.trainee, "early")
	require.NoError(t, err)
	require.Equal(t, []string{"Early"}, list.Teams)
	require.Equal(t, []training.TodayName{{Name: w.trainee.Person.Name, Team: "Early"}}, list.Parts[0].Not)
	_, err = w.People(ctx, w.trainee)
	require.ErrorIs(t, err, training.ErrForbidden, "nothing else of others")
	_, err = w.Person(ctx, w.trainee, w.preceptor.Person.ID)
	require.ErrorIs(t, err, training.ErrNotFound)
	w.verifies()
}

func contains(all []training.TodayName, one training.TodayName) bool {
	for _, x := range all {
		if x == one {
			return true
		}
	}
	return false
}
