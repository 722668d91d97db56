package training_test

import (
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

const long = "a sentence of some length"

func TestFirstRunLinkWorksOnceAndForADay(t *testing.T) {
	w := newWorld(t)
	old, open, err := w.FirstRunToken(ctx)
	require.NoError(t, err)
	require.True(t, open)
	token, _, err := w.FirstRunToken(ctx)
	require.NoError(t, err)
	require.ErrorIs(t, w.firstLink(old), training.ErrNotFound, "a new link ends the old one")
	require.NoError(t, w.firstLink(token))
	w.Pass(24 * time.Hour)
	require.ErrorIs(t, w.firstLink(token), training.ErrNotFound)
	_, err = w.CreateFirstEducator(ctx, token, w.Key(), training.FirstEducator{Name: "Edda", Username: "edda", Password: long})
	require.ErrorIs(t, err, training.ErrNotFound)

	token, _, err = w.FirstRunToken(ctx)
	require.NoError(t, err)
	_, err = w.CreateFirstEducator(ctx, token, w.Key(), training.FirstEducator{Name: "Edda", Username: "edda", Password: "short"})
	require.ErrorIs(t, err, training.ErrInvalid)
	key := w.Key()
	p, err := w.CreateFirstEducator(ctx, token, key, training.FirstEducator{Name: "Edda", Username: "edda", Password: long})
	require.NoError(t, err)
	require.Equal(t, training.Educator, p.Role)
	again, err := w.CreateFirstEducator(ctx, token, key, training.FirstEducator{Name: "Edda", Username: "edda", Password: long})
	require.NoError(t, err, "the same form sent twice")
	require.Equal(t, p, again)
	_, err = w.CreateFirstEducator(ctx, token, w.Key(), training.FirstEducator{Name: "Eve", Username: "eve", Password: long})
	require.ErrorIs(t, err, training.ErrNotFound)
	_, open, err = w.FirstRunToken(ctx)
	require.NoError(t, err)
	require.False(t, open)
}

func TestSessionsEnd(t *testing.T) {
	w := staffed(t)
	sign := func() string {
		_, c, err := w.SignIn(ctx, " TESS ", training.DemoPassword)
		require.NoError(t, err)
		return c
	}
	gone := func(cookie string) { _, err := w.Resume(ctx, cookie); require.ErrorIs(t, err, training.ErrExpired) }

	gone("")
	gone("invented")
	cookie := sign()
	require.NotEqual(t, cookie, sign(), "each sign-in has its own")
	for range 19 { // 9.5 hours of work
		w.Pass(30 * time.Minute)
		a, err := w.Resume(ctx, cookie)
		require.NoError(t, err)
		require.Equal(t, w.trainee.Person, a.Person)
	}
	w.Pass(29 * time.Minute)
	_, err := w.Resume(ctx, cookie)
	require.NoError(t, err)
	w.Pass(2 * time.Minute)
	gone(cookie) // 10 hours and a minute

	cookie = sign()
	w.Pass(30*time.Minute + time.Second)
	gone(cookie)
	w.Pass(-time.Minute)
	gone(cookie) // an ended session does not come back

	cookie = sign()
	require.NoError(t, w.SignOut(ctx, cookie))
	require.NoError(t, w.SignOut(ctx, cookie))
	gone(cookie)

	w.educator = w.In("edda")
	cookie = sign()
	require.NoError(t, w.SetDisabled(ctx, w.educator, w.Key(), w.trainee.Person.ID, true))
	gone(cookie)
	_, _, err = w.SignIn(ctx, "tess", training.DemoPassword)
	require.ErrorIs(t, err, training.ErrPassword)
	require.NoError(t, w.SetDisabled(ctx, w.educator, w.Key(), w.trainee.Person.ID, false))
	cookie = sign()
	first, err := w.NewFirstPassword(ctx, w.educator, w.Key(), w.trainee.Person.ID)
	require.NoError(t, err)
	gone(cookie)
	require.ErrorIs(t, w.SetDisabled(ctx, w.educator, w.Key(), w.educator.Person.ID, true), training.ErrForbidden)

	w.Pass(73 * time.Hour)
	_, _, err = w.SignIn(ctx, "tess", first)
	require.ErrorIs(t, err, training.ErrPassword, "a first password ends")
}

// A closed account's session ends even where it had been left open.
func TestASessionOfAClosedAccountEnds(t *testing.T) {
	w := staffed(t)
	_, cookie, err := w.SignIn(ctx, "tess", training.DemoPassword)
	require.NoError(t, err)
	require.NoError(t, w.Store.Write(ctx, func(u training.Unit) error { return u.SetDisabled(ctx, w.trainee.Person.ID, true) }))
	_, err = w.Resume(ctx, cookie)
	require.ErrorIs(t, err, training.ErrExpired)
}

func TestFirstPasswordOpensOnlyItsOwnChange(t *testing.T) {
	w := staffed(t)
	key := w.Key()
	p, first, err := w.AddPerson(ctx, w.educator, key, training.Person{Name: "New", Role: training.Preceptor}, "new.one")
	require.NoError(t, err)
	again, none, err := w.AddPerson(ctx, w.educator, key, training.Person{Name: "New", Role: training.Preceptor}, "new.one")
	require.NoError(t, err)
	require.Equal(t, p, again)
	require.Empty(t, none, "it is told once")
	a, cookie, err := w.SignIn(ctx, "new.one", first)
	require.NoError(t, err)
	_, err = w.Home(ctx, a)
	require.ErrorIs(t, err, training.ErrForbidden)
	_, err = w.People(ctx, a)
	require.ErrorIs(t, err, training.ErrForbidden)
	change := func(old, new string) (string, error) { return w.ChangePassword(ctx, a, w.Key(), old, new) }
	_, err = change(first, first)
	require.ErrorIs(t, err, training.ErrInvalid)
	_, err = change("wrong", long)
	require.ErrorIs(t, err, training.ErrPassword)
	next, err := change(first, long)
	require.NoError(t, err)
	_, err = w.Resume(ctx, cookie)
	require.ErrorIs(t, err, training.ErrExpired, "the session goes on under another cookie")
	a, err = w.Resume(ctx, next)
	require.NoError(t, err)
	require.False(t, a.MustChange)
	_, err = w.People(ctx, a)
	require.NoError(t, err)
}

func TestWrongNameAndWrongPasswordAreTheSame(t *testing.T) {
	w := staffed(t)
	_, _, unknown := w.SignIn(ctx, "nobody", training.DemoPassword)
	_, _, wrong := w.SignIn(ctx, "tess", "not the password at all")
	require.ErrorIs(t, unknown, training.ErrPassword)
	require.Equal(t, wrong.Error(), unknown.Error())
	for _, p := range []string{"", " " + training.DemoPassword, training.DemoPassword + " ", "WET-FOR-THE-WHOLE-TIME"} {
		_, _, err := w.SignIn(ctx, "tess", p)
		require.ErrorIs(t, err, training.ErrPassword)
		w.In("tess") // each good one sets the count back
	}
}

func TestTriesAreCountedOneByOneAndOutliveARestart(t *testing.T) {
	w := staffed(t)
	for _, name := range []string{"tess", "nobody"} {
		var all sync.WaitGroup
		var lock sync.Mutex
		kinds := map[error]int{}
		for range 12 {
			all.Go(func() {
				_, _, err := w.SignIn(ctx, name, "guess after guess")
				lock.Lock()
				defer lock.Unlock()
				for _, kind := range []error{training.ErrPassword, training.ErrThrottled} {
					if errors.Is(err, kind) {
						kinds[kind]++
					}
				}
			})
		}
		all.Wait()
		require.Equal(t, map[error]int{training.ErrPassword: 5, training.ErrThrottled: 7}, kinds, name)
	}
	w.Close()
	w.Open()
	_, _, err := w.SignIn(ctx, "tess", training.DemoPassword)
	require.ErrorIs(t, err, training.ErrThrottled)
	w.Pass(2 * time.Second)
	w.In("tess")
	for range 200 {
		w.Pass(16 * time.Minute)
		_, _, err := w.SignIn(ctx, "tess", "guess after guess")
		require.ErrorIs(t, err, training.ErrPassword)
	}
	_, _, err = w.SignIn(ctx, "tess", training.DemoPassword)
	require.ErrorIs(t, err, training.ErrThrottled)
	w.educator = w.In("edda")
	first, err := w.NewFirstPassword(ctx, w.educator, w.Key(), w.trainee.Person.ID)
	require.NoError(t, err)
	_, _, err = w.SignIn(ctx, "tess", first)
	require.NoError(t, err, "a new first password begins anew")
	for range 30 {
		_, _, err = w.SignIn(ctx, "tess", "guess after guess")
	}
	require.ErrorIs(t, err, training.ErrThrottled)
	w.Pass(16 * time.Minute)
	_, _, err = w.SignIn(ctx, "tess", first)
	require.NoError(t, err, "and nobody is kept out for good")
}

func TestWhoMayDoWhat(t *testing.T) {
	w := staffed(t)
	other := w.hire("Tom Invented", "tom", training.Trainee)
	attempt := w.Build(w.trainee, "ordinary-turnover", nil)
	demo := w.watch(w.preceptor, w.GoodWork())
	w.educator = w.In("edda")
	person := training.Person{Name: "X", Role: training.Trainee}
	entitlement := w.entitlement(w.preceptor, "2026-03-01", "2028-01-05")
	acts := map[string]func(a training.Actor) error{
		"add person": func(a training.Actor) error {
			_, _, err := w.AddPerson(ctx, a, w.Key(), person, "x"+w.NewID())
			return err
		},
		"entitle": func(a training.Actor) error {
			entitlement.Until = entitlement.Until.AddDays(1) // the same is not given twice
			_, err := w.Entitle(ctx, a, w.Key(), entitlement, training.SecondPerson{})
			return err
		},
		"first password": func(a training.Actor) error {
			_, err := w.NewFirstPassword(ctx, a, w.Key(), other.Person.ID)
			return err
		},
		"annual":        func(a training.Actor) error { _, err := w.Annual(ctx, a, 2026); return err },
		"people":        func(a training.Actor) error { _, err := w.People(ctx, a); return err },
		"learners":      func(a training.Actor) error { _, err := w.Learners(ctx, a); return err },
		"demonstration": func(a training.Actor) error { _, err := w.Demonstration(ctx, a, demo.ID); return err },
		"attempt":       func(a training.Actor) error { _, err := w.Attempt(ctx, a, attempt.ID); return err },
		"record":        func(a training.Actor) error { _, err := w.Record(ctx, a, w.trainee.Person.ID); return err },
		"home":          func(a training.Actor) error { _, err := w.Home(ctx, a); return err },
	}
	const yes, no, absent = "yes", "not allowed", "not found"
	for act, want := range map[string][5]string{ // nobody, its owner, another new hire, preceptor, educator
		"add person": {no, no, no, no, yes}, "entitle": {no, no, no, no, yes}, "first password": {no, no, no, no, yes},
		"annual": {no, no, no, no, yes}, "people": {no, no, no, yes, yes}, "learners": {no, no, no, yes, yes},
		"demonstration": {no, yes, absent, yes, yes}, "attempt": {no, yes, absent, yes, yes}, "record": {no, yes, absent, yes, yes},
		"home": {no, yes, yes, yes, yes},
	} {
		for i, a := range []training.Actor{{}, w.trainee, other, w.preceptor, w.educator} {
			got, err := yes, acts[act](a)
			switch {
			case errors.Is(err, training.ErrForbidden):
				got = no
			case errors.Is(err, training.ErrNotFound):
				got = absent
			case err != nil:
				got = err.Error()
			}
			require.Equal(t, want[i], got, "%s as %s", act, a.Person.Name)
		}
	}
	_, missing := w.Attempt(ctx, other, "no-such-id")
	_, others := w.Attempt(ctx, other, attempt.ID)
	require.Equal(t, missing.Error(), others.Error(), "others' things are as absent as missing ones")
}

func TestPeopleAreCheckedBeforeTheyAreKept(t *testing.T) {
	w := staffed(t)
	for name, c := range map[string]struct {
		p        training.Person
		username string
		kind     error
	}{
		"no name":            {training.Person{Name: " \t", Role: training.Trainee}, "abc", training.ErrInvalid},
		"no role":            {training.Person{Name: "A"}, "abc", training.ErrInvalid},
		"odd staff number":   {training.Person{Name: "A", Role: training.Trainee, StaffNo: "=1+1"}, "abc", training.ErrInvalid},
		"odd day":            {training.Person{Name: "A", Role: training.Trainee, Hired: "2026-02-30"}, "abc", training.ErrInvalid},
		"left before hired":  {training.Person{Name: "A", Role: training.Trainee, Hired: "2026-02-02", Left: "2026-02-01"}, "abc", training.ErrInvalid},
		"odd username":       {training.Person{Name: "A", Role: training.Trainee}, "a b", training.ErrInvalid},
		"username in use":    {training.Person{Name: "A", Role: training.Trainee}, "TESS", training.ErrConflict},
		"key too short":      {training.Person{Name: "A", Role: training.Trainee}, "abc", training.ErrInvalid},
		"staff number taken": {training.Person{Name: "A", Role: training.Trainee, StaffNo: "7"}, "abc", training.ErrConflict},
	} {
		key := w.Key()
		if name == "key too short" {
			key = "k"
		}
		if name == "staff number taken" {
			_, _, err := w.AddPerson(ctx, w.educator, w.Key(), training.Person{Name: "B", Role: training.Trainee, StaffNo: "7"}, "bbb")
			require.NoError(t, err)
		}
		before, err := w.Store.People(ctx)
		require.NoError(t, err)
		_, _, err = w.AddPerson(ctx, w.educator, key, c.p, c.username)
		require.ErrorIs(t, err, c.kind, name)
		var r *training.Refusal
		require.ErrorAs(t, err, &r, name)
		after, err := w.Store.People(ctx)
		require.NoError(t, err)
		require.Equal(t, before, after, name)
	}
}

func TestEverythingWrongWithAPersonIsToldAtOnce(t *testing.T) {
	w := staffed(t)
	_, _, err := w.AddPerson(ctx, w.educator, w.Key(), training.Person{Name: strings.Repeat("n", 201), StaffNo: "=1", Hired: "soon"}, "x y")
	for _, part := range []string{"200 is the most", "staff number", "sign-in name", "role", "needs a day"} {
		require.ErrorContains(t, err, part)
	}
}

func TestDemoOffersNobodyOutsideADemo(t *testing.T) {
	w := staffed(t)
	people, err := w.DemoPeople(ctx)
	require.NoError(t, err)
	require.Empty(t, people)
	_, _, err = w.SignInDemo(ctx, w.educator.Person.ID, "")
	require.ErrorIs(t, err, training.ErrNotFound)
	w.Service.Demo, w.Service.DemoOffers = true, []string{w.other.Person.ID}
	people, err = w.DemoPeople(ctx)
	require.NoError(t, err)
	require.Equal(t, []training.Person{w.trainee.Person, w.other.Person, w.educator.Person}, people)
	_, _, err = w.SignInDemo(ctx, w.preceptor.Person.ID, "")
	require.ErrorIs(t, err, training.ErrNotFound, "only those who are offered")
	a, cookie, err := w.SignInDemo(ctx, w.other.Person.ID, "")
	require.NoError(t, err)
	again, err := w.Resume(ctx, cookie)
	require.NoError(t, err)
	require.Equal(t, a, again)
}
