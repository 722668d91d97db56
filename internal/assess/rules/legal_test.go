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
	"stillwet/internal/procedure"
)

// task is a piece of legal work: acts in a row, after other tasks of its phase.
// The partial order below is written by hand from the order of the trade
// (CDC, Checklist: Dialysis Station Routine Disinfection, as summarised in the
// guidance, F1 to F10; protective equipment on and off: F43, F45; the rest common
// practice). It knows nothing of the rules.
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
	mask  bool
}

func (l *legal) add(acts ...string) { l.acts = append(l.acts, acts...) }

func (l *legal) maybe(acts ...string) {
	if l.IntN(3) == 0 {
		l.add(acts...)
	}
}

func (l *legal) either(a, b []string) {
	if l.IntN(2) == 0 {
		a = b
	}
	l.add(a...)
}

func (l *legal) hands() {
	l.add([]string{"rub hands 20s", "wash hands 40s", "rub hands 30s", "wash hands 15s"}[l.IntN(4)])
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

func (l *legal) freshGloves() {
	l.hands()
	l.add("put on gloves")
}

func (l *legal) changeGloves() {
	l.add("take off gloves")
	l.maybe("look at station") // looking is no act of the hands
	l.freshGloves()
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
		switch l.IntN(6) {
		case 0:
			t.acts = append(t.acts, "wipe "+s)
		case 1: // lifted to wipe under it
			t.acts = append(t.acts, "touch "+s, "wipe "+s)
		}
	}
	return t
}

// begin is the check of a patient whose hands-on care starts with clean hands.
func (l *legal) begin() {
	if l.blood = l.IntN(2) == 0; l.blood {
		l.add("blood on front")
	}
	l.hands()
	l.add("check patient stable")
	l.maybe("alarm", "pause", "resume")
}

func (l *legal) patientGoes() {
	l.either([]string{"help patient out", "check patient gone"}, []string{"check patient gone"})
	l.maybe("patient comes back", "patient leaves", "check patient gone")
}

// clinic is the order of the frozen procedure: its pairs are the clinic's own.
func (l *legal) clinic() []string {
	l.begin()
	l.patientGoes()
	l.freshGloves()
	l.add(l.freshWipe(), "wipe staging", "wait")
	l.either([]string{"bring supplies to staging"}, []string{"helper bring supplies to staging"})
	l.add("take off gloves")
	l.cover()
	l.tearDown(false)
	l.changeGloves()
	l.bucket()
	l.changeGloves()
	l.run(l.surfaces())
	l.finish()
	return l.acts
}

// checklist is the order of the published checklist: part one with the patient
// still seated, gloves and hands, the surfaces with the bucket among them.
func (l *legal) checklist() []string {
	l.begin()
	l.cover()
	l.maybe("disconnect patient", "take out needles", "put needles in sharps")
	l.tearDown(true)
	l.add("take off gloves")
	l.hands()
	l.patientGoes()
	l.freshGloves()
	l.run(append(l.surfaces(), l.face("bucket", nil, "bucket-inside", "bucket-sides", "bucket-outside"),
		task{"aside", []string{"bucket"}, []string{"set bucket at drying-place"}}))
	l.finish()
	return l.acts
}

// cover is what is worn for work that spatters; gloves go on last, over clean hands.
func (l *legal) cover() {
	l.hands()
	on := []task{{"gown", nil, []string{"put on gown"}}, {"eyes", []string{"gown"}, []string{"put on eye-protection"}}}
	if l.mask = l.IntN(2) == 0; l.mask {
		on = append(on, task{"mask", []string{"gown"}, []string{"put on mask"}})
		on[1].after = []string{"gown", "mask"}
	}
	l.run(on)
	l.freshGloves()
}

