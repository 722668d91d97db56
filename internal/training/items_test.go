package training_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/roster"
	"stillwet/internal/training"
)

// anItem is what a clinic asks of everybody once a year.
var anItem = training.Item{Title: "Blood-borne pathogens", EveryMonths: 12, NoticeDays: 30, Everybody: true, KeepYears: 3, Content: "The plan of this clinic."}

func (w *world) saveItem(key string) (any, error) { return w.SaveItem(ctx, w.educator, key, anItem) }

func (w *world) newItem() training.Item {
	i, err := w.SaveItem(ctx, w.educator, w.Key(), anItem)
	require.NoError(w.T, err)
	return i
}

func changeItem(w *world) sending {
	i := w.newItem()
	i.EveryMonths, i.Why = 18, "The plan says so."
	return func(key string) (any, error) { return w.SaveItem(ctx, w.educator, key, i) }
}

func (w *world) classOf(i training.Item, on training.Day, who ...training.Actor) error {
	var ids []string
	for _, a := range who {
		ids = append(ids, a.Person.ID)
	}
	return w.EnterItem(ctx, w.educator, w.Key(), training.ItemEntry{ItemID: i.ID, On: on, Trainer: "Uma Invented", Qualification: "RN", Content: "The plan.", Evidence: "Sign-in sheet, blue folder."}, ids)
}

func enterItem(w *world) sending {
	i := w.newItem()
	return func(key string) (any, error) {
		return nil, w.EnterItem(ctx, w.educator, key, training.ItemEntry{ItemID: i.ID, On: "2026-02-02", Evidence: "Blue folder."}, []string{w.trainee.Person.ID, w.other.Person.ID})
	}
}

// anEntry is the trainee's of an item.
func (w *world) anEntry() training.ItemEntry {
	i := w.newItem()
	require.NoError(w.T, w.classOf(i, "2026-02-02", w.trainee))
	return w.entries()[0]
}

// entries are the trainee's.
func (w *world) entries() []training.ItemEntry {
	of, err := w.ItemsOfPerson(ctx, w.trainee, w.trainee.Person.ID)
	require.NoError(w.T, err)
	return of.Entries
}

func correctEntry(w *world) sending {
	e := w.anEntry()
	is := e
	is.On = "2026-02-03"
	return func(key string) (any, error) {
		return w.CorrectItemEntry(ctx, w.educator, key, e.ID, is, "The sheet says the third.", clinictest.Password)
	}
}

func withdrawEntry(w *world) sending {
	e := w.anEntry()
	return func(key string) (any, error) {
		return nil, w.WithdrawItemEntry(ctx, w.educator, key, e.ID, "She was not there.", clinictest.Password)
	}
}

func (w *world) itemList(text string) *roster.List {
	f, err := roster.ReadList(strings.NewReader(text), int64(len(text)), roster.ItemList, w.Today().Time(), "")
	require.NoError(w.T, err)
	return f
}

func confirmItems(w *world) sending {
	w.newItem()
	f := w.itemList("Name,Item,Date,Evidence\nTess Invented,Blood-borne pathogens,2026-02-02,Blue folder\n")
	plan, err := w.PreviewItems(ctx, w.educator, f)
	require.NoError(w.T, err)
	require.Empty(w.T, plan.Faults)
	return func(key string) (any, error) { return w.ConfirmItems(ctx, w.educator, key, f, plan.Seen) }
}

