package training_test

import (
	"cmp"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// A recorder as a tablet is: it numbers its acts, its clock may be off by two days, and
// what it sends is sent again, late and out of order.
type recorder struct {
	demo, device string
	acts         []training.Watched
	sendings     [][]training.Watched
}

var tapped = []training.Watched{{Step: "fresh-wipe"}, {Step: "wipe-controls"}, {Text: "take wipe"}, {Step: "wipe-top"}, {Text: "prompted"},
	{Step: "gloves-on"}, {Text: "still wet top"}, {Text: "not seen wipe-top"}}

// act is the next that somebody taps: now and then what takes another back, also one of
// the other tablet, one that was taken back before and one that never was.
func (r *recorder) act(dice *rand.Rand, others []string, at int64, wall time.Time) {
	n := len(r.acts) + 1
	a := tapped[dice.IntN(len(tapped))]
	if dice.IntN(6) == 0 && len(others) > 0 {
		a = training.Watched{Undo: others[dice.IntN(len(others))]}
	}
	a.Key, a.N, a.AtMs, a.Wall = fmt.Sprintf("%s-act-%04d", r.device, n), n, at, training.InstantOf(wall)
	r.acts = append(r.acts, a)
}

// shuffled is what is sent: batches of some size, three in ten acts twice, one in ten
// batches out of order.
func (r *recorder) shuffled(dice *rand.Rand) {
	all := slices.Clone(r.acts)
	for range len(r.acts) * 3 / 10 {
		i := dice.IntN(len(all))
		all = slices.Insert(all, i, r.acts[dice.IntN(len(r.acts))])
	}
	for range len(all) / 10 {
		i, j := dice.IntN(len(all)), dice.IntN(len(all))
		all[i], all[j] = all[j], all[i]
	}
	for len(all) > 0 {
		n := min(len(all), 1+dice.IntN(40))
		r.sendings = append(r.sendings, all[:n])
		all = all[n:]
	}
}

// defined is the log by its definition, line by line and in no hurry: each act's moment is
// the latest of its device up to it; the earliest moment comes first, of two devices with
// the same the one whose name comes first, of one device the lower number; what takes back
// adds its lines when both it and what it takes back have come.
func defined(acts []training.Watched) (lines []string) {
	type placed struct {
		a  training.Watched
		at int64
	}
	var all []placed
	for _, a := range acts {
		p := placed{a, a.AtMs}
		for _, b := range acts {
			if b.Device == a.Device && b.N < a.N {
				p.at = max(p.at, b.AtMs)
			}
		}
		all = append(all, p)
	}
	slices.SortFunc(all, func(x, y placed) int {
		return cmp.Or(cmp.Compare(x.at, y.at), strings.Compare(x.a.Device, y.a.Device), x.a.N-y.a.N)
	})
	var owner []string // key of the act of each line
	var last int64
	wipes, undone, came := 0, map[int]bool{}, map[string]bool{}
	var held []training.Watched
	put := func(key, text string, at int64) {
		last = max(last, at)
		owner = append(owner, key)
		lines = append(lines, fmt.Sprintf("%d %s", last, text))
	}
	back := func(a training.Watched, at int64) {
		for i := range len(owner) {
			if owner[i] == a.Undo && !undone[i] && !strings.Contains(lines[i], " undone ") {
				undone[i] = true
				put(a.Key, "undone "+strconv.Itoa(i+1), at)
			}
		}
	}
	for _, p := range all {
		a := p.a
		if a.Undo != "" {
			if came[a.Undo] {
				back(a, p.at)
			} else {
				held = append(held, a)
			}
			came[a.Key] = true
			continue
		}
		switch {
		case a.Step == "fresh-wipe" || a.Text == "take wipe":
			wipes++
			put(a.Key, fmt.Sprintf("take wipe w%d of station-wipe", wipes), p.at)
		case a.Step == "wipe-controls":
			for _, s := range []string{"screen", "buttons", "keyboard"} {
				put(a.Key, "wipe "+s, p.at)
			}
		case a.Step == "wipe-top":
			put(a.Key, "wipe top", p.at)
		case a.Step == "gloves-on":
			put(a.Key, "put on gloves", p.at)
		default:
			put(a.Key, a.Text, p.at)
		}
		came[a.Key] = true
		for _, h := range held {
			if h.Undo == a.Key {
				back(h, p.at)
			}
		}
	}
	return lines
}

// recorders are some demonstrations with two tablets each, and what they made.
func (w *world) recorders(dice *rand.Rand, n, acts int) (all []*recorder) {
	for range n / 2 {
		d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
		require.NoError(w.T, err)
		pair := []*recorder{{demo: d.ID, device: "tablet-a-" + d.ID}, {demo: d.ID, device: "tablet-b-" + d.ID}}
		off := []time.Duration{time.Duration(dice.IntN(97)-48) * time.Hour, time.Duration(dice.IntN(97)-48) * time.Hour}
		var keys []string
		at := int64(0)
		for range 2 * acts {
			i := dice.IntN(2)
			if len(pair[i].acts) == acts {
				i = 1 - i
			}
			at += int64(dice.IntN(20_000)) - 2000 // now and then a clock goes back
			at = max(at, 0)
			pair[i].act(dice, keys, at, w.Now().Add(off[i]+time.Duration(at)*time.Millisecond))
			keys = append(keys, pair[i].acts[len(pair[i].acts)-1].Key)
		}
		for _, r := range pair {
			r.shuffled(dice)
		}
		all = append(all, pair...)
	}
	return all
}

// Two hundred tablets: each act is stored once, none is lost, whatever their clocks say and
// however often and in which order their acts come; the log is what it is defined to be.
func TestTwoHundredRecordersLoseNothing(t *testing.T) {
	acts := 50 // 10,000 in all
	if os.Getenv("ROUNDS") != "" {
		acts = 250
	}
	w := staffed(t)
	luck := rand.Uint64()
	t.Logf("luck %d", luck)
	all := w.recorders(rand.New(rand.NewPCG(luck, 0)), 200, acts)
	var sending sync.WaitGroup
	errs := make([]error, len(all))
	gate := make(chan struct{}, 16)
	for i, r := range all {
		sending.Go(func() {
			gate <- struct{}{}
			defer func() { <-gate }()
			errs[i] = w.sendAll(r)
		})
	}
	sending.Wait()
	for _, err := range errs {
		require.NoError(t, err)
	}
	stored := 0
	for i := 0; i < len(all); i += 2 {
		stored += w.sameLog(all[i], all[i+1])
	}
	require.Equal(t, 200*acts, stored)
	t.Logf("%d acts of %d recorders", stored, len(all))
}

func (w *world) sendAll(r *recorder) error {
	told := map[string]bool{}
	for _, some := range r.sendings {
		kept, _, err := w.Batch(ctx, w.preceptor, r.demo, r.device, some)
		if err != nil {
			return err
		}
		for _, k := range kept {
			want := training.KeptStored
			if told[k.Key] {
				want = training.KeptSame
			}
			if k.As != want {
				return fmt.Errorf("%s is %s (%s), not %s", k.Key, k.As, k.Why, want)
			}
			told[k.Key] = true
		}
	}
	return nil
}

// sameLog closes a demonstration and compares its log with the definition.
func (w *world) sameLog(a, b *recorder) int {
	made := []training.LastOf{{Device: a.device, N: len(a.acts)}, {Device: b.device, N: len(b.acts)}}
	var acts []training.Watched
	for _, r := range []*recorder{a, b} {
		for _, x := range r.acts {
			x.Device = r.device
			acts = append(acts, x)
		}
	}
	want := defined(acts)
	r, err := w.Recorded(ctx, w.preceptor, a.demo)
	require.NoError(w.T, err)
	require.Equal(w.T, want, timed(r.Lines), "while it is recorded")
	_, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), a.demo, 0, "", made...)
	require.NoError(w.T, err)
	closed, err := w.Store.Observations(ctx, a.demo)
	require.NoError(w.T, err)
	require.Equal(w.T, want, timed(closed), "as it was closed")
	return len(r.Acts)
}

