package training_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

func theIDs(who ...training.Actor) (ids []string) {
	for _, a := range who {
		ids = append(ids, a.Person.ID)
	}
	return ids
}

// aModule is the first that has tests.
func (w *world) aModule() training.Thing {
	all, err := w.Askable(ctx, w.educator)
	require.NoError(w.T, err)
	for _, t := range all.Things {
		if t.Kind == training.ModuleDuty {
			return t
		}
	}
	w.T.Fatal("no module can be asked")
	return training.Thing{}
}

func (w *world) wish(t training.Thing) training.Ask {
	return training.Ask{Kind: t.Kind, Of: t.Of, Due: w.Today().AddDays(30), Why: "The yearly round."}
}

// assigned asks something of people, as it was seen.
func (w *world) assigned(ask training.Ask, who ...training.Actor) training.Assignment {
	seen, err := w.PreviewAssignment(ctx, w.educator, ask, theIDs(who...))
	require.NoError(w.T, err)
	a, err := w.Assign(ctx, w.educator, w.Key(), ask, theIDs(who...), seen.Seen)
	require.NoError(w.T, err)
	return a
}

// toDo is what somebody has to do of one thing that was asked.
func (w *world) toDo(who training.Actor, a training.Assignment) training.DutyState {
	all, err := w.DutiesOf(ctx, who, who.Person.ID)
	require.NoError(w.T, err)
	for _, d := range all {
		if d.Assignment == a.ID {
			return d
		}
	}
	w.T.Fatalf("%s has nothing of it", who.Person.Name)
	return training.DutyState{}
}

func assignTo(w *world) sending {
	ask := w.wish(w.aModule())
	seen, err := w.PreviewAssignment(ctx, w.educator, ask, theIDs(w.trainee, w.other))
	require.NoError(w.T, err)
	return func(key string) (any, error) {
		return w.Assign(ctx, w.educator, key, ask, theIDs(w.other, w.trainee), seen.Seen)
	}
}

func undoAssignment(w *world) sending {
	a := w.assigned(w.wish(w.aModule()), w.trainee, w.other)
	return func(key string) (any, error) { return nil, w.UndoAssignment(ctx, w.educator, key, a.ID) }
}

func takeBackAssigned(w *world) sending {
	d := w.toDo(w.trainee, w.assigned(w.wish(w.aModule()), w.trainee, w.other))
	return func(key string) (any, error) {
		return w.TakeBackDuty(ctx, w.educator, key, d.ID, "Asked of the wrong one.")
	}
}

// What a preview says is what is asked, and of each who is left out it says why.
func TestWhoIsLeftOutAndWhy(t *testing.T) {
	w := staffed(t)
	i := w.newItem()
	manager, closed, gone, away := w.hire("Mara Invented", "mara", training.Manager), w.hire("Clea Invented", "clea", training.Trainee), w.hire("Gus Invented", "gus", training.Trainee), w.hire("Ava Invented", "ava", training.Trainee)
	w.educator = w.In("edda")
	require.NoError(t, w.SetDisabled(ctx, w.educator, w.Key(), closed.Person.ID, true))
	err := w.LetGo(ctx, w.educator, w.Key(), gone.Person.ID, w.Today().AddDays(-1), "Moved away.")
	require.NoError(t, err)
	_, err = w.EnterAbsence(ctx, w.educator, w.Key(), training.Absence{PersonID: away.Person.ID, From: w.Today(), Until: w.Today().AddDays(9)})
	require.NoError(t, err)
	require.NoError(t, w.classOf(i, "2026-02-02", w.other))
	item := w.wish(training.Thing{Kind: training.ItemDuty, Of: i.ID})
	first := w.assigned(item, w.preceptor)
	require.Equal(t, "Blood-borne pathogens", first.Title)

	all := theIDs(w.trainee, w.preceptor, w.other, manager, closed, gone, away)
	p, err := w.PreviewAssignment(ctx, w.educator, item, all)
	require.NoError(t, err)
	said := map[string]string{}
	for _, x := range p.Skipped {
		said[x.Person.Name] = fmt.Sprint(x.Why, " ", x.Due)
	}
	require.Equal(t, map[string]string{"Mara Invented": "only manages ", "Clea Invented": "closed ", "Gus Invented": "not here ", "Pia Invented": "asked already " + string(item.Due)}, said)
	for _, x := range p.Asked {
		said[x.Person.Name] = fmt.Sprint(x.OnLeave, x.LeaveEnds, " ", x.Has, x.HasUntil, " ", x.NoPassword)
	}
	require.Equal(t, "false false false", said["Tess Invented"])
	require.Equal(t, "false true2027-02-02 false", said["Otto Invented"], "who has it is asked all the same, and it is told")
	require.Equal(t, "true2026-03-11 false false", said["Ava Invented"], "whoever is on leave is asked, and it is told")
	require.Len(t, p.Asked, 3)

	a, err := w.Assign(ctx, w.educator, w.Key(), item, all, p.Seen)
	require.NoError(t, err)
	var names []string
	for _, x := range a.People {
		names = append(names, x.Name)
	}
	require.Equal(t, []string{"Ava Invented", "Otto Invented", "Tess Invented"}, names)
	w.verifies()
}

