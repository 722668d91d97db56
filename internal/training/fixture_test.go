package training_test

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/store"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

var fixture = flag.String("fixture", "", "folder to write a data folder of this version to, for testdata/upgrades")

// A clinic with every kind of record, finished and not, signed and not: what a
// later version must be able to open. With -fixture it is kept.
func TestAClinicWithEverythingVerifies(t *testing.T) {
	files, err := clinictest.FrozenFiles()
	require.NoError(t, err)
	o, searches := clinictest.Options{Files: files}, 0
	if *fixture != "" { // what a clinic has is the living set
		searches = 1
		o.Library, err = scenarios.Load()
		require.NoError(t, err)
		o.Files = scenarios.BuiltIn().Map()
	}
	w := openWorld(t, o)
	require.NoError(t, w.Begin(ctx))
	w.staff()
	w.everything()
	for range searches {
		w.search(false, all)
	}
	w.lifeOfTheSet()
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
	require.EqualValues(t, 27+1+1+2+2+1+8+2+2+2+1+searches+1+7+4, report.Leaves, "those of the whole chain; an attempt, a demonstration, its signatures, choice and outcome, one that did not pass; "+
		"what was corrected, chosen, refused, signed, unmet, with its plan proposed and opened; a routine observation kept; one withdrawn; a sign-off withdrawn, an entitlement ended; a closed account; "+
		"the starting point; three versions proposed, two approved, one withdrawn; two people asked for; what follows, another day, read and taken back")
	w.programme()
	w.verifies()
	report, err = w.Verify(ctx)
	require.NoError(t, err)
	w.Close()
	if *fixture == "" {
		return
	}
	require.NoError(t, os.MkdirAll(*fixture, 0o755))
	for _, name := range []string{store.DataFile, store.KeyFile} {
		text, err := os.ReadFile(filepath.Join(w.Dir, name))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(*fixture, name), text, 0o600))
	}
	require.NoError(t, os.WriteFile(filepath.Join(*fixture, "head.txt"), []byte(report.Head.Note), 0o600))
}

// everything lets the people do every kind of thing there is.
func (w *world) everything() {
	w.signedOff()
	w.Build(w.trainee, "ordinary-turnover", func(steps []string) []string { return steps[:len(steps)-3] })
	w.Pass(30 * 24 * time.Hour)
	w.unfinished()
	lines := w.GoodWork()
	w.signBoth(w.preceptor, w.watch(w.preceptor, w.watched("prompted")), training.WatchedPractice)
	w.Pass(time.Hour)
	require.Equal(w.T, "not pass", string(w.watch(w.other, lines[:40]).Outcome))
	w.Pass(time.Hour)
	w.decided()
	stopped := w.begun("blood-wipe")
	_, err := w.AbandonDemonstration(ctx, w.preceptor, w.Key(), stopped.ID)
	require.NoError(w.T, err)
	w.Pass(time.Hour)
	w.begun("station-wipe")
	_, _, err = w.SignIn(ctx, "tess", "not the password of anybody")
	require.ErrorIs(w.T, err, training.ErrPassword)
	w.educator = w.In("edda")
	w.endings()
	require.NoError(w.T, w.SetDisabled(ctx, w.educator, w.Key(), w.other.Person.ID, true))
}

// programme has other annual items, sign-offs from paper and what was asked of people, each put right,
// requirements of the clinic's own, a demonstration that stands again under another person.
func (w *world) programme() {
	w.educator, w.preceptor = w.In("edda"), w.In("pia")
	w.itemsPutRight()
	w.earlierPutRight()
	items, err := w.Items(ctx, w.educator)
	require.NoError(w.T, err)
	w.assignedPutRight(items[0].Item, w.preceptor)
	w.required(func(t *training.Terms) { t.NoticeDays = 45 })
	require.NoError(w.T, w.SetObservationTarget(ctx, w.educator, w.Key(), 0, 14, "Two a week and shift."))
	id := w.ended()
	_, err = w.Restate(ctx, w.preceptor, w.Key(), id, training.Restated{TraineeID: w.other.Person.ID, Product: "station-wipe", Why: "The wrong name was tapped."}, clinictest.Password)
	require.NoError(w.T, err)
}

// endings withdraws a sign-off and ends an entitlement.
func (w *world) endings() {
	given, err := w.Store.SignOffs(ctx, training.SignOffQuery{PersonID: w.trainee.Person.ID})
	require.NoError(w.T, err)
	_, err = w.WithdrawSignOff(ctx, w.educator, w.Key(), given[0].ID, "The second demonstration was of somebody else.", clinictest.Password)
	require.NoError(w.T, err)
	all, err := w.Store.Entitlements(ctx, w.other.Person.ID)
	require.NoError(w.T, err)
	require.NoError(w.T, w.EndEntitlement(ctx, w.educator, w.Key(), w.other.Person.ID, all[0].ID, "He moves to another unit."))
}

