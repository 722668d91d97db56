package training_test

import (
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/store"
	"stillwet/internal/training"
)

// guess is a stranger's wrong try at a name from an address.
func (w *world) guess(name, from string) error {
	_, err := w.Enter(ctx, training.Knock{Username: name, Password: "guess after guess", From: from})
	return err
}

func (w *world) enter(name, from, known string) (training.Entry, error) {
	return w.Enter(ctx, training.Knock{Username: name, Password: training.DemoPassword, From: from, Known: known})
}

func TestStrangersGuessesKeepNobodyOut(t *testing.T) {
	w := staffed(t)
	home, err := w.enter("edda", "10.0.0.1", "")
	require.NoError(t, err)
	demo := w.watch(w.preceptor, w.GoodWork())
	w.Choose(w.preceptor, demo.ID, training.WatchedMet)
	for i := range 10_000 {
		require.Error(t, w.guess([]string{"edda", "pia", "tess"}[i%3], fmt.Sprintf("192.0.2.%d", i%200)))
		if i%100 == 0 {
			w.Pass(3 * time.Second)
		}
	}
	_, err = w.enter("edda", "10.0.0.1", "")
	require.ErrorIs(t, err, training.ErrThrottled, "to a browser that is not known she is a stranger too")
	_, err = w.enter("edda", "10.0.0.1", home.Known)
	require.NoError(t, err, "in her own browser she comes in")
	_, err = w.enter("pia", "10.0.0.1", home.Known)
	require.ErrorIs(t, err, training.ErrThrottled, "the browser is known for who signed in in it")
	_, err = w.SignAsLearner(ctx, w.preceptor, w.Key(), demo.ID, training.Learner{Username: "tess", Password: training.DemoPassword})
	require.NoError(t, err, "a signature in a live session")
	_, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), demo.ID, training.WatchedMet, training.DemoPassword)
	require.NoError(t, err)
	_, err = w.Prove(ctx, w.educator, training.DemoPassword)
	require.NoError(t, err)
	_, err = w.ChangePassword(ctx, w.trainee, w.Key(), training.DemoPassword, long)
	require.NoError(t, err)
	w.Pass(16 * time.Minute)
	_, err = w.enter("edda", "10.0.0.1", "")
	require.NoError(t, err, "and nobody is kept out for good")
}

// However they are spread over addresses and the hour, and whether or not there
// is such a name.
func TestStrangersGuessesInAnHour(t *testing.T) {
	w := staffed(t)
	for _, step := range []time.Duration{time.Second, 37 * time.Second, 2 * time.Minute} {
		for _, name := range []string{"tess", "nobody"} {
			guesses := 0
			for past := time.Duration(0); past < time.Hour; past += step {
				for i := range 3 {
					err := w.guess(name, fmt.Sprintf("192.0.2.%d", (int(past/step)+i)%250))
					if err != nil && !errors.Is(err, training.ErrThrottled) {
						guesses++
					}
				}
				w.Pass(step)
			}
			require.LessOrEqual(t, guesses, 95, "%s every %s", name, step)
			require.GreaterOrEqual(t, guesses, 20)
			w.Pass(2 * time.Hour)
		}
	}
}

// Whoever polls for each guess that is forgiven keeps nobody else out, neither from
// one address nor from some dozens.
func TestAnOwnersFirstTryFromANewPlaceIsHeard(t *testing.T) {
	for addresses, every := range map[int]time.Duration{1: time.Second, 40: 15 * time.Second} {
		w := staffed(t)
		for past := time.Duration(0); past < 3*time.Hour; past += every {
			for i := range addresses {
				require.Error(t, w.guess("edda", fmt.Sprintf("192.0.2.%d", i)))
			}
			if past%(7*time.Minute) == 0 {
				_, err := w.enter("edda", "10.0.0.1", "")
				require.NoError(t, err, "%d addresses after %s", addresses, past)
			}
			w.Pass(every)
		}
		require.ErrorIs(t, w.guess("edda", "10.0.0.2"), training.ErrPassword, "she mistypes")
		w.Pass(2 * time.Second)
		_, err := w.enter("edda", "10.0.0.2", "")
		require.NoError(t, err, "and tries again")
	}
}

