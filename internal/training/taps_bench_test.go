package training_test

import (
	"fmt"
	"slices"
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
				require.NoError(b, w.Send(ctx, w.preceptor, d, training.Watched{Key: w.Key(), AtMs: 60_000, Text: "take wipe"}))
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
	acts := make([]training.Watched, n)
	for i := range acts {
		acts[i] = training.Watched{Key: w.Key(), N: i + 1, AtMs: int64(i), Wall: training.InstantOf(w.Now()), Text: "alarm"}
		if i%10 == 0 {
			acts[i].Text = "take wipe"
		}
	}
	for some := range slices.Chunk(acts, 200) {
		_, _, err := w.Batch(ctx, w.preceptor, id, "another-tablet", some)
		require.NoError(w.T, err)
	}
	return id
}
