package training_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// live reports whether a cookie still opens anything.
func (w *world) live(cookie string) bool {
	_, err := w.Resume(ctx, cookie)
	if err != nil {
		require.ErrorIs(w.T, err, training.ErrExpired)
	}
	return err == nil
}

func TestASessionDatedAheadEnds(t *testing.T) {
	for name, date := range map[string]func(*training.Session, training.Instant){
		"begun":     func(n *training.Session, at training.Instant) { n.CreatedAt = at },
		"last seen": func(n *training.Session, at training.Instant) { n.LastSeen = at },
	} {
		for ahead, alive := range map[time.Duration]bool{0: true, time.Minute: true, 3 * time.Minute: false, 365 * 24 * time.Hour: false} {
			w := staffed(t)
			cookie := w.sessions(1)[0]
			own, err := w.OwnSessions(ctx, w.trainee)
			require.NoError(t, err)
			n := own[0]
			date(&n, training.InstantOf(w.Now().Add(ahead)))
			require.NoError(t, w.Store.Write(ctx, func(u training.Unit) error {
				if err := u.EndSession(ctx, n.IDHash); err != nil {
					return err
				}
				return u.OpenSession(ctx, n)
			}))
			require.Equal(t, alive, w.live(cookie), "%s %s ahead", name, ahead)
			w.Pass(ahead)
			require.False(t, !alive && w.live(cookie), "it does not come back when its time has come")
		}
	}
}

// sessions begins sessions of the trainee, a second apart, and gives their cookies.
func (w *world) sessions(n int) (cookies []string) {
	for range n {
		w.Pass(time.Second)
		in, err := w.Enter(ctx, training.Knock{Username: "tess", Password: training.DemoPassword, Browser: "tablet"})
		require.NoError(w.T, err)
		w.trainee, cookies = in.Actor, append(cookies, in.Cookie)
	}
	return cookies
}

func TestTheOldestOfTooManySessionsEnds(t *testing.T) {
	w := staffed(t)
	cookies := w.sessions(12)
	for i, c := range cookies {
		require.Equal(t, i >= 2, w.live(c), "session %d of 12", i)
	}
	own, err := w.OwnSessions(ctx, w.trainee)
	require.NoError(t, err)
	require.Len(t, own, 10)
	require.Equal(t, w.trainee.Session, own[0].IDHash, "newest first")
	require.Equal(t, "tablet", own[0].Browser)
	_, err = w.Resume(ctx, "")
	require.ErrorIs(t, err, training.ErrExpired)
}

func TestOwnSessionsAreEndedOneByOneOrAllOthers(t *testing.T) {
	w := staffed(t)
	cookies := w.sessions(4)
	own, err := w.OwnSessions(ctx, w.trainee)
	require.NoError(t, err)
	second := own[2].IDHash
	require.NoError(t, w.EndOwnSession(ctx, w.preceptor, second))
	require.Equal(t, []bool{true, true, true, true}, w.alive(cookies), "another's cannot be ended")
	require.ErrorIs(t, w.EndOwnSession(ctx, training.Actor{}, second), training.ErrForbidden)
	require.NoError(t, w.EndOwnSession(ctx, w.trainee, second))
	require.NoError(t, w.EndOwnSession(ctx, w.trainee, second), "twice is no error")
	require.Equal(t, []bool{true, false, true, true}, w.alive(cookies))
	require.NoError(t, w.EndOwnSession(ctx, w.trainee, ""))
	require.Equal(t, []bool{false, false, false, true}, w.alive(cookies))
	next, err := w.ChangePassword(ctx, w.trainee, w.Key(), training.DemoPassword, long)
	require.NoError(t, err)
	require.False(t, w.live(cookies[3]), "the id changes with the password")
	require.True(t, w.live(next))
}

func (w *world) alive(cookies []string) (alive []bool) {
	for _, c := range cookies {
		alive = append(alive, w.live(c))
	}
	return alive
}

// What opens or closes somebody's way in asks for the password again.
func TestThePasswordIsAskedForAgain(t *testing.T) {
	w := staffed(t)
	other := w.hire("Tom Invented", "tom", training.Trainee).Person.ID
	until := training.Day("2028-01-01")
	acts := map[string]func(training.Actor) error{
		"close":          func(a training.Actor) error { return w.SetDisabled(ctx, a, w.Key(), other, true) },
		"reopen":         func(a training.Actor) error { return w.SetDisabled(ctx, a, w.Key(), other, false) },
		"first password": func(a training.Actor) error { _, err := w.NewFirstPassword(ctx, a, w.Key(), other); return err },
		"entitle": func(a training.Actor) error {
			until = until.AddDays(1) // the same is not given twice
			_, err := w.Entitle(ctx, a, w.Key(), w.entitlement(w.preceptor, "2026-03-01", until), training.SecondPerson{})
			return err
		},
		"link": func(a training.Actor) error {
			_, err := w.GiveLinks(ctx, a, w.Key(), []training.WantedLink{{PersonID: w.trainee.Person.ID}})
			return err
		},
	}
	for name, act := range acts {
		in, err := w.enter("edda", "10.0.0.1", "")
		require.NoError(t, err)
		w.Pass(15 * time.Minute)
		require.NoError(t, act(in.Actor), "%s: signing in was giving it", name)
		w.Pass(time.Second)
		a, err := w.Resume(ctx, in.Cookie)
		require.NoError(t, err)
		require.True(t, w.MustProve(a))
		require.ErrorIs(t, act(a), training.ErrProve, name)
		_, err = w.Prove(ctx, a, "not the password")
		require.ErrorIs(t, err, training.ErrPassword)
		require.ErrorIs(t, act(a), training.ErrProve, name)
		_, err = w.Prove(ctx, a, training.DemoPassword)
		require.NoError(t, err)
		a, err = w.Resume(ctx, in.Cookie)
		require.NoError(t, err)
		require.NoError(t, act(a), "%s: it stands with the session", name)
	}
}
