package scenarios_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

func seeds() (all []string) {
	for i := range 20 {
		all = append(all, "seed "+strconv.Itoa(i))
	}
	return all
}

// eachVariant does something with every scenario as each of the seeds makes it, once
// for each that differs.
func eachVariant(t *testing.T, lib *scenarios.Library, do func(t *testing.T, s *simulate.Scenario, p *procedure.Procedure)) {
	for _, base := range lib.Scenarios() {
		if base.Kind == simulate.FindWrong {
			continue // it has the model of another; find_test.go
		}
		p, ok := lib.Procedure(base.Procedure)
		require.True(t, ok)
		done := map[string]bool{}
		for _, seed := range seeds() {
			if s := base.Variant(seed); !done[s.Hash] {
				done[s.Hash] = true
				t.Run(fmt.Sprintf("%s/%s", s.ID, s.Hash[:8]), func(t *testing.T) { do(t, s, p) })
			}
		}
	}
}

// judged is what cues come to, nil when they cannot be followed.
func judged(t *testing.T, s *simulate.Scenario, p *procedure.Procedure, cues []string) *assess.Result {
	text, err := simulate.Model(p, s, cues)
	if err != nil {
		return nil
	}
	log, err := action.Parse(s.ID, text, p.Words)
	require.NoError(t, err)
	r, err := rules.Assess(p, log, s.ID)
	require.NoError(t, err)
	return r
}

func TestEveryVariantHasAModelOfFullMarks(t *testing.T) {
	t.Parallel()
	lib, err := scenarios.Load()
	require.NoError(t, err)
	confirmed := lib.Confirmed("Mara Voss", "2026-09-01")
	for _, l := range []*scenarios.Library{lib, confirmed} {
		eachVariant(t, l, func(t *testing.T, s *simulate.Scenario, p *procedure.Procedure) {
			require.Empty(t, scenarios.Prove(s, p))
		})
	}
}

// greedy is every step that is offered, once, as the palette has them.
func greedy(s *simulate.Scenario, p *procedure.Procedure, seed string) (steps []string) {
	for _, seldom := range []bool{false, true} {
		for _, area := range p.Areas {
			var ids []string
			for _, id := range s.Steps {
				if step := &p.Steps[p.StepIndex(id)]; step.Area == area.ID && step.Seldom == seldom {
					ids = append(ids, id)
				}
			}
			steps = append(steps, simulate.Shuffled(seed, ids, s.Answer())...)
		}
	}
	return steps
}

func TestNothingAndEverythingFail(t *testing.T) {
	t.Parallel()
	lib, err := scenarios.Load()
	require.NoError(t, err)
	for _, base := range lib.Scenarios() {
		p, _ := lib.Procedure(base.Procedure)
		for _, seed := range seeds() {
			s := base.Variant(seed)
			require.NotEqual(t, assess.Pass, judged(t, s, p, nil).Marks.Result, "%s, nothing done", s.ID)
			r := judged(t, s, p, greedy(s, p, seed))
			require.NotNil(t, r)
			require.NotEqual(t, assess.Pass, r.Marks.Result, "%s, every step once", s.ID)
		}
	}
}

// harmless are the steps that cost nothing wherever they stand: telling who is
// responsible of a machine is no fault, nor is a look whether the patient has gone when a
// colleague had looked already.
var harmless = map[string][]string{"report": nil, "check-gone": {"the-bucket-goes-back-last"}}

// A step that the model has no use for costs marks somewhere in the model's order.
func TestDistractorsCost(t *testing.T) {
	t.Parallel()
	lib, err := scenarios.Load()
	require.NoError(t, err)
	eachVariant(t, lib, func(t *testing.T, s *simulate.Scenario, p *procedure.Procedure) {
		cues, answer := simulate.CuesOf(s.Model), s.Answer()
		for _, id := range s.Steps {
			if slices.Contains(answer, id) {
				continue
			}
			in, free := harmless[id]
			free = free && (in == nil || slices.Contains(in, s.ID))
			require.Equal(t, !free, costs(t, s, p, cues, id), id)
		}
	})
}

// costs reports whether a step costs marks somewhere, and in a run not only by the
// time it takes.
func costs(t *testing.T, s *simulate.Scenario, p *procedure.Procedure, cues []string, step string) bool {
	missed := func(at int, cue string) bool {
		r := judged(t, s, p, slices.Insert(slices.Clone(cues), at, cue))
		return r != nil && r.Marks.Missed > 0
	}
	pause := fmt.Sprintf("+%ds", simulate.Busy(p, &p.Steps[p.StepIndex(step)])/1000)
	for at := range len(cues) + 1 {
		if missed(at, step) && (s.Kind == simulate.BuildOrder || !missed(at, pause)) {
			return true
		}
	}
	return false
}

