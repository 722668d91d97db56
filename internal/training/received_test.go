package training_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// Clocks that differ are told on the review, and nothing is refused for them.
func TestClocksThatDifferAreTold(t *testing.T) {
	at := func(ms int64, off time.Duration) training.Watched {
		wall := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC).Add(off + time.Duration(ms)*time.Millisecond)
		return training.Watched{AtMs: ms, Wall: training.InstantOf(wall)}
	}
	const hour, min, sec = time.Hour, time.Minute, time.Second
	for name, c := range map[string]struct {
		acts []training.Watched
		want []string
	}{
		"as it should be":         {[]training.Watched{at(1000, sec), at(2000, 2*sec), at(100_000, sec)}, nil},
		"two days ahead":          {[]training.Watched{at(1000, 48*hour), at(2000, 48*hour)}, []string{"Tablet 1: its clock was 48h0m0s ahead of the server's."}},
		"behind":                  {[]training.Watched{at(1000, -3*min)}, []string{"Tablet 1: its clock was 3m0s behind the server's."}},
		"set on in the middle":    {[]training.Watched{at(1000, 0), at(60_000, 90*sec), at(61_000, 90*sec)}, []string{"Tablet 1: its clock was set 1m30s on at 1m0s."}},
		"set back":                {[]training.Watched{at(1000, 0), at(60_000, -30*sec)}, []string{"Tablet 1: its clock was set 30s back at 1m0s."}},
		"measured backwards":      {[]training.Watched{at(9000, 0), at(4000, 0)}, []string{"Tablet 1: what came at 9s was measured as 4s; the later time counts."}},
		"measured ahead":          {[]training.Watched{at(400_000, 0)}, []string{"Tablet 1: what it measured as 6m40s was received before that."}},
		"a clock nobody can read": {[]training.Watched{{AtMs: 1000, Wall: "yesterday"}}, []string{"Tablet 1: its clock could not be read at 1s."}},
	} {
		t.Run(name, func(t *testing.T) {
			w := staffed(t)
			w.Set(time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC))
			d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
			require.NoError(t, err)
			w.Pass(2 * time.Minute)
			for i := range c.acts {
				c.acts[i].Key, c.acts[i].N, c.acts[i].Text = fmt.Sprintf("the-act-%d", i), i+1, "alarm"
			}
			kept, _, err := w.Batch(ctx, w.preceptor, d.ID, "tablet-one", c.acts)
			require.NoError(t, err)
			for _, k := range kept {
				require.Equal(t, training.KeptStored, k.As)
			}
			r, err := w.Received(ctx, w.preceptor, d)
			require.NoError(t, err)
			require.Equal(t, c.want, r.Clocks)
			require.Equal(t, c.want == nil, r.Plain())
		})
	}
}

// What is no part of the record is told with it, to those who may see it.
func TestWhatIsNoPartOfTheRecordIsTold(t *testing.T) {
	w := staffed(t)
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	w.batch(d.ID, "tablet-one", training.Watched{Key: "the-act-1", N: 1, Text: "alarm"}, training.Watched{Key: "the-act-2", N: 2, Text: "wipe moon"})
	d, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, 0, "")
	require.NoError(t, err)
	w.batch(d.ID, "tablet-one", training.Watched{Key: "the-act-3", N: 3, Text: "prompted"})
	r, err := w.Received(ctx, w.trainee, d)
	require.NoError(t, err)
	require.Len(t, r.Late, 1)
	require.Equal(t, "prompted", r.Late[0].Text)
	require.Len(t, r.Refused, 1)
	require.Contains(t, r.Refused[0].Refused, "moon")
	require.False(t, d.Prompted, "what came late changes nothing")
	_, err = w.Received(ctx, w.hire("Nils Invented", "nils", training.Trainee), d)
	require.ErrorIs(t, err, training.ErrNotFound)
}
