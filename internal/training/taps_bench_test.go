package training_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// A tap late in a recording costs what an early one does.
func BenchmarkObserve(b *testing.B) {
	for _, before := range []int{10, 1000} {
		b.Run(fmt.Sprintf("after-%d-lines", before), func(b *testing.B) {
			w := staffed(b)
			d, n := "", 100
			for b.Loop() {
				if n == 100 {
					b.StopTimer()
					d, n = w.recordedUpTo(before), 0
					b.StartTimer()
				}
				n++
				_, err := w.Observe(ctx, w.preceptor, d, training.Observed{Key: w.Key(), AtMs: 60_000, Text: "take wipe"})
				require.NoError(b, err)
			}
		})
	}
}

// recordedUpTo is a recording with some lines, a wipe among ten.
func (w *world) recordedUpTo(n int) string {
	d, err := w.startDemonstration(w.Key())
	require.NoError(w.T, err)
	id := d.(training.Demonstration).ID
	w.Pass(time.Minute)
	lines := make([]training.Observed, n)
	for i := range lines {
		lines[i] = training.Observed{Key: w.Key(), Seq: i + 1, AtMs: int64(i), Text: "alarm", SentAt: training.InstantOf(w.Now())}
		if i%10 == 0 {
			lines[i].Text = fmt.Sprintf("take wipe w%d of station-wipe", i/10+1)
		}
	}
	require.NoError(w.T, w.Store.Write(ctx, func(u training.Unit) error { return u.AddObserved(ctx, id, lines) }))
	return id
}