func (l *legal) tearDown(withBucket bool) {
	tasks := []task{
		{"lines", nil, []string{"take off lines"}},
		{"dialyzer", nil, []string{"take off dialyzer"}},
		{"dialyzer away", []string{"dialyzer"}, []string{"discard dialyzer in leakproof-container"}},
		{"waste", nil, []string{"discard disposables in waste-bin"}},
		{"opened", nil, []string{"discard opened-supplies in waste-bin"}},
		{"unopened", nil, []string{"discard unopened-supplies in waste-bin"}},
		{"reusables", nil, []string{"set reusables at soiled-tray"}},
		{"look", nil, []string{"look at station"}},
	}
	away := []string{"discard lines in leakproof-container"}
	if l.IntN(3) == 0 { // the container stands in the corridor
		away = []string{"leave station", away[0], "come back"}
	}
	tasks = append(tasks, task{"lines away", []string{"lines"}, away})
	if withBucket || l.IntN(3) == 0 { // part one of the checklist includes emptying the bucket
		tasks = append(tasks, task{"off", nil, []string{"take off bucket"}}, task{"empty", []string{"off"}, []string{"empty bucket in drain"}})
	}
	if l.blood {
		tasks = append(tasks, task{"clean", []string{"look"}, []string{l.freshWipe(), "clean front", "discard wipe in leakproof-container"}})
	}
	l.run(tasks)
}

func (l *legal) bucket() {
	var tasks []task
	if !slices.Contains(l.acts, "take off bucket") {
		tasks = append(tasks, task{"off", nil, []string{"take off bucket"}}, task{"empty", []string{"off"}, []string{"leave station", "empty bucket in toilet", "come back"}})
	} else {
		tasks = append(tasks, task{"off", nil, nil}, task{"empty", nil, nil})
	}
	l.run(append(tasks, l.face("bucket", []string{"empty"}, "bucket-inside", "bucket-sides", "bucket-outside"),
		task{"aside", []string{"bucket"}, []string{"set bucket at drying-place"}}))
}

func (l *legal) surfaces() []task {
	return []task{
		l.face("top", nil, "top"),
		l.face("front", []string{"top"}, "screen", "buttons", "keyboard", "front", "latches"),
		l.face("left", []string{"top"}, "left"),
		l.face("right", []string{"top"}, "right"),
		l.face("pole", nil, "pole", "cuff", "attachments"),
		l.face("chair", nil, "chair"),
		l.face("table", nil, "side-table", "call-light"),
		l.face("counter", nil, "counter"),
	}
}

func (l *legal) finish() {
	l.add("wait")
	l.maybe("touch screen", "touch chair") // working gloves, finished surfaces
	l.add("put bucket back")
	l.doff()
	l.either([]string{"declare ready", "rub hands 20s"}, []string{"rub hands 20s", "declare ready"})
	if slices.Contains(l.acts, "wipe staging") {
		l.maybe("bring next-set to staging", "seat next patient")
	}
}

