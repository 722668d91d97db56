package rules_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
)

// task is a piece of legal work: acts in a row, after other tasks of its phase.
// The partial order below is written by hand from the order of the trade
// (CDC, Checklist: Dialysis Station Routine Disinfection, as summarised in the
// guidance, F1 to F10; the rest common practice). It knows nothing of the rules.
type task struct {
	name  string
	after []string
	acts  []string
}

// legal makes one legal sequence.
type legal struct {
	*rand.Rand
	acts  []string
	wipes int
	blood bool
}

func (l *legal) add(acts ...string) { l.acts = append(l.acts, acts...) }

func (l *legal) maybe(acts ...string) {
	if l.IntN(3) == 0 {
		l.add(acts...)
	}
}

func (l *legal) hands() {
	l.add([]string{"rub hands 20s", "wash hands 40s", "rub hands 30s"}[l.IntN(3)])
	l.maybe("rub hands 20s")
}

// freshWipe gives a new wipe of a product that suits the scenario.
func (l *legal) freshWipe() string {
	l.wipes++
	product := "station-wipe"
	if l.blood {
		product = "blood-wipe"
	}
	return fmt.Sprintf("take wipe w%d of %s", l.wipes, product)
}

func (l *legal) changeGloves() {
	l.add("take off gloves")
	l.maybe("look at station") // looking is no act of the hands
	l.hands()
	l.add("put on gloves")
}

// run does tasks in a random order that keeps what stands in after.
func (l *legal) run(tasks []task) {
	done := map[string]bool{}
	for len(done) < len(tasks) {
		t := tasks[l.IntN(len(tasks))]
		ready := !done[t.name]
		for _, a := range t.after {
			ready = ready && done[a]
		}
		if ready {
			done[t.name] = true
			l.add(t.acts...)
		}
	}
}

func (l *legal) face(name string, after []string, surfaces ...string) task {
	l.Shuffle(len(surfaces), func(i, j int) { surfaces[i], surfaces[j] = surfaces[j], surfaces[i] })
	t := task{name: name, after: after, acts: []string{l.freshWipe()}}
	for _, s := range surfaces {
		t.acts = append(t.acts, "wipe "+s)
		if l.IntN(4) == 0 {
			t.acts = append(t.acts, "wipe "+s)
		}
	}
	return t
}

func (l *legal) sequence() []string {
	if l.blood = l.IntN(2) == 0; l.blood {
		l.add("blood on front")
	}
	l.add("check patient stable")
	l.maybe("alarm", "pause", "resume")
	l.add("help patient out", "check patient gone")
	l.hands()
	l.add("put on gloves", l.freshWipe(), "wipe staging", "wait", "bring supplies to staging", "take off gloves")
	l.hands()
	l.tearDown()
	l.changeGloves()
	l.bucket()
	l.changeGloves()
	l.machine()
	l.finish()
	return l.acts
}

func (l *legal) tearDown() {
	l.run([]task{
		{"eyes", nil, []string{"put on eye-protection"}},
		{"gown", nil, [][]string{{}, {"put on gown"}}[l.IntN(2)]},
	})
	l.hands()
	l.add("put on gloves")
	tasks := []task{
		{"lines", nil, []string{"take off lines"}},
		{"dialyzer", nil, []string{"take off dialyzer"}},
		{"lines away", []string{"lines"}, []string{"discard lines in leakproof-container"}},
		{"dialyzer away", []string{"dialyzer"}, []string{"discard dialyzer in leakproof-container"}},
		{"waste", nil, []string{"discard disposables in waste-bin"}},
		{"opened", nil, []string{"discard opened-supplies in waste-bin"}},
		{"unopened", nil, []string{"discard unopened-supplies in waste-bin"}},
		{"reusables", nil, []string{"set reusables at soiled-tray"}},
		{"look", nil, []string{"look at station"}},
	}
	if l.IntN(3) == 0 { // part one of the checklist includes emptying the bucket
		tasks = append(tasks, task{"off", nil, []string{"take off bucket"}}, task{"empty", []string{"off"}, []string{"empty bucket in drain"}})
	}
	if l.blood {
		tasks = append(tasks, task{"clean", []string{"look"}, []string{l.freshWipe(), "clean front", "drop wipe"}})
	}
	l.run(tasks)
}

