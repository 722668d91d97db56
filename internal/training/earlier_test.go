package training_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/roster"
	"stillwet/internal/training"
)

// aPaper is the trainee's sign-off of last year.
func (w *world) aPaper() training.EarlierLine {
	return training.EarlierLine{PersonID: w.trainee.Person.ID, Competency: turnover, On: "2025-06-10", SignedBy: "Ulla Before", Evidence: "Green folder, page 4", Here: true}
}

func (w *world) enterPaper(l training.EarlierLine) training.EarlierLine {
	require.NoError(w.T, w.EnterEarlier(ctx, w.educator, w.Key(), l, clinictest.Password))
	all, err := w.EarlierOf(ctx, w.educator, l.PersonID)
	require.NoError(w.T, err)
	return all[0]
}

func enterEarlier(w *world) sending {
	return func(key string) (any, error) {
		return nil, w.EnterEarlier(ctx, w.educator, key, w.aPaper(), clinictest.Password)
	}
}

func (w *world) earlierList(text string) *roster.List {
	f, err := roster.ReadList(strings.NewReader(text), int64(len(text)), roster.EarlierList, w.Today().Time(), "")
	require.NoError(w.T, err)
	return f
}

const paperList = "Name,Competency,Date,Signed by,Evidence\nTess Invented," + turnover + ",2025-06-10,Ulla Before,Green folder\nOtto Invented," + turnover + ",2025-07-10,Ulla Before,Green folder\n"

func bringEarlier(w *world) sending {
	f := w.earlierList(paperList)
	plan, err := w.PreviewEarlier(ctx, w.educator, f)
	require.NoError(w.T, err)
	require.Empty(w.T, plan.Faults)
	return func(key string) (any, error) { return w.BringEarlier(ctx, w.educator, key, f, plan.Seen) }
}

// waiting is a batch of two that nobody has confirmed.
func (w *world) waiting() string {
	id, err := bringEarlier(w)(w.Key())
	require.NoError(w.T, err)
	return id.(string)
}

func confirmEarlier(w *world) sending {
	id := w.waiting()
	return func(key string) (any, error) {
		return nil, w.ConfirmEarlier(ctx, w.educator, key, id, clinictest.Password)
	}
}

func discardEarlier(w *world) sending {
	id := w.waiting()
	return func(key string) (any, error) { return nil, w.DiscardEarlier(ctx, w.educator, key, id) }
}

func correctEarlier(w *world) sending {
	l := w.enterPaper(w.aPaper())
	is := w.aPaper()
	is.On = "2025-06-11"
	return func(key string) (any, error) {
		return nil, w.CorrectEarlier(ctx, w.educator, key, l.ID, is, "The paper says the eleventh.", clinictest.Password)
	}
}

func withdrawEarlier(w *world) sending {
	l := w.enterPaper(w.aPaper())
	return func(key string) (any, error) {
		return nil, w.WithdrawEarlier(ctx, w.educator, key, l.ID, "The paper is another's.", clinictest.Password)
	}
}

// earlierPutRight has a batch of two, one corrected, the one that stands for it withdrawn.
func (w *world) earlierPutRight() {
	_, err := confirmEarlier(w)(w.Key())
	require.NoError(w.T, err)
	l := w.papers()[0]
	is := w.aPaper()
	is.On, is.Site, is.Here = "2025-06-11", "Sister clinic", false
	require.NoError(w.T, w.CorrectEarlier(ctx, w.educator, w.Key(), l.ID, is, "The paper says the eleventh.", clinictest.Password))
	require.NoError(w.T, w.WithdrawEarlier(ctx, w.educator, w.Key(), w.papers()[0].ID, "The paper is another's.", clinictest.Password))
}

// papers are the trainee's, the latest day first.
func (w *world) papers() []training.EarlierLine {
	all, err := w.EarlierOf(ctx, w.trainee, w.trainee.Person.ID)
	require.NoError(w.T, err)
	return all
}

func (w *world) standsAs() training.Standing {
	rec, err := w.Record(ctx, w.educator, w.trainee.Person.ID)
	require.NoError(w.T, err)
	return rec.Standings[0]
}

func TestWhatWaitsToBeConfirmedCountsForNothing(t *testing.T) {
	w := staffed(t)
	id := w.waiting()
	require.Equal(t, training.NotStarted, w.standsAs().Word)
	require.Empty(t, w.papers())
	require.ErrorIs(t, w.ConfirmEarlier(ctx, w.educator, w.Key(), id, "wrong password"), training.ErrPassword)
	require.ErrorIs(t, w.ConfirmEarlier(ctx, w.preceptor, w.Key(), id, clinictest.Password), training.ErrForbidden)
	require.NoError(t, w.ConfirmEarlier(ctx, w.educator, w.Key(), id, clinictest.Password))
	st := w.standsAs()
	require.Equal(t, training.Current, st.Word)
	require.Equal(t, training.Day("2026-06-10"), st.Due, "a year from the day of the paper")
	require.Equal(t, "Ulla Before (from paper)", st.LastSignOff.Signer())
	may, why := st.MayWorkAlone()
	require.True(t, may, why)
	waiting, err := w.EarlierWaiting(ctx, w.educator)
	require.NoError(t, err)
	require.Empty(t, waiting)
	require.ErrorIs(t, w.ConfirmEarlier(ctx, w.educator, w.Key(), id, clinictest.Password), training.ErrNotFound)
	leaves, err := w.Store.LeavesAt(ctx, []int64{w.papers()[0].Batch.Leaf})
	require.NoError(t, err)
	require.Equal(t, "Edda Invented", leaves[w.papers()[0].Batch.Leaf].Named(training.PartSigner).Name)
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}