// doff takes off what is worn in one of the two published orders (F45), or keeps
// the shield on; one that comes off is disinfected or thrown away.
func (l *legal) doff() {
	off := []string{"take off gloves", "take off gown", "rub hands 20s", "take off eye-protection", "take off mask"}
	if l.IntN(2) == 0 {
		off = []string{"take off gloves", "take off eye-protection", "take off gown", "take off mask"}
	}
	shield := l.IntN(3)
	off = slices.DeleteFunc(off, func(a string) bool {
		return a == "take off mask" && (!l.mask || shield == 0) || a == "take off eye-protection" && shield == 0
	})
	l.add(off...)
	switch shield {
	case 1:
		l.add("discard eye-protection in waste-bin")
		l.hands()
	case 2:
		l.hands()
		l.add("put on gloves", "disinfect eye-protection", "take off gloves")
		l.hands()
	default:
		l.hands()
	}
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

// unconfirmed is the procedure of a clinic in which nobody has yet confirmed what
// rests on custom alone.
func unconfirmed(t *testing.T, p *procedure.Procedure) *procedure.Procedure {
	t.Helper()
	d := p.Definition
	d.Order, d.MarkSheet.Marks = slices.Clone(d.Order), slices.Clone(d.MarkSheet.Marks)
	for i := range d.Order {
		d.Order[i].Confirmed = procedure.Confirmed{}
	}
	for i := range d.MarkSheet.Marks {
		d.MarkSheet.Marks[i].Confirmed = procedure.Confirmed{}
	}
	loose, faults := procedure.New(d, rules.Names())
	require.Empty(t, faults)
	return loose
}

func TestLegalSequencesGiveNoFinding(t *testing.T) {
	const sequences = 2000
	_, p := builtIn(t)
	for seed := range uint64(sequences) {
		l := &legal{Rand: rand.New(rand.NewPCG(seed, 1))}
		result, text := judgeLegal(t, p, seed, l.clinic())
		require.Empty(t, result.Findings, "seed %d\n%s", seed, text)
	}
}

// The order of the published checklist passes where nobody has confirmed another;
// what custom alone asks for is told as advice.
func TestTheChecklistsOwnOrderPasses(t *testing.T) {
	const sequences = 1000
	_, p := builtIn(t)
	p = unconfirmed(t, p)
	advised := 0
	for seed := range uint64(sequences) {
		l := &legal{Rand: rand.New(rand.NewPCG(seed, 3))}
		result, text := judgeLegal(t, p, seed, l.checklist())
		for _, f := range result.Findings {
			require.True(t, f.Advice(), "seed %d: %s: %s\n%s", seed, f.Rule, f.Message, text)
			advised++
		}
	}
	require.Positive(t, advised, "the clinic's own order is not the checklist's")
}

// judgeLegal judges a legal sequence as an order or by the clock: a pass with full
// marks and nothing left open.
func judgeLegal(t *testing.T, p *procedure.Procedure, seed uint64, acts []string) (result *assess.Result, text string) {
	t.Helper()
	witness := "order"
	if seed%2 == 1 {
		acts, witness = clocked(acts), "order clock drying"
	}
	text = "stillwet log 2\nprocedure between-patients -\nwitness " + witness + "\n" + strings.Join(acts, "\n") + "\n"
	log, err := action.Parse("legal", text, p.Words)
	require.NoError(t, err, "seed %d", seed)
	result, err = rules.Assess(p, log, "legal")
	require.NoError(t, err, "seed %d", seed)
	require.Empty(t, result.NotAssessed, "seed %d\n%s", seed, text)
	require.Equal(t, assess.Pass, result.Marks.Result, "seed %d\n%s\n%v", seed, text, result.Findings)
	require.Equal(t, 1.0, result.Marks.Score, "seed %d", seed)
	return result, text
}

// What is right wherever it comes: looking, waiting, pausing for an alarm, what a
// helper does for herself, a patient who is back for her coat once she has gone, and
// hand hygiene whenever no gloves are on ("extra hand hygiene never a fault": F45).
func TestHarmlessActsAreNeverABreach(t *testing.T) {
	const gone, bare = "check patient gone", "take off gloves"
	lib, p := builtIn(t)
	for _, id := range []string{"ordinary-turnover", "blood-on-the-machine"} {
		s, ok := lib.Scenario(id)
		require.True(t, ok)
		head, lines := parts(t, s.Model)
		for at := range len(lines) + 1 {
			harmless := [][]string{
				{"look at station"}, {"look at chair"}, {"wait"}, {"alarm", "pause", "resume"}, {"prompted"},
				{"helper rub hands"}, {"helper put on gloves"}, {"helper look at station"},
			}
			if slices.Contains(lines[:at], gone) {
				harmless = append(harmless, []string{"patient comes back", "patient leaves"}, []string{gone})
			}
			on, off := lastOf(lines[:at], "put on gloves"), lastOf(lines[:at], bare)
			if on <= off {
				harmless = append(harmless, []string{"rub hands 30s"}, []string{"wash hands 40s", "rub hands 20s"})
			}
			for _, acts := range harmless {
				told := missed(t, p, head, slices.Insert(slices.Clone(lines), at, acts...))
				require.Empty(t, told, "%s: %v as line %d", id, acts, at)
			}
		}
	}
}

// lastOf is the last place of a line, -1 for none.
func lastOf(lines []string, text string) int {
	for i := len(lines) - 1; i >= 0; i-- {
		if lines[i] == text {
			return i
		}
	}
	return -1
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
