package training_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// draft is a change of what holds.
func (w *world) draft(change func(*training.Terms)) training.Requirements {
	of, err := w.RequirementsFor(ctx, w.educator, turnover)
	require.NoError(w.T, err)
	terms := of.Now.Terms
	change(&terms)
	return training.Requirements{Competency: turnover, From: w.Today(), Why: "The policy of March.", Terms: terms}
}

// required keeps a change of what holds.
func (w *world) required(change func(*training.Terms)) training.Requirements {
	w.educator = w.In("edda") // the password was given just now
	of, err := w.RequirementsFor(ctx, w.educator, turnover)
	require.NoError(w.T, err)
	r, err := w.ChangeRequirements(ctx, w.educator, w.Key(), of.Newest, w.draft(change))
	require.NoError(w.T, err)
	return r
}

func (w *world) leave(from, until training.Day) training.Absence {
	a, err := w.EnterAbsence(ctx, w.educator, w.Key(), training.Absence{PersonID: w.trainee.Person.ID, From: from, Until: until, Why: "Agreed."})
	require.NoError(w.T, err)
	return a
}

// met is a clean demonstration of the trainee, signed by both.
func (w *world) met(by training.Actor) {
	w.signBoth(by, w.watch(by, w.GoodWork()), training.WatchedMet)
}

// goTo lets days pass and begins a new session for everybody.
func (w *world) goTo(day training.Day) {
	require.GreaterOrEqual(w.T, day, w.Today())
	w.Set(day.Time().Add(17 * time.Hour)) // eleven or twelve in Chicago
	w.educator, w.preceptor, w.other, w.trainee = w.In("edda"), w.In("pia"), w.In("otto"), w.In("tess")
}

// A change is kept as a version with who, when and why, the starting values before it.
func TestRequirementsAreKeptInVersions(t *testing.T) {
	w := staffed(t)
	first := w.signedOff()
	require.Zero(t, first.Requirements, "there were no versions yet")
	r := w.required(func(x *training.Terms) { x.IntervalMonths, x.EarlyDays = 6, 20 })
	require.Equal(t, 2, r.Version)
	require.Equal(t, "Edda Invented", r.ByName)
	of, err := w.RequirementsFor(ctx, w.educator, turnover)
	require.NoError(t, err)
	require.Len(t, of.Versions, 2)
	require.Equal(t, 12, of.Versions[1].Terms.IntervalMonths)
	require.Empty(t, of.Versions[1].ByName, "the starting values are nobody's")
	require.Equal(t, first.Due, w.standing(w.trainee.Person.ID).Due, "what was signed stays")

	w.goTo("2027-02-20")
	w.met(w.preceptor)
	o, err := w.SignOff(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, clinictest.Password)
	require.NoError(t, err)
	require.Equal(t, 2, o.Requirements)
	require.Equal(t, first.Due.AddMonths(6), o.Due, "inside the window the anniversary is kept")
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}

// A new interval counts for sign-offs of before where the clinic says so, and the preview says
// what confirming does.
func TestThePreviewIsWhatHappens(t *testing.T) {
	w := staffed(t)
	w.signedOff()
	w.goTo("2026-09-01")
	draft := w.draft(func(x *training.Terms) { x.IntervalMonths, x.Recount = 6, true })
	p, err := w.PreviewRequirements(ctx, w.educator, draft)
	require.NoError(t, err)
	require.Len(t, p.Moves, 1)
	m := p.Moves[0]
	require.Equal(t, "Tess Invented", m.Person.Name)
	require.Equal(t, []any{training.Current, training.DueSoon, training.Day("2027-03-03"), training.Day("2026-09-03")}, []any{m.Was, m.Is, m.DueWas, m.DueIs})
	require.True(t, m.AloneWas && m.Alone)
	require.Equal(t, training.Current, w.standing(w.trainee.Person.ID).Word, "a preview changes nothing")
	_, err = w.ChangeRequirements(ctx, w.educator, w.Key(), 0, draft)
	require.NoError(t, err)
	st := w.standing(w.trainee.Person.ID)
	require.Equal(t, training.DueSoon, st.Word)
	require.Equal(t, training.Day("2026-09-03"), st.Due)
}

