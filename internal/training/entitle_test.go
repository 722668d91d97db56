package training_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// An entitlement says what it allows and on what it rests; whatever is missing is told
// at once, and nothing is kept.
func TestAnEntitlementSaysWhatItRestsOn(t *testing.T) {
	w := newWorld(t)
	w.educator = w.FirstEducator("Edda Invented", "edda")
	w.preceptor = w.hire("Pia Invented", "pia", training.Preceptor)
	w.trainee = w.hire("Tess Invented", "tess", training.Trainee)
	right := w.entitlement(w.preceptor, "2026-01-01", "2026-12-31")
	for name, c := range map[string]struct {
		change func(*training.Entitlement)
		says   string
	}{
		"neither":           {func(e *training.Entitlement) { e.Watch, e.SignOff = false, false }, "Choose what the person may do"},
		"no credential":     {func(e *training.Entitlement) { e.Credential = " " }, "needs a credential"},
		"no reason":         {func(e *training.Entitlement) { e.Founding = "" }, "is not current"},
		"too long":          {func(e *training.Entitlement) { e.Until = "2028-01-02" }, "24 months at most"},
		"backwards":         {func(e *training.Entitlement) { e.Until = "2025-12-31" }, "is before the first"},
		"no days":           {func(e *training.Entitlement) { e.From = "" }, "a first and a last day"},
		"a new hire":        {func(e *training.Entitlement) { e.PersonID = w.trainee.Person.ID }, "is a new hire"},
		"nobody approves":   {func(e *training.Entitlement) { e.Approval = training.Approval{} }, "Say who else approves"},
		"paper without day": {func(e *training.Entitlement) { e.Approval.On = "" }, "An approval on paper needs"},
		"paper lies where":  {func(e *training.Entitlement) { e.Approval.Where = "" }, "An approval on paper needs"},
		"no competency":     {func(e *training.Entitlement) { e.Competency = "x" }, "no competency"},
	} {
		e := right
		c.change(&e)
		_, err := w.Entitle(ctx, w.educator, w.Key(), e, training.SecondPerson{})
		require.ErrorIs(t, err, training.ErrInvalid, name)
		require.ErrorContains(t, err, c.says, name)
	}
	kept, err := w.Store.Entitlements(ctx, "")
	require.NoError(t, err)
	require.Empty(t, kept)
	_, err = w.Entitle(ctx, w.educator, w.Key(), right, training.SecondPerson{})
	require.NoError(t, err)
}

// A clinic with one educator is never locked; where there is a second, they are asked.
func TestASecondPersonApprovesWhereThereIsOne(t *testing.T) {
	w := newWorld(t)
	w.educator = w.FirstEducator("Edda Invented", "edda")
	w.preceptor = w.hire("Pia Invented", "pia", training.Preceptor)
	until := training.Day("2026-12-31")
	grant := func(how training.ApprovalHow, username, password string) error {
		until = until.AddDays(1) // the same is not given twice
		e := w.entitlement(w.preceptor, "2026-01-01", until)
		e.Approval = training.Approval{How: how}
		_, err := w.Entitle(ctx, w.educator, w.Key(), e, training.SecondPerson{Username: username, Password: password})
		return err
	}
	require.NoError(t, grant(training.ApprovedAlone, "", ""))
	second := w.hire("Enno Invented", "enno", training.Educator)
	require.ErrorIs(t, grant(training.ApprovedAlone, "", ""), training.ErrInvalid, "there is a second educator now")
	require.ErrorIs(t, grant(training.ApprovedHere, "edda", clinictest.Password), training.ErrInvalid, "oneself is no second person")
	require.ErrorIs(t, grant(training.ApprovedHere, "pia", clinictest.Password), training.ErrInvalid, "nor is who gains by it")
	require.ErrorIs(t, grant(training.ApprovedHere, "enno", "not the password"), training.ErrPassword)
	require.NoError(t, grant(training.ApprovedHere, "enno", clinictest.Password))
	all, err := w.Store.Entitlements(ctx, w.preceptor.Person.ID)
	require.NoError(t, err)
	require.Len(t, all, 2)
	last := all[len(all)-1]
	require.Equal(t, training.Approval{How: training.ApprovedHere, ByID: second.Person.ID, By: "Enno Invented", Role: "educator", On: "2026-03-02"}, last.Approval)
	require.NoError(t, w.SetDisabled(ctx, w.educator, w.Key(), second.Person.ID, true))
	require.NoError(t, grant(training.ApprovedAlone, "", ""), "a closed account approves nothing")
}

