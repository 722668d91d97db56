package training_test

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// withSets is a staffed clinic whose set lies in its data file. A second educator is there.
func withSets(t testing.TB) *world {
	files, err := clinictest.FrozenFiles()
	require.NoError(t, err)
	w := openWorld(t, clinictest.Options{Files: files})
	require.NoError(t, w.Begin(ctx))
	w.staff()
	w.hire("Emil Invented", "emil", training.Educator)
	return w
}

const wordOfTheSet = "Station wipe, 2-minute label"

// changedFiles are files in which a product has another name.
func changedFiles(t testing.TB, files map[string][]byte, name string) map[string][]byte {
	files, changed := maps.Clone(files), false
	for file, text := range files {
		if strings.HasSuffix(file, ".yaml") && bytes.Contains(text, []byte(wordOfTheSet)) {
			files[file], changed = bytes.ReplaceAll(text, []byte(wordOfTheSet), []byte(name)), true
		}
	}
	require.True(t, changed)
	return files
}

func (w *world) startFiles() map[string][]byte {
	files, err := w.SetFiles(ctx, w.educator, 1)
	require.NoError(w.T, err)
	return files
}

// revision is that of the draft as it is now.
func (w *world) revision() int {
	d, err := w.SetDraft(ctx, w.educator)
	require.NoError(w.T, err)
	return d.Revision
}

func (w *world) saved(name string) training.SetDraft {
	d, err := w.SaveSetDraft(ctx, w.educator, w.Key(), training.SetSaving{Revision: w.revision(), Files: changedFiles(w.T, w.startFiles(), name)})
	require.NoError(w.T, err)
	return d
}

// proposed is a version that waits to be approved.
func (w *world) proposed(name string) training.SetVersion {
	w.saved(name)
	v, err := w.ProposeSet(ctx, w.educator, w.Key(), w.revision(), "The label was renamed.")
	require.NoError(w.T, err)
	return v
}

// approving is what an educator sends who approves by her own word.
func (w *world) approving(v training.SetVersion, from training.Day) training.SetApproving {
	return training.SetApproving{Version: v.Number, Hash: v.Hash, From: from, Approval: training.Approval{How: training.ApprovedHere}}
}

func (w *world) approved(v training.SetVersion, from training.Day) training.SetVersion {
	v, err := w.ApproveSet(ctx, w.educator, w.Key(), w.approving(v, from), clinictest.Password, training.SecondPerson{})
	require.NoError(w.T, err)
	return v
}

// productName is what the station's product is called by what is in force.
func (w *world) productName() string {
	p, ok := w.Library.Procedure(w.Procedure.ID)
	require.True(w.T, ok)
	for _, x := range p.Products {
		if x.ID == "station-wipe" {
			return x.Title
		}
	}
	return ""
}

func saveSet(w *world) sending {
	files := changedFiles(w.T, w.startFiles(), "Other wipe")
	return func(key string) (any, error) {
		return w.SaveSetDraft(ctx, w.educator, key, training.SetSaving{Files: files, Edits: `[{"do":"put"}]`})
	}
}

func saveSetAgain(w *world) sending {
	w.saved("Some wipe")
	files := changedFiles(w.T, w.startFiles(), "Other wipe")
	return func(key string) (any, error) {
		return w.SaveSetDraft(ctx, w.educator, key, training.SetSaving{Revision: 1, Files: files})
	}
}

func takeVersion(w *world) sending {
	return func(key string) (any, error) { return w.TakeVersionAsDraft(ctx, w.educator, key, 1, 0) }
}

func discardSet(w *world) sending {
	w.saved("Other wipe")
	return func(key string) (any, error) { return nil, w.DiscardSetDraft(ctx, w.educator, key, 1) }
}

func proposeSet(w *world) sending {
	w.saved("Other wipe")
	return func(key string) (any, error) { return w.ProposeSet(ctx, w.educator, key, 1, "Renamed.") }
}

func withdrawSet(w *world) sending {
	v := w.proposed("Other wipe")
	return func(key string) (any, error) {
		return w.WithdrawSet(ctx, w.educator, key, v.Number, "Not yet.")
	}
}

func approveSet(w *world) sending {
	v := w.proposed("Other wipe")
	return func(key string) (any, error) {
		return w.ApproveSet(ctx, w.educator, key, w.approving(v, w.Today()), clinictest.Password, training.SecondPerson{})
	}
}