func TestAPaperIsPutRight(t *testing.T) {
	w := staffed(t)
	w.earlierPutRight()
	require.Equal(t, training.NotStarted, w.standsAs().Word)
	papers := w.papers()
	require.Len(t, papers, 2)
	require.Equal(t, papers[0].ID, papers[1].By)
	require.Equal(t, "The paper says the eleventh.", papers[1].End.Why)
	require.Equal(t, "The paper is another's.", papers[0].End.Why)
	for _, l := range papers {
		require.ErrorIs(t, w.WithdrawEarlier(ctx, w.educator, w.Key(), l.ID, "Again.", clinictest.Password), training.ErrConflict)
		require.ErrorIs(t, w.CorrectEarlier(ctx, w.educator, w.Key(), l.ID, w.aPaper(), "Again.", clinictest.Password), training.ErrConflict)
	}
	all, err := w.Store.Corrected(ctx, "", "9")
	require.NoError(t, err)
	require.Equal(t, []training.CorrectedWhat{training.EarlierCorrected, training.EarlierWithdrawn}, []training.CorrectedWhat{all[0].What, all[1].What})
}

func TestWhatWasShownElsewhereLetsNobodyWorkAlone(t *testing.T) {
	w := staffed(t)
	l := w.aPaper()
	l.Here = false
	require.EqualError(t, w.EnterEarlier(ctx, w.educator, w.Key(), l, clinictest.Password), "Where it was not shown here, say at which other site.")
	l.Site = "Sister clinic, east"
	w.enterPaper(l)
	st := w.standsAs()
	require.Equal(t, training.Current, st.Word)
	may, why := st.MayWorkAlone()
	require.False(t, may)
	require.Contains(t, why, "signed off at another site, and not shown here yet")
	w.required(func(x *training.Terms) { x.Alone.Elsewhere = true })
	st = w.standsAs()
	may, why = st.MayWorkAlone()
	require.True(t, may, why)
}

func TestAListOfPapersIsToldCellByCell(t *testing.T) {
	w := staffed(t)
	plan, err := w.OwnersEarlier(ctx, w.earlierList("Name,Competency,Date,Signed by,Evidence,Due,Site,Shown here\n"+
		"Tess Invented,Juggling,2025-06-10,Ulla,Folder,,,\n"+ // 2
		"Tess Invented,"+turnover+",2027-06-10,Ulla,Folder,,,\n"+ // 3
		"Tess Invented,"+turnover+",2025-06-10,,Folder,,,\n"+ // 4
		"Tess Invented,"+turnover+",2025-06-11,Ulla,,,,\n"+ // 5
		"Tess Invented,"+turnover+",2025-06-12,Ulla,Folder,2025-01-01,,\n"+ // 6
		"Tess Invented,"+turnover+",2025-06-13,Ulla,Folder,,East,perhaps\n"+ // 7
		"Tess Invented,"+turnover+",2025-06-14,Ulla,Folder,,,no\n"+ // 8
		"Tess Invented,"+turnover+",2025-06-15,Ulla,Folder,,East,\n"+ // 9
		"Tess Invented,"+turnover+",2025-06-16,=1+1,Folder,,,\n")) // 10
	require.NoError(t, err)
	got := []string{}
	for _, f := range plan.Faults {
		got = append(got, strings.Join([]string{string(rune('0' + f.Row)), f.Column, f.Do}, "|"))
	}
	require.Equal(t, []string{
		"2|Competency|There is no such competency here. Write its title as it is here.",
		"3|Date|The day, 10 Jun 2027, is still to come or before 1950. Correct it.",
		"4|Signed by|Say who signed it, as the paper has it.",
		"5|Evidence|Say where the paper lies.",
		"6|Due|“Due again on” is no day, or lies before the sign-off. Leave it empty when the clinic’s interval counts.",
		"7|Shown here|Say whether it was shown here: yes or no.",
		"8|Site|Where it was not shown here, say at which other site.",
		"9|Shown here|Say whether it was shown here: yes or no.",
		":|Signed by|Who signed it shows no letter. Write it as it is to be read.",
	}, got)
	for _, want := range []int{2, 0} {
		plan, err = w.ImportEarlier(ctx, w.earlierList(paperList))
		require.NoError(t, err)
		require.Len(t, plan.New, want, "the same file twice changes nothing, also while it waits")
	}
	waiting, err := w.EarlierWaiting(ctx, w.educator)
	require.NoError(t, err)
	require.Len(t, waiting, 1)
	require.Equal(t, "Tess Invented", waiting[0].Lines[0].Name)
}
