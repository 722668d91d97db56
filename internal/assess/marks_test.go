package assess_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// A procedure of three marks, judged by rules that say what the log tells them:
// the engine must count, whatever the rules are.
func sheet(t *testing.T, cut int, more ...procedure.Mark) *procedure.Procedure {
	t.Helper()
	p, faults := procedure.New(procedure.Definition{
		ID: "p", Title: "P", Version: "1", Owner: "o", ReviewBy: "2027-01-01",
		Surfaces: []procedure.Surface{
			{ID: "a", Title: "A", Face: "f", Role: procedure.StationSurface, WipeS: 1},
			{ID: "b", Title: "B", Face: "f", Role: procedure.StationSurface, WipeS: 1},
		},
		Items:    []procedure.Item{{ID: "i", Title: "I", Kind: procedure.SingleUse, Goes: []string{"bin"}}},
		Places:   []procedure.Place{{ID: "bin", Title: "Bin", Kind: procedure.Waste}},
		Products: []procedure.Product{{ID: "w", Title: "W", Level: procedure.LowLevel, LabelS: 60, DriesS: 60}},
		Steps:    []procedure.Step{{ID: "s", Label: "S", Area: "x", Acts: procedure.Acts{{Verb: action.Wait}}}},
		Begins:   procedure.PatientThere, Station: "bench", Work: "check", Areas: []procedure.Area{{ID: "x", Title: "X"}},
		MarkSheet: procedure.MarkSheet{CutPercent: cut, Marks: append([]procedure.Mark{
			{ID: "must", Title: "Must", Rule: "must", Worth: 6, Critical: true},
			{ID: "nice-a", Title: "Nice", Rule: "nice", Surface: "a", Worth: 3},
			{ID: "nice-b", Title: "Nice", Rule: "nice", Surface: "b", Worth: 1},
		}, more...)},
	}, []string{"must", "nice", "timed"})
	require.Empty(t, faults)
	return p
}

// speaker says what an act tells it: "touch" is kept, "dry" a breach, "still
// wet" unknown. It speaks of the surfaces in only.
func speaker(name string, only ...string) *assess.Rule {
	return &assess.Rule{Name: name, Needs: action.Order, Source: "s", Why: "w", Next: "n", Step: func(v *assess.View) {
		s := v.Act.Surface
		if !slices.Contains(only, v.P.Surfaces[s].ID) {
			return
		}
		switch v.Act.Verb {
		case action.Touch:
			v.Kept(s)
		case action.Dry:
			v.Breach(assess.Breach{Surface: s, Message: "m"})
		case action.StillWet:
			v.Unknown(s, "r")
		}
	}}
}

func judge(t *testing.T, cut int, acts string, more ...procedure.Mark) *assess.Result {
	t.Helper()
	p := sheet(t, cut, more...)
	engine := assess.NewEngine([]*assess.Rule{speaker("must", "a"), speaker("nice", "a", "b"),
		{Name: "timed", Needs: action.Clock, Step: func(v *assess.View) { v.Breach(assess.Breach{Surface: assess.None}) }}})
	log, err := action.Parse("l", "stillwet log 1\nprocedure p -\nwitness order\n"+strings.ReplaceAll(acts, ";", "\n"), p.Words)
	require.NoError(t, err)
	r, err := engine.Assess(p, log, "l")
	require.NoError(t, err)
	return r
}

func TestMarksCountAndDecide(t *testing.T) {
	for name, c := range map[string]struct {
		acts                       string
		cut                        int
		met, missed, open, without int
		want                       assess.Outcome
	}{
		"all met":                      {"touch a;touch b", 90, 10, 0, 0, 0, assess.Pass},
		"on the cut":                   {"touch a;dry b", 90, 9, 1, 0, 0, assess.Pass},
		"under the cut":                {"touch a;dry b", 91, 9, 1, 0, 0, assess.NotPass},
		"a critical mark missed":       {"dry a;touch b", 10, 1, 9, 0, 0, assess.NotPass},
		"a critical mark open":         {"still wet a;touch b", 10, 1, 0, 9, 0, assess.Incomplete},
		"missed outranks open":         {"still wet a;dry a;touch b", 10, 1, 9, 0, 0, assess.NotPass},
		"not critical and open":        {"touch a;still wet b", 90, 9, 0, 1, 0, assess.Pass},
		"no occasion leaves the score": {"touch a", 100, 9, 0, 0, 1, assess.Pass},
		"nothing at all is not a pass": {"", 1, 0, 0, 0, 10, assess.NotPass},
	} {
		t.Run(name, func(t *testing.T) {
			m := judge(t, c.cut, c.acts).Marks
			require.Equal(t, [4]int{c.met, c.missed, c.open, c.without}, [4]int{m.Met, m.Missed, m.NotAssessed, m.NotApplicable})
			require.Equal(t, c.want, m.Result)
			require.Equal(t, c.want == assess.Pass, m.Pass)
			if c.met+c.missed > 0 {
				require.InDelta(t, float64(c.met)/float64(c.met+c.missed), m.Score, 1e-12)
			}
			require.Len(t, m.Lines, 3)
		})
	}
}

