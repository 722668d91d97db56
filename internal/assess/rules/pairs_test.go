package rules_test

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/vm"
	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// The clinic's earlier and later pairs judged once more, by a general-purpose
// expression engine over the places of acts in the log: a pair is broken when the
// first act of the later step comes before the last act of the earlier one, all of
// them in their places (ruling: the whole earlier step is done in its place), unless
// nobody saw the earlier one.

// places are what an expression sees of a log.
type places struct {
	At     map[string][]int // by "STEP/ACT": where the act counted for its step
	Unseen map[string][]int // by step: where somebody said that it was not seen
}

// compiled are the pairs of a procedure as programs.
func compiled(t testing.TB, p *procedure.Procedure) (programs []*vm.Program) {
	t.Helper()
	for _, pair := range p.Order {
		var first, done []string
		for i := range p.Steps[p.StepIndex(pair.Later)].Acts {
			first = append(first, fmt.Sprintf("At[%q]", fmt.Sprintf("%s/%d", pair.Later, i)))
		}
		for i := range p.Steps[p.StepIndex(pair.Earlier)].Acts {
			done = append(done, fmt.Sprintf("any(At[%q], # < begun)", fmt.Sprintf("%s/%d", pair.Earlier, i)))
		}
		program, err := expr.Compile(fmt.Sprintf(
			"let later = concat(%s, []); len(later) > 0 && (let begun = min(later); none(Unseen[%q], # < begun) && !(%s))",
			strings.Join(first, ", "), pair.Earlier, strings.Join(done, " && ")), expr.Env(places{}), expr.AsBool())
		require.NoError(t, err)
		programs = append(programs, program)
	}
	return programs
}

// placesOf finds where acts counted. What could be done at all, the station says.
func placesOf(p *procedure.Procedure, log *action.Log, acts []station.Act) places {
	found := places{map[string][]int{}, map[string][]int{}}
	m := station.MachineFor(p, log, nil)
	s := station.Start(p)
	for i := range acts {
		a := &acts[i]
		m.Apply(&s, a)
		switch {
		case a.Verb == action.NotSeen:
			found.Unseen[a.Object] = append(found.Unseen[a.Object], i)
		case a.Verb == action.CheckGone && s.Present: // she had not
		case !s.Impossible.Blocks():
			found.note(p, a, i)
		}
	}
	return found
}

// note notes an act in its place: the step's, or another where the thing may go. What
// is emptied is empty wherever that was.
func (x *places) note(p *procedure.Procedure, a *station.Act, at int) {
	for i := range p.Steps {
		for j, asked := range p.Steps[i].Acts {
			if asked.Verb != a.Verb || asked.Object != a.Object {
				continue
			}
			may := a.Verb == action.Empty || a.Act.Place == asked.Place
			if item := p.ItemIndex(a.Object); item >= 0 {
				may = may || slices.Contains(p.Items[item].Goes, a.Act.Place)
			}
			if may {
				key := fmt.Sprintf("%s/%d", p.Steps[i].ID, j)
				x.At[key] = append(x.At[key], at)
			}
		}
	}
}

// pairLog is a log of steps in a random order, now and then with an act left out, put
// into another place, or not seen. Once somebody looked whether the patient was gone,
// nothing of her follows: what proves a look wrong is no matter of pairs.
func pairLog(r *rand.Rand, p *procedure.Procedure) *action.Log {
	ofPatient := []action.Verb{action.HelpOut, action.Disconnect, action.TakeOut, action.SeatNext, action.PatientLeaves, action.PatientBack, action.PatientStays}
	looked := false
	log := &action.Log{Procedure: p.ID, Hash: "-", Witness: action.Order}
	for range 20 + r.IntN(80) {
		step := p.Steps[r.IntN(len(p.Steps))]
		if r.IntN(2) == 0 && len(p.Order) > 0 { // of a pair
			pair := p.Order[r.IntN(len(p.Order))]
			step = p.Steps[p.StepIndex(pick(r, pair.Earlier, pair.Later))]
		}
		if r.IntN(25) == 0 {
			log.Add(action.Act{Verb: action.NotSeen, Object: step.ID, At: action.Untimed})
			continue
		}
		for _, a := range step.Acts {
			a = procedure.OnShelf(a, p.Products[0].ID)
			switch {
			case r.IntN(12) == 0, looked && slices.Contains(ofPatient, a.Verb):
				continue
			case a.Place != "" && r.IntN(6) == 0:
				a.Place = p.Places[r.IntN(len(p.Places))].ID
			}
			a.Helper = r.IntN(20) == 0
			looked = looked || a.Verb == action.CheckGone
			log.Add(a)
		}
	}
	return log
}

