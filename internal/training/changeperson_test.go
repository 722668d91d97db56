package training_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

func (w *world) person(id string) training.Person {
	w.T.Helper()
	p, err := w.Store.Person(ctx, id)
	require.NoError(w.T, err)
	return p
}

// correct changes somebody as a page does that was just read.
func (w *world) correct(id, why string, change func(*training.Person)) error {
	was := w.person(id)
	is := was
	change(&is)
	return w.CorrectPerson(ctx, w.In("edda"), w.Key(), is, training.SeenPerson(was), why)
}

// What is corrected holds from now on; what was signed keeps the name that stood there.
func TestACorrectedNameStaysAsItWasUnderWhatWasSigned(t *testing.T) {
	w := staffed(t)
	o := w.signedOff()
	id := w.trainee.Person.ID
	require.NoError(t, w.correct(id, "", func(p *training.Person) {
		p.Name, p.StaffNo, p.Job, p.Team, p.Email = "  Tess Newname ", "0042", "RN,  shift lead", "early", "tess@example.org"
		*p = p.WithRoles(training.Preceptor, training.Manager)
	}))
	is := w.person(id)
	require.Equal(t, training.Person{ID: id, Name: "Tess Newname", StaffNo: "0042", Role: training.Preceptor, Also: "manager", Job: "RN, shift lead", Team: "early",
		Email: "tess@example.org", Hired: "2026-01-05"}, is)
	require.Equal(t, "Tess Invented", w.about(o.Leaf).Named(training.PartPerson).Name)
	log, err := w.Changes(ctx, w.educator, training.ChangeQuery{Group: training.ChangesOfPeople, PersonID: id})
	require.NoError(t, err)
	require.Len(t, log.All, 2, "nobody else's")
	require.Equal(t, "corrected", log.All[0].Said)
	require.Equal(t, "Edda Invented", log.All[0].Named(training.PartBy).Name)
	for field, want := range map[string][2]string{"name": {"Tess Invented", "Tess Newname"}, "staff_no": {"", "0042"}, "role": {"trainee", "preceptor"}, "also": {"", "manager"}, "team": {"", "early"}} {
		require.Equal(t, want, [2]string{log.All[0].Was[field], log.All[0].Is[field]}, field)
	}
	w.verifies()
}

func TestWhatACorrectionMayNotDo(t *testing.T) {
	w := staffed(t)
	id := w.preceptor.Person.ID
	require.NoError(t, w.correct(w.other.Person.ID, "", func(p *training.Person) { p.StaffNo = "7" }))
	for want, change := range map[string]func(*training.Person){
		"The name is missing.":                                      func(p *training.Person) { p.Name = " " },
		"Choose a role":                                             func(p *training.Person) { *p = p.WithRoles() },
		"would not be preceptor any more. Say why.":                 func(p *training.Person) { *p = p.WithRoles(training.Manager) },
		"The staff number 7 is already another person's.":           func(p *training.Person) { p.StaffNo = "7" },
		"Nobody works here since before 1950.":                      func(p *training.Person) { p.Hired = "1850-01-01" },
		"“Works here since” is 1 Jan 2031, more than a year ahead.": func(p *training.Person) { p.Hired = "2031-01-01" },
		"The e-mail address is none":                                func(p *training.Person) { p.Email = "tess" },
		"The job title has 201 characters; 200 is the most.":        func(p *training.Person) { p.Job = string(make201()) },
	} {
		require.ErrorContains(t, w.correct(id, "", change), want)
	}
	require.Equal(t, w.preceptor.Person, w.person(id))

	stale := training.SeenPerson(w.person(id))
	require.NoError(t, w.correct(id, "", func(p *training.Person) { p.Team = "late" }))
	is := w.person(id)
	is.Team = "early"
	require.ErrorIs(t, w.CorrectPerson(ctx, w.In("edda"), w.Key(), is, stale, ""), training.ErrConflict)
	w.Pass(time.Hour)
	require.ErrorIs(t, w.CorrectPerson(ctx, w.educator, w.Key(), is, training.SeenPerson(w.person(id)), ""), training.ErrProve)
	require.ErrorIs(t, w.CorrectPerson(ctx, w.preceptor, w.Key(), is, training.SeenPerson(w.person(id)), ""), training.ErrForbidden)
	w.verifies()
}

func make201() []byte {
	b := make([]byte, 201)
	for i := range b {
		b[i] = 'x'
	}
	return b
}

// Somebody has to be left who can run the program, for good: not the last educator, nor all
// of them one after the other.
func TestTheLastEducatorStays(t *testing.T) {
	w := staffed(t)
	edda := w.educator.Person.ID
	demote := func(id string) error {
		return w.correct(id, "Wrong.", func(p *training.Person) { *p = p.WithRoles(training.Preceptor) })
	}
	const want = "There would be no educator any more"
	require.ErrorContains(t, demote(edda), want)
	require.ErrorContains(t, w.LetGo(ctx, w.In("edda"), w.Key(), edda, "2026-05-01", ""), want)
	w.imported("Name,Role\nNo Account,educator\n")
	require.ErrorContains(t, demote(edda), want, "who cannot sign in does not count")

	emil := w.hire("Emil Invented", "emil", training.Educator)
	require.NoError(t, w.LetGo(ctx, w.In("edda"), w.Key(), emil.Person.ID, "2026-06-30", ""))
	require.ErrorContains(t, w.LetGo(ctx, w.In("edda"), w.Key(), edda, "2026-05-01", ""), want, "who has a last day does not count either")
	require.NoError(t, w.LetGo(ctx, w.In("edda"), w.Key(), emil.Person.ID, "", "She stays."))
	require.NoError(t, demote(edda))
	require.ErrorContains(t, w.SetDisabled(ctx, emil, w.Key(), emil.Person.ID, true), "another educator")
	w.verifies()
}