// Nothing is asked that was not seen so: neither when somebody was changed, nor when somebody
// else asked the same meanwhile.
func TestWhatWasConfirmedIsWhatWasSeen(t *testing.T) {
	w := staffed(t)
	ask, who := w.wish(w.aModule()), theIDs(w.trainee, w.other)
	seen, err := w.PreviewAssignment(ctx, w.educator, ask, who)
	require.NoError(t, err)
	refused := func(ask training.Ask, who []string) {
		_, err := w.Assign(ctx, w.educator, w.Key(), ask, who, seen.Seen)
		require.ErrorIs(t, err, training.ErrConflict)
		require.ErrorContains(t, err, "Nothing was asked")
	}
	later := ask
	later.Due = later.Due.AddDays(1)
	refused(later, who)
	refused(ask, who[:1])
	w.assigned(ask, w.trainee)
	refused(ask, who)
	all, err := w.Assignments(ctx, w.educator)
	require.NoError(t, err)
	require.Len(t, all, 1)
	again, err := w.PreviewAssignment(ctx, w.educator, ask, who)
	require.NoError(t, err)
	require.Len(t, again.Asked, 1)
	_, err = w.Assign(ctx, w.educator, w.Key(), ask, who, again.Seen)
	require.NoError(t, err)
	none, err := w.PreviewAssignment(ctx, w.educator, ask, who)
	require.NoError(t, err)
	_, err = w.Assign(ctx, w.educator, w.Key(), ask, who, none.Seen)
	require.ErrorIs(t, err, training.ErrInvalid, "with everybody left out nothing is asked")
}

func TestAnAskThatCannotBeIsRefused(t *testing.T) {
	w := staffed(t)
	good, who := w.wish(w.aModule()), theIDs(w.trainee)
	for name, c := range map[string]struct {
		change func(*training.Ask)
		who    []string
		said   string
	}{
		"nothing":        {func(a *training.Ask) { a.Of = "" }, who, "Choose what is asked."},
		"what is gone":   {func(a *training.Ask) { a.Of = "no-such" }, who, "Choose again."},
		"to be read":     {func(a *training.Ask) { a.Kind = training.ReadDuty }, who, "Choose again."},
		"yesterday":      {func(a *training.Ask) { a.Due = w.Today().AddDays(-1) }, who, "from today on"},
		"in three years": {func(a *training.Ask) { a.Due = w.Today().AddMonths(36) }, who, "within two years"},
		"no day":         {func(a *training.Ask) { a.Due = "soon" }, who, "by which day"},
		"nobody":         {func(*training.Ask) {}, nil, "Tick at least one person."},
		"a stranger":     {func(*training.Ask) {}, []string{"nobody-here"}, "not among the people here"},
		"too many":       {func(*training.Ask) {}, manyIDs(2001), "2000 is the most"},
	} {
		t.Run(name, func(t *testing.T) {
			ask := good
			c.change(&ask)
			_, err := w.PreviewAssignment(ctx, w.educator, ask, c.who)
			require.ErrorContains(t, err, c.said)
			_, err = w.Assign(ctx, w.educator, w.Key(), ask, c.who, "x")
			require.Error(t, err)
		})
	}
	for _, who := range []training.Actor{w.trainee, w.preceptor} {
		_, err := w.Askable(ctx, who)
		require.ErrorIs(t, err, training.ErrForbidden)
	}
}

func manyIDs(n int) (ids []string) {
	for i := range n {
		ids = append(ids, fmt.Sprint("id-", i))
	}
	return ids
}

// A module is done with the last of its tests that is passed after it was asked; before it
// nothing counts.
func TestAnAskedModuleIsDoneByItsTests(t *testing.T) {
	w := staffed(t)
	w.Modules(w.trainee)
	w.Pass(time.Hour)
	all, err := w.Askable(ctx, w.educator)
	require.NoError(t, err)
	var asked []training.Assignment
	for _, x := range all.Things {
		if x.Kind == training.ModuleDuty {
			asked = append(asked, w.assigned(w.wish(x), w.trainee))
		}
	}
	for _, a := range asked {
		d := w.toDo(w.trainee, a)
		require.True(t, d.Open(), "%s: what was passed before does not count", a.Title)
		require.True(t, d.Again)
	}
	w.Pass(24 * time.Hour)
	w.Modules(w.trainee)
	d := w.toDo(w.trainee, asked[0])
	require.False(t, d.Open())
	require.Equal(t, w.Today(), d.DoneAt.Day(w.Zone()))
	page, err := w.Assignment(ctx, w.educator, asked[0].ID)
	require.NoError(t, err)
	require.Equal(t, 1, page.Done)
	require.Zero(t, page.Open)
}

