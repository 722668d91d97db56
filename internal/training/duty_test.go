package training_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// What a version may have otherwise, as text in the files and what takes its place.
var (
	renamed = [2]string{wordOfTheSet, "Other wipe"}
	longer  = [2]string{`level: low, label_s: 120, dries_s: 150, basis`, `level: low, label_s: 130, dries_s: 150, basis`}
	shorter = [2]string{`level: low, label_s: 120, dries_s: 150, basis`, `level: low, label_s: 110, dries_s: 150, basis`}
	other   = [2]string{`level: intermediate, label_s: 180,`, `level: intermediate, label_s: 200,`} // of a wipe that no ordinary turnover takes
	failing = [2]string{`rule: hands-before-gloves, worth: 3, critical: false`, `rule: hands-before-gloves, worth: 3, critical: true`}
	lowered = [2]string{"cut_percent: 90", "cut_percent: 85"}
	signed  = [2]string{`declare-ready, why: A station without its bucket is not ready., basis: common practice, confirmed: {by: "A. Educator", on: "2026-09-01"}`,
		`declare-ready, why: A station without its bucket is not ready., basis: common practice, confirmed: {by: "B. Educator", on: "2026-09-02"}`}
	taughtWet = [2]string{"every-surface]", "every-surface, wet-long-enough]"}
)

// inForce brings a version into force that differs so from the one before it.
func (w *world) inForce(from training.Day, changes ...[2]string) training.SetVersion {
	all, err := w.Sets(ctx, w.educator)
	require.NoError(w.T, err)
	files, err := w.SetFiles(ctx, w.educator, all.Base)
	require.NoError(w.T, err)
	for _, c := range changes {
		found := false
		for name, text := range files {
			if bytes.Contains(text, []byte(c[0])) {
				files[name], found = bytes.ReplaceAll(text, []byte(c[0]), []byte(c[1])), true
			}
		}
		require.True(w.T, found, c[0])
	}
	_, err = w.SaveSetDraft(ctx, w.educator, w.Key(), training.SetSaving{Revision: w.revision(), Files: files})
	require.NoError(w.T, err)
	v, err := w.ProposeSet(ctx, w.educator, w.Key(), w.revision(), "The label was read again.")
	require.NoError(w.T, err)
	return w.approved(v, from)
}

// asked is one thing of everybody in a role, by a day in a week.
func (w *world) asked(r training.Role, kind training.DutyKind, of string) training.Chosen {
	return training.Chosen{Role: r, Kind: kind, Of: of, Due: w.Today().AddDays(7)}
}

func (w *world) confirmed(v training.SetVersion, chosen ...training.Chosen) training.FollowUp {
	f, err := w.ConfirmFollowUp(ctx, w.educator, w.Key(), v.Number, chosen)
	require.NoError(w.T, err)
	return f
}

// duty is the one that somebody has of a kind.
func (w *world) duty(who training.Actor, kind training.DutyKind) training.DutyState {
	all, err := w.DutiesOf(ctx, who, who.Person.ID)
	require.NoError(w.T, err)
	i := slices.IndexFunc(all, func(d training.DutyState) bool { return d.Kind == kind })
	require.GreaterOrEqual(w.T, i, 0, kind)
	return all[i]
}

func confirmFollowUp(w *world) sending {
	v := w.inForce(w.Today(), renamed)
	chosen := []training.Chosen{w.asked(training.Trainee, training.ReadDuty, "")}
	return func(key string) (any, error) { return w.ConfirmFollowUp(ctx, w.educator, key, v.Number, chosen) }
}

func acknowledge(w *world) sending {
	_, err := confirmFollowUp(w)(w.Key())
	require.NoError(w.T, err)
	id := w.duty(w.trainee, training.ReadDuty).ID
	return func(key string) (any, error) {
		return w.AcknowledgeDuty(ctx, w.trainee, key, id, clinictest.Password)
	}
}

