package scenarios_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/scenarios"
)

func TestBuiltInSetLoads(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(lib.Scenarios()), 3)
}
