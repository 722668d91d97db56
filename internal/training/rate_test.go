package training_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// The intervals are those of the published formula, worked out apart from this program.
func TestARateHasItsWilsonInterval(t *testing.T) {
	for _, x := range []struct {
		k, n      int
		low, high float64 // in percent, to one decimal
	}{{10, 10, 72.2, 100}, {9, 10, 59.6, 98.2}, {27, 30, 74.4, 96.5}, {30, 30, 88.6, 100}, {72, 88, 72.5, 88.5}, {82, 740, 9.0, 13.5}} {
		low, high := training.Rate{K: x.k, N: x.n}.Interval()
		require.InDelta(t, x.low, low*100, 0.05, "%d of %d", x.k, x.n)
		require.InDelta(t, x.high, high*100, 0.05, "%d of %d", x.k, x.n)
	}
}

// What was never missed mirrors what was always missed, and nothing says nothing.
func TestAnIntervalHoldsItsRate(t *testing.T) {
	low, high := training.Rate{}.Interval()
	require.Equal(t, []float64{0, 1, 0}, []float64{low, high, training.Rate{}.Share()})
	for n := 1; n <= 60; n++ {
		for k := 0; k <= n; k++ {
			r := training.Rate{K: k, N: n}
			low, high := r.Interval()
			require.LessOrEqual(t, low, r.Share()+1e-12, "%d of %d", k, n)
			require.GreaterOrEqual(t, high, r.Share()-1e-12, "%d of %d", k, n)
			otherLow, otherHigh := training.Rate{K: n - k, N: n}.Interval()
			require.InDelta(t, 1-high, otherLow, 1e-9)
			require.InDelta(t, 1-low, otherHigh, 1e-9)
		}
	}
}