// In any hour, whatever the number of addresses, and with the same answer whether
// or not there is such a name.
func TestAThousandAddressesGuessLessThanAHundredTimesAnHour(t *testing.T) {
	w := staffed(t)
	var heard []time.Duration
	for past := time.Duration(0); past < 4*time.Hour; past += 2 * time.Second {
		from := fmt.Sprintf("2001:db8:0:%x::/64", int(past/time.Second)*7919%1000)
		known, unknown := w.guess("edda", from), w.guess("nobody", from)
		require.Equal(t, known.Error(), unknown.Error(), "after %s", past)
		if errors.Is(known, training.ErrPassword) {
			heard = append(heard, past)
		}
		w.Pass(2 * time.Second)
	}
	most := 0
	for i, first := range heard {
		n := 0
		for n < len(heard)-i && heard[i+n] < first+time.Hour {
			n++
		}
		most = max(most, n)
	}
	require.Less(t, most, 100)
	require.Greater(t, most, 80, "the addresses use what there is")
}

// The queue of strangers goes by the address a try comes from.
func TestACrowdAtOneAddressIsInNobodyElsesWay(t *testing.T) {
	w := staffed(t)
	home, err := w.enter("edda", "192.0.2.1", "")
	require.NoError(t, err)
	training.Crowd(w.Service, "192.0.2.1")
	_, err = w.enter("edda", "192.0.2.1", "")
	require.ErrorIs(t, err, training.ErrThrottled)
	_, err = w.enter("edda", "10.0.0.1", "")
	require.NoError(t, err)
	_, err = w.enter("edda", "192.0.2.1", home.Known)
	require.NoError(t, err, "a known browser stands in no queue")
}

func TestThrottledAnswersAreTheSameForEveryName(t *testing.T) {
	w := staffed(t)
	for i := range 40 {
		known, unknown := w.guess("tess", "192.0.2.1"), w.guess("nobody", "192.0.2.1")
		require.Equal(t, known.Error(), unknown.Error(), "try %d", i)
		w.Pass(time.Duration(i) * time.Second)
	}
}

// Whoever is inside guesses no faster at another's password, nor at their own.
func TestThoseInsideAreThrottledInTheirOwnLane(t *testing.T) {
	w := staffed(t)
	demo := w.watch(w.preceptor, w.GoodWork())
	sign := func(by training.Actor) error {
		_, err := w.SignAsLearner(ctx, by, w.Key(), demo.ID, training.Learner{Username: "tess", Password: "guess after guess"})
		return err
	}
	prove := func(by training.Actor) error { _, err := w.Prove(ctx, by, "guess after guess"); return err }
	for _, try := range []func(training.Actor) error{sign, prove} {
		for range 5 {
			require.ErrorIs(t, try(w.preceptor), training.ErrPassword)
		}
		require.ErrorIs(t, try(w.preceptor), training.ErrThrottled)
	}
	again := w.In("pia")
	require.ErrorIs(t, sign(again), training.ErrThrottled, "a new session brings no new tries at another's password")
	require.ErrorIs(t, sign(w.trainee), training.ErrPassword, "the learner's own session is not in it")
	home, err := w.enter("tess", "10.0.0.1", "")
	require.NoError(t, err)
	for range 5 {
		_, err = w.Enter(ctx, training.Knock{Username: "tess", Password: "guess", From: "10.0.0.1", Known: home.Known})
		require.ErrorIs(t, err, training.ErrPassword)
	}
	_, err = w.Enter(ctx, training.Knock{Username: "tess", Password: "guess", From: "10.0.0.9", Known: home.Known})
	require.ErrorIs(t, err, training.ErrThrottled, "a stolen cookie of a known browser has one lane, wherever it goes")
}

