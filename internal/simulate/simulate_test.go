package simulate_test

import (
	"os"
	"slices"
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

// A patient who cannot leave yet leaves when the world says so: after a step,
// and only after its first use.
func TestTheWorldFollowsAStep(t *testing.T) {
	p, s := builtIn(t, "ordinary-turnover")
	waits := *s
	waits.Events = []simulate.Event{{At: action.Untimed, After: "discard-circuit", Act: action.Act{Verb: action.PatientLeaves}}}
	played, err := simulate.Build(p, &waits, []string{"lines-off", "discard-circuit", "discard-circuit", "check-gone"})
	require.NoError(t, err)
	require.Equal(t, []string{
		"take off lines", "take off dialyzer", "discard lines in leakproof-container", "discard dialyzer in leakproof-container", "patient leaves",
		"discard lines in leakproof-container", "discard dialyzer in leakproof-container", "check patient gone",
	}, lines(played.Log))
	require.Equal(t, []int{0, 0, 1, 1, -1, 2, 2, 3}, played.From)
}

// Times by hand: the top (10 s) is wet at 0:21 and dries at 2:51; the alarm of
// 0:30 stands before the screen that is wiped at 0:36, the patient leaves with
// the end of the look at 3:00.
func TestTheWorldHasItsTimes(t *testing.T) {
	p, s := builtIn(t, "against-the-clock")
	busy := *s
	busy.Events = []simulate.Event{
		{At: action.Untimed, After: "look", Act: action.Act{Verb: action.PatientLeaves}},
		{At: 30_000, Act: action.Act{Verb: action.Alarm}},
		{At: 171_000, Act: action.Act{Verb: action.Alarm}},
	}
	played, err := simulate.Run(p, &busy, []simulate.Tap{
		{Step: "gloves-on", At: 0}, {Step: "fresh-wipe", At: 0}, {Step: "wipe-top", At: 0}, {Step: "wipe-controls", At: 21_000}, {Step: "look", At: 170_000},
	}, 180_000)
	require.NoError(t, err)
	require.Equal(t, []string{
		"0:08 put on gloves", "0:11 take wipe w1 of station-wipe", "0:21 wipe top", "0:26 wipe screen", "0:30 alarm", "0:31 wipe buttons", "0:36 wipe keyboard",
		"2:51 alarm", "2:51 dry top", "2:56 dry screen", "3:00 look at station", "3:00 patient leaves",
	}, lines(played.Log))
}

// The wipe in hand decides how long a surface stays wet: the built-in products
// both dry after 150 s, so this one is made to dry sooner.
func TestTheWipeInHandDecides(t *testing.T) {
	p, s := builtIn(t, "against-the-clock")
	two := *p
	two.Products = append([]procedure.Product{}, p.Products...)
	two.Products[1].DriesS = 40
	two.Steps = append([]procedure.Step{}, p.Steps...)
	two.Steps[p.StepIndex("eyes-on")].Acts = procedure.Acts{{Verb: action.TakeWipe, With: "w", Of: "blood-wipe"}}
	played, err := simulate.Run(&two, s, []simulate.Tap{
		{Step: "gloves-on", At: 0}, {Step: "fresh-wipe", At: 0}, {Step: "wipe-top", At: 0}, {Step: "eyes-on", At: 0}, {Step: "wipe-left", At: 0},
	}, 200_000)
	require.NoError(t, err)
	require.Equal(t, []string{"0:26 take wipe w2 of blood-wipe", "0:46 wipe left", "1:26 dry left", "2:51 dry top"}, lines(played.Log)[3:])
}

func TestCuesWaitForTheSurfaces(t *testing.T) {
	p, s := builtIn(t, "against-the-clock")
	taps, end, err := simulate.Taps(p, s, []string{"gloves-on", "+5s", "fresh-wipe", "wipe-pole", "wipe-top", "until-reached:top", "look", "until-dry:top", "look"})
	require.NoError(t, err)
	// gloves 0:08, five seconds, wipe in hand 0:16, pole 0:26 (dry 2:06), top 0:36 (reached 2:36, dry 3:06).
	require.Equal(t, []simulate.Tap{
		{Step: "gloves-on", At: 0}, {Step: "fresh-wipe", At: 13_000}, {Step: "wipe-pole", At: 16_000}, {Step: "wipe-top", At: 26_000},
		{Step: "look", At: 156_000}, {Step: "look", At: 186_000},
	}, taps)
	require.EqualValues(t, 196_000, end)
	for cue, want := range map[string]string{
		"until-reached:pole": "dries at 2:01", "until-reached:chair": "is not wet", "until-reached:chairs": "nearest: chair", "until-ready:top": "known: until-reached, until-dry",
		"+5": "no number of seconds", "wipe-tip": "not offered",
	} {
		_, _, err := simulate.Taps(p, s, []string{"gloves-on", "fresh-wipe", "wipe-pole", "wipe-top", cue})
		require.ErrorContains(t, err, want, cue)
	}
	_, ordinary := builtIn(t, "ordinary-turnover")
	_, _, err = simulate.Taps(p, ordinary, []string{"gloves-on", "+5s"})
	require.ErrorContains(t, err, "nothing to wait for")
}

func TestAStoredScenarioIsTheSame(t *testing.T) {
	_, s := builtIn(t, "blood-on-the-machine")
	s.Events = []simulate.Event{
		{At: action.Untimed, After: "look", Act: action.Act{Verb: action.Alarm, At: action.Untimed}},
		{At: 90_000, Act: action.Act{Verb: action.PatientLeaves, At: action.Untimed}},
	}
	was := s.Hash
	require.NoError(t, s.Seal())
	require.NotEqual(t, was, s.Hash, "what the world does belongs to the scenario")
	again, err := simulate.StoredScenario(s.Text)
	require.NoError(t, err)
	s.Model = ""
	require.Equal(t, s, again)
	_, err = simulate.StoredScenario([]byte(strings.Replace(string(s.Text), `"Title"`, `"Titel"`, 1)))
	require.ErrorContains(t, err, "Titel")
}

func FuzzStoredScenario(f *testing.F) {
	s := &simulate.Scenario{ID: "x", Steps: []string{"a"}}
	if err := s.Seal(); err != nil {
		f.Fatal(err)
	}
	f.Add(s.Text)
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := simulate.StoredScenario(text)
		require.True(t, (s == nil) == (err != nil))
	})
}