// Whom a competency is not asked of has no standing in it, and nobody signs them off.
func TestWhoDoesNotNeedItHasNoStanding(t *testing.T) {
	w := staffed(t)
	w.Modules(w.trainee)
	w.required(func(x *training.Terms) { x.Needs = training.Needs{Roles: []training.Role{training.Preceptor}} })
	rec, err := w.Record(ctx, w.educator, w.trainee.Person.ID)
	require.NoError(t, err)
	require.Empty(t, rec.Standings)
	all, err := w.People(ctx, w.educator)
	require.NoError(t, err)
	require.Len(t, all.Standings, 2, "the two preceptors")
	err = w.MaySignOff(ctx, w.preceptor, w.trainee.Person.ID, turnover)
	require.ErrorContains(t, err, "is not asked of Tess Invented")

	w.required(func(x *training.Terms) { x.Needs = training.Needs{New: true} })
	require.Equal(t, training.InTraining, w.standing(w.trainee.Person.ID).Word, "she was never signed off")
}

func TestRequirementsThatCannotBe(t *testing.T) {
	w := staffed(t)
	good := func(*training.Terms) {}
	for _, c := range []struct {
		field, says string
		change      func(*training.Requirements)
	}{
		{"why", "Say why", func(r *training.Requirements) { r.Why = " \n" }},
		{"from", "between today and a year from now", func(r *training.Requirements) { r.From = r.From.AddDays(-1) }},
		{"from", "between today and a year from now", func(r *training.Requirements) { r.From = r.From.AddMonths(13) }},
		{"from", "from which day", func(r *training.Requirements) { r.From = "soon" }},
		{"same", "Nothing is different", func(*training.Requirements) {}},
		{"interval_months", "between 1 and 60", func(r *training.Requirements) { r.Terms.IntervalMonths = 0 }},
		{"interval_months", "between 1 and 60", func(r *training.Requirements) { r.Terms.IntervalMonths = 61 }},
		{"notice_days", "between 0 and 365", func(r *training.Requirements) { r.Terms.NoticeDays = -1 }},
		{"early_days", "between 0 and 27", func(r *training.Requirements) { r.Terms.IntervalMonths, r.Terms.EarlyDays = 1, 28 }},
		{"hire_days", "between 0 and 730", func(r *training.Requirements) { r.Terms.HireDays = 731 }},
		{"first-clean", "between 1 and 20", func(r *training.Requirements) { r.Terms.First.Clean = 0 }},
		{"annual-days", "between 1 and 1", func(r *training.Requirements) { r.Terms.Annual.Days = 2 }},
		{"lapsed-preceptors", "between 1 and 1", func(r *training.Requirements) { r.Terms.Lapsed.Preceptors = 2 }},
		{"change-clean", "between 1 and 20", func(r *training.Requirements) { r.Terms.Change.Clean = 21 }},
		{"lapsed-again", "Choose which modules", func(r *training.Requirements) { r.Terms.Lapsed.Again = "some" }},
		{"signer", "Choose who may sign off", func(r *training.Requirements) { r.Terms.Signer = "anyone" }},
		{"roles", "There is no role", func(r *training.Requirements) { r.Terms.Needs.Roles = []training.Role{"guest"} }},
	} {
		r := w.draft(good)
		c.change(&r)
		_, err := w.PreviewRequirements(ctx, w.educator, r)
		var faults training.RequirementFaults
		require.ErrorAs(t, err, &faults, c.field)
		require.ErrorIs(t, err, training.ErrInvalid)
		require.Equal(t, c.field, faults[0].Field)
		require.Contains(t, faults[0].Text, c.says)
		_, err = w.ChangeRequirements(ctx, w.educator, w.Key(), 0, r)
		require.ErrorAs(t, err, &faults)
	}
	of, err := w.RequirementsFor(ctx, w.educator, turnover)
	require.NoError(t, err)
	require.Empty(t, of.Versions, "nothing was kept")
}

