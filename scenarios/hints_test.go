package scenarios_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/course"
	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

// Whoever does right is told nothing on the way: what is still to come is no breach.
func TestARightOrderHasNoHintOnItsWay(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	built := 0
	for _, s := range lib.Scenarios() {
		if s.Kind != simulate.BuildOrder {
			continue
		}
		built++
		p, ok := lib.Procedure(s.Procedure)
		require.True(t, ok)
		steps := s.Answer()
		for n := range steps {
			found, err := course.Found(p, s, steps[:n+1])
			require.NoError(t, err)
			for _, f := range found {
				require.True(t, f.Advice(), "%s, at step %d (%s): %s", s.ID, n+1, steps[n], f.Message)
			}
		}
	}
	require.Positive(t, built)
}