func takeBackDuty(w *world) sending {
	_, err := confirmFollowUp(w)(w.Key())
	require.NoError(w.T, err)
	id := w.duty(w.trainee, training.ReadDuty).ID
	return func(key string) (any, error) {
		return w.TakeBackDuty(ctx, w.educator, key, id, "She is on leave until then.")
	}
}

func moveDuty(w *world) sending {
	_, err := confirmFollowUp(w)(w.Key())
	require.NoError(w.T, err)
	d := w.duty(w.trainee, training.ReadDuty)
	due := d.Due.AddDays(9)
	return func(key string) (any, error) {
		return w.MoveDuty(ctx, w.educator, key, d.ID, due, "She is on leave until then.")
	}
}

// proposed says what is proposed of a role, in words.
func proposedOf(f training.Following, r training.Role) (all []string) {
	for _, g := range f.Groups {
		for _, a := range g.Asks {
			if g.Role == r && a.Proposed {
				all = append(all, strings.TrimSpace(string(a.Kind)+" "+a.Of))
			}
		}
	}
	return all
}

func TestWhatIsProposedGoesByWhatChanged(t *testing.T) {
	show := "demonstration " + turnover
	for name, c := range map[string]struct {
		changes [][2]string
		staff   []string
		others  []string // educators
	}{
		"a name":                               {[][2]string{renamed}, []string{"read"}, []string{"read"}},
		"a longer time":                        {[][2]string{longer, taughtWet}, []string{"read", "module first"}, []string{"read"}},
		"a shorter time":                       {[][2]string{shorter, taughtWet}, []string{"read", "module first"}, []string{"read"}},
		"a time that no module teaches":        {[][2]string{longer}, []string{"read"}, []string{"read"}},
		"a mark that fails the whole":          {[][2]string{failing}, []string{"read", "module first", show}, []string{"read"}},
		"the strongest of two":                 {[][2]string{renamed, failing, longer}, []string{"read", "module first", show}, []string{"read"}},
		"a cut":                                {[][2]string{lowered}, []string{"read"}, []string{"read"}},
		"who confirmed, without other meaning": {[][2]string{signed}, nil, nil},
	} {
		t.Run(name, func(t *testing.T) {
			w := withSets(t)
			f, err := w.Following(ctx, w.educator, w.inForce(w.Today(), c.changes...).Number)
			require.NoError(t, err)
			require.NotEmpty(t, f.Changes)
			require.Equal(t, c.staff, proposedOf(f, training.Trainee))
			require.Equal(t, c.staff, proposedOf(f, training.Preceptor))
			require.Equal(t, c.others, proposedOf(f, training.Educator))
			for _, kind := range []training.DutyKind{training.ModuleDuty, training.DemonstrationDuty} {
				require.Equal(t, f.By[training.ReadDuty].AddDays(30), f.By[kind])
			}
		})
	}
}