// decided has outcomes of every kind besides: corrected, refused and signed all the same,
// with its plan opened; withdrawn; a routine observation of nobody that is kept.
func (w *world) decided() {
	id := w.stage("ended")
	_, err := w.Correct(ctx, w.preceptor, w.Key(), id, "It was only half of it.", []training.Correction{{Struck: 1}, {Step: "wipe-top"}})
	require.NoError(w.T, err)
	w.Choose(w.preceptor, id, training.WatchedNotMet)
	_, err = w.Refuse(ctx, w.trainee, w.Key(), id, "I was called away.")
	require.NoError(w.T, err)
	_, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), id, training.WatchedNotMet, clinictest.Password)
	require.NoError(w.T, err)
	plans, err := w.Store.Plans(ctx, training.PlanQuery{})
	require.NoError(w.T, err)
	_, err = w.AnswerPlan(ctx, w.educator, w.Key(), plans[0].ID, training.PlanOpened, w.Today().AddDays(7), "Wiping the machine.")
	require.NoError(w.T, err)
	_, err = w.Keep(ctx, w.preceptor, w.Key(), w.routine(training.Start{Setting: training.Setting{Announced: "no", Discipline: "technician",
		InUse: []training.ProductInUse{{ID: "station-wipe"}, {ID: "blood-wipe", MadeAt: "06:30"}}}}))
	require.NoError(w.T, err)
	w.stage("withdrawn")
	w.Pass(time.Hour)
}

// lifeOfTheSet has a version that holds, one that will, one that was taken back, and a draft.
func (w *world) lifeOfTheSet() {
	w.dutiesOf(w.approved(w.proposed("Station wipe, label of 2 minutes"), w.Today()))
	paper := w.proposed("Station wipe, labelled for 2 minutes")
	ap := w.approving(paper, w.Today().AddDays(30))
	ap.Approval = clinictest.OnPaper
	_, err := w.ApproveSet(ctx, w.educator, w.Key(), ap, clinictest.Password, training.SecondPerson{})
	require.NoError(w.T, err)
	v := w.proposed("Two-minute station wipe")
	_, err = w.WithdrawSet(ctx, w.educator, w.Key(), v.Number, "The label is still to be read again.")
	require.NoError(w.T, err)
	require.NoError(w.T, w.AskTwoToApprove(ctx, w.educator, w.Key(), true, training.Approval{}, clinictest.Password, training.SecondPerson{}))
}

// dutiesOf has something follow from a version: read, taken back, and open; one got another
// day before.
func (w *world) dutiesOf(v training.SetVersion) {
	tess := w.In("tess")
	w.confirmed(v, w.asked(training.Trainee, training.ReadDuty, ""), w.asked(training.Trainee, training.DemonstrationDuty, turnover), w.asked(training.Preceptor, training.ReadDuty, ""))
	_, err := w.AcknowledgeDuty(ctx, tess, w.Key(), w.duty(tess, training.ReadDuty).ID, clinictest.Password)
	require.NoError(w.T, err)
	shown := w.duty(tess, training.DemonstrationDuty)
	_, err = w.MoveDuty(ctx, w.educator, w.Key(), shown.ID, shown.Due.AddDays(7), "She is on leave.")
	require.NoError(w.T, err)
	_, err = w.TakeBackDuty(ctx, w.educator, w.Key(), shown.ID, "She has been watched since.")
	require.NoError(w.T, err)
}

// unfinished leaves a run and a build where they are.
func (w *world) unfinished() {
	d, err := w.StartRun(ctx, w.trainee, w.Key(), w.Run.ID, w.Run.Pace, false)
	require.NoError(w.T, err)
	w.Pass(10 * time.Second)
	_, err = w.Tap(ctx, w.trainee, d.ID, w.Key(), "rub-hands", 9000)
	require.NoError(w.T, err)
	o, err := w.OpenDraft(ctx, w.trainee, "blood-on-the-machine", false)
	require.NoError(w.T, err)
	_, err = w.SaveSteps(ctx, w.trainee, o.ID, o.Revision, []string{"rub-hands", "gloves-on"})
	require.NoError(w.T, err)
}

// begun is a recording with one tap.
func (w *world) begun(product string) training.Demonstration {
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, w.Competency.ID, product)
	require.NoError(w.T, err)
	_, err = w.Observe(ctx, w.preceptor, d.ID, training.Observed{Key: w.Key(), AtMs: 10, Step: "rub-hands"})
	require.NoError(w.T, err)
	return d
}