// brokenPairs are those that the engine finds broken. Pairs with the same earlier step
// are one finding, with the acts at which the later ones began.
func brokenPairs(t *testing.T, p *procedure.Procedure, log *action.Log, seen places) (broken []bool) {
	t.Helper()
	result, err := rules.Assess(p, log, "pairs")
	require.NoError(t, err)
	broken = make([]bool, len(p.Order))
	for _, f := range result.Findings {
		if f.Rule != rules.DeclaredOrder.Name {
			continue
		}
		found := 0
		for i, pair := range p.Order {
			_, of, _ := strings.Cut(f.Message, "”")
			at := seen.begun(p, pair.Later)
			if strings.Contains(of, "“"+p.Steps[p.StepIndex(pair.Earlier)].Label+"”") && (at == f.Act || slices.Contains(f.Acts, at)) {
				broken[i] = true
				found++
			}
		}
		require.Equal(t, f.Count, found, f.Message)
	}
	return broken
}

// begun is the number of the act that began a step, 0 for none.
func (x *places) begun(p *procedure.Procedure, step string) (act int) {
	for i := range p.Steps[p.StepIndex(step)].Acts {
		for _, at := range x.At[fmt.Sprintf("%s/%d", step, i)] {
			if act == 0 || at+1 < act {
				act = at + 1
			}
		}
	}
	return act
}

func TestPairsAsAnExpressionEngineJudgesThem(t *testing.T) {
	_, procedures := legalProcedures(t)
	names := slices.Sorted(maps.Keys(procedures))
	broken, kept := 0, 0
	programs := map[string][]*vm.Program{}
	for name, p := range procedures {
		programs[name] = compiled(t, p)
	}
	for seed := range uint64(rounds(t, 500, 25)) {
		name := names[seed%uint64(len(names))]
		p := procedures[name]
		log := pairLog(rand.New(rand.NewPCG(seed, 13)), p)
		acts, err := station.Bind(p, log)
		require.NoError(t, err)
		seen := placesOf(p, log, acts)
		told := brokenPairs(t, p, log, seen)
		for i, program := range programs[name] {
			verdict, err := expr.Run(program, seen)
			require.NoError(t, err)
			require.Equal(t, verdict, told[i], "seed %d, %s before %s\n%s", seed, p.Order[i].Earlier, p.Order[i].Later, action.Format(log))
			if told[i] {
				broken++
			} else {
				kept++
			}
		}
	}
	require.Greater(t, min(broken, kept), 500, "both happen")
}