func TestNobodyIsGivenTheSameTwice(t *testing.T) {
	w := withSets(t)
	v := w.inForce(w.Today().AddDays(3), renamed)
	desk, err := w.ChangeDesk(ctx, w.educator)
	require.NoError(t, err)
	require.Equal(t, 2, desk.Unsaid[0].Number, "it waits for her word")
	read := w.asked(training.Trainee, training.ReadDuty, "")
	first := w.confirmed(v, read, w.asked(training.Preceptor, training.ReadDuty, ""))
	require.Equal(t, 1, first.Seq)
	_, err = w.ConfirmFollowUp(ctx, w.educator, w.Key(), v.Number, []training.Chosen{read})
	require.ErrorIs(t, err, training.ErrConflict)
	require.ErrorContains(t, err, "Nobody was added")
	w.hire("Nora Invented", "nora", training.Trainee)
	f, err := w.Following(ctx, w.educator, v.Number)
	require.NoError(t, err)
	require.Len(t, f.Groups[0].People, 2)
	require.Equal(t, 1, f.Groups[0].Asks[0].Has)
	require.Equal(t, 1, f.Groups[0].Asks[0].New)
	require.True(t, f.Groups[0].Asks[0].Asked)
	require.False(t, f.Groups[0].Asks[1].Asked)
	desk, err = w.ChangeDesk(ctx, w.educator)
	require.NoError(t, err)
	require.Equal(t, training.Newcomers{Version: 2, People: 1}, desk.Newcomers)
	require.Equal(t, 2, w.confirmed(v, read).Seq)
	f, err = w.Following(ctx, w.educator, v.Number)
	require.NoError(t, err)
	require.Len(t, f.Duties, 4, "two preceptors, two new hires")
	desk, err = w.ChangeDesk(ctx, w.educator)
	require.NoError(t, err)
	require.Empty(t, desk.Unsaid)
	require.Zero(t, desk.Newcomers.People)
	require.Equal(t, []training.DutyCount{{Version: 2, Open: 4}}, desk.Versions)
	w.Pass(8 * 24 * time.Hour)
	desk, err = w.ChangeDesk(ctx, w.In("edda"))
	require.NoError(t, err)
	require.Equal(t, []training.DutyCount{{Version: 2, Open: 4, Overdue: 4}}, desk.Versions)
	require.NoError(t, w.SetDisabled(ctx, w.In("edda"), w.Key(), w.other.Person.ID, true))
	desk, err = w.ChangeDesk(ctx, w.In("edda"))
	require.NoError(t, err)
	require.Equal(t, []training.DutyCount{{Version: 2, Open: 3, Overdue: 3}}, desk.Versions, "who cannot sign in any more is not waited for")
	w.verified()
}

// Who was hired under a version reads the procedure as it is; whoever worked here before
// reads what changed.
func TestWhoIsHiredUnderAVersionNeverKnewTheOther(t *testing.T) {
	w := withSets(t)
	v := w.inForce(w.Today(), renamed)
	_, _, err := w.AddPerson(ctx, w.educator, w.Key(), training.Person{Name: "Nova Invented", StaffNo: "S-77", Role: training.Trainee, Hired: w.Today()}, "nova")
	require.NoError(t, err)
	w.confirmed(v, w.asked(training.Trainee, training.ReadDuty, ""))
	f, err := w.Following(ctx, w.educator, v.Number)
	require.NoError(t, err)
	hired := map[string]bool{}
	for _, d := range f.Duties {
		page, err := w.Duty(ctx, w.educator, d.ID)
		require.NoError(t, err)
		hired[d.Name] = page.NewHire
	}
	require.Len(t, hired, 2)
	for name, is := range hired {
		require.Equal(t, name == "Nova Invented", is, name)
	}
}

// Who came since is told for the last version that asked for something: one of which nothing
// follows hides none, and a new one that asks takes the place of the old.
func TestWhoCameSinceIsTold(t *testing.T) {
	w := withSets(t)
	newcomers := func() training.Newcomers {
		desk, err := w.ChangeDesk(ctx, w.educator)
		require.NoError(t, err)
		return desk.Newcomers
	}
	require.Zero(t, newcomers())
	w.confirmed(w.inForce(w.Today(), renamed), w.asked(training.Trainee, training.ReadDuty, ""))
	require.Zero(t, newcomers().People)
	w.hire("Pola Invented", "pola", training.Preceptor)
	require.Zero(t, newcomers().People, "nothing was asked of preceptors")
	nora := w.hire("Nora Invented", "nora", training.Trainee)
	require.Equal(t, training.Newcomers{Version: 2, People: 1}, newcomers())
	w.confirmed(w.inForce(w.Today(), signed))
	require.Equal(t, training.Newcomers{Version: 2, People: 1}, newcomers())
	require.NoError(t, w.SetDisabled(ctx, w.educator, w.Key(), nora.Person.ID, true))
	require.Zero(t, newcomers().People, "who cannot sign in is not waited for")
	require.NoError(t, w.SetDisabled(ctx, w.educator, w.Key(), nora.Person.ID, false))
	w.confirmed(w.inForce(w.Today(), lowered), w.asked(training.Preceptor, training.ReadDuty, ""))
	require.Equal(t, training.Newcomers{Version: 4}, newcomers())
}

