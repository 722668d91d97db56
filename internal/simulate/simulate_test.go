package simulate_test

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

func builtIn(t *testing.T, id string) (*procedure.Procedure, *simulate.Scenario) {
	t.Helper()
	lib, err := scenarios.LoadFS(os.DirFS("../../testdata/checks/station"))
	require.NoError(t, err)
	p, ok := lib.Procedure("between-patients")
	require.True(t, ok)
	s, ok := lib.Scenario(id)
	require.True(t, ok)
	return p, s
}

func lines(log *action.Log) []string {
	return strings.Split(strings.TrimSpace(action.Format(log)), "\n")[3:]
}

func TestBuildWritesTheStartAndEachStep(t *testing.T) {
	p, s := builtIn(t, "blood-on-the-machine")
	played, err := simulate.Build(p, s, []string{"gloves-on", "fresh-wipe", "wipe-controls", "fresh-wipe"})
	require.NoError(t, err)
	require.Equal(t, []string{
		"blood on front", "put on gloves", "take wipe w1 of blood-wipe", "wipe screen", "wipe buttons", "wipe keyboard", "take wipe w2 of blood-wipe",
	}, lines(played.Log))
	require.Equal(t, []int{-1, 0, 1, 2, 2, 2, 3}, played.From)
	require.Equal(t, p.Hash, played.Log.Hash, "a record says by which procedure it was judged")
	require.False(t, played.Log.Witness.Has(action.Clock))

	_, err = simulate.Build(p, s, []string{"gloves-on", "fresh-wip"})
	require.ErrorContains(t, err, `step 2: "fresh-wip" is not offered`)
	_, err = simulate.Build(p, s, []string{"blood-chair"})
	require.ErrorContains(t, err, "not offered", "a step of the procedure that the scenario does not offer")
}

// Times by hand: gloves 8 s, wipe in hand 3 s, top 10 s, pole 10 s, chair 30 s
// of the built-in procedure; the wipe dries after 150 s, on the pole after 100 s.
func TestRunTakesItsTimeAndDries(t *testing.T) {
	p, s := builtIn(t, "against-the-clock")
	played, err := simulate.Run(p, s, []simulate.Tap{
		{Step: "gloves-on", At: 1000},  // done at 0:09
		{Step: "fresh-wipe", At: 2000}, // waits for the gloves: 0:12
		{Step: "wipe-pole", At: 20_000},
		{Step: "wipe-top", At: 21_000},    // waits for the pole: 0:40
		{Step: "wipe-chair", At: 150_000}, // done at 3:00
	}, 200_000)
	require.NoError(t, err)
	require.Equal(t, []string{
		"0:09 put on gloves", "0:12 take wipe w1 of station-wipe", "0:30 wipe pole", "0:40 wipe top",
		"2:10 dry pole", "3:00 wipe chair", "3:10 dry top",
	}, lines(played.Log))
	require.Equal(t, []int{0, 1, 2, 3, -1, 4, -1}, played.From)
}

func TestReWipeKeepsASurfaceWet(t *testing.T) {
	p, s := builtIn(t, "against-the-clock")
	played, err := simulate.Run(p, s, []simulate.Tap{
		{Step: "gloves-on", At: 0}, {Step: "fresh-wipe", At: 0},
		{Step: "wipe-pole", At: 10_000},  // wet from 0:21, dries at 2:01
		{Step: "wipe-pole", At: 111_000}, // ends at 2:01, the very moment: still wet
	}, 230_000)
	require.NoError(t, err)
	require.Equal(t, []string{"2:01 wipe pole", "3:41 dry pole"}, lines(played.Log)[3:])
}

func TestRunRefusesTimesThatRunBackwards(t *testing.T) {
	p, s := builtIn(t, "against-the-clock")
	_, err := simulate.Run(p, s, []simulate.Tap{{Step: "gloves-on", At: 2000}, {Step: "look", At: 1999}}, 3000)
	require.ErrorContains(t, err, "tap 2 (look) at 0:01.999 is before")
	_, err = simulate.Run(p, s, []simulate.Tap{{Step: "wait", At: 0}}, 0)
	require.ErrorContains(t, err, "not offered", "in a run the seconds speak")
}

// A worker who starts each step as the last one ends, waits for the staging
// surface and the bucket, and wets the pole again in time, passes.
func TestAGoodRunPasses(t *testing.T) {
	p, s := builtIn(t, "against-the-clock")
	model, err := action.Parse("model", s.Model, p.Words)
	require.NoError(t, err)
	taps, err := simulate.Script(p, s, model)
	require.NoError(t, err)
	played, err := simulate.Run(p, s, taps, model.Acts[len(model.Acts)-1].At)
	require.NoError(t, err)
	result, err := rules.Assess(p, played.Log, "run")
	require.NoError(t, err)
	require.Empty(t, result.Findings)
	require.True(t, result.Marks.Pass)
}

func TestObservedLogsWitnessNoDrying(t *testing.T) {
	p, _ := builtIn(t, "against-the-clock")
	log, err := simulate.Observed(p, []action.Act{{Verb: action.Wait, At: 5}, {Verb: action.Prompted, At: 6}})
	require.NoError(t, err)
	require.Equal(t, action.Order|action.Clock, log.Witness)
	require.Equal(t, 2, log.Acts[1].Number)
	_, err = simulate.Observed(p, []action.Act{{Verb: action.Wait, At: 5}, {Verb: action.Prompted, At: 4}})
	require.ErrorContains(t, err, "line 2 (prompted) is before")
}
