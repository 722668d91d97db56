package training_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

func TestAnnualIsOfItsYear(t *testing.T) {
	w := staffed(t)
	o := w.signedOff() // on 3 March 2026, watched on the 2nd and 3rd
	_, _, err := w.AddPerson(ctx, w.educator, w.Key(), training.Person{Name: "Gone Invented", Role: training.Trainee, Hired: "2024-01-01", Left: "2025-12-31"}, "gone")
	require.NoError(t, err)
	_, _, err = w.AddPerson(ctx, w.educator, w.Key(), training.Person{Name: "Late Invented", Role: training.Trainee, Hired: "2027-01-01"}, "late")
	require.NoError(t, err)
	words := func(year int) (training.Annual, map[string]training.StandingWord) {
		a, err := w.Annual(ctx, w.educator, year)
		require.NoError(t, err)
		by := map[string]training.StandingWord{}
		for _, st := range a.Standings {
			by[st.Person.Name] = st.Word
		}
		return a, by
	}
	a, by := words(2025)
	require.Equal(t, training.Day("2025-12-31"), a.AsOf)
	require.Equal(t, map[string]training.StandingWord{"Gone Invented": training.NotStarted}, by)
	require.Empty(t, a.SignOffs)
	require.Empty(t, a.Demonstrations)

	a, by = words(2026)
	require.Equal(t, training.Day("2026-03-03"), a.AsOf, "a year that is not over stands as of today")
	require.Equal(t, map[string]training.StandingWord{"Otto Invented": training.NotStarted, "Pia Invented": training.NotStarted, "Tess Invented": training.Current}, by)
	require.Len(t, a.SignOffs, 1)
	require.Len(t, a.Demonstrations, 2)
	require.Contains(t, a.Evidence, o.Demonstrations[0])
	require.Equal(t, "Station turnover between patients", a.Titles[turnover])
	p := w.Procedure
	require.Equal(t, []training.InForce{{Title: p.Definition.Title, Version: p.Version, Hash: p.Hash}}, a.Procedures)

	w.Set(time.Date(2028, 6, 1, 12, 0, 0, 0, time.UTC))
	w.educator = w.In("edda")
	a, by = words(2027)
	require.Equal(t, training.Lapsed, by["Tess Invented"])
	require.Equal(t, training.NotStarted, by["Late Invented"])
	require.Empty(t, a.SignOffs)
	_, by = words(2026)
	require.Equal(t, training.Current, by["Tess Invented"], "as it was on the last day of that year")
	for _, year := range []int{0, 1999, 2029} {
		_, err := w.Annual(ctx, w.educator, year)
		require.ErrorIs(t, err, training.ErrInvalid)
	}
}

func TestPeopleWhoLeftAreNotAmongThePeople(t *testing.T) {
	w := staffed(t)
	_, _, err := w.AddPerson(ctx, w.educator, w.Key(), training.Person{Name: "Gone Invented", Role: training.Trainee, Left: "2026-03-02"}, "gone")
	require.NoError(t, err)
	all := func() int {
		people, err := w.People(ctx, w.educator)
		require.NoError(t, err)
		return len(people.Standings)
	}
	require.Equal(t, 4, all(), "the last day is still theirs")
	w.Pass(24 * time.Hour)
	require.Equal(t, 3, all())
}

func BenchmarkVerify(b *testing.B) {
	w := staffed(b)
	w.signedOff()
	for b.Loop() {
		report, err := w.Verify(ctx)
		require.NoError(b, err)
		require.Empty(b, report.Faults)
	}
}