func TestAVersionThatWaitsIsOnTheDesk(t *testing.T) {
	w := withSets(t)
	v := w.proposed("Other wipe")
	desk, err := w.ChangeDesk(ctx, w.educator)
	require.NoError(t, err)
	require.Equal(t, v.Number, desk.Waiting[0].Number)
	require.Empty(t, desk.Unsaid)
	w.approved(v, w.Today())
	desk, err = w.ChangeDesk(ctx, w.educator)
	require.NoError(t, err)
	require.Empty(t, desk.Waiting)
	require.Equal(t, v.Number, desk.Unsaid[0].Number)
}

func TestTwoWhoConfirmAtOnceGiveItOnce(t *testing.T) {
	w := withSets(t)
	v := w.inForce(w.Today(), renamed)
	actors := []training.Actor{w.educator, w.In("emil")}
	var errs [2]error
	var all sync.WaitGroup
	for i, actor := range actors {
		key := w.Key()
		all.Go(func() {
			_, errs[i] = w.ConfirmFollowUp(ctx, actor, key, v.Number, []training.Chosen{w.asked(training.Trainee, training.ReadDuty, "")})
		})
	}
	all.Wait()
	require.True(t, (errs[0] == nil) != (errs[1] == nil), "%v", errs)
	duties, err := w.DutiesOf(ctx, w.trainee, w.trainee.Person.ID)
	require.NoError(t, err)
	require.Len(t, duties, 1)
	w.verified()
}

func TestThatNothingFollowsIsAWordToo(t *testing.T) {
	w := withSets(t)
	f := w.confirmed(w.inForce(w.Today(), signed))
	require.Equal(t, "Edda Invented", f.ByName)
	desk, err := w.ChangeDesk(ctx, w.educator)
	require.NoError(t, err)
	require.Empty(t, desk.Unsaid)
	require.Empty(t, desk.Versions)
	w.verified()
}

func TestWhatCannotFollow(t *testing.T) {
	w := withSets(t)
	waits := w.proposed("Other wipe")
	_, err := w.ConfirmFollowUp(ctx, w.educator, w.Key(), waits.Number, nil)
	require.ErrorContains(t, err, "it was not approved")
	_, err = w.ConfirmFollowUp(ctx, w.educator, w.Key(), 9, nil)
	require.ErrorIs(t, err, training.ErrNotFound)
	v := w.approved(waits, w.Today())
	_, err = w.ConfirmFollowUp(ctx, w.preceptor, w.Key(), v.Number, nil)
	require.ErrorIs(t, err, training.ErrForbidden)
	late, far, odd, twice := w.asked(training.Trainee, training.ReadDuty, ""), w.asked(training.Trainee, training.ReadDuty, ""), w.asked(training.Trainee, training.ReadDuty, ""), w.asked(training.Trainee, training.ReadDuty, "")
	late.Due, far.Due, odd.Due = w.Today().AddDays(-1), w.Today().AddMonths(25), "soon"
	for says, chosen := range map[string][]training.Chosen{
		"is no day for this": {late}, "within two years": {far}, "by which day": {odd}, "asked twice": {twice, twice},
		"does not have": {w.asked(training.Educator, training.ModuleDuty, "first")},
	} {
		_, err := w.ConfirmFollowUp(ctx, w.educator, w.Key(), v.Number, chosen)
		require.ErrorIs(t, err, training.ErrInvalid, says)
		require.ErrorContains(t, err, says)
	}
	_, err = w.ConfirmFollowUp(ctx, w.educator, w.Key(), v.Number, []training.Chosen{w.asked(training.Trainee, training.ModuleDuty, "annual")})
	require.ErrorIs(t, err, training.ErrInvalid, "what comes when a sign-off is due")
	w.verified()
}