func (l *legal) bucket() {
	var tasks []task
	if !slices.Contains(l.acts, "take off bucket") {
		tasks = append(tasks, task{"off", nil, []string{"take off bucket"}}, task{"empty", []string{"off"}, []string{"empty bucket in toilet"}})
	} else {
		tasks = append(tasks, task{"off", nil, nil}, task{"empty", nil, nil})
	}
	l.run(append(tasks, l.face("bucket", []string{"empty"}, "bucket-inside", "bucket-sides", "bucket-outside"),
		task{"aside", []string{"bucket"}, []string{"set bucket at drying-place"}}))
}

func (l *legal) machine() {
	l.run([]task{
		l.face("top", nil, "top"),
		l.face("front", []string{"top"}, "screen", "buttons", "keyboard", "front", "latches"),
		l.face("left", []string{"top"}, "left"),
		l.face("right", []string{"top"}, "right"),
		l.face("pole", nil, "pole", "cuff", "attachments"),
		l.face("chair", nil, "chair"),
		l.face("table", nil, "side-table", "call-light"),
		l.face("counter", nil, "counter"),
	})
}

func (l *legal) finish() {
	l.add("wait")
	l.maybe("touch screen", "touch chair") // working gloves, finished surfaces
	l.add("put bucket back")
	doff := []task{{"gloves", nil, []string{"take off gloves"}}, {"eyes", []string{"gloves"}, []string{"take off eye-protection"}}}
	if slices.Contains(l.acts, "put on gown") {
		doff = append(doff, task{"gown", []string{"gloves"}, []string{"take off gown"}})
	}
	l.run(doff)
	if l.IntN(2) == 0 {
		l.hands()
		l.add("declare ready")
	} else {
		l.add("declare ready")
		l.hands()
	}
	l.maybe("bring next-set to staging")
}

// clocked gives a sequence times of one second an act; a wait lets every wet
// surface dry in its time, 180 s after the latest wipe or more.
func clocked(acts []string) []string {
	var out []string
	now, wet := 0, []string{}
	say := func(text string) { out = append(out, fmt.Sprintf("%d:%02d %s", now/60, now%60, text)) }
	for _, a := range acts {
		now++
		if s, ok := strings.CutPrefix(a, "wipe "); ok && !slices.Contains(wet, s) {
			wet = append(wet, s)
		}
		if a == "wait" {
			now += 180
			for _, s := range wet {
				say("dry " + s)
			}
			wet = nil
			continue
		}
		say(a)
	}
	return out
}

func TestLegalSequencesGiveNoFinding(t *testing.T) {
	const sequences = 2000
	_, p := builtIn(t)
	for seed := range uint64(sequences) {
		l := &legal{Rand: rand.New(rand.NewPCG(seed, 1))}
		acts, witness := l.sequence(), "order"
		if seed%2 == 1 {
			acts, witness = clocked(acts), "order clock drying"
		}
		text := "stillwet log 1\nprocedure between-patients -\nwitness " + witness + "\n" + strings.Join(acts, "\n") + "\n"
		log, err := action.Parse("legal", text, p.Words)
		require.NoError(t, err, "seed %d", seed)
		result, err := rules.Assess(p, log, "legal")
		require.NoError(t, err, "seed %d", seed)
		require.Empty(t, result.Findings, "seed %d\n%s", seed, text)
		require.Empty(t, result.NotAssessed, "seed %d\n%s", seed, text)
		require.Equal(t, assess.Pass, result.Marks.Result, "seed %d", seed)
		require.Equal(t, 1.0, result.Marks.Score, "seed %d", seed)
	}
}

// The aim is 50 us for a log of 40 acts. The first 40 acts of the model leave
// most surfaces unwiped, so that log has some twenty findings to write.
func BenchmarkAssess(b *testing.B) {
	lib, p := builtIn(b)
	s, ok := lib.Scenario("ordinary-turnover")
	require.True(b, ok)
	whole, err := action.Parse("model", s.Model, p.Words)
	require.NoError(b, err)
	cut := *whole
	cut.Acts = whole.Acts[:40]
	for name, log := range map[string]*action.Log{"40-acts": &cut, "model": whole} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := rules.Assess(p, log, "model"); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