func timed(lines []training.Observed) (out []string) {
	for _, o := range lines {
		out = append(out, fmt.Sprintf("%d %s", o.AtMs, o.Text))
	}
	return out
}

// batch sends acts of one tablet and gives what became of each.
func (w *world) batch(demo, device string, acts ...training.Watched) (as []training.KeptAs, whys string) {
	for i := range acts {
		acts[i].Wall = training.InstantOf(w.Now())
	}
	kept, _, err := w.Batch(ctx, w.preceptor, demo, device, acts)
	require.NoError(w.T, err)
	for _, k := range kept {
		as, whys = append(as, k.As), whys+k.Why
	}
	return as, whys
}

func TestTheEndWaitsForWhatHasNotCome(t *testing.T) {
	w := staffed(t)
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	act := func(n int) training.Watched {
		return training.Watched{Key: fmt.Sprintf("the-act-%d", n), N: n, Text: "alarm"}
	}
	as, _ := w.batch(d.ID, "tablet-one", act(4), act(1))
	require.Equal(t, []training.KeptAs{training.KeptStored, training.KeptStored}, as)
	end := func(key string, last int) error {
		_, err := w.EndDemonstration(ctx, w.preceptor, key, d.ID, 0, "", training.LastOf{Device: "tablet-one", N: last})
		return err
	}
	require.ErrorContains(t, end(w.Key(), 4), "Acts 2 to 3 have not come yet of this tablet.")
	w.batch(d.ID, "tablet-one", act(2), act(3))
	require.ErrorContains(t, end(w.Key(), 5), "Act 5 has not come yet of this tablet.")
	w.batch(d.ID, "tablet-two", training.Watched{Key: "of-another", N: 2, Text: "alarm"})
	require.ErrorContains(t, end(w.Key(), 4), "Act 1 has not come yet of another tablet.")
	w.batch(d.ID, "tablet-two", training.Watched{Key: "of-another-1", N: 1, Text: "alarm"})
	key := w.Key()
	require.NoError(t, end(key, 4))
	require.NoError(t, end(key, 4), "again, after a lost answer")

	// What comes after the end is kept beside the record, and told so each time.
	log, err := w.Store.Observations(ctx, d.ID)
	require.NoError(t, err)
	for range 2 {
		as, why := w.batch(d.ID, "tablet-two", training.Watched{Key: "too-late", N: 3, Text: "alarm"})
		require.Equal(t, []training.KeptAs{training.KeptLate}, as)
		require.Contains(t, why, "no part of it")
	}
	after, err := w.Store.Observations(ctx, d.ID)
	require.NoError(t, err)
	require.Equal(t, log, after)
	r, err := w.Recorded(ctx, w.preceptor, d.ID)
	require.NoError(t, err)
	require.Len(t, r.Acts, 7)
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}