func TestReadingIsSignedByOneself(t *testing.T) {
	w := withSets(t)
	w.confirmed(w.inForce(w.Today(), renamed), w.asked(training.Trainee, training.ReadDuty, ""))
	d := w.duty(w.trainee, training.ReadDuty)
	require.True(t, d.Open())
	nora := w.hire("Nora Invented", "nora", training.Trainee)
	_, err := w.Duty(ctx, nora, d.ID)
	require.ErrorIs(t, err, training.ErrNotFound, "another's is as absent as a missing one")
	_, err = w.AcknowledgeDuty(ctx, nora, w.Key(), d.ID, clinictest.Password)
	require.ErrorIs(t, err, training.ErrNotFound)
	_, err = w.AcknowledgeDuty(ctx, w.preceptor, w.Key(), d.ID, clinictest.Password)
	require.ErrorContains(t, err, "Only Tess Invented can sign this")
	_, err = w.AcknowledgeDuty(ctx, w.trainee, w.Key(), d.ID, "not hers at all")
	require.ErrorIs(t, err, training.ErrPassword)
	_, err = w.TakeBackDuty(ctx, w.preceptor, w.Key(), d.ID, "No.")
	require.ErrorIs(t, err, training.ErrForbidden)
	_, err = w.TakeBackDuty(ctx, w.educator, w.Key(), d.ID, " . ")
	require.ErrorContains(t, err, "Say why")
	page, err := w.Duty(ctx, w.trainee, d.ID)
	require.NoError(t, err)
	require.True(t, slices.ContainsFunc(page.Changes, func(c training.Change) bool { return strings.Contains(c.Text, "title: Other wipe, was "+wordOfTheSet) }), "%v", page.Changes)
	got, err := w.AcknowledgeDuty(ctx, w.trainee, w.Key(), d.ID, clinictest.Password)
	require.NoError(t, err)
	require.Equal(t, training.ReadWords, got.End.Said)
	d = w.duty(w.trainee, training.ReadDuty)
	require.False(t, d.Open())
	require.Equal(t, training.InstantOf(w.Now()), d.DoneAt)
	_, err = w.TakeBackDuty(ctx, w.educator, w.Key(), d.ID, "Too late.")
	require.ErrorIs(t, err, training.ErrConflict)
	_, err = w.AcknowledgeDuty(ctx, w.trainee, w.Key(), d.ID, clinictest.Password)
	require.ErrorContains(t, err, "read already")
	l, err := w.Store.LeavesOf(ctx, training.DutyLeaf, d.ID, 10)
	require.NoError(t, err)
	require.Len(t, l, 1)
	require.Equal(t, "Tess Invented", l[0].Named(training.PartPerson).Name)
	w.verified()
}

// A module and a demonstration are done by what is done after the version holds, and of a
// module after it was asked for; nobody says so, the records do.
func TestWhatIsDoneFollowsFromTheRecords(t *testing.T) {
	w := withSets(t)
	w.Modules(w.trainee)
	w.signBoth(w.preceptor, w.watch(w.preceptor, w.GoodWork()), training.WatchedMet)
	v := w.inForce(w.Today().AddDays(1), failing)
	w.confirmed(v, w.asked(training.Trainee, training.ModuleDuty, "first"), w.asked(training.Trainee, training.DemonstrationDuty, turnover))
	w.Pass(time.Hour)
	w.Modules(w.trainee)
	require.True(t, w.duty(w.trainee, training.ModuleDuty).Open(), "the version does not hold yet")
	require.True(t, w.duty(w.trainee, training.ModuleDuty).Again, "she passed it before")
	w.Set(v.InForceFrom().AddDays(-1).End(w.Zone()).Time().Add(time.Hour))
	w.trainee, w.preceptor, w.educator = w.In("tess"), w.In("pia"), w.In("edda")
	asked, err := w.AskedDemonstrations(ctx, w.preceptor)
	require.NoError(t, err)
	require.Len(t, asked, 1)
	require.Equal(t, "Tess Invented", asked[0].Name)
	none, err := w.AskedDemonstrations(ctx, w.educator)
	require.NoError(t, err)
	require.Empty(t, none, "she may watch nobody")
	w.Build(w.trainee, "ordinary-turnover", nil)
	require.True(t, w.duty(w.trainee, training.ModuleDuty).Open(), "one test of three")
	w.Modules(w.trainee)
	done := w.duty(w.trainee, training.ModuleDuty)
	require.False(t, done.Open())
	at := done.DoneAt
	w.Pass(time.Hour)
	w.Modules(w.trainee)
	require.Equal(t, at, w.duty(w.trainee, training.ModuleDuty).DoneAt, "passing once more moves nothing")
	w.trainee, w.preceptor = w.In("tess"), w.In("pia")
	d := w.watch(w.preceptor, w.GoodWork())
	require.True(t, w.duty(w.trainee, training.DemonstrationDuty).Open(), "not signed yet")
	w.signBoth(w.preceptor, d, training.WatchedMet)
	shown := w.duty(w.trainee, training.DemonstrationDuty)
	require.False(t, shown.Open())
	require.Equal(t, d.ID, shown.Demonstration)
	_, err = w.TakeBackDuty(ctx, w.In("edda"), w.Key(), shown.ID, "Not needed.")
	require.ErrorContains(t, err, "done already")
	w.verified()
}