// itemsPutRight has a changed item, an entry that was corrected and one that was withdrawn.
func (w *world) itemsPutRight() {
	e := w.anEntry()
	i, err := w.Item(ctx, w.educator, e.ItemID)
	require.NoError(w.T, err)
	i.Item.Roles, i.Item.Jobs, i.Item.Teams, i.Item.Why = "educator", "RN", "Early", "Said who else."
	_, err = w.SaveItem(ctx, w.educator, w.Key(), i.Item)
	require.NoError(w.T, err)
	is := e
	is.PersonID, is.Expires = w.other.Person.ID, "2027-01-31"
	_, err = w.CorrectItemEntry(ctx, w.educator, w.Key(), e.ID, is, "It was Otto.", clinictest.Password)
	require.NoError(w.T, err)
	require.NoError(w.T, w.classOf(i.Item, "2026-02-10", w.trainee))
	require.NoError(w.T, w.WithdrawItemEntry(ctx, w.educator, w.Key(), w.entries()[0].ID, "She was not there.", clinictest.Password))
}

// Standings over the days of a year and a bit: the day before each boundary, on it, after it.
func TestAnItemIsDueAndLapsesByItsDays(t *testing.T) {
	p := training.Person{ID: "p", Role: training.Trainee, Hired: "2020-01-01", Left: "2026-12-31"}
	i := training.Item{ID: "i", EveryMonths: 12, NoticeDays: 30, Everybody: true}
	leap := training.ItemEntry{ItemID: "i", PersonID: "p", On: "2024-02-29"}
	for _, x := range []struct {
		name    string
		entries []training.ItemEntry
		months  int
		today   training.Day
		word    training.ItemWord
		due     training.Day
		needed  bool
	}{
		{"nothing", nil, 12, "2024-03-01", training.ItemNotDone, "", true},
		{"one to come", []training.ItemEntry{leap}, 12, "2024-02-28", training.ItemNotDone, "", true},
		{"the day itself", []training.ItemEntry{leap}, 12, "2024-02-29", training.ItemCurrent, "2025-02-28", true},
		{"before the notice", []training.ItemEntry{leap}, 12, "2025-01-28", training.ItemCurrent, "2025-02-28", true},
		{"the notice", []training.ItemEntry{leap}, 12, "2025-01-29", training.ItemDue, "2025-02-28", true},
		{"the due day", []training.ItemEntry{leap}, 12, "2025-02-28", training.ItemDue, "2025-02-28", true},
		{"the day after", []training.ItemEntry{leap}, 12, "2025-03-01", training.ItemLapsed, "2025-02-28", true},
		{"eighteen months", []training.ItemEntry{leap}, 18, "2025-08-29", training.ItemDue, "2025-08-29", true},
		{"once", []training.ItemEntry{leap}, 0, "2026-08-29", training.ItemCurrent, "", true},
		{"a credential's own day", []training.ItemEntry{{ItemID: "i", PersonID: "p", On: "2024-02-29", Expires: "2024-06-30"}}, 12, "2024-07-01", training.ItemLapsed, "2024-06-30", true},
		{"withdrawn", []training.ItemEntry{{ItemID: "i", PersonID: "p", On: "2024-02-29", End: training.End{At: "2024-03-01T00:00:00.000Z"}}}, 12, "2024-03-02", training.ItemNotDone, "", true},
		{"corrected", []training.ItemEntry{{ItemID: "i", PersonID: "p", On: "2024-02-29", CorrectedBy: "x"}}, 12, "2024-03-02", training.ItemNotDone, "", true},
		{"the latest day, not the last entered", []training.ItemEntry{{ItemID: "i", PersonID: "p", On: "2024-02-01", Leaf: 9}, leap}, 12, "2025-02-28", training.ItemDue, "2025-02-28", true},
		{"somebody else's", []training.ItemEntry{{ItemID: "i", PersonID: "q", On: "2024-02-29"}}, 12, "2024-03-02", training.ItemNotDone, "", true},
	} {
		i.EveryMonths = x.months
		st, any := training.FoldItem(p, i, x.entries, x.today)
		require.True(t, any, x.name)
		require.Equal(t, x.word, st.Word, x.name)
		require.Equal(t, x.due, st.Due, x.name)
		require.Equal(t, x.needed, st.Needed, x.name)
	}
	_, any := training.FoldItem(p, i, nil, "2027-01-01")
	require.False(t, any, "who left needs nothing")
	_, any = training.FoldItem(p, i, nil, "2019-12-31")
	require.False(t, any, "who has not come yet needs nothing")
}

