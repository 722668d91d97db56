package assess_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/scenarios"
)

func spells(t *testing.T, witness, acts string) map[string]assess.SurfaceSpells {
	t.Helper()
	text, err := os.ReadFile("../../testdata/checks/station/between-patients.procedure.yaml")
	require.NoError(t, err)
	p, faults := scenarios.ReadProcedure("p", text)
	require.Empty(t, faults)
	log, err := action.Parse("l", "stillwet log 1\nprocedure between-patients -\nwitness "+witness+"\n"+acts, p.Words)
	require.NoError(t, err)
	list, err := assess.Spells(p, log)
	require.NoError(t, err)
	found := map[string]assess.SurfaceSpells{}
	for _, x := range list {
		found[x.Surface] = x
	}
	return found
}

const s = action.Millis(1000)

func TestSpellsOfARun(t *testing.T) {
	got := spells(t, "order clock drying", `0:00 put on gloves
0:01 take wipe w1 of station-wipe
0:10 wipe top
0:20 wipe pole
0:30 wipe screen
1:39 take wipe w3 of station-wipe
1:40 wipe screen
1:50 dry pole
2:00 take wipe w2 of station-wipe
2:05 wipe pole
2:10 dry top
2:20 touch chair
2:25 touch screen
2:30 declare ready
`)
	require.Equal(t, []assess.Spell{{10 * s, 130 * s}}, got["top"].Spells)
	require.True(t, got["top"].Reached, "120 s, to the second")
	require.Equal(t, []assess.Spell{{20 * s, 110 * s}, {125 * s, 150 * s}}, got["pole"].Spells, "the open spell ends with the log")
	require.False(t, got["pole"].Reached)
	require.Equal(t, []assess.Spell{{30 * s, 145 * s}}, got["screen"].Spells, "a used glove ends it; a re-wipe does not")
	require.False(t, got["screen"].Reached)
	require.NotContains(t, got, "chair", "it was never wiped")
}

func TestSpellsOfAnObservedLogEndWhereSomebodyLooked(t *testing.T) {
	got := spells(t, "order clock", `0:00 put on gloves
0:01 take wipe w1 of station-wipe
0:10 wipe top
0:20 wipe pole
0:30 wipe screen
2:10 still wet top
2:15 dry pole
4:00 declare ready
`)
	require.Equal(t, []assess.Spell{{10 * s, 130 * s}}, got["top"].Spells)
	require.True(t, got["top"].Reached)
	require.Equal(t, []assess.Spell{{20 * s, 20 * s}}, got["pole"].Spells, "it dried some time before it was seen dry")
	require.Equal(t, []assess.Spell{{30 * s, 30 * s}}, got["screen"].Spells, "nobody looked again")
	require.True(t, got["screen"].Unknown)
}

func TestALogWithoutAClockHasNoSpells(t *testing.T) {
	require.Empty(t, spells(t, "order", "put on gloves\ntake wipe w1 of station-wipe\nwipe top\n"))
}