func TestAKnownBrowserIsKnownForAnAccountAsItWas(t *testing.T) {
	w := staffed(t)
	shared := ""
	for _, name := range []string{"edda", "pia", "tess"} { // one tablet for three
		in, err := w.enter(name, "10.0.0.1", shared)
		require.NoError(t, err)
		shared = in.Known
	}
	exhaust := func(name string) {
		for i := range 60 {
			require.Error(t, w.guess(name, fmt.Sprintf("192.0.2.%d", i)))
		}
	}
	known := func(name, password, cookie string) bool {
		exhaust(name)
		_, err := w.Enter(ctx, training.Knock{Username: name, Password: password, From: "10.0.0.1", Known: cookie})
		return err == nil
	}
	for _, name := range []string{"edda", "pia", "tess"} {
		require.True(t, known(name, training.DemoPassword, shared), name)
		require.False(t, known(name, training.DemoPassword, "AAAA"+shared[4:]), "%s: the seals are the browser's own", name)
	}
	w.trainee = w.again(t, "tess", shared)
	_, err := w.ChangePassword(ctx, w.trainee, w.Key(), training.DemoPassword, long)
	require.NoError(t, err)
	require.False(t, known("tess", long, shared), "a new password makes the old cookie void")
	w.educator = w.again(t, "edda", shared)
	pia := w.preceptor.Person.ID
	require.NoError(t, w.SetDisabled(ctx, w.educator, w.Key(), pia, true))
	require.False(t, known("pia", training.DemoPassword, shared), "closed")
	require.NoError(t, w.SetDisabled(ctx, w.educator, w.Key(), pia, false))
	require.False(t, known("pia", training.DemoPassword, shared), "and void when it is opened again")
	require.True(t, known("edda", training.DemoPassword, shared), "the others' is good all the same")
}

// A tablet that a whole clinic shares forgets first who did not sign in in it for longest.
func TestASharedTabletKnowsAHundredAndFifty(t *testing.T) {
	w := staffed(t)
	in, err := w.enter("tess", "10.0.0.1", "")
	require.NoError(t, err)
	browser, tess, _ := strings.Cut(in.Known, ".")
	others := strings.Repeat(".others-seal-of-22-char", 148)
	in, err = w.enter("edda", "10.0.0.1", browser+others+"."+tess)
	require.NoError(t, err)
	require.True(t, strings.HasSuffix(in.Known, others+"."+tess), "150 are known")
	require.Less(t, len(in.Known), 3500)
	again, err := w.enter("tess", "10.0.0.1", in.Known)
	require.NoError(t, err)
	require.Len(t, again.Known, len(in.Known))
	require.True(t, strings.HasPrefix(again.Known, browser+"."+tess), "who signs in again is the newest")
	third, err := w.enter("pia", "10.0.0.1", in.Known)
	require.NoError(t, err)
	require.Len(t, third.Known, len(in.Known))
	require.NotContains(t, third.Known, tess, "the one whose sign-in is longest ago drops off")
	for i := range 60 {
		require.Error(t, w.guess("edda", fmt.Sprintf("192.0.2.%d", i)))
	}
	_, err = w.enter("edda", "10.0.0.1", third.Known)
	require.NoError(t, err)
}

// again signs in in a known browser.
func (w *world) again(t *testing.T, name, known string) training.Actor {
	in, err := w.enter(name, "10.0.0.1", known)
	require.NoError(t, err)
	return in.Actor
}

func TestTheTableOfTriesHasAnEnd(t *testing.T) {
	w := staffed(t)
	rows := func() (n int) {
		db, err := sql.Open("sqlite3", filepath.Join(w.Dir, store.DataFile))
		require.NoError(t, err)
		defer func() { require.NoError(t, db.Close()) }()
		require.NoError(t, db.QueryRow("SELECT COUNT(*) FROM tries").Scan(&n))
		return n
	}
	sweep := func(u training.Unit, most int) error {
		return u.SweepTries(ctx, training.InstantOf(w.Now()).Add(-24*time.Hour), most)
	}
	require.NoError(t, w.Store.Write(ctx, func(u training.Unit) error {
		for i := range 400 {
			if err := u.SetTries(ctx, fmt.Sprintf("%064d", i), training.Tries{Failures: 1 + i%4, Last: training.InstantOf(w.Now())}); err != nil {
				return err
			}
		}
		return sweep(u, 100)
	}))
	require.Equal(t, 100, rows())
	kept, err := w.Store.Tries(ctx, fmt.Sprintf("%064d", 3))
	require.NoError(t, err)
	require.Equal(t, 4, kept.Failures, "what is being tried stays")
	w.Pass(48 * time.Hour)
	require.NoError(t, w.Store.Write(ctx, func(u training.Unit) error { return sweep(u, 100) }))
	require.Zero(t, rows())
}
