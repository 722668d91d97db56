package views

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestDoingTellsWhatTheHandsDo(t *testing.T) {
	require.Equal(t, "Wiping the machine top", doing("Wipe the machine top"))
	require.Equal(t, "Putting on fresh gloves", doing("Put on fresh gloves"))
	require.Equal(t, "Lines and dialyzer into the leak-proof container", doing("Lines and dialyzer into the leak-proof container"))
}