// Who never passed a module before it was asked for passes it, and not again, whatever she
// has passed of it since.
func TestAModuleIsPassedAgainByWhoPassedIt(t *testing.T) {
	w := withSets(t)
	w.Build(w.trainee, "ordinary-turnover", nil)
	w.confirmed(w.inForce(w.Today(), failing), w.asked(training.Trainee, training.ModuleDuty, "first"))
	require.False(t, w.duty(w.trainee, training.ModuleDuty).Again, "one test of three")
	w.Pass(time.Hour)
	w.Modules(w.trainee)
	d := w.duty(w.trainee, training.ModuleDuty)
	require.False(t, d.Open())
	require.False(t, d.Again)
}

// What was begun before a critical change is reviewed and signed, but not as met.
func TestAnOvertakenDemonstrationIsNotMet(t *testing.T) {
	for name, c := range map[string]struct {
		change [2]string
		met    bool
	}{
		"a name": {renamed, true}, "a lower cut": {lowered, true}, "a shorter time": {shorter, true}, "a longer time of what was not used": {other, true},
		"a longer time": {longer, false}, "a mark that fails the whole": {failing, false},
	} {
		t.Run(name, func(t *testing.T) {
			w := withSets(t)
			d := w.watch(w.preceptor, w.GoodWork())
			w.Choose(w.preceptor, d.ID, training.WatchedMet)
			v := w.inForce(w.Today(), c.change)
			why, err := w.Overtaken(ctx, w.preceptor, d)
			require.NoError(t, err)
			require.Equal(t, c.met, why == "", why)
			_, err = w.SignAsLearner(ctx, w.preceptor, w.Key(), d.ID, training.Learner{Username: "tess", Password: clinictest.Password})
			require.NoError(t, err)
			_, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), d.ID, training.WatchedMet, clinictest.Password)
			if c.met {
				require.NoError(t, err)
				return
			}
			require.ErrorIs(t, err, training.ErrConflict)
			require.ErrorContains(t, err, fmt.Sprintf("Version %d of the clinic's procedure is in force from %s", v.Number, v.InForceFrom().Time().Format("2 Jan 2006")))
			require.ErrorContains(t, err, "watch a new one under the present procedure")
			d, err = w.Demonstration(ctx, w.preceptor, d.ID)
			require.NoError(t, err)
			choices, err := w.Choices(ctx, w.preceptor, d)
			require.NoError(t, err)
			require.Equal(t, why, choices[0].WhyNot)
			require.Empty(t, choices[1].WhyNot)
			w.Choose(w.preceptor, d.ID, training.WatchedNotMet)
			_, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), d.ID, training.WatchedNotMet, clinictest.Password)
			require.NoError(t, err)
			why, err = w.Overtaken(ctx, w.preceptor, d)
			require.NoError(t, err)
			require.NotEmpty(t, why)
			w.verified()
		})
	}
}

