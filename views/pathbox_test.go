package views

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheBoxRoundAnOutline(t *testing.T) {
	for path, want := range map[string]rect{
		"M10 20h30v40h-30z":                               {10, 20, 40, 60},
		"M10 20H40V60H10Z":                                {10, 20, 40, 60},
		"m10 20l30-5 10 45z":                              {10, 15, 50, 60},
		"M34 300a44 12 0 0 1 88 0a44 12 0 0 1-88 0z":      {34, 288, 122, 312}, // an ellipse
		"M6 0h28a6 6 0 0 1 6 6v20h-40v-20a6 6 0 0 1 6-6z": {0, 0, 40, 26},      // rounded corners stick out nowhere
		"M0 0h10v10zM50 50h5v5z":                          {0, 0, 55, 55},
		"M0 0q50 50 100 0":                                {0, 0, 100, 50}, // no less than what is drawn
	} {
		require.Equal(t, want, trace(path).box, path)
	}
	for _, path := range []string{"z", "M", "5 5", "M1 2h", "M1 2z3"} {
		require.NotPanics(t, func() { trace(path) }, path)
	}
}

func TestALineGoesThroughABox(t *testing.T) {
	box := rect{10, 10, 20, 20}
	for _, s := range []stroke{{0, 15, 30, 15}, {15, 0, 15, 30}, {0, 0, 30, 30}, {12, 12, 18, 18}, {15, 15, 100, 100}} {
		require.True(t, s.crosses(box), "%v", s)
	}
	for _, s := range []stroke{{0, 5, 30, 5}, {5, 0, 5, 30}, {0, 25, 25, 50}, {21, 0, 21, 40}} {
		require.False(t, s.crosses(box), "%v", s)
	}
}
