package training_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// While nothing can be saved, people read on, sign in and out, and guess no faster.
func TestReadingGoesOnWhileNothingCanBeSaved(t *testing.T) {
	w := staffed(t)
	demo := w.watch(w.preceptor, w.GoodWork())
	kept, err := w.enter("tess", "10.0.0.1", "")
	require.NoError(t, err)
	other, err := w.enter("tess", "10.0.0.1", "")
	require.NoError(t, err)
	w.Close()
	w.OpenToRead()

	for range 4 { // two hours: last seen is kept in memory
		w.Pass(29 * time.Minute)
		a, err := w.Resume(ctx, kept.Cookie)
		require.NoError(t, err)
		_, err = w.Home(ctx, a)
		require.NoError(t, err)
	}
	require.False(t, w.live(other.Cookie), "idle for too long: its end need not be saved")
	require.False(t, w.live(other.Cookie))
	in, err := w.enter("pia", "10.0.0.1", "")
	require.NoError(t, err)
	require.True(t, w.live(in.Cookie))
	_, err = w.Demonstration(ctx, in.Actor, demo.ID)
	require.NoError(t, err)
	more, err := w.enter("pia", "10.0.0.1", "")
	require.NoError(t, err)
	own, err := w.OwnSessions(ctx, in.Actor)
	require.NoError(t, err)
	require.Len(t, own, 2, "those of the memory, and of the disk none that is over")
	require.NoError(t, w.EndOwnSession(ctx, in.Actor, ""))
	require.Equal(t, []bool{true, false}, w.alive([]string{in.Cookie, more.Cookie}))
	_, err = w.SignAsPreceptor(ctx, in.Actor, w.Key(), demo.ID, training.WatchedMet, training.DemoPassword)
	require.ErrorIs(t, err, training.ErrUnsaved)
	for _, cookie := range []string{in.Cookie, kept.Cookie} {
		require.NoError(t, w.SignOut(ctx, cookie))
		require.False(t, w.live(cookie), "whoever signs out is out")
	}
	for range 5 {
		require.ErrorIs(t, w.guess("tess", "192.0.2.1"), training.ErrPassword)
	}
	require.ErrorIs(t, w.guess("tess", "192.0.2.1"), training.ErrThrottled)
	w.Pass(2 * time.Second)
	_, err = w.enter("tess", "192.0.2.1", "")
	require.NoError(t, err)
	require.ErrorIs(t, w.guess("tess", "192.0.2.1"), training.ErrPassword, "a good one sets the count back")
}

// A session that was begun while nothing could be saved is kept once it can be.
func TestASessionOfTheMemoryIsKeptWhenTheDiskIsBack(t *testing.T) {
	w := staffed(t)
	kept, err := w.enter("edda", "10.0.0.1", "")
	require.NoError(t, err)
	w.Close()
	w.OpenToRead()
	w.Pass(2 * time.Minute)
	require.True(t, w.live(kept.Cookie))
	in, err := w.enter("tess", "10.0.0.1", "")
	require.NoError(t, err)
	same := w.Service
	w.Close()
	w.Open()
	same.Records, w.Service = w.Store, same // the disk is back under the same program

	w.Pass(2 * time.Minute)
	for _, cookie := range []string{kept.Cookie, in.Cookie} {
		a, err := w.Resume(ctx, cookie)
		require.NoError(t, err)
		_, err = w.Store.Session(ctx, a.Session)
		require.NoError(t, err)
		_, err = w.Prove(ctx, a, training.DemoPassword)
		require.NoError(t, err)
		require.NoError(t, w.SignOut(ctx, cookie))
		require.False(t, w.live(cookie))
	}
	first, err := w.enter("tess", "10.0.0.1", "")
	require.NoError(t, err)
	edda, err := w.enter("edda", "10.0.0.1", "")
	require.NoError(t, err)
	_, err = w.NewFirstPassword(ctx, edda.Actor, w.Key(), first.Actor.Person.ID)
	require.NoError(t, err)
	require.False(t, w.live(first.Cookie))
}
