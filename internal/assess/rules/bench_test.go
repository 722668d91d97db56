package rules_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

// BenchmarkAssess judges with all rules, with causes and text. The aim is 50 us for a
// log of 40 acts. "40-acts" is the first 40 of an ordinary turnover, which leave most
// surfaces unwiped, so it has some twenty findings to write; "40-clean" is a short
// right one, the spill with some looking about; the models are right, and those
// against the clock also as a watcher notes them.
func BenchmarkAssess(b *testing.B) {
	for _, log := range benchLogs(b) {
		b.Run(log.name, func(b *testing.B) { assessed(b, log.p, log.log) })
	}
}

func assessed(b *testing.B, p *procedure.Procedure, log *action.Log) {
	b.ReportAllocs()
	found := 0
	for b.Loop() {
		result, err := rules.Assess(p, log, "bench")
		if err != nil {
			b.Fatal(err)
		}
		found = len(result.Findings)
	}
	b.ReportMetric(float64(found), "findings")
	b.ReportMetric(float64(len(log.Acts)), "acts")
}

type benchLog struct {
	name string
	p    *procedure.Procedure
	log  *action.Log
}

func benchLogs(b *testing.B) (all []benchLog) {
	frozen, p := builtIn(b)
	s, ok := frozen.Scenario("ordinary-turnover")
	require.True(b, ok)
	whole := parsed(b, p, s.Model)
	cut := *whole
	cut.Acts = whole.Acts[:40]
	all = append(all, benchLog{"40-acts", p, &cut}, benchLog{"frozen/ordinary-turnover", p, whole})
	lib, err := scenarios.Load()
	require.NoError(b, err)
	for _, s := range lib.Scenarios() {
		p, ok := lib.Procedure(s.Procedure)
		require.True(b, ok)
		log := parsed(b, p, s.Model)
		if s.ID == "spill-on-the-side-table" {
			clean := *log
			for len(clean.Acts) < 40 {
				clean.Acts = append([]action.Act{{Verb: action.LookAt, Object: action.Station, At: action.Untimed}}, clean.Acts...)
			}
			all = append(all, benchLog{"40-clean", p, &clean})
		}
		all = append(all, benchLog{"model/" + s.ID, p, log})
		if s.Kind == simulate.TimedRun {
			watched := &action.Log{Procedure: p.ID, Hash: "-", Witness: action.Order | action.Clock}
			for _, a := range simulate.Watched(p, log) {
				watched.Add(a)
			}
			all = append(all, benchLog{"watched/" + s.ID, p, watched})
		}
	}
	return all
}

func parsed(b testing.TB, p *procedure.Procedure, text string) *action.Log {
	b.Helper()
	log, err := action.Parse("bench", text, p.Words)
	require.NoError(b, err)
	return log
}

// BenchmarkLong is a log of 500 acts and one of 5,000, the most there may be: the time
// is linear in the acts, so the last line of each kind is near 10. The aim is 50 ms for
// 5,000. "model" is a right turnover over and over, "random" is any lines at all.
func BenchmarkLong(b *testing.B) {
	lib, p := builtIn(b)
	s, ok := lib.Scenario("ordinary-turnover")
	require.True(b, ok)
	model := parsed(b, p, s.Model).Acts
	for _, kind := range []string{"model", "random"} {
		short := 0.0
		for _, acts := range []int{500, action.MaxActs} {
			log := &action.Log{Procedure: p.ID, Hash: "-", Witness: action.Order}
			if kind == "random" {
				log = anyLines(b, p, acts)
			}
			for i := 0; len(log.Acts) < acts; i++ {
				log.Add(model[i%len(model)])
			}
			b.Run(fmt.Sprintf("%s/%d", kind, acts), func(b *testing.B) {
				assessed(b, p, log)
				each := float64(b.Elapsed().Nanoseconds()) / float64(b.N)
				if acts == 500 {
					short = each
				} else if short > 0 {
					b.ReportMetric(each/short, "times-longer")
				}
			})
		}
	}
}

// anyLines is a log of lines one after another, with all words.
func anyLines(b *testing.B, p *procedure.Procedure, acts int) *action.Log {
	b.Helper()
	lines := make([]string, 0, acts)
	for i := 0; len(lines) < acts; i++ {
		phrase := phrases[i*7%len(phrases)]
		if !strings.HasPrefix(phrase, "undone") {
			lines = append(lines, filled(p.Words, phrase, i*5, len(lines)))
		}
	}
	return parsed(b, p, "stillwet log 2\nprocedure between-patients -\nwitness order\n"+strings.Join(lines, "\n")+"\n")
}