func TestWhatCannotBeAnActIsRefusedByItself(t *testing.T) {
	w := staffed(t)
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	as, _ := w.batch(d.ID, "tablet-one", training.Watched{Key: "the-act-1", N: 1, Text: "alarm"}, training.Watched{Key: "the-act-2", N: 2, Text: "wipe moon"},
		training.Watched{Key: "the-act-3", N: 1, Text: "alarm"}, training.Watched{Key: "the-act-1", N: 1, Text: "prompted"}, training.Watched{Key: "the-act-4", N: 3, Text: "pause"})
	require.Equal(t, []training.KeptAs{training.KeptStored, training.KeptRefused, training.KeptRefused, training.KeptRefused, training.KeptStored}, as)
	as, why := w.batch(d.ID, "tablet-one", training.Watched{Key: "the-act-2", N: 2, Text: "wipe moon"})
	require.Equal(t, []training.KeptAs{training.KeptRefused}, as, "what was refused is so again")
	require.Contains(t, why, "moon")
	_, lines, err := w.Observations(ctx, w.preceptor, d.ID)
	require.NoError(t, err)
	require.Equal(t, []string{"alarm", "pause"}, texts(lines))
	_, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, 0, "", training.LastOf{Device: "tablet-one", N: 3})
	require.NoError(t, err, "what was refused has come")

	_, _, err = w.Batch(ctx, w.preceptor, d.ID, "tablet-one", make([]training.Watched, 201))
	require.ErrorIs(t, err, training.ErrInvalid)
	for name, who := range map[string]training.Actor{"another preceptor": w.other, "the learner": w.trainee} {
		_, _, err = w.Batch(ctx, who, d.ID, "tablet-one", make([]training.Watched, 1))
		require.ErrorIs(t, err, training.ErrForbidden, name)
	}
	nobody := w.hire("Nils Invented", "nils", training.Trainee)
	_, _, err = w.Batch(ctx, nobody, d.ID, "tablet-one", make([]training.Watched, 1))
	require.ErrorIs(t, err, training.ErrNotFound, "of somebody else's it is not told that it is there")
}