// A critical pair that is broken fails the whole, as the expression engine sees it broken,
// and no other pair does; one of which nobody saw the earlier step leaves the whole open.
func TestCriticalPairs(t *testing.T) {
	_, procedures := legalProcedures(t)
	names := slices.Sorted(maps.Keys(procedures))
	failed, passed, open := 0, 0, 0
	for seed := range uint64(rounds(t, 500, 25)) {
		r := rand.New(rand.NewPCG(seed, 17))
		d := procedures[names[seed%uint64(len(names))]].Definition
		d.Order = slices.Clone(d.Order)
		for i := range d.Order {
			d.Order[i].Critical = r.IntN(3) == 0 && !d.Order[i].Custom()
		}
		p, faults := procedure.New(d, rules.Names())
		require.Empty(t, faults)
		log := pairLog(r, p)
		acts, err := station.Bind(p, log)
		require.NoError(t, err)
		seen := placesOf(p, log, acts)
		want := false
		for i, program := range compiled(t, p) {
			broken, err := expr.Run(program, seen)
			require.NoError(t, err)
			want = want || broken == true && p.Order[i].Critical
		}
		result, err := rules.Assess(p, log, "pairs")
		require.NoError(t, err)
		is := slices.ContainsFunc(result.Findings, func(f assess.Finding) bool { return f.Rule == rules.DeclaredOrder.Name && f.Critical })
		require.Equal(t, want, is, "seed %d\n%s", seed, action.Format(log))
		if is {
			require.Equal(t, assess.NotPass, result.Marks.Result)
			failed++
		} else {
			passed++
		}
		if slices.ContainsFunc(result.NotAssessed, func(g assess.Gap) bool { return g.Rule == rules.DeclaredOrder.Name && g.Critical }) {
			require.NotEqual(t, assess.Pass, result.Marks.Result)
			require.NotEmpty(t, result.Open(p))
			open++
		}
	}
	require.Greater(t, min(failed, passed), 20, "both happen")
	require.Positive(t, open)
}

// Advice cannot be critical.
func TestAPairOfCustomIsNotCritical(t *testing.T) {
	_, p := builtIn(t)
	d := p.Definition
	d.Order = slices.Clone(d.Order)
	d.Order[2].Basis, d.Order[2].Confirmed, d.Order[2].Critical = procedure.Basis{Kind: procedure.CommonPractice}, procedure.Confirmed{}, true
	_, faults := procedure.New(d, rules.Names())
	require.Len(t, faults, 1)
	require.Equal(t, "order.2.critical", faults[0].Path)
	d.Order[2].Confirmed = procedure.Confirmed{By: "Edda Invented", On: "2026-11-01"}
	_, faults = procedure.New(d, rules.Names())
	require.Empty(t, faults)
}

// The pair monitor alone on bound acts, against the expressions on the same bound acts:
// finding the places of acts is part of that, as finding out what an act does to the
// steps is of the monitor. "ready" is the expressions on places found before. The last
// line of each is how many times longer it takes than the monitor.
func BenchmarkPairs(b *testing.B) {
	lib, p := builtIn(b)
	s, ok := lib.Scenario("ordinary-turnover")
	require.True(b, ok)
	log := parsed(b, p, s.Model)
	acts, err := station.Bind(p, log)
	require.NoError(b, err)
	programs, keys := compiled(b, p), partKeys(p)
	monitor := 0.0
	b.Run("monitor", func(b *testing.B) {
		b.ReportAllocs()
		kept, x := 0, station.Progress{}
		count := func(_ int, was bool) {
			if was {
				kept++
			}
		}
		for b.Loop() {
			kept, x = 0, station.Progress{}
			for i := range acts {
				rules.Begun(p, &acts[i], &x, count)
				x.Note(p, &acts[i])
			}
		}
		require.Equal(b, len(p.Order), kept)
		monitor = float64(b.Elapsed().Nanoseconds()) / float64(b.N)
	})
	ready := keys.places(acts)
	for name, seen := range map[string]func() places{"ready": func() places { return ready }, "expressions": func() places { return keys.places(acts) }} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				places := seen()
				for _, program := range programs {
					if broken, err := expr.Run(program, places); err != nil || broken != false {
						b.Fatal(broken, err)
					}
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/monitor, "times-longer")
		})
	}
}

// keysOfParts are the names of each step's acts, by step and act.
type keysOfParts [][]string

func partKeys(p *procedure.Procedure) (keys keysOfParts) {
	for _, step := range p.Steps {
		var names []string
		for j := range step.Acts {
			names = append(names, fmt.Sprintf("%s/%d", step.ID, j))
		}
		keys = append(keys, names)
	}
	return keys
}

// places are those of bound acts that could all be done.
func (keys keysOfParts) places(acts []station.Act) places {
	found := places{At: make(map[string][]int, len(acts))}
	for i := range acts {
		for _, part := range acts[i].Parts {
			key := keys[part.Step][part.Act]
			found.At[key] = append(found.At[key], i)
		}
	}
	return found
}