// Nobody signs in after the last day; who comes back has what they did, and an account only
// when somebody reopens it.
func TestLeavingAndComingBack(t *testing.T) {
	w := staffed(t)
	w.signedOff()
	id := w.trainee.Person.ID
	session := func() error { _, _, err := w.SignIn(ctx, "tess", training.DemoPassword); return err }
	last := w.Today().AddDays(1)
	require.NoError(t, w.LetGo(ctx, w.In("edda"), w.Key(), id, last, ""))
	_, cookie, err := w.SignIn(ctx, "tess", training.DemoPassword)
	require.NoError(t, err, "still here")
	w.Pass(24 * time.Hour)
	require.NoError(t, session(), "the last day")
	w.Pass(24 * time.Hour)
	require.ErrorIs(t, session(), training.ErrPassword)
	_, err = w.Resume(ctx, cookie)
	require.ErrorIs(t, err, training.ErrExpired)
	everyone, err := w.People(ctx, w.In("edda"))
	require.NoError(t, err)
	for _, s := range everyone.Standings {
		require.NotEqual(t, id, s.Person.ID, "who left is in no count")
	}
	require.Equal(t, []string{"Tess Invented"}, []string{everyone.Away[0].Name})
	require.False(t, everyone.Away[0].Closed)
	require.ErrorContains(t, w.Return(ctx, w.In("edda"), w.Key(), id, last, ""), "is not behind the last day of the time before")
	w.Pass(31 * 24 * time.Hour)
	back := w.Today()
	require.NoError(t, w.Return(ctx, w.In("edda"), w.Key(), id, back, back.AddMonths(6)))
	p := w.person(id)
	require.Equal(t, []training.Spell{{Hired: "2026-01-05", Left: last}, {Hired: back, Left: back.AddMonths(6)}}, p.Spells())
	kept := w.preview("Name,Role,Hired\nTess Invented,staff,2026-01-05\n")
	require.Empty(t, kept.Faults, "a list that keeps the first day of all")
	require.Equal(t, 1, kept.Same)
	require.ErrorIs(t, session(), training.ErrPassword, "the account is closed until somebody opens it")
	require.NoError(t, w.SetDisabled(ctx, w.In("edda"), w.Key(), id, false))
	require.NoError(t, session())
	rec, err := w.Record(ctx, w.In("edda"), id)
	require.NoError(t, err)
	require.Equal(t, training.Current, rec.Standings[0].Word, "what was signed before counts")
	require.ErrorContains(t, w.Return(ctx, w.In("edda"), w.Key(), id, back.AddDays(3), ""), "has not left")
	w.verifies()
}

// A last day that is over closes the account at once, and it is not reopened while they are gone.
func TestALastDayThatIsOver(t *testing.T) {
	w := staffed(t)
	id := w.trainee.Person.ID
	edda := w.In("edda")
	_, cookie, err := w.SignIn(ctx, "tess", training.DemoPassword)
	require.NoError(t, err)
	require.NoError(t, w.LetGo(ctx, edda, w.Key(), id, w.Today().AddDays(-1), ""))
	_, err = w.Resume(ctx, cookie)
	require.ErrorIs(t, err, training.ErrExpired)
	require.ErrorContains(t, w.SetDisabled(ctx, edda, w.Key(), id, false), "Say first that they came back")
	require.ErrorContains(t, w.LetGo(ctx, edda, w.Key(), id, "", ""), "Say why that is not right")
	require.ErrorContains(t, w.LetGo(ctx, edda, w.Key(), id, "2020-01-01", "x"), "The last day is before the first.")
	require.NoError(t, w.LetGo(ctx, edda, w.Key(), id, "", "It was somebody else."))
	require.Equal(t, w.trainee.Person, w.person(id))
	w.verifies()
}

// A slip is asked about and not refused.
func TestDoubtsOfAPerson(t *testing.T) {
	w := staffed(t)
	require.NoError(t, w.correct(w.trainee.Person.ID, "", func(p *training.Person) { p.StaffNo = "0042" }))
	doubts := func(p training.Person) []string {
		all, err := w.Doubts(ctx, w.educator, w.Key(), p)
		require.NoError(t, err)
		return all
	}
	require.Empty(t, doubts(training.Person{Name: "Nora", StaffNo: "43"}))
	require.Equal(t, []string{"There is somebody called Tess Invented already (new hire, staff number 0042)."}, doubts(training.Person{Name: " tess  invented"}))
	require.Equal(t, []string{"Tess Invented has the staff number 0042, which differs from 42 in the zeros before it only."}, doubts(training.Person{Name: "Nora", StaffNo: "42"}))
	require.Empty(t, doubts(w.person(w.trainee.Person.ID)), "nobody is doubted for being who they are")
}

// An entitlement is of no use to who is neither preceptor nor educator any more.
func TestAnEntitlementNeedsTheRole(t *testing.T) {
	w := staffed(t)
	require.NoError(t, w.correct(w.preceptor.Person.ID, "Asked for it.", func(p *training.Person) { *p = p.WithRoles(training.Trainee) }))
	_, err := w.StartDemonstration(ctx, w.In("pia"), w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.ErrorIs(t, err, training.ErrForbidden)
	require.ErrorIs(t, w.MaySignOff(ctx, w.In("pia"), w.trainee.Person.ID, turnover), training.ErrForbidden)
}