// Who else changed it meanwhile is told, and only who gave their password lately may.
func TestRequirementsAreChangedByOneAtATime(t *testing.T) {
	w := staffed(t)
	w.required(func(x *training.Terms) { x.NoticeDays = 60 })
	_, err := w.ChangeRequirements(ctx, w.educator, w.Key(), 0, w.draft(func(x *training.Terms) { x.NoticeDays = 90 }))
	require.ErrorIs(t, err, training.ErrConflict)
	require.ErrorContains(t, err, "Edda Invented changed these requirements meanwhile")
	w.Pass(time.Hour)
	_, err = w.ChangeRequirements(ctx, w.educator, w.Key(), 2, w.draft(func(x *training.Terms) { x.NoticeDays = 90 }))
	require.ErrorIs(t, err, training.ErrProve)
	_, err = w.ChangeRequirements(ctx, w.preceptor, w.Key(), 2, w.draft(func(x *training.Terms) { x.NoticeDays = 90 }))
	require.ErrorIs(t, err, training.ErrForbidden)
	_, err = w.PreviewRequirements(ctx, w.preceptor, w.draft(func(x *training.Terms) { x.NoticeDays = 90 }))
	require.ErrorIs(t, err, training.ErrForbidden)
	_, err = w.RequirementsFor(ctx, w.educator, "end-of-day")
	require.ErrorIs(t, err, training.ErrNotFound, "nobody is signed off for it")
}

// Two different people: whoever watched does not sign off.
func TestWhoWatchedMayNotSign(t *testing.T) {
	w := staffed(t)
	w.required(func(x *training.Terms) {
		x.First = training.Takes{Clean: 1, Days: 1, Preceptors: 1, Again: training.AgainNone}
		x.Signer = training.SignerOther
	})
	w.Modules(w.trainee)
	w.met(w.preceptor)
	require.ErrorContains(t, w.MaySignOff(ctx, w.preceptor, w.trainee.Person.ID, turnover), "another person signs off")
	require.NoError(t, w.MaySignOff(ctx, w.other, w.trainee.Person.ID, turnover))
	w.required(func(x *training.Terms) { x.Signer = training.SignerEducator })
	require.ErrorContains(t, w.MaySignOff(ctx, w.other, w.trainee.Person.ID, turnover), "Only an educator")
	w.required(func(x *training.Terms) { x.Signer, x.HireDays = training.SignerEntitled, 60 })
	require.ErrorContains(t, w.MaySignOff(ctx, w.other, w.trainee.Person.ID, turnover), "6 Mar 2026", "she was hired on 5 January")
	w.required(func(x *training.Terms) {
		x.HireDays, x.First = 0, training.Takes{Clean: 2, Days: 1, Preceptors: 2, Again: training.AgainNone}
	})
	w.met(w.preceptor)
	require.ErrorContains(t, w.MaySignOff(ctx, w.other, w.trainee.Person.ID, turnover), "1 more by another preceptor")
	w.met(w.other)
	require.NoError(t, w.MaySignOff(ctx, w.other, w.trainee.Person.ID, turnover))
}

// A leave stands in place of due and lapsed; after it somebody has to look first.
func TestALeave(t *testing.T) {
	w := staffed(t)
	w.signedOff() // on 3 March 2026, due a year later
	st := func() training.Standing { return w.standing(w.trainee.Person.ID) }
	alone := func() bool { s := st(); may, _ := s.MayWorkAlone(); return may }
	w.goTo("2027-01-10")
	require.True(t, alone())
	a := w.leave("2027-01-15", "")
	_, err := w.EnterAbsence(ctx, w.educator, w.Key(), training.Absence{PersonID: w.trainee.Person.ID, From: "2027-02-01"})
	require.ErrorContains(t, err, "There is a leave from 15 Jan 2027 already")
	require.Equal(t, training.Current, st().Word, "it has not begun")
	w.goTo("2027-03-20")
	require.Equal(t, training.OnLeave, st().Word)
	require.False(t, alone())
	_, err = w.EnterAbsence(ctx, w.educator, w.Key(), training.Absence{ID: a.ID, PersonID: a.PersonID, From: a.From, Until: "2027-03-20"})
	require.NoError(t, err)
	w.goTo("2027-03-22")
	require.Equal(t, training.Lapsed, st().Word)
	require.Equal(t, training.Day("2027-03-20"), st().Unchecked)
	w.required(func(x *training.Terms) { x.Alone.Lapsed = true })
	require.False(t, alone(), "the clinic lets who is lapsed; who came back is to be checked all the same")
	w.met(w.preceptor)
	require.Empty(t, st().Unchecked)
	require.True(t, alone())
	_, err = w.EnterAbsence(ctx, w.educator, w.Key(), training.Absence{ID: a.ID, PersonID: a.PersonID, From: a.From, Until: "2027-03-20", Cancelled: true})
	require.NoError(t, err)
	_, err = w.EnterAbsence(ctx, w.educator, w.Key(), training.Absence{ID: a.ID, PersonID: a.PersonID, From: a.From, Until: "2027-03-21"})
	require.ErrorIs(t, err, training.ErrConflict)
	_, err = w.EnterAbsence(ctx, w.preceptor, w.Key(), training.Absence{PersonID: a.PersonID, From: a.From})
	require.ErrorIs(t, err, training.ErrForbidden)
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}