var emil = training.SecondPerson{Username: "emil", Password: clinictest.Password}

func approveSetTogether(w *world) sending {
	v := w.proposed("Other wipe")
	return func(key string) (any, error) {
		return w.ApproveSet(ctx, w.educator, key, w.approving(v, w.Today()), clinictest.Password, emil)
	}
}

func approveSetOnPaper(w *world) sending {
	v := w.proposed("Other wipe")
	ap := w.approving(v, w.Today())
	ap.Approval = clinictest.OnPaper
	return func(key string) (any, error) {
		return w.ApproveSet(ctx, w.educator, key, ap, clinictest.Password, training.SecondPerson{})
	}
}

func askTwo(w *world) sending {
	return func(key string) (any, error) {
		return nil, w.AskTwoToApprove(ctx, w.educator, key, true, training.Approval{}, clinictest.Password, training.SecondPerson{})
	}
}

func askOneAgain(w *world) sending {
	_, err := askTwo(w)(w.Key())
	require.NoError(w.T, err)
	return func(key string) (any, error) {
		return nil, w.AskTwoToApprove(ctx, w.educator, key, false, training.Approval{How: training.ApprovedHere}, clinictest.Password, emil)
	}
}

func (w *world) verified() {
	report, err := w.Verify(ctx)
	require.NoError(w.T, err)
	require.Empty(w.T, report.Faults)
}

func TestAClinicBeginsWithTheStartingPoint(t *testing.T) {
	w := withSets(t)
	all, err := w.Sets(ctx, w.trainee)
	require.NoError(t, err)
	require.Len(t, all.Versions, 1)
	v := all.Versions[0]
	require.Equal(t, 1, all.InForce)
	require.Equal(t, training.StartingPoint, v.Origin)
	require.Equal(t, training.SetStarted, v.State())
	require.Empty(t, v.Made().ByID, "nobody confirmed it")
	l, err := w.Store.LeavesAt(ctx, []int64{v.Made().Leaf})
	require.NoError(t, err)
	require.Equal(t, training.SetLeaf, l[v.Made().Leaf].Kind)
	require.NoError(t, w.Begin(ctx))
	again, err := w.Sets(ctx, w.educator)
	require.NoError(t, err)
	require.Equal(t, all.Versions, again.Versions, "made once")
	w.verified()
}