// Whatever order approving, confirming, reading and taking back come in, what is kept
// verifies, and nobody has anything twice.
func TestAnySequenceOfDutiesVerifies(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("luck %d", seed)
	dice := rand.New(rand.NewPCG(seed, 1))
	w := withSets(t)
	name := wordOfTheSet
	for range 40 {
		all, err := w.Sets(ctx, w.educator)
		require.NoError(t, err)
		duties, err := w.DutiesOf(ctx, w.trainee, w.trainee.Person.ID)
		require.NoError(t, err)
		switch n := dice.IntN(11); {
		case n < 2 && len(all.Versions) < 6:
			next := fmt.Sprintf("Wipe %d", len(all.Versions))
			w.inForce(max(w.Today(), all.Versions[all.Base-1].InForceFrom()).AddDays(dice.IntN(2)), [2]string{name, next})
			name = next
		case n < 5:
			role := []training.Role{training.Trainee, training.Preceptor}[dice.IntN(2)]
			kind := training.DutyKinds[dice.IntN(3)]
			of := map[training.DutyKind]string{training.ModuleDuty: "first", training.DemonstrationDuty: turnover}[kind]
			_, err = w.ConfirmFollowUp(ctx, w.educator, w.Key(), 1+dice.IntN(len(all.Versions)), []training.Chosen{w.asked(role, kind, of)})
		case n < 7 && len(duties) > 0:
			_, err = w.AcknowledgeDuty(ctx, w.trainee, w.Key(), duties[dice.IntN(len(duties))].ID, clinictest.Password)
		case n < 8 && len(duties) > 0:
			_, err = w.TakeBackDuty(ctx, w.educator, w.Key(), duties[dice.IntN(len(duties))].ID, "Luck.")
		case n < 9 && len(duties) > 0:
			_, err = w.MoveDuty(ctx, w.educator, w.Key(), duties[dice.IntN(len(duties))].ID, w.Today().AddDays(dice.IntN(20)), "Luck.")
		default:
			w.Pass(10 * time.Minute)
		}
		if err != nil {
			require.Regexp(t, "not valid|record has changed", kindOf(err), err)
		}
	}
	w.verified()
	has := map[string]bool{}
	duties, err := w.DutiesOf(ctx, w.trainee, w.trainee.Person.ID)
	require.NoError(t, err)
	for _, d := range duties {
		key := fmt.Sprint(d.Version, d.Kind, d.Of)
		require.False(t, has[key], key)
		has[key] = true
	}
}

// dutyTables hold what follows from versions, which is never changed.
var dutyTables = []string{"set_follow_ups", "duties", "duty_dates", "duty_ends"}