func TestWhoNeedsAnItem(t *testing.T) {
	p := training.Person{Role: training.Preceptor, Also: "manager", Job: "Registered nurse, charge nurse", Team: "Early"}
	for _, x := range []struct {
		item training.Item
		is   bool
	}{
		{training.Item{}, false}, {training.Item{Everybody: true}, true}, {training.Item{Everybody: true, Retired: true}, false},
		{training.Item{Roles: "manager"}, true}, {training.Item{Roles: "educator trainee"}, false}, {training.Item{Jobs: "Technician, CHARGE nurse"}, true},
		{training.Item{Jobs: "nurse"}, false}, {training.Item{Teams: "late, early"}, true}, {training.Item{Teams: "late"}, false},
	} {
		require.Equal(t, x.is, x.item.NeededBy(p), "%+v", x.item)
	}
	require.False(t, training.Item{Teams: "x"}.NeededBy(training.Person{}))
}

func TestAnItemIsPutRightAndBothAreShown(t *testing.T) {
	w := staffed(t)
	w.itemsPutRight()
	tess := w.entries()
	of, err := w.ItemsOfPerson(ctx, w.other, w.other.Person.ID)
	require.NoError(t, err)
	otto := of.Entries
	require.Len(t, tess, 2)
	require.Len(t, otto, 1)
	require.Equal(t, otto[0].ID, tess[1].CorrectedBy)
	require.Equal(t, "It was Otto.", otto[0].Why)
	require.Equal(t, "She was not there.", tess[0].End.Why)
	require.Equal(t, training.ItemCurrent, of.Standings[0].Word)
	require.Equal(t, training.Day("2027-01-31"), of.Standings[0].Due)
	mine, err := w.ItemsOfPerson(ctx, w.trainee, w.trainee.Person.ID)
	require.NoError(t, err)
	require.Equal(t, training.ItemNotDone, mine.Standings[0].Word)
	leaves, err := w.Store.LeavesAt(ctx, []int64{otto[0].Leaf})
	require.NoError(t, err)
	require.Equal(t, "Tess Invented", leaves[otto[0].Leaf].Named(training.PartBefore).Name)

	is := otto[0]
	is.On = "2026-02-04"
	for _, id := range []string{tess[0].ID, tess[1].ID} { // one was withdrawn, one corrected
		_, err = w.CorrectItemEntry(ctx, w.educator, w.Key(), id, is, "Again.", clinictest.Password)
		require.ErrorIs(t, err, training.ErrConflict)
		require.ErrorIs(t, w.WithdrawItemEntry(ctx, w.educator, w.Key(), id, "Again.", clinictest.Password), training.ErrConflict)
	}
	_, err = w.CorrectItemEntry(ctx, w.educator, w.Key(), otto[0].ID, otto[0], "Nothing.", clinictest.Password)
	require.ErrorContains(t, err, "Nothing differs")
	_, err = w.CorrectItemEntry(ctx, w.educator, w.Key(), otto[0].ID, is, "Again.", "wrong password")
	require.ErrorIs(t, err, training.ErrPassword)
	_, err = w.CorrectItemEntry(ctx, w.educator, w.Key(), otto[0].ID, is, " ", clinictest.Password)
	require.ErrorContains(t, err, "Say what was wrong")

	all, err := w.Store.Corrected(ctx, "", "9")
	require.NoError(t, err)
	var what []training.CorrectedWhat
	for _, c := range all {
		require.Equal(t, "Blood-borne pathogens", c.Competency)
		require.Equal(t, w.trainee.Person.ID, c.PersonID)
		what = append(what, c.What)
	}
	require.Equal(t, []training.CorrectedWhat{training.ItemCorrected, training.ItemWithdrawn}, what)
	log, err := w.Changes(ctx, w.educator, training.ChangeQuery{Group: training.ChangesOfItems})
	require.NoError(t, err)
	require.Len(t, log.All, 5, "two versions, three entries")
}

