package training_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

func stands(name string, w training.StandingWord, change func(*training.Standing)) training.Standing {
	s := training.Standing{Person: training.Person{ID: name, Name: name}, Word: w, Needed: 1}
	if change != nil {
		change(&s)
	}
	return s
}

func namesOf(all []training.Standing) (names []string) {
	for _, s := range all {
		names = append(names, s.Person.Name)
	}
	return names
}

func TestWhoIsWatchedNext(t *testing.T) {
	due := func(d training.Day) func(*training.Standing) { return func(s *training.Standing) { s.Due = d } }
	all := []training.Standing{
		stands("new", training.InTraining, nil),
		stands("late", training.DueSoon, due("2026-03-20")),
		stands("soon", training.DueSoon, due("2026-03-10")),
		stands("over", training.Lapsed, due("2026-02-01")),
		stands("self", training.Lapsed, due("2026-01-01")),
		stands("current", training.Current, nil),
		stands("ready", training.ReadyToSign, nil),
		stands("nothing", training.NotStarted, nil),
		stands("modules first", training.InTraining, func(s *training.Standing) { s.MissingScenarios = []string{"a"} }),
		stands("watched enough", training.DueSoon, func(s *training.Standing) { s.Clean = []*training.Demonstration{{}} }),
	}
	require.Equal(t, []string{"over", "soon", "late", "new"}, namesOf(training.WatchNext(all, "self")))
	require.Equal(t, "self", training.WatchNext(all, "x")[0].Person.ID, "who is due longest")
	var many []training.Standing
	for i := range 20 {
		many = append(many, stands(fmt.Sprint(i), training.InTraining, nil))
	}
	require.Equal(t, []string{"0", "1", "2", "3", "4", "5", "6", "7"}, namesOf(training.WatchNext(many, "x")), "as they came, and no more than a page takes in")
}

func TestWhoHasToActStandsFirst(t *testing.T) {
	var all []training.Standing
	for i := len(training.StandingWords) - 1; i >= 0; i-- {
		w := training.StandingWords[i]
		all = append(all, stands(string(w)+" b", w, nil), stands(string(w)+" a", w, nil))
	}
	var want []string
	for _, w := range []string{"lapsed", "on a plan", "due", "ready to sign", "in training", "not started", "current", "on leave"} {
		want = append(want, w+" b", w+" a")
	}
	require.Equal(t, want, namesOf(training.InOrder(all)))
}

func TestReadyAgainIsAmongTheReady(t *testing.T) {
	ready := func(s *training.Standing) { s.Ready = true }
	for _, c := range []struct {
		s            training.Standing
		among, again bool
	}{
		{stands("a", training.ReadyToSign, ready), true, false},
		{stands("a", training.Current, ready), true, true},
		{stands("a", training.Lapsed, ready), true, true},
		{stands("a", training.Current, nil), false, false},
	} {
		require.Equal(t, c.among, c.s.Under(training.ReadyToSign), c.s.Word)
		require.Equal(t, c.again, c.s.ReadyAgain(), c.s.Word)
		require.True(t, c.s.Under(c.s.Word))
	}
}

func TestWatchingListsOnesOwn(t *testing.T) {
	w := staffed(t)
	w.Modules(w.trainee)
	good := w.GoodWork()
	signed := w.signBoth(w.preceptor, w.watch(w.preceptor, good), training.WatchedMet)
	waiting := w.watch(w.preceptor, good[:4])
	w.watch(w.other, good[:4])
	open, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	gone, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	_, err = w.AbandonDemonstration(ctx, w.preceptor, w.Key(), gone.ID)
	require.NoError(t, err)
	got, err := w.Watching(ctx, w.preceptor)
	require.NoError(t, err)
	require.Equal(t, []string{open.ID}, idsOf(got.Open))
	require.Equal(t, []string{waiting.ID}, idsOf(got.Waiting))
	require.Equal(t, []string{signed.ID}, idsOf(got.Done))
	require.Len(t, got.Done[0].Signatures, 2)
	require.Equal(t, map[string]string{w.trainee.Person.ID: "Tess Invented"}, got.Names)
	require.Equal(t, []string{"Tess Invented"}, namesOf(got.Next))
	require.Empty(t, got.Ready)
	_, err = w.Watching(ctx, w.trainee)
	require.ErrorIs(t, err, training.ErrForbidden)
}

func idsOf(all []training.Demonstration) (ids []string) {
	for _, d := range all {
		ids = append(ids, d.ID)
	}
	return ids
}