// What somebody may do already is not given again, nor days that nobody means.
func TestAnEntitlementIsSane(t *testing.T) {
	w := staffed(t)
	grant := func(from, until training.Day, change func(*training.Entitlement)) error {
		e := w.entitlement(w.preceptor, from, until)
		if change != nil {
			change(&e)
		}
		_, err := w.Entitle(ctx, w.educator, w.Key(), e, training.SecondPerson{})
		return err
	}
	require.ErrorContains(t, grant("2026-02-01", "2026-12-31", nil), "entitlement to all of this already")
	require.ErrorContains(t, grant("2026-02-01", "2026-12-31", func(e *training.Entitlement) { e.SignOff = false }), "entitlement to all of this already")
	require.NoError(t, grant("2026-02-01", "2028-01-31", nil), "it goes on longer")
	require.ErrorContains(t, grant("1900-01-01", "2999-12-31", nil), "has to lie within a year of today")
	require.ErrorContains(t, grant("2026-03-02", "2031-03-03", nil), "5 years at most")
	all, err := w.Store.Entitlements(ctx, w.preceptor.Person.ID)
	require.NoError(t, err)
	for _, e := range all {
		require.NoError(t, w.EndEntitlement(ctx, w.educator, w.Key(), w.preceptor.Person.ID, e.ID, "He moves."))
	}
	require.NoError(t, grant("2026-02-01", "2026-12-31", nil), "what ended can be given again")
}

// To watch and to sign off are two things.
func TestWatchingAndSigningOffAreTwoEntitlements(t *testing.T) {
	w := newWorld(t)
	w.educator = w.FirstEducator("Edda Invented", "edda")
	w.preceptor = w.hire("Pia Invented", "pia", training.Preceptor)
	w.other = w.hire("Otto Invented", "otto", training.Preceptor)
	w.trainee = w.hire("Tess Invented", "tess", training.Trainee)
	watches, signs := w.entitlement(w.preceptor, "2026-01-01", "2026-12-31"), w.entitlement(w.other, "2026-01-01", "2026-12-31")
	watches.SignOff, signs.Watch = false, false
	for _, e := range []training.Entitlement{watches, signs} {
		_, err := w.Entitle(ctx, w.educator, w.Key(), e, training.SecondPerson{})
		require.NoError(t, err)
	}
	_, err := w.StartDemonstration(ctx, w.other, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.ErrorIs(t, err, training.ErrForbidden)
	w.Modules(w.trainee)
	for range 2 {
		w.signBoth(w.preceptor, w.watch(w.preceptor, w.GoodWork()), training.WatchedMet)
		w.Pass(24 * time.Hour)
	}
	require.ErrorIs(t, w.MaySignOff(ctx, w.preceptor, w.trainee.Person.ID, turnover), training.ErrForbidden)
	require.NoError(t, w.MaySignOff(ctx, w.other, w.trainee.Person.ID, turnover))
	o, err := w.SignOff(ctx, w.other, w.Key(), w.trainee.Person.ID, turnover, clinictest.Password)
	require.NoError(t, err)
	signed := w.about(o.Leaf)
	require.Equal(t, training.Named{Part: training.PartSigner, PersonID: w.other.Person.ID, Name: "Otto Invented", Credential: "RN"}, signed.Named(training.PartSigner))
	require.Equal(t, "Tess Invented", signed.Named(training.PartPerson).Name)
	current := w.entitlement(w.trainee, "2026-01-01", "2030-12-31")
	current.Founding = ""
	_, err = w.Entitle(ctx, w.In("edda"), w.Key(), current, training.SecondPerson{})
	require.ErrorContains(t, err, "is a new hire")
	require.NotContains(t, err.Error(), "current", "whoever is signed off needs no reason, and no end within two years")
}

// about is a leaf with who is named in it.
func (w *world) about(leaf int64) training.LeafAbout {
	of, err := w.Store.LeavesAt(ctx, []int64{leaf})
	require.NoError(w.T, err)
	return of[leaf]
}