func TestAnItemKeepsTheJobOfThatDay(t *testing.T) {
	w := staffed(t)
	id, i := w.trainee.Person.ID, w.newItem()
	job := func(title string) {
		was, err := w.Person(ctx, w.educator, id)
		require.NoError(t, err)
		is := was
		is.Job = title
		require.NoError(t, w.CorrectPerson(ctx, w.educator, w.Key(), is, training.SeenPerson(was), ""))
	}
	job("Technician")
	require.NoError(t, w.classOf(i, "2026-02-02", w.trainee))
	job("Registered nurse")
	require.Equal(t, "Technician", w.entries()[0].Job)
}

func TestWhatIsWrongWithAnItemIsSaidAtOnce(t *testing.T) {
	w := staffed(t)
	_, err := w.SaveItem(ctx, w.educator, w.Key(), training.Item{EveryMonths: 200, NoticeDays: -1, KeepYears: 2})
	require.EqualError(t, err, "The title is missing. It comes again after 1 to 120 months, or 0 for once. The notice is 0 to 366 days. Entries are kept for 3 to 100 years at the least. Say who needs it: everybody, or who has a role, a job or is in a team.")
	i := w.newItem()
	_, err = w.SaveItem(ctx, w.educator, w.Key(), anItem)
	require.ErrorContains(t, err, "There is an item called Blood-borne pathogens already.")
	i.Why = "First."
	_, err = w.SaveItem(ctx, w.educator, w.Key(), i)
	require.NoError(t, err)
	_, err = w.SaveItem(ctx, w.educator, w.Key(), i)
	require.ErrorIs(t, err, training.ErrConflict)

	enter := func(e training.ItemEntry, ids ...string) error {
		e.ItemID = i.ID
		return w.EnterItem(ctx, w.educator, w.Key(), e, ids)
	}
	require.EqualError(t, enter(training.ItemEntry{On: w.Today().AddDays(1)}, w.trainee.Person.ID),
		"The day, 3 Mar 2026, is still to come. Enter it when it was. Say where the evidence lies: a sign-in sheet in a folder, a certificate.")
	good := training.ItemEntry{On: w.Today(), Evidence: "Folder."}
	require.ErrorContains(t, enter(good), "Tick who was there")
	require.ErrorContains(t, enter(good, "nobody"), "not among the people")
	require.NoError(t, enter(good, w.other.Person.ID))
	require.EqualError(t, enter(good, w.trainee.Person.ID, w.other.Person.ID),
		"Otto Invented has an entry of 2 Mar 2026 already. Nothing was entered. Take the tick away there, or choose another day. If something in that entry is wrong, correct it.")
	require.NoError(t, enter(good, w.preceptor.Person.ID))
	require.ErrorContains(t, enter(good, w.trainee.Person.ID, w.other.Person.ID, w.preceptor.Person.ID), " have an entry of 2 Mar 2026 already. Nothing was entered. Take these ticks away", "all of them at once")
	good.On, good.Evidence = w.Today().AddDays(-1), "=1+1"
	require.ErrorContains(t, enter(good, w.trainee.Person.ID), "Where the evidence lies shows no letter.")
	require.Empty(t, w.entries(), "all of a class or nothing")
	require.ErrorIs(t, w.EnterItem(ctx, w.preceptor, w.Key(), good, []string{w.trainee.Person.ID}), training.ErrForbidden)
}