func TestWhatTheLogCannotWitnessIsNotAssessed(t *testing.T) {
	r := judge(t, 90, "touch a;touch b", procedure.Mark{ID: "timed", Title: "Timed", Rule: "timed", Worth: 1})
	require.Equal(t, []assess.Gap{{Rule: "timed", Reason: "the log does not witness clock"}}, r.NotAssessed)
}

// A procedure without a mark for a rule does not ask for what the rule asks.
func TestARuleWithoutAMarkDoesNotRun(t *testing.T) {
	r := judge(t, 90, "touch a;touch b")
	require.Empty(t, r.NotAssessed, "it is not open either")
	p := sheet(t, 90)
	engine := assess.NewEngine([]*assess.Rule{speaker("unmarked", "a", "b"), speaker("nice", "a", "b")})
	log, err := action.Parse("l", "stillwet log 1\nprocedure p -\nwitness order\ndry a\n", p.Words)
	require.NoError(t, err)
	result, err := engine.Assess(p, log, "l")
	require.NoError(t, err)
	require.Len(t, result.Findings, 1)
	require.Equal(t, "nice", result.Findings[0].Rule)
}

func TestALogOfAnotherProcedureIsRefused(t *testing.T) {
	p := sheet(t, 90)
	engine := assess.NewEngine(nil)
	_, err := engine.Assess(p, &action.Log{Procedure: "q", Hash: "-"}, "l")
	require.ErrorContains(t, err, `of procedure "q", not of "p"`)
	_, err = engine.Assess(p, &action.Log{Procedure: "p", Hash: strings.Repeat("0", 64)}, "l")
	require.ErrorContains(t, err, "another version")
}

func TestResultsAreKeptAsJudged(t *testing.T) {
	r := judge(t, 90, "touch a;dry b")
	text, err := r.JSON()
	require.NoError(t, err)
	for _, key := range []string{`"log":`, `"procedure":`, `"procedure_hash":`, `"rules_version":`, `"findings":[{"rule":"nice","act":2,"at_s":null,"surface":"b","message":"m","why":"w","next":"n","source":"s","critical":false,"level":"breach","line":5,"count":1}]`, `"not_assessed":[`, `"marks":{"met":9,"missed":1,"not_assessed":0`, `"score":0.9,"cut":0.9,"result":"pass","pass":true`} {
		require.Contains(t, string(text), key)
	}
	again, err := assess.ParseResult(text)
	require.NoError(t, err)
	require.Equal(t, r, again)
	_, err = assess.ParseResult([]byte("{"))
	require.Error(t, err)
}

// The work is over once: at the first declaring, or with the log when there is none.
func TestARuleLooksAtTheCloseOnce(t *testing.T) {
	for acts, want := range map[string][]string{
		"touch a;declare ready;touch b;declare ready": {"step 1", "step 2", "close 2", "step 3", "step 4", "end"},
		"touch a;touch b": {"step 1", "step 2", "end", "close"},
		"declare ready":   {"step 1", "close 1", "end"},
	} {
		var seen []string
		see := func(what string) func(*assess.View) {
			return func(v *assess.View) {
				if v.Act != nil {
					seen = append(seen, fmt.Sprintf("%s %d", what, v.Act.Number))
				} else {
					seen = append(seen, what)
				}
			}
		}
		p := sheet(t, 90)
		log, err := action.Parse("l", "stillwet log 1\nprocedure p -\nwitness order\n"+strings.ReplaceAll(acts, ";", "\n"), p.Words)
		require.NoError(t, err)
		_, err = assess.NewEngine([]*assess.Rule{{Name: "must", Needs: action.Order, Step: see("step"), End: see("end"), Close: see("close")}}).Assess(p, log, "l")
		require.NoError(t, err)
		require.Equal(t, want, seen, acts)
	}
}