// Who wipes has a wipe (ruling 18): one that nobody took down is a fresh one of the
// shelf. The pole, wet from 0:21, dries at 2:01; a wipe that ends then keeps it wet.
func TestAForgottenWipeWetsTheSurface(t *testing.T) {
	p, s := builtIn(t, "against-the-clock")
	for at, want := range map[action.Millis][]string{110_000: {"3:40 dry pole"}, 111_000: {"3:41 dry pole"}, 112_000: {"2:01 dry pole", "3:42 dry pole"}} {
		played, err := simulate.Run(p, s, []simulate.Tap{
			{Step: "gloves-on", At: 0}, {Step: "fresh-wipe", At: 8_000}, {Step: "wipe-pole", At: 11_000}, {Step: "gloves-off", At: 21_000}, {Step: "wipe-pole", At: at},
		}, 230_000)
		require.NoError(t, err)
		dries := slices.DeleteFunc(lines(played.Log), func(l string) bool { return !strings.HasSuffix(l, "dry pole") })
		require.Equal(t, want, dries, "the wipe went with the gloves, and another is taken")
	}
}

// Disinfectant over blood disinfects nothing, so nothing of it has to stay wet.
func TestAWipeOverBloodWetsNothing(t *testing.T) {
	p, s := builtIn(t, "against-the-clock")
	bloody := *s
	bloody.Start = []action.Act{{Verb: action.BloodOn, Object: "top"}}
	played, err := simulate.Run(p, &bloody, []simulate.Tap{{Step: "gloves-on", At: 0}, {Step: "fresh-wipe", At: 0}, {Step: "wipe-top", At: 0}, {Step: "wipe-left", At: 0}}, 300_000)
	require.NoError(t, err)
	require.Equal(t, []string{"0:00 blood on top", "0:08 put on gloves", "0:11 take wipe w1 of station-wipe", "0:21 wipe top", "0:41 wipe left", "3:11 dry left"}, lines(played.Log))
}

// A watcher writes down what was to be seen: the screen dries before its time
// and is wiped again; the top stays wet for its two minutes.
func TestWatchedMakesNothingUp(t *testing.T) {
	p, _ := builtIn(t, "against-the-clock")
	log, err := action.Parse("l", `stillwet log 1
procedure between-patients -
witness order clock drying
0:10 take wipe w1 of station-wipe
0:20 wipe top
0:30 wipe screen
1:00 dry screen
1:10 wipe screen
2:50 dry top
3:40 dry screen
`, p.Words)
	require.NoError(t, err)
	var seen []string
	for _, a := range simulate.Watched(p, log) {
		seen = append(seen, a.At.String()+" "+a.Text())
	}
	require.Equal(t, []string{"0:10 take wipe w1 of station-wipe", "0:20 wipe top", "0:30 wipe screen", "1:00 dry screen", "1:10 wipe screen",
		"2:22 still wet top", "3:12 still wet screen"}, seen)
}