// What is special in a story counts: who does as in the plain scenario of the same
// procedure does not pass. Two may: where a colleague has begun there is only less to
// do, and who fetches herself what a helper could breaks no rule.
func TestThePlainAnswerFailsInTheOthers(t *testing.T) {
	t.Parallel()
	lib, err := scenarios.Load()
	require.NoError(t, err)
	may := []string{"the-bucket-goes-back-last", "a-helper-with-bare-hands"}
	for _, id := range []string{"ordinary-turnover", "against-the-clock", "end-of-day-in-order", "spill-on-the-side-table", "isolation-turnover"} {
		plain, ok := lib.Scenario(id)
		require.True(t, ok)
		eachVariant(t, lib, func(t *testing.T, s *simulate.Scenario, p *procedure.Procedure) {
			if s.Procedure != plain.Procedure || s.Kind != plain.Kind || s.ID == id || slices.Contains(may, s.ID) {
				return
			}
			r := judged(t, s, p, plainly(plain, s))
			require.True(t, r == nil || r.Marks.Result != assess.Pass)
		})
	}
}

// plainly is the answer of a plain scenario, as far as another offers its steps.
func plainly(plain, s *simulate.Scenario) (cues []string) {
	for _, c := range simulate.CuesOf(plain.Model) {
		if c == "fresh-wipe" && !slices.Contains(s.Steps, c) {
			c = "take-station-wipe"
		}
		if slices.Contains(s.Steps, c) || !slices.Contains(plain.Steps, c) {
			cues = append(cues, c)
		}
	}
	return cues
}

func TestLevelsRiseAndEveryScenarioTeaches(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	levels, vary := map[int]bool{}, 0
	for _, s := range lib.Scenarios() {
		levels[s.Level] = true
		require.NotEmpty(t, s.Teaches, s.ID)
		if len(s.Vary) > 0 {
			vary++
		}
	}
	require.Len(t, levels, 9)
	require.GreaterOrEqual(t, vary, 12)
}

const varies = "back-for-a-coat.yaml"

func TestFaultsOfWhatVaries(t *testing.T) {
	for name, c := range map[string]struct {
		change      func(string) string
		place, want string
	}{
		"one option":      {func(s string) string { return cut(s, "      - {value: side-table", "events:") }, "    options:", "two options or more"},
		"twice":           {replace("{value: side-table,", "{value: chair,"), "{value: side-table,", `option "chair" is there twice`},
		"no words":        {replace("words: the counter}", "words: ''}"), "{value: counter,", "and words for the story"},
		"no use":          {replace("name: where", "name: there"), "name: where", "{there} stands nowhere in the scenario"},
		"unknown in text": {replace("steadies herself on", "steadies herself, {how}, on"), "story: >", "{how} is no fact that varies"},
		"of a later one":  {replace("{value: counter,", "{value: countr,"), "patient touches {where}", `unknown surface "countr"`},
		"too many":        {replace("      - {value: counter", strings.Repeat("      - {value: x, words: y}\n", 15)+"      - {value: counter"), "vary:", "18 combinations; 16 is the most"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := scenarios.LoadFS(files(t, map[string]func(string) string{varies: c.change}))
			require.ErrorContains(t, err, lineOf(t, varies, c.place))
			require.ErrorContains(t, err, c.want)
		})
	}
}

// cut takes out what stands from one text to before another.
func cut(s, from, to string) string {
	before, _, _ := strings.Cut(s, from)
	_, after, _ := strings.Cut(s, to)
	return before + to + after
}

// A combination that the cues do not solve is told with the facts that make it so.
func TestAnUnsolvedCombinationIsRefused(t *testing.T) {
	const model = "back-for-a-coat.model.log"
	_, err := scenarios.LoadFS(files(t, map[string]func(string) string{model: replace("wipe-{where}", "wipe-chair")}))
	require.ErrorContains(t, err, model+":1: with where = side-table:")
	require.ErrorContains(t, err, "every-surface")
	require.NotContains(t, err.Error(), "where = chair")
}

// What is left out of a scenario leaves its hash as it was before there was such a field.
func TestASealedVariantStandsForItself(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	eachVariant(t, lib, func(t *testing.T, s *simulate.Scenario, p *procedure.Procedure) {
		again, err := simulate.StoredScenario(s.Text)
		require.NoError(t, err)
		require.Equal(t, s.Hash, again.Hash)
		require.Equal(t, s.Story, again.Story)
		require.NotContains(t, string(s.Text), "{where}")
		r := judged(t, again, p, s.Answer())
		if s.Kind == simulate.BuildOrder {
			require.Equal(t, assess.Pass, r.Marks.Result, "what is kept is enough to judge by")
		}
		again.Teaches = ""
		require.NoError(t, again.Seal())
		require.NotContains(t, string(again.Text), "Teaches")
	})
}