// A demonstration that was asked is done with one that began after it and was signed as met.
func TestAnAskedDemonstrationIsDoneByOneThatIsMet(t *testing.T) {
	w := staffed(t)
	before := w.watch(w.preceptor, w.GoodWork())
	w.Pass(time.Hour)
	a := w.assigned(w.wish(training.Thing{Kind: training.DemonstrationDuty, Of: turnover}), w.trainee)
	w.signBoth(w.preceptor, before, training.WatchedMet)
	require.True(t, w.toDo(w.trainee, a).Open(), "it began before it was asked")
	asked, err := w.AskedDemonstrations(ctx, w.preceptor)
	require.NoError(t, err)
	require.Len(t, asked, 1, "who watches sees of whom it is asked")
	w.Pass(24 * time.Hour)
	after := w.signBoth(w.preceptor, w.watch(w.preceptor, w.GoodWork()), training.WatchedMet)
	d := w.toDo(w.trainee, a)
	require.False(t, d.Open())
	require.Equal(t, after.ID, d.Demonstration)
	asked, err = w.AskedDemonstrations(ctx, w.preceptor)
	require.NoError(t, err)
	require.Empty(t, asked)
	_, err = w.MoveDuty(ctx, w.educator, w.Key(), d.ID, w.Today().AddDays(60), "She asked for it.")
	require.ErrorIs(t, err, training.ErrConflict)
}

// An item is done with an entry of the day on which it was asked, or a later one, that holds.
func TestAnAskedItemIsDoneByAnEntry(t *testing.T) {
	w := staffed(t)
	i := w.newItem()
	a := w.assigned(w.wish(training.Thing{Kind: training.ItemDuty, Of: i.ID}), w.trainee, w.other)
	require.NoError(t, w.classOf(i, w.Today().AddDays(-1), w.trainee))
	require.True(t, w.toDo(w.trainee, a).Open(), "of the day before")
	asked := w.Today()
	w.Pass(72 * time.Hour)
	require.NoError(t, w.classOf(i, asked, w.trainee))
	d := w.toDo(w.trainee, a)
	require.False(t, d.Open())
	require.Equal(t, asked, d.DoneAt.Day(w.Zone()), "done on the day that the entry is of, not when it was entered")
	require.True(t, w.toDo(w.other, a).Open(), "the entry is somebody else's")
	of := w.entries()
	require.Equal(t, asked, of[0].On)
	require.NoError(t, w.WithdrawItemEntry(ctx, w.educator, w.Key(), of[0].ID, "She was not there.", clinictest.Password))
	require.True(t, w.toDo(w.trainee, a).Open(), "an entry that was withdrawn does nothing")
	i.Retired, i.Why = true, "No longer."
	_, err := w.SaveItem(ctx, w.educator, w.Key(), i)
	require.NoError(t, err)
	_, err = w.PreviewAssignment(ctx, w.educator, a.Ask, theIDs(w.preceptor))
	require.ErrorContains(t, err, "not there any more")
}