func TestEveryAlteredColumnOfADutyIsNamed(t *testing.T) {
	w := withSets(t)
	v := w.inForce(w.Today(), renamed)
	w.confirmed(v, w.asked(training.Trainee, training.ReadDuty, ""), w.asked(training.Trainee, training.ModuleDuty, "first"))
	_, err := w.AcknowledgeDuty(ctx, w.trainee, w.Key(), w.duty(w.trainee, training.ReadDuty).ID, clinictest.Password)
	require.NoError(t, err)
	module := w.duty(w.trainee, training.ModuleDuty)
	for n := range 2 {
		_, err = w.MoveDuty(ctx, w.educator, w.Key(), module.ID, module.Due.AddDays(n+1), "She is on leave.")
		require.NoError(t, err)
	}
	_, err = w.TakeBackDuty(ctx, w.educator, w.Key(), module.ID, "She has it behind her.")
	require.NoError(t, err)
	db := raw(t, w.Dir)
	for _, table := range dutyTables {
		_, err := db.Exec(fmt.Sprintf("UPDATE %s SET leaf = leaf", table))
		if table == "duties" {
			_, err = db.Exec("UPDATE duties SET due = due")
		}
		require.ErrorContains(t, err, "kept", table)
		_, err = db.Exec("DELETE FROM " + table)
		require.ErrorContains(t, err, "kept", table)
	}
	require.NoError(t, db.Close())
	w.Close()
	defer w.Open()
	w.everyColumnIsNamed(t, dutyTables)
	for name, statement := range map[string]string{
		"of somebody else": "UPDATE duties SET person_id = (SELECT id FROM people WHERE name = 'Pia Invented')",
		"a later day":      "UPDATE duties SET due = '2029-01-01'",
		"given by nobody":  `INSERT INTO duties SELECT id || 'x', version, follow_up, (SELECT id FROM people WHERE name = 'Pia Invented'), name, staff_no, kind, subject, title, due FROM duties`,
		"never moved":      "DELETE FROM duty_dates",
		"moved once":       "DELETE FROM duty_dates WHERE seq = 2",
		"another day":      "UPDATE duty_dates SET due = '2029-01-01' WHERE seq = 2",
		"never taken back": "DELETE FROM duty_ends WHERE ended = 'taken back'",
	} {
		t.Run(name, func(t *testing.T) { require.NotEmpty(t, w.tampered(t, statement)) })
	}
	t.Run("untouched", func(t *testing.T) { require.Empty(t, w.tampered(t, "SELECT 1")) })
}

// Another day is given by an educator, for a reason, while the duty is open; the day of
// before stays to be read, and what is overdue follows the present one.
func TestADutyGetsAnotherDay(t *testing.T) {
	w := withSets(t)
	w.confirmed(w.inForce(w.Today(), renamed), w.asked(training.Trainee, training.ReadDuty, ""))
	d := w.duty(w.trainee, training.ReadDuty)
	next := d.Due.AddDays(30)
	for why, x := range map[string]struct {
		who    training.Actor
		due    training.Day
		reason string
		is     error
	}{
		"no educator": {w.preceptor, next, "Leave.", training.ErrForbidden},
		"no reason":   {w.educator, next, " . ", training.ErrInvalid},
		"no day":      {w.educator, "soon", "Leave.", training.ErrInvalid},
		"gone by":     {w.educator, w.Today().AddDays(-1), "Leave.", training.ErrInvalid},
		"the same":    {w.educator, d.Due, "Leave.", training.ErrInvalid},
		"years on":    {w.educator, w.Today().AddMonths(25), "Leave.", training.ErrInvalid},
	} {
		_, err := w.MoveDuty(ctx, x.who, w.Key(), d.ID, x.due, x.reason)
		require.ErrorIs(t, err, x.is, why)
	}
	_, err := w.MoveDuty(ctx, w.educator, w.Key(), "none", next, "Leave.")
	require.ErrorIs(t, err, training.ErrNotFound)
	got, err := w.MoveDuty(ctx, w.educator, w.Key(), d.ID, next, "She is on leave.")
	require.NoError(t, err)
	require.Equal(t, next, got.Due)
	require.Equal(t, d.Due, got.FirstDue)
	last, was, moved := got.Moved()
	require.True(t, moved)
	require.Equal(t, d.Due, was)
	require.Equal(t, "She is on leave.", last.Why)
	require.Equal(t, w.educator.Person.Name, last.ByName)

	state := w.duty(w.trainee, training.ReadDuty)
	require.False(t, state.Overdue(d.Due.AddDays(1)))
	require.True(t, state.Overdue(next.AddDays(1)))
	_, err = w.AcknowledgeDuty(ctx, w.trainee, w.Key(), d.ID, clinictest.Password)
	require.NoError(t, err)
	_, err = w.MoveDuty(ctx, w.educator, w.Key(), d.ID, next.AddDays(1), "Later still.")
	require.ErrorIs(t, err, training.ErrConflict)
	leaves, err := w.Store.LeavesOf(ctx, training.DutyLeaf, d.ID, 10)
	require.NoError(t, err)
	require.Len(t, leaves, 2)
	w.verified()
}