func TestLeavesThatCannotBe(t *testing.T) {
	w := staffed(t)
	id := w.trainee.Person.ID
	for says, a := range map[string]training.Absence{
		"needs its first day":         {PersonID: id, Until: "2026-04-01"},
		"is no day":                   {PersonID: id, From: "2026-04-01", Until: "summer"},
		"is before the first":         {PersonID: id, From: "2026-04-01", Until: "2026-03-31"},
		"more than two years away":    {PersonID: id, From: "2062-04-01"},
		"There is no such person":     {PersonID: "nobody", From: "2026-04-01"},
		"There is no such leave":      {ID: "none", PersonID: id, From: "2026-04-01"},
		"There is no leave to cancel": {PersonID: id, From: "2026-04-01", Cancelled: true},
	} {
		_, err := w.EnterAbsence(ctx, w.educator, w.Key(), a)
		require.ErrorContains(t, err, says)
	}
	require.NotEmpty(t, training.ReasonTextWarning("Maternity until June"))
	require.Empty(t, training.ReasonTextWarning("Agreed with the manager, unpaid"))
}

// An open plan goes before what is due, and ends with the next demonstration that is met.
func TestAPlanEnds(t *testing.T) {
	w := staffed(t)
	w.Modules(w.trainee)
	st := func() training.Standing { return w.standing(w.trainee.Person.ID) }
	p := w.planned()
	require.Equal(t, training.InTraining, st().Word, "a proposal is no plan yet")
	open := func(id string) {
		_, err := w.AnswerPlan(ctx, w.educator, w.Key(), id, training.PlanOpened, w.Today().AddDays(7), "Hands.")
		require.NoError(t, err)
	}
	open(p.ID)
	require.Equal(t, training.OnPlan, st().Word)
	w.Pass(24 * time.Hour)
	w.met(w.preceptor)
	require.Equal(t, training.InTraining, st().Word)
	p, err := w.Plan(ctx, w.educator, p.ID)
	require.NoError(t, err)
	require.False(t, p.Open())
	require.NotEmpty(t, p.Ended.DemonstrationID)
	_, err = w.ClosePlan(ctx, w.educator, w.Key(), p.ID, "It is over.")
	require.ErrorIs(t, err, training.ErrConflict)
	d, err := w.Withdraw(ctx, w.educator, w.Key(), p.Ended.DemonstrationID, "The wrong person.", clinictest.Password)
	require.NoError(t, err)
	require.Equal(t, training.Withdrawn, d.Stage)
	require.Equal(t, training.OnPlan, st().Word, "what ended it was withdrawn")
	_, err = w.ClosePlan(ctx, w.preceptor, w.Key(), p.ID, "Enough.")
	require.ErrorIs(t, err, training.ErrForbidden)
	p, err = w.ClosePlan(ctx, w.educator, w.Key(), p.ID, "Shown at the skills day.")
	require.NoError(t, err)
	require.Equal(t, training.PlanClosed, p.Last().State)
	require.Equal(t, training.InTraining, st().Word)
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}