// What is approved holds from its day on, at midnight in the clinic's zone, without a
// start; and after a start just the same.
func TestAVersionHoldsFromItsDay(t *testing.T) {
	w := withSets(t)
	begun, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	v := w.proposed("Other wipe")
	require.Equal(t, wordOfTheSet, w.productName(), "what is proposed does not hold")
	w.approved(v, w.Today().AddDays(1))
	require.Equal(t, wordOfTheSet, w.productName(), "not yet")
	midnight := w.Today().End(w.Zone()).Time()
	w.Set(midnight.Add(-time.Millisecond))
	require.Equal(t, wordOfTheSet, w.productName())
	w.Set(midnight)
	require.Equal(t, "Other wipe", w.productName())
	w.Close()
	w.Open()
	require.Equal(t, "Other wipe", w.productName())
	all, err := w.Sets(ctx, w.trainee)
	require.NoError(t, err)
	require.Equal(t, 2, all.InForce)
	require.Equal(t, 1, training.SetInForceAt(all.Versions, begun.StartedAt, w.Zone()).Number)
	require.Equal(t, 2, training.SetInForceAt(all.Versions, training.InstantOf(w.Now()), w.Zone()).Number)
	now, err := w.StartDemonstration(ctx, w.other, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	require.NotEqual(t, begun.ProcedureHash, now.ProcedureHash)
	_, err = w.Observe(ctx, w.preceptor, begun.ID, training.Observed{Key: w.Key(), AtMs: 10, Step: "rub-hands"})
	require.NoError(t, err)
	ended, err := w.EndDemonstration(ctx, w.preceptor, w.Key(), begun.ID, 10, "")
	require.NoError(t, err)
	require.Equal(t, begun.ProcedureHash, ended.ProcedureHash, "judged by what held when it began")
	w.verified()
}

// A day that begins late, as where clocks go on at midnight, begins then; a clock that is
// set back goes back to what held.
func TestTheShelfFollowsTheClock(t *testing.T) {
	zone, err := time.LoadLocation("America/Santiago") // no midnight on 6 September 2026
	require.NoError(t, err)
	files, err := clinictest.FrozenFiles()
	require.NoError(t, err)
	w := &world{Clinic: clinictest.New(t, clinictest.Options{Files: files, Zone: zone.String(), Start: time.Date(2026, 9, 4, 12, 0, 0, 0, zone)})}
	require.NoError(t, w.Begin(ctx))
	w.staff()
	w.approved(w.proposed("Other wipe"), "2026-09-05")
	w.approved(w.proposed("Another wipe"), "2026-09-06")
	days := []struct {
		at   time.Time
		says string
	}{
		{time.Date(2026, 9, 4, 23, 59, 59, 0, zone), wordOfTheSet}, {time.Date(2026, 9, 5, 0, 0, 0, 0, zone), "Other wipe"},
		{time.Date(2026, 9, 5, 23, 59, 59, 0, zone), "Other wipe"}, {time.Date(2026, 9, 6, 1, 0, 0, 0, zone), "Another wipe"},
		{time.Date(2026, 9, 5, 12, 0, 0, 0, zone), "Other wipe"}, {time.Date(2026, 9, 1, 0, 0, 0, 0, zone), wordOfTheSet},
	}
	for _, c := range days {
		w.Set(c.at)
		require.Equal(t, c.says, w.productName(), c.at)
	}
	for _, c := range days {
		w.Close()
		w.Set(c.at)
		w.Open()
		require.Equal(t, c.says, w.productName(), "%s, after a start", c.at)
	}
}

func TestNewHiresDoNotGetTheAnswersOfTests(t *testing.T) {
	w := withSets(t)
	_, err := w.SetFiles(ctx, w.trainee, 1)
	require.ErrorIs(t, err, training.ErrForbidden)
	_, err = w.SetDraft(ctx, w.preceptor)
	require.ErrorIs(t, err, training.ErrForbidden)
	w.saved("Other wipe")
	all, err := w.Sets(ctx, w.trainee)
	require.NoError(t, err)
	require.Zero(t, all.Draft)
}

func TestWhatIsNotApprovedAndWhy(t *testing.T) {
	w := withSets(t)
	v := w.proposed("Other wipe")
	emilActor, tomorrow := w.In("emil"), w.Today().AddDays(1)
	for name, c := range map[string]struct {
		actor    training.Actor
		change   func(*training.SetApproving)
		password string
		second   training.SecondPerson
		kind     error
		says     string
	}{
		"a preceptor":               {actor: w.preceptor, kind: training.ErrForbidden, says: "Your role"},
		"a new hire":                {actor: w.trainee, kind: training.ErrForbidden, says: "Your role"},
		"another password":          {password: "not hers at all", kind: training.ErrPassword, says: "do not match"},
		"yesterday":                 {change: func(a *training.SetApproving) { a.From = w.Today().AddDays(-1) }, kind: training.ErrInvalid, says: "that day is over"},
		"no day":                    {change: func(a *training.SetApproving) { a.From = "soon" }, kind: training.ErrInvalid, says: "from which day"},
		"something else":            {change: func(a *training.SetApproving) { a.Hash = strings.Repeat("a", 64) }, kind: training.ErrConflict, says: "not what was shown"},
		"the starting point":        {change: func(a *training.SetApproving) { a.Version = 1 }, kind: training.ErrConflict, says: "does not wait"},
		"no such version":           {change: func(a *training.SetApproving) { a.Version = 9 }, kind: training.ErrNotFound, says: "no version 9"},
		"nobody":                    {change: func(a *training.SetApproving) { a.Approval.How = "" }, kind: training.ErrInvalid, says: "Say who approves"},
		"a paper of nobody":         {change: func(a *training.SetApproving) { a.Approval = clinictest.OnPaper; a.Approval.By = " " }, kind: training.ErrInvalid, says: "needs who gave it"},
		"a paper that lies nowhere": {change: func(a *training.SetApproving) { a.Approval = clinictest.OnPaper; a.Approval.Where = "" }, kind: training.ErrInvalid, says: "where the paper lies"},
		"a paper of tomorrow":       {change: func(a *training.SetApproving) { a.Approval = clinictest.OnPaper; a.Approval.On = tomorrow }, kind: training.ErrInvalid, says: "still to come"},
		"a preceptor as second":     {second: training.SecondPerson{Username: "pia", Password: clinictest.Password}, kind: training.ErrInvalid, says: "has to be an educator"},
	} {
		t.Run(name, func(t *testing.T) {
			actor, ap, password := w.educator, w.approving(v, tomorrow), clinictest.Password
			if c.actor.Person.ID != "" {
				actor = c.actor
			}
			if c.change != nil {
				c.change(&ap)
			}
			if c.password != "" {
				password = c.password
			}
			before := w.leaves()
			_, err := w.ApproveSet(ctx, actor, w.Key(), ap, password, c.second)
			require.ErrorIs(t, err, c.kind)
			require.ErrorContains(t, err, c.says)
			require.Equal(t, before, w.leaves())
		})
	}
	require.NoError(t, w.AskTwoToApprove(ctx, w.educator, w.Key(), true, training.Approval{}, clinictest.Password, training.SecondPerson{}))
	_, err := w.ApproveSet(ctx, w.educator, w.Key(), w.approving(v, tomorrow), clinictest.Password, training.SecondPerson{})
	require.ErrorContains(t, err, "Two people are asked for here, and Edda Invented proposed it")
	err = w.AskTwoToApprove(ctx, w.educator, w.Key(), false, training.Approval{How: training.ApprovedHere}, clinictest.Password, training.SecondPerson{})
	require.ErrorContains(t, err, "A second person has to agree")
	got, err := w.ApproveSet(ctx, emilActor, w.Key(), w.approving(v, tomorrow), clinictest.Password, training.SecondPerson{})
	require.NoError(t, err, "who did not propose it approves it alone")
	last := got.Events[len(got.Events)-1]
	require.Equal(t, training.Approval{How: training.ApprovedHere, ByID: emilActor.Person.ID, By: "Emil Invented", Role: "educator", On: w.Today()}, last.Approval)
	w.verified()
}

// What stands on the leaf of an approval is who they were then.
func TestTheLeafOfAnApprovalNamesWhoApproved(t *testing.T) {
	w := withSets(t)
	e := w.entitlement(w.educator, "2026-01-01", "2027-12-31")
	e.Credential = "RN, invented licence"
	_, err := w.Entitle(ctx, w.educator, w.Key(), e, training.SecondPerson{})
	require.NoError(t, err)
	v := w.proposed("Other wipe")
	v, err = w.ApproveSet(ctx, w.educator, w.Key(), w.approving(v, w.Today()), clinictest.Password, emil)
	require.NoError(t, err)
	l, err := w.Store.LeavesOf(ctx, training.SetLeaf, "2", 10)
	require.NoError(t, err)
	require.Len(t, l, 2, "proposed and approved")
	require.Equal(t, "RN, invented licence", l[1].Named(training.PartBy).Credential)
	require.Equal(t, "Emil Invented", l[1].Named(training.PartApprover).Name)
	for _, word := range []string{`"hash":"` + v.Hash + `"`, `"number":2`, `"in_force_from":"` + string(w.Today()) + `"`, `"kind":"set"`} {
		require.Contains(t, string(l[1].Bytes), word)
	}
	w.verified()
}

// Two editors at once: the second is told, and what the first saved stays.
func TestTwoEditorsLoseNothing(t *testing.T) {
	w := withSets(t)
	other := w.In("emil")
	files := w.startFiles()
	first, err := w.SaveSetDraft(ctx, w.educator, w.Key(), training.SetSaving{Files: changedFiles(t, files, "Hers")})
	require.NoError(t, err)
	late := func(revision int) error {
		_, err := w.SaveSetDraft(ctx, other, w.Key(), training.SetSaving{Revision: revision, Files: changedFiles(t, files, "His")})
		return err
	}
	err = late(0)
	require.ErrorIs(t, err, training.ErrConflict)
	require.ErrorContains(t, err, "Edda Invented changed the draft at")
	require.ErrorContains(t, err, "yours was not saved over it")
	d, err := w.SetDraft(ctx, other)
	require.NoError(t, err)
	require.Equal(t, first.Files, d.Files)

	require.NoError(t, w.DiscardSetDraft(ctx, w.educator, w.Key(), first.Revision))
	require.ErrorContains(t, late(first.Revision), "proposed or discarded the draft")
	w.saved("Hers again")
	require.ErrorContains(t, late(first.Revision), "changed the draft", "another draft has no revision of the one before")

	_, err = w.ProposeSet(ctx, w.educator, w.Key(), w.revision(), "Renamed.")
	require.NoError(t, err)
	require.ErrorContains(t, late(w.revision()), "Version 2 waits to be approved")
	_, err = w.WithdrawSet(ctx, other, w.Key(), 2, "One more thing.")
	require.NoError(t, err)
	d, err = w.SetDraft(ctx, other)
	require.NoError(t, err)
	require.Equal(t, changedFiles(t, files, "Hers again"), d.Files, "what was taken back is the draft again")
	require.NoError(t, late(d.Revision))
}

// Work that was begun before a scenario went is in nobody's way, and goes on when it is back.
func TestWorkBegunUnderAnotherVersion(t *testing.T) {
	w := withSets(t)
	d, err := w.OpenDraft(ctx, w.trainee, "blood-on-the-machine", false)
	require.NoError(t, err)
	d, err = w.SaveSteps(ctx, w.trainee, d.ID, d.Revision, []string{"rub-hands", "gloves-on"})
	require.NoError(t, err)
	_, err = w.SaveSetDraft(ctx, w.educator, w.Key(), training.SetSaving{Files: withoutBlood(t, w.startFiles())})
	require.NoError(t, err)
	v, err := w.ProposeSet(ctx, w.educator, w.Key(), 1, "We never had that machine.")
	require.NoError(t, err)
	w.approved(v, w.Today())
	_, err = w.Home(ctx, w.trainee)
	require.NoError(t, err)
	_, err = w.FinishBuild(ctx, w.trainee, w.Key(), d.ID, d.Revision)
	require.ErrorIs(t, err, training.ErrNotFound)
	require.ErrorContains(t, err, "no such scenario")

	_, err = w.TakeVersionAsDraft(ctx, w.educator, w.Key(), 1, w.revision())
	require.NoError(t, err)
	back, err := w.ProposeSet(ctx, w.educator, w.Key(), w.revision(), "We have it now.")
	require.NoError(t, err)
	require.Equal(t, 3, back.Number)
	require.Equal(t, 2, back.BasedOn)
	w.approved(back, w.Today())
	a, err := w.FinishBuild(ctx, w.trainee, w.Key(), d.ID, d.Revision)
	require.NoError(t, err)
	require.Equal(t, []string{"rub-hands", "gloves-on"}, a.Steps)
	w.verified()
}

// Saved at once, one of them is kept, and whoever is not is told.
func TestSavedAtOnceOneIsKept(t *testing.T) {
	w := withSets(t)
	files := w.startFiles()
	editors := []training.Actor{w.educator, w.In("emil")}
	for n := range 5 {
		revision, errs := w.revision(), make([]error, len(editors))
		var all sync.WaitGroup
		for i, who := range editors {
			sent := training.SetSaving{Revision: revision, Files: changedFiles(t, files, fmt.Sprintf("%s's %d", who.Person.Name, n))}
			all.Go(func() { _, errs[i] = w.SaveSetDraft(ctx, who, w.Key(), sent) })
		}
		all.Wait()
		kept := slices.Index(errs, nil)
		require.GreaterOrEqual(t, kept, 0)
		require.ErrorIs(t, errs[1-kept], training.ErrConflict)
		d, err := w.SetDraft(ctx, w.educator)
		require.NoError(t, err)
		require.Equal(t, changedFiles(t, files, fmt.Sprintf("%s's %d", editors[kept].Person.Name, n)), d.Files)
	}
}

func TestWhatIsNoSetIsRefused(t *testing.T) {
	w := withSets(t)
	big := map[string][]byte{"a.yaml": make([]byte, 1<<20+1)}
	many := map[string][]byte{}
	for i := range 401 {
		many[fmt.Sprintf("a%d.yaml", i)] = nil
	}
	heavy := map[string][]byte{}
	for i := range 9 {
		heavy[fmt.Sprintf("a%d.yaml", i)] = make([]byte, 1<<20)
	}
	for says, files := range map[string]map[string][]byte{
		"larger than a file": big, "401 files": many, "larger than a set": heavy, "no files": {}, "plain names": {"../a.yaml": nil},
	} {
		_, err := w.SaveSetDraft(ctx, w.educator, w.Key(), training.SetSaving{Files: files})
		require.ErrorIs(t, err, training.ErrInvalid)
		require.ErrorContains(t, err, says)
		_, err = w.ImportSet(ctx, files)
		require.ErrorContains(t, err, says)
	}
	_, err := w.SaveSetDraft(ctx, w.preceptor, w.Key(), training.SetSaving{Files: w.startFiles()})
	require.ErrorIs(t, err, training.ErrForbidden)
	_, err = w.SaveSetDraft(ctx, w.educator, w.Key(), training.SetSaving{Files: w.startFiles()})
	require.NoError(t, err)
	_, err = w.ProposeSet(ctx, w.educator, w.Key(), 1, "For nothing.")
	require.ErrorContains(t, err, "the same as version 1")
	_, err = w.ImportSet(ctx, w.startFiles())
	require.ErrorContains(t, err, "There is a draft already (Edda Invented")
}

// A set with a fault is kept as a draft, so that nothing is lost, and goes no further.
func TestAFaultyDraftIsNotProposed(t *testing.T) {
	w := withSets(t)
	files := w.startFiles()
	for name := range files {
		if strings.HasSuffix(name, ".procedure.yaml") {
			files[name] = append(slices.Clone(files[name]), "\nnonsense: 1\n"...)
		}
	}
	_, err := w.SaveSetDraft(ctx, w.educator, w.Key(), training.SetSaving{Files: files})
	require.NoError(t, err)
	_, err = w.ProposeSet(ctx, w.educator, w.Key(), 1, "Renamed.")
	require.ErrorIs(t, err, training.ErrInvalid)
	require.ErrorContains(t, err, "procedure.yaml:")
	require.ErrorContains(t, err, "nonsense")
	d, err := w.SetDraft(ctx, w.educator)
	require.NoError(t, err)
	require.True(t, d.Open)
}

// Whatever order saving, proposing, approving, withdrawing and going back come in: what
// holds was approved and can be read, and every stored attempt and demonstration is there,
// with what it was judged by, and verifies.
func TestAnySequenceKeepsEveryResult(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("luck %d", seed)
	lives := 1
	if os.Getenv("ROUNDS") != "" {
		lives = rounds(t)
	}
	for round := range lives {
		w := withSets(t)
		l := &life{w: w, dice: rand.New(rand.NewPCG(seed, uint64(round))), results: map[string]string{}}
		for range 25 {
			l.step()
			l.holds()
		}
		w.verified()
		l.allThere()
		l.pages()
		w.Close()
		w.Open()
		l.holds()
		l.allThere()
	}
}

// life is a clinic in which anything happens.
type life struct {
	w       *world
	dice    *rand.Rand
	names   int
	results map[string]string // result as judged, by the id of its record
}

func (l *life) step() {
	w := l.w
	d, err := w.SetDraft(ctx, w.educator)
	require.NoError(w.T, err)
	all, err := w.Sets(ctx, w.educator)
	require.NoError(w.T, err)
	switch l.dice.IntN(9) {
	case 0, 1:
		l.names++
		files := changedFiles(w.T, w.startFiles(), fmt.Sprintf("Wipe %d", l.names))
		switch l.dice.IntN(4) {
		case 0: // one that cannot be used
			files["programme.yaml"] = []byte("competencies: [")
		case 1: // a scenario less, of which there may be attempts and drafts
			files = withoutBlood(w.T, files)
		}
		_, err = w.SaveSetDraft(ctx, w.educator, w.Key(), training.SetSaving{Revision: d.Revision - l.dice.IntN(2), Files: files})
	case 2, 3:
		_, err = w.ProposeSet(ctx, w.educator, w.Key(), d.Revision, "Luck.")
	case 4, 5:
		v := all.Versions[len(all.Versions)-1]
		if l.dice.IntN(4) == 0 {
			v = all.Versions[l.dice.IntN(len(all.Versions))]
		}
		_, err = w.ApproveSet(ctx, w.educator, w.Key(), w.approving(v, w.Today().AddDays(l.dice.IntN(3)-1)), clinictest.Password, training.SecondPerson{})
	case 6:
		_, err = w.WithdrawSet(ctx, w.educator, w.Key(), len(all.Versions), "Luck.")
	case 7:
		_, err = w.TakeVersionAsDraft(ctx, w.educator, w.Key(), 1+l.dice.IntN(len(all.Versions)), d.Revision)
	case 8:
		w.Pass(20 * time.Hour)
		for _, id := range []string{"ordinary-turnover", "blood-on-the-machine"} {
			if _, ok := w.Library.Scenario(id); ok {
				a := w.Build(w.trainee, id, func(s []string) []string { return s[:1+l.dice.IntN(len(s))] })
				l.results[a.ID] = string(a.ResultJSON)
			}
		}
		if _, started := w.StartRun(ctx, w.trainee, w.Key(), w.Run.ID, w.Run.Pace, false); started != nil { // stays open
			require.ErrorIs(w.T, started, training.ErrConflict)
		}
		x := w.watch(w.preceptor, w.GoodWork()[:5])
		l.results[x.ID] = string(x.ResultJSON)
		w.educator = w.In("edda")
	}
	if err != nil {
		require.Regexp(w.T, "not valid|record has changed", kindOf(err), err)
	}
}

// withoutBlood are files without one of their scenarios.
func withoutBlood(t testing.TB, files map[string][]byte) map[string][]byte {
	files = maps.Clone(files)
	for name, old := range map[string]string{"programme.yaml": "blood-on-the-machine, ", "course.yaml": "      - {test: blood-on-the-machine, minutes: 10}\n"} {
		require.Contains(t, string(files[name]), old)
		files[name] = bytes.Replace(files[name], []byte(old), nil, 1)
	}
	delete(files, "blood-on-the-machine.yaml")
	delete(files, "blood-on-the-machine.model.log")
	return files
}

func kindOf(err error) string {
	for _, kind := range []error{training.ErrInvalid, training.ErrConflict} {
		if x, ok := err.(interface{ Unwrap() error }); ok && x.Unwrap() == kind {
			return kind.Error()
		}
	}
	return err.Error()
}

// holds checks what holds now against the versions.
func (l *life) holds() {
	w := l.w
	all, err := w.Sets(ctx, w.educator)
	require.NoError(w.T, err)
	require.Equal(w.T, all.InForce, w.Library.(*training.Shelf).Number())
	v := all.Versions[all.InForce-1]
	require.Contains(w.T, []training.SetEventKind{training.SetStarted, training.SetApproved}, v.State())
	require.LessOrEqual(w.T, v.InForceFrom(), w.Today())
	files, err := w.SetFiles(ctx, w.educator, v.Number)
	require.NoError(w.T, err)
	require.Equal(w.T, v.Hash, training.SetHash(files))
	lib, err := w.SetLibrary(ctx, w.trainee, v.Number)
	require.NoError(w.T, err, "what holds can be read")
	holds, _ := w.Library.Procedure(w.Procedure.ID)
	reads, _ := lib.Procedure(w.Procedure.ID)
	require.Equal(w.T, reads.Hash, holds.Hash)
}

// pages asks what pages ask of a person, whatever holds.
func (l *life) pages() {
	w := l.w
	_, err := w.Home(ctx, w.trainee)
	require.NoError(w.T, err)
	_, err = w.Record(ctx, w.trainee, w.trainee.Person.ID)
	require.NoError(w.T, err)
	_, err = w.Annual(ctx, w.educator, 2026)
	require.NoError(w.T, err)
	_, err = w.People(ctx, w.educator)
	require.NoError(w.T, err)
}

// allThere reads every result with what it was judged by.
func (l *life) allThere() {
	w := l.w
	for id, result := range l.results {
		if a, err := w.Attempt(ctx, w.trainee, id); err == nil {
			require.Equal(w.T, result, string(a.ResultJSON))
			p, err := w.CitedProcedure(ctx, a.ProcedureHash)
			require.NoError(w.T, err)
			require.Equal(w.T, a.ProcedureHash, p.Hash)
			_, err = w.CitedScenario(ctx, a.ScenarioHash)
			require.NoError(w.T, err)
			continue
		}
		d, err := w.Demonstration(ctx, w.trainee, id)
		require.NoError(w.T, err)
		require.Equal(w.T, result, string(d.ResultJSON))
		_, err = w.CitedProcedure(ctx, d.ProcedureHash)
		require.NoError(w.T, err)
	}
}
