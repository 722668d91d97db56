package training_test

import (
	"crypto/sha256"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// Whoever gave the signer a new first password could have signed in their place: where
// that one is named in the same record, it stands on it, and nowhere else.
func TestAResetBySomebodyOfTheRecordIsMarked(t *testing.T) {
	w := staffed(t)
	d := w.watch(w.preceptor, w.GoodWork())
	w.signBoth(w.preceptor, d, training.WatchedMet)
	d, err := w.Store.Demonstration(ctx, d.ID)
	require.NoError(t, err)
	require.Empty(t, w.about(d.Signatures[0].Leaf).Named(training.PartResetBy).PersonID, "the hiring is no reset by somebody of the record")

	e := w.entitlement(w.educator, "2026-01-01", "2026-12-31")
	_, err = w.Entitle(ctx, w.In("edda"), w.Key(), e, training.SecondPerson{})
	require.NoError(t, err)
	w.Pass(time.Hour)
	first, err := w.NewFirstPassword(ctx, w.In("edda"), w.Key(), w.trainee.Person.ID)
	require.NoError(t, err)
	reset := w.Now()
	a, _, err := w.SignIn(ctx, "tess", first)
	require.NoError(t, err)
	_, err = w.ChangePassword(ctx, a, w.Key(), first, clinictest.Password)
	require.NoError(t, err)

	w.Pass(24 * time.Hour)
	byPia := w.signBoth(w.preceptor, w.watch(w.preceptor, w.GoodWork()), training.WatchedMet)
	require.Empty(t, w.about(byPia.Signatures[0].Leaf).Named(training.PartResetBy).PersonID, "the educator has no part in this one")
	w.Pass(24 * time.Hour)
	byEdda := w.signBoth(w.educator, w.watch(w.educator, w.GoodWork()), training.WatchedMet)
	changes, err := w.AccountChanges(ctx, w.trainee)
	require.NoError(t, err)
	require.Equal(t, []training.AccountChange{
		{What: "opened", By: "Edda Invented", At: changes[0].At}, {What: "own password", By: "Tess Invented", Own: true, At: changes[1].At},
		{What: "first password", By: "Edda Invented", At: training.InstantOf(reset)}, {What: "own password", By: "Tess Invented", Own: true, At: training.InstantOf(reset)},
	}, changes, "the owner of an account sees who could have signed in their place")
	mark := w.about(byEdda.Signatures[0].Leaf).Named(training.PartResetBy)
	require.Equal(t, training.Named{Part: training.PartResetBy, PersonID: w.educator.Person.ID, Name: "Edda Invented", At: training.InstantOf(reset)}, mark)
	require.Empty(t, w.about(byEdda.Signatures[1].Leaf).Named(training.PartResetBy).PersonID, "nobody reset the educator")
	w.verifies()
}

func (w *world) verifies() {
	w.T.Helper()
	report, err := w.Verify(ctx)
	require.NoError(w.T, err)
	require.Empty(w.T, report.Faults)
}

// A clock that went back is told and refused nothing; the educator's word sets the
// measure anew.
func TestAClockBehindIsFlaggedAndNeverRefused(t *testing.T) {
	w := staffed(t)
	behind := func() bool {
		_, b, err := w.ClockBehind(ctx)
		require.NoError(t, err)
		return b
	}
	require.False(t, behind())
	require.ErrorIs(t, w.ConfirmClock(ctx, w.educator, w.Key()), training.ErrConflict, "there is nothing to confirm")
	w.Pass(-time.Hour)
	require.False(t, behind(), "an hour is what a machine mends by itself")
	w.Pass(-time.Second)
	require.True(t, behind())
	d := w.watch(w.preceptor, w.GoodWork()) // takes some minutes of the clinic's time
	w.Pass(-24 * time.Hour)
	d = w.signBoth(w.preceptor, d, training.WatchedMet)
	for _, n := range d.Signatures {
		require.True(t, w.about(n.Leaf).ClockBehind)
	}
	require.ErrorIs(t, w.ConfirmClock(ctx, w.preceptor, w.Key()), training.ErrForbidden)
	require.NoError(t, w.ConfirmClock(ctx, w.educator, w.Key()))
	require.False(t, behind())
	w.Pass(time.Hour)
	again := w.signBoth(w.preceptor, w.watch(w.preceptor, w.GoodWork()), training.WatchedMet)
	require.False(t, w.about(again.Signatures[0].Leaf).ClockBehind)
	w.verifies()
}

// Whoever owns the folder can let an educator in again, and the ledger says so.
func TestAnOwnersLinkLetsAnEducatorInAgain(t *testing.T) {
	_, _, err := newWorld(t).OwnerLink(ctx, "")
	require.ErrorContains(t, err, "There is no educator here")
	w := staffed(t)
	second := w.hire("Enno Invented", "enno", training.Educator)
	require.NoError(t, w.SetDisabled(ctx, second, w.Key(), w.educator.Person.ID, true))
	_, _, err = w.OwnerLink(ctx, "")
	require.ErrorContains(t, err, "edda, enno", "with two educators one must be named")
	_, _, err = w.OwnerLink(ctx, "tess")
	require.ErrorIs(t, err, training.ErrNotFound, "a new hire gets no such link")
	token, who, err := w.OwnerLink(ctx, "Edda")
	require.NoError(t, err)
	require.Equal(t, "Edda Invented", who.Name)
	_, err = w.CreateFirstEducator(ctx, token, w.Key(), training.FirstEducator{Name: "Mallory", Username: "mallory", Password: long})
	require.ErrorIs(t, err, training.ErrNotFound, "it makes nobody new")
	_, err = w.UseLink(ctx, token, w.Key(), "short")
	require.ErrorIs(t, err, training.ErrInvalid)
	username, err := w.UseLink(ctx, token, w.Key(), long)
	require.NoError(t, err)
	require.Equal(t, "edda", username)
	_, err = w.UseLink(ctx, token, w.Key(), long+" again")
	require.ErrorIs(t, err, training.ErrNotFound, "it works once")
	_, _, err = w.SignIn(ctx, "edda", long)
	require.NoError(t, err)
	leaves, err := w.Store.LeavesOf(ctx, training.AccountLeaf, w.educator.Person.ID, 10)
	require.NoError(t, err)
	require.Len(t, leaves, 4, "opened, closed, the link, the password")
	w.verifies()
}

// What an earlier version kept gets its leaves once, and no mark of a clock.
func TestWhatWasThereBeforeGetsABaseline(t *testing.T) {
	w := staffed(t)
	w.everything()
	w.Close()
	db := raw(t, w.Dir)
	again := withoutTriggers(t, db)
	_, err := db.Exec(`DELETE FROM signed_people; DELETE FROM record_leaves; DELETE FROM ledger_heads; DELETE FROM ledger_nodes;
		DELETE FROM record_ends; DELETE FROM sign_off_evidence; DELETE FROM sign_offs; DELETE FROM signatures; DELETE FROM plan_events; DELETE FROM plans;
		DELETE FROM demonstration_corrections; DELETE FROM demonstration_results WHERE event > 2;
		DELETE FROM demonstration_events WHERE seq > 2; DELETE FROM ledger_leaves`)
	require.NoError(t, err)
	for _, text := range again {
		_, err = db.Exec(text)
		require.NoError(t, err)
	}
	require.NoError(t, db.Close())
	w.Open()
	w.verifies()
	w.Pass(time.Hour)
	require.NoError(t, w.Begin(ctx))
	w.verifies()
	kinds := map[training.LeafKind]int{}
	for l, err := range w.Store.LedgerLeaves(ctx) {
		require.NoError(t, err)
		require.False(t, l.ClockBehind)
		kinds[l.Kind]++
	}
	require.Equal(t, map[training.LeafKind]int{training.BaselineLeaf: 1, training.RequirementsLeaf: 1, training.AttemptLeaf: 4, training.DemonstrationLeaf: 7}, kinds)
	before, err := w.Store.Ledger(ctx)
	require.NoError(t, err)
	require.NoError(t, w.Begin(ctx))
	after, err := w.Store.Ledger(ctx)
	require.NoError(t, err)
	require.Equal(t, before, after, "once")
}

// A demonstration, an attempt and people that somebody puts in later have no leaf.
func TestWhatIsMadeUpAfterwardsHasNoLeaf(t *testing.T) {
	w := staffed(t)
	w.signedOff()
	w.Close()
	defer w.Open()
	for name, statement := range map[string]string{
		"a person":       `INSERT INTO people (id, name, staff_no, role, hired, left_on, added_at) SELECT id || 'x', name, staff_no, role, hired, left_on, added_at FROM people WHERE staff_no = '' LIMIT 1`,
		"an entitlement": `INSERT INTO entitlements SELECT id || 'x', person_id, competency, from_day, until_day, granted_by, granted_at, may_watch, may_sign_off, credential, founding, approval, approver_id, approver, approver_role, approved_on, approval_at FROM entitlements LIMIT 1`,
		"an attempt": `INSERT INTO attempts (id, person_id, scenario_id, kind, pace, started_at, finished_at, outcome, rules_version, procedure, procedure_hash, scenario_hash, steps, lines, log, result_json)
			SELECT id || 'x', person_id, scenario_id, kind, pace, started_at, finished_at, outcome, rules_version, procedure, procedure_hash, scenario_hash, steps, lines, log, result_json FROM attempts LIMIT 1`,
		"a signature": `INSERT INTO signatures SELECT demonstration_id, signer_id || 'x', signer_name, 'watched-practice', signed_at, leaf + 900, said FROM signatures WHERE meaning = 'learner' LIMIT 1`,
		"a sign-off":  `INSERT INTO sign_offs SELECT id || 'x', person_id, competency, signer_id, signer_name, signed_on, signed_at, due, leaf + 900, requirements FROM sign_offs`,
	} {
		faults := w.tampered(t, statement)
		require.NotEmpty(t, faults, name)
		require.Contains(t, fieldsOf(faults), "leaf", name)
		require.Regexp(t, "Invented", fmt.Sprint(faults), "people are named: %s", name)
	}
}

// Requirements that a new program brings are ledgered when it begins.
func TestChangedRequirementsAreLedgered(t *testing.T) {
	w := staffed(t)
	require.NoError(t, w.Begin(ctx))
	first, err := w.Store.LatestLeaf(ctx, training.RequirementsLeaf)
	require.NoError(t, err)
	require.NoError(t, w.Begin(ctx))
	same, err := w.Store.LatestLeaf(ctx, training.RequirementsLeaf)
	require.NoError(t, err)
	require.Equal(t, first, same)
	config := w.Config
	config.Library = stricter{w.Library}
	require.NoError(t, training.New(config).Begin(ctx))
	other, err := w.Store.LatestLeaf(ctx, training.RequirementsLeaf)
	require.NoError(t, err)
	require.NotEqual(t, first.Record, other.Record)
	require.NoError(t, w.Begin(ctx))
	back, err := w.Store.LatestLeaf(ctx, training.RequirementsLeaf)
	require.NoError(t, err)
	require.Equal(t, first.Record, back.Record, "going back to the old ones is a change too")
	require.Greater(t, back.Leaf, other.Leaf)
}

// stricter asks for one demonstration more.
type stricter struct{ training.Library }

func (s stricter) Competencies() []training.Competency {
	all := append([]training.Competency(nil), s.Library.Competencies()...)
	all[0].Demonstrations++
	return all
}

// A password that somebody put into the data file signs nothing and gets no leaf of its
// own; nor does a link that the ledger knows nothing of.
func TestAnAccountThatWasChangedInTheFileIsRefused(t *testing.T) {
	w := staffed(t)
	d := w.watch(w.preceptor, w.GoodWork())
	w.Choose(w.preceptor, d.ID, training.WatchedMet)
	w.Close()
	db := raw(t, w.Dir)
	_, err := db.Exec(`UPDATE accounts SET password_hash = (SELECT password_hash FROM accounts WHERE username = 'otto') WHERE username IN ('tess', 'edda')`)
	require.NoError(t, err)
	_, err = db.Exec(`INSERT INTO first_run (id, token_hash, until, person_id) SELECT 1, ?, '2027-01-01T00:00:00.000Z', person_id FROM accounts WHERE username = 'edda'`,
		fmt.Sprintf("%x", sha256.Sum256([]byte("chosen by a stranger"))))
	require.NoError(t, err)
	require.NoError(t, db.Close())
	w.Open()
	const says = "not as the ledger knows it"
	_, err = w.SignAsLearner(ctx, w.preceptor, w.Key(), d.ID, training.Learner{Username: "tess", Password: clinictest.Password})
	require.ErrorContains(t, err, says)
	edda := w.In("edda")
	_, err = w.ChangePassword(ctx, edda, w.Key(), clinictest.Password, long)
	require.ErrorContains(t, err, says)
	_, err = w.NewFirstPassword(ctx, edda, w.Key(), w.trainee.Person.ID)
	require.ErrorContains(t, err, says, "no leaf is written over it")
	_, err = w.UseLink(ctx, "chosen by a stranger", w.Key(), long)
	require.ErrorContains(t, err, "knows nothing of this link")
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Len(t, report.Faults, 2, "both are still told")
}

// Somebody who gave two people of a record new first passwords could have signed as both.
func TestWhoResetBothSignersIsMarked(t *testing.T) {
	w := staffed(t)
	for username, who := range map[string]training.Actor{"tess": w.trainee, "pia": w.preceptor} {
		first, err := w.NewFirstPassword(ctx, w.educator, w.Key(), who.Person.ID)
		require.NoError(t, err)
		a, _, err := w.SignIn(ctx, username, first)
		require.NoError(t, err)
		_, err = w.ChangePassword(ctx, a, w.Key(), first, clinictest.Password)
		require.NoError(t, err)
	}
	d := w.signBoth(w.In("pia"), w.watch(w.In("pia"), w.GoodWork()), training.WatchedMet)
	for _, n := range d.Signatures {
		require.Equal(t, "Edda Invented", w.about(n.Leaf).Named(training.PartResetBy).Name)
	}
	w.verifies()
}