// What was asked is undone for all on its day, and for single people with a reason later.
func TestWhatWasAskedIsTakenBack(t *testing.T) {
	w := staffed(t)
	a := w.assigned(w.wish(w.aModule()), w.trainee, w.other)
	_, err := w.TakeBackDuty(ctx, w.educator, w.Key(), w.toDo(w.other, a).ID, "On another course.")
	require.NoError(t, err)
	require.Equal(t, training.DutyTakenBack, w.toDo(w.other, a).End.Ended)
	w.Pass(time.Hour)
	require.ErrorIs(t, w.UndoAssignment(ctx, w.trainee, w.Key(), a.ID), training.ErrForbidden)
	require.NoError(t, w.UndoAssignment(ctx, w.educator, w.Key(), a.ID))
	d := w.toDo(w.trainee, a)
	require.Equal(t, training.UndoneWhy, d.End.Said)
	require.False(t, d.Open())
	require.Equal(t, "On another course.", w.toDo(w.other, a).End.Said, "the first word stands")
	require.ErrorContains(t, w.UndoAssignment(ctx, w.educator, w.Key(), a.ID), "Edda Invented undid it already")
	_, err = w.TakeBackDuty(ctx, w.educator, w.Key(), d.ID, "Again.")
	require.ErrorIs(t, err, training.ErrConflict)

	b := w.assigned(w.wish(w.aModule()), w.trainee, w.other)
	w.Pass(24 * time.Hour)
	page, err := w.Assignment(ctx, w.educator, b.ID)
	require.NoError(t, err)
	require.False(t, page.MayUndo)
	require.ErrorContains(t, w.UndoAssignment(ctx, w.educator, w.Key(), b.ID), "only on that day")
	_, err = w.TakeBackDuty(ctx, w.educator, w.Key(), w.toDo(w.trainee, b).ID, "")
	require.ErrorIs(t, err, training.ErrInvalid)
	_, err = w.TakeBackDuty(ctx, w.educator, w.Key(), w.toDo(w.trainee, b).ID, "She has it already.")
	require.NoError(t, err)
	sums, err := w.Assignments(ctx, w.educator)
	require.NoError(t, err)
	require.Equal(t, []int{0, 1, 0, 1}, []int{sums[0].Done, sums[0].Open, sums[0].Overdue, sums[0].TakenBack})
	require.Equal(t, 2, sums[1].TakenBack)
	log, err := w.Changes(ctx, w.educator, training.ChangeQuery{Group: training.ChangesOfAsks})
	require.NoError(t, err)
	var said []string
	for _, c := range log.All {
		said = append(said, c.Said+" "+c.Is["title"])
	}
	require.Equal(t, []string{"taken back " + b.Title, "asked " + b.Title, "undone " + a.Title, "taken back " + a.Title, "asked " + a.Title}, said)
	w.verifies()
}

// The desk counts what is overdue of who is here, and names just that.
func TestTheDeskNamesWhatIsOverdue(t *testing.T) {
	w := staffed(t)
	a := w.assigned(w.wish(w.aModule()), w.trainee, w.other, w.preceptor)
	late := func() (names []string) {
		desk, err := w.ClinicDesk(ctx, w.educator)
		require.NoError(t, err)
		for _, d := range desk.Asked {
			names = append(names, d.Name)
		}
		return names
	}
	w.Pass(30 * 24 * time.Hour)
	require.Empty(t, late(), "its day is still today")
	w.Pass(24 * time.Hour)
	require.Equal(t, []string{"Otto Invented", "Pia Invented", "Tess Invented"}, late())
	_, err := w.TakeBackDuty(ctx, w.educator, w.Key(), w.toDo(w.other, a).ID, "On another course.")
	require.NoError(t, err)
	w.educator = w.In("edda")
	err = w.LetGo(ctx, w.educator, w.Key(), w.preceptor.Person.ID, w.Today().AddDays(-1), "Moved away.")
	require.NoError(t, err)
	require.Equal(t, []string{"Tess Invented"}, late())
	page, err := w.Assignment(ctx, w.educator, a.ID)
	require.NoError(t, err)
	require.Equal(t, []int{1, 1, 1, 1}, []int{page.Open, page.Overdue, page.TakenBack, page.Gone})
	require.Len(t, page.Left, 1)
	w.Modules(w.trainee)
	require.Empty(t, late(), "done late is done")
}

// assignedPutRight has something asked of two, taken back of one and undone for all, and one
// of each other kind.
func (w *world) assignedPutRight(i training.Item, second training.Actor) {
	a := w.assigned(w.wish(w.aModule()), w.trainee, second)
	_, err := w.TakeBackDuty(ctx, w.educator, w.Key(), w.toDo(second, a).ID, "On another course.")
	require.NoError(w.T, err)
	require.NoError(w.T, w.UndoAssignment(ctx, w.educator, w.Key(), a.ID))
	w.assigned(w.wish(training.Thing{Kind: training.ItemDuty, Of: i.ID}), w.trainee)
	w.assigned(w.wish(training.Thing{Kind: training.DemonstrationDuty, Of: turnover}), w.trainee)
}

func TestEveryAlteredColumnOfWhatWasAskedIsNamed(t *testing.T) {
	w := staffed(t)
	w.Modules(w.trainee) // ids of attempts are what else could be named
	w.assignedPutRight(w.newItem(), w.other)
	w.Close()
	defer w.Open()
	w.everyColumnIsNamed(t, []string{"assignments", "assigned", "assignment_ends"})
	t.Run("untouched", func(t *testing.T) { require.Empty(t, w.tampered(t, "SELECT 1")) })
	t.Run("an end nobody made", func(t *testing.T) {
		require.NotEmpty(t, w.tampered(t, "INSERT INTO assignment_ends SELECT 0, (SELECT MAX(id) FROM assignments), 1, at, by_id, by_name, why FROM assignment_ends LIMIT 1"))
	})
}
