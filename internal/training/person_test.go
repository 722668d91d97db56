package training_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// Roles are in one order however they are named, so that the same roles are the same person.
func TestRolesHaveOneOrder(t *testing.T) {
	for _, c := range []struct {
		given []training.Role
		first training.Role
		also  training.Roles
		title string
	}{
		{[]training.Role{training.Manager, training.Preceptor}, training.Preceptor, "manager", "preceptor, manager"},
		{[]training.Role{training.Trainee, training.Manager, training.Educator}, training.Educator, "trainee manager", "educator, staff, manager"},
		{[]training.Role{training.Trainee, training.Preceptor}, training.Preceptor, "", "preceptor"},
		{[]training.Role{training.Manager, training.Manager, "guest"}, training.Manager, "", "manager"},
		{nil, "", "", ""},
	} {
		p := training.Person{Role: training.Educator, Also: "manager"}.WithRoles(c.given...)
		require.Equal(t, training.Person{Role: c.first, Also: c.also}, p, c.given)
		require.Equal(t, c.title, p.RoleTitle(true), c.given)
		require.Equal(t, p, p.WithRoles(p.Roles()...))
	}
	p := training.Person{Job: " RN, , shift lead "}
	require.Equal(t, []string{"RN", "shift lead"}, p.Jobs())
}

// Who works here for a year, or has before, is no new hire, whether or not the program knows of
// a sign-off.
func TestWhoIsStaff(t *testing.T) {
	for _, c := range []struct {
		p         training.Person
		signedOff bool
		settled   bool
	}{
		{training.Person{Hired: "2025-03-03"}, false, false},
		{training.Person{Hired: "2025-03-02"}, false, true},
		{training.Person{Hired: "2026-02-01"}, true, true},
		{training.Person{Hired: "2026-02-01", Earlier: "2020-01-01/2024-12-31"}, false, true},
		{training.Person{}, false, false},
		{training.Person{Hired: "2026-05-01"}, false, false},
	} {
		require.Equal(t, c.settled, c.p.Settled(c.signedOff, "2026-03-02"), "%+v", c)
	}
}

// Who left and came back was not here in between; who is hired for a day to come is not gone.
func TestSpellsOfEmployment(t *testing.T) {
	back := training.Person{Earlier: "2019-01-07/2021-03-31 2022-01-01/2022-06-30", Hired: "2024-02-01", Left: "2026-01-31"}
	require.Equal(t, []training.Spell{{Hired: "2019-01-07", Left: "2021-03-31"}, {Hired: "2022-01-01", Left: "2022-06-30"}, {Hired: "2024-02-01", Left: "2026-01-31"}}, back.Spells())
	for _, c := range []struct {
		day  training.Day
		gone bool
	}{{"2023-05-05", true}, {"2024-01-31", true}, {"2024-02-01", false}, {"2026-01-31", false}, {"2026-02-01", true}} {
		require.Equal(t, c.gone, back.GoneOn(c.day), c.day)
	}
	require.False(t, training.Person{Hired: "2026-04-01"}.GoneOn("2026-03-02"), "hired for a day to come")
	for _, c := range []struct {
		from, to training.Day
		in       bool
	}{{"2018-01-01", "2018-12-31", false}, {"2021-01-01", "2021-12-31", true}, {"2021-04-01", "2021-12-31", false}, {"2022-01-01", "2022-12-31", true},
		{"2023-01-01", "2023-12-31", false}, {"2026-02-01", "2026-12-31", false}, {"2024-01-01", "2024-02-01", true}} {
		require.Equal(t, c.in, back.EmployedIn(c.from, c.to), c)
	}
	require.True(t, training.Person{}.EmployedIn("2020-01-01", "2020-12-31"), "nobody said since when")
}

// Who is preceptor and manager does both; who is manager only reads the clinic's numbers.
func TestWhatAManagerMayDo(t *testing.T) {
	w := staffed(t)
	mona := w.hire("Mona Invented", "mona", training.Manager)
	_, err := w.People(ctx, mona)
	require.NoError(t, err)
	_, err = w.Annual(ctx, mona, 2026)
	require.NoError(t, err)
	w.signedOff()
	rec, err := w.Record(ctx, mona, w.trainee.Person.ID)
	require.NoError(t, err)
	require.True(t, rec.NoPractice)
	require.NotEmpty(t, rec.SignOffs)
	require.NotEmpty(t, rec.Demonstrations)
	require.Empty(t, rec.Attempts, "practice is none of a manager's business")
	require.Empty(t, rec.Ways)
	_, err = w.Demonstration(ctx, mona, rec.Demonstrations[0].ID)
	require.ErrorIs(t, err, training.ErrForbidden)
	_, err = w.OpenDraft(ctx, mona, "ordinary-turnover", false)
	require.ErrorIs(t, err, training.ErrForbidden)
	_, err = w.Entitle(ctx, w.In("edda"), w.Key(), w.entitlement(mona, "2026-01-01", "2026-12-31"), training.SecondPerson{})
	require.ErrorContains(t, err, "Mona Invented is a manager; only preceptors and educators can be entitled")

	_, first, err := w.AddPerson(ctx, w.In("edda"), w.Key(), training.Person{Name: "Pat Invented", Role: training.Manager, Also: "preceptor"}, "pat")
	require.NoError(t, err)
	a, _, err := w.SignIn(ctx, "pat", first)
	require.NoError(t, err)
	_, err = w.ChangePassword(ctx, a, w.Key(), first, training.DemoPassword)
	require.NoError(t, err)
	pat := w.In("pat")
	_, err = w.Annual(ctx, pat, 2026)
	require.NoError(t, err)
	_, err = w.Learners(ctx, pat)
	require.NoError(t, err)
	rec, err = w.Record(ctx, pat, w.trainee.Person.ID)
	require.NoError(t, err)
	require.NotEmpty(t, rec.Attempts)
	w.verifies()
}