func TestAListOfItemsIsToldCellByCell(t *testing.T) {
	w := staffed(t)
	i := w.newItem()
	text := "Staff no,Name,Training,Completed,Evidence,Expires\n" +
		",Tess Invented,Blood-borne pathogens,2026-02-02,Folder 3,\n" + // 2
		",Nobody,Blood-borne pathogens,2026-02-02,Folder 3,\n" + // 3
		"99,Tess Invented,Blood-borne pathogens,2026-02-02,Folder 3,\n" + // 4
		",Otto Invented,Juggling,2026-02-02,Folder 3,\n" + // 5
		",Otto Invented,Blood-borne pathogens,03/04/2024,Folder 3,\n" + // 6
		",Otto Invented,Blood-borne pathogens,2026-05-02,Folder 3,\n" + // 7
		",Otto Invented,Blood-borne pathogens,2026-02-02,,\n" + // 8
		",tess  invented,blood-borne pathogens,2026-02-02,Folder 3,\n" + // 9
		",Otto Invented,Blood-borne pathogens,2026-02-02,Folder 3,2026-01-01\n" // 10
	plan, err := w.OwnersItems(ctx, w.itemList(text))
	require.NoError(t, err)
	got := []string{}
	for _, f := range plan.Faults {
		got = append(got, strings.Join([]string{string(rune('0' + f.Row)), f.Column, f.Value, f.Do}, "|"))
	}
	require.Equal(t, []string{
		"3|Name|Nobody|Nobody here is called this. Write the name as it is here, or give the staff number.",
		"4|Staff no|99|Nobody here has this staff number. Correct it, or add the person first.",
		"5|Training|Juggling|There is no such item here. Write its title as it is here, or add the item first.",
		"6|Completed|03/04/2024|This could be 3 April 2024 or 4 March 2024. Say which comes first in this file, the day or the month, or write it as 2024-04-03.",
		"7|Completed|2026-05-02|The day, 2 May 2026, is still to come. Enter it when it was.",
		"8|Evidence||Say where the evidence lies: a sign-in sheet in a folder, a certificate.",
		"9|Completed|2026-02-02|Row 2 has the same for the same person and day. Delete one of them.",
		":|Expires|2026-01-01|The expiry day is no day behind that. Leave it empty when the item’s own interval counts.",
	}, got)
	_, err = w.ImportItems(ctx, w.itemList(text))
	require.NoError(t, err)
	require.Empty(t, w.entries(), "all of it or nothing")

	good := w.itemList("Name,Item,Date,Evidence\nTess Invented,Blood-borne pathogens,2026-02-02,Folder 3\n")
	plan, err = w.ImportItems(ctx, good)
	require.NoError(t, err)
	require.Len(t, plan.New, 1)
	e := w.entries()
	require.Len(t, e, 1)
	plan, err = w.ImportItems(ctx, good)
	require.NoError(t, err)
	require.Equal(t, [2]int{0, 1}, [2]int{len(plan.New), plan.Same}, "the same file twice changes nothing")
	plan, err = w.OwnersItems(ctx, w.itemList("Name,Item,Date,Evidence\nTess Invented,Blood-borne pathogens,2026-02-02,Folder 4\n"))
	require.NoError(t, err)
	require.ErrorContains(t, errorOf(plan.Faults), "says something else")
	require.NoError(t, w.WithdrawItemEntry(ctx, w.educator, w.Key(), e[0].ID, "Not there.", clinictest.Password))
	plan, err = w.ImportItems(ctx, good)
	require.NoError(t, err)
	require.Equal(t, 1, plan.Same, "what was put right here does not come back by an old file")
	require.Equal(t, i.ID, e[0].ItemID)

	none, err := roster.ReadList(bytes.NewReader([]byte("Name,Date\nTess,2026-02-02\n")), 25, roster.ItemList, time.Now(), "")
	require.NoError(t, err)
	require.ErrorContains(t, errorOf(none.Faults), "Not found: Item, Evidence.")
}

// errorOf is the first fault as an error.
func errorOf(faults []roster.Fault) error {
	if len(faults) == 0 {
		return nil
	}
	return &training.Refusal{Kind: training.ErrInvalid, Sentence: faults[0].Do}
}