// A recording that an earlier program began goes on: its lines come first, and what it had
// received and is sent again is no second act.
func TestARecordingOfAnEarlierProgramGoesOn(t *testing.T) {
	w := staffed(t)
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	old := []training.Observed{{Key: "old-tap-1", Seq: 1, AtMs: 1000, Text: "take wipe w1 of station-wipe", Step: "fresh-wipe", SentAt: d.StartedAt},
		{Key: "old-tap-2", Seq: 2, AtMs: 2000, Text: "alarm", SentAt: d.StartedAt}, {Key: "old-tap-3", Seq: 3, AtMs: 3000, Text: "undone 2", SentAt: d.StartedAt}}
	require.NoError(t, w.Store.Write(ctx, func(u training.Unit) error { return u.AddObserved(ctx, d.ID, old) }))
	w.batch(d.ID, "tablet-one", training.Watched{Key: "old-tap-2", N: 1, AtMs: 2000, Text: "alarm"}, training.Watched{Key: "new-act-1", N: 2, AtMs: 4000, Step: "fresh-wipe"},
		training.Watched{Key: "new-act-2", N: 3, AtMs: 5000, Undo: "old-tap-1"}, training.Watched{Key: "new-act-3", N: 4, AtMs: 6000, Undo: "old-tap-2"})
	d, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, 0, "")
	require.NoError(t, err)
	lines, err := w.Store.Observations(ctx, d.ID)
	require.NoError(t, err)
	require.Equal(t, []string{"take wipe w1 of station-wipe", "alarm", "undone 2", "take wipe w2 of station-wipe", "undone 1"}, texts(lines))
	require.Equal(t, old, lines[:3])
}

// Two hundred at once sign the same record: one row, one leaf.
func TestTwoHundredSignOnce(t *testing.T) {
	w := staffed(t)
	d := w.ended()
	w.Choose(w.preceptor, d, training.WatchedPractice)
	before := w.leaves()
	one := w.Key()
	var all sync.WaitGroup
	errs := make([]error, 200)
	for i := range errs {
		key := one // half of them are one sending, the others each their own
		if i%2 == 1 {
			key = w.Key()
		}
		all.Go(func() {
			_, errs[i] = w.SignAsLearner(ctx, w.preceptor, key, d, training.Learner{Username: "tess", Password: training.DemoPassword})
		})
	}
	all.Wait()
	require.Equal(t, before+1, w.leaves())
	signed, err := w.Demonstration(ctx, w.preceptor, d)
	require.NoError(t, err)
	require.Len(t, signed.Signatures, 1)
	done := 0
	for _, err := range errs {
		if err == nil {
			done++
		} else if !errors.Is(err, training.ErrConflict) {
			require.ErrorIs(t, err, training.ErrThrottled)
		}
	}
	require.Positive(t, done)
	t.Logf("%d of 200 were told that it is signed", done)
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}
