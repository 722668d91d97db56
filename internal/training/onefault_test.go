package training_test

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/clinictest"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// work is what somebody does at a station, as cues of a run: how long each step takes and
// when a surface dries follows from the procedure, and whoever watches says what is seen.
type work []string

func (w work) at(t *testing.T, cue string, nth int) int {
	t.Helper()
	i, err := simulate.Place(w, cue, "", "", nth)
	require.NoError(t, err)
	return i
}

// change is one fault in somebody's work, or what is otherwise in another kind of it.
type change func(*testing.T, work) work

func leftOut(nth int, cues ...string) change {
	return func(t *testing.T, w work) work {
		i := w.at(t, cues[0], nth)
		require.Equal(t, work(cues), w[i:i+len(cues)])
		return slices.Delete(slices.Clone(w), i, i+len(cues))
	}
}

func putBefore(cue string, nth int, cues ...string) change {
	return func(t *testing.T, w work) work { return slices.Insert(slices.Clone(w), w.at(t, cue, nth), cues...) }
}

func putAfter(cue string, nth int, cues ...string) change {
	return func(t *testing.T, w work) work {
		return slices.Insert(slices.Clone(w), w.at(t, cue, nth)+1, cues...)
	}
}

func instead(cue string, nth int, of ...string) change {
	return func(t *testing.T, w work) work {
		i := w.at(t, cue, nth)
		return slices.Replace(slices.Clone(w), i, i+1, of...)
	}
}

func both(changes ...change) change {
	return func(t *testing.T, w work) work {
		for _, c := range changes {
			w = c(t, w)
		}
		return w
	}
}

// kindOfWork is a faultless work that begins with the turnover against the clock.
type kindOfWork struct {
	competency string
	begins     string // scenario whose model it is, "" for the turnover's
	is         change
}

var kindsOfWork = map[string]kindOfWork{
	"turnover":   {competency: turnover},
	"isolation":  {competency: "isolation"},
	"end of day": {competency: "end-of-day", begins: "end-of-day-by-the-clock"},
	// Needles are taken out in the chair, in gloves of their own, and go straight into their box.
	"needles": {competency: turnover, is: putAfter("check-stable", 1, "rub-hands", "gloves-on", "needles-out", "needles-to-sharps", "gloves-off", "rub-hands")},
	// The look finds blood on the chair. It is cleaned off before anything is disinfected, in gloves that are changed after it, and
	// the chair is disinfected with the product that claims blood, whose label asks for longer than it stays wet: so twice.
	"blood": {competency: turnover, is: both(
		putBefore("look", 1, "blood-chair"), putAfter("look", 1, "take-blood-wipe", "clean-chair"),
		func(t *testing.T, w work) work {
			i := w.at(t, "wipe-chair", 1)
			return slices.Replace(slices.Clone(w), i-1, i, "take-blood-wipe")
		},
		putAfter("wipe-counter", 1, "take-blood-wipe", "wipe-chair", "until-reached:chair"))},
	// Blood got into the machine: it stays out of use, whatever is clean outside, and nobody calls it ready.
	"leak": {competency: turnover, is: both(
		putBefore("look", 1, "blood-leak"), putAfter("rub-hands", 4, "tag-out", "report", "start-internal"), leftOut(1, "declare-ready"))},
	// When all is seen dry and its interval is over the next patient sits down.
	"next patient": {competency: turnover, is: putAfter("declare-ready", 1, "+900s", "wait", "seat-next", "rub-hands")},
}

// oneFault is a faultless work with one fault of a rule. also are findings of other rules
// that the same fault cannot but break, each with the reason.
type oneFault struct {
	rule, fault string
	of          string // kind of work, "" for the turnover
	is          change
	short       int    // number of the cleaning of hands that lasts 5 seconds
	at          string // the act at which it is told, "the end" for none
	also        []alsoTold
}

type alsoTold struct{ rule, at, why string }

const (
	ready    = "declare ready"
	theEnd   = "the end"            // nothing of the log: what can still be made good until then
	firstOne = "wipe bucket-inside" // the first wiping that is no preparing
)

var oneFaultEach = []oneFault{
	{rule: "patient-ready", fault: "nobody checks the patient before helping her out", is: leftOut(1, "check-stable"), at: "help patient out"},
	{rule: "hands-before-patient", fault: "hands are not cleaned on coming to the patient", is: leftOut(1, "rub-hands"), at: "check patient stable"},
	{rule: "patient-away", fault: "she comes back for her coat, and the wiping goes on beside her",
		is: both(putAfter("wipe-left", 1, "patient-back"), putAfter("wipe-right", 1, "patient-leaves")), at: "wipe right"},
	{rule: "patient-free", fault: "the next patient sits down as soon as it is ready", of: "next patient", is: leftOut(1, "+900s"), at: "seat next patient"},
	{rule: "torn-down-first", fault: "clamps are set apart only after the bucket was wiped",
		is: both(leftOut(1, "set-apart"), putAfter("bucket-aside", 1, "set-apart")), at: firstOne},
	{rule: "leakproof", fault: "lines and dialyzer into the waste bin", is: instead("discard-circuit", 1, "circuit-to-waste"), at: "discard lines in waste-bin",
		also: []alsoTold{{"leakproof", "discard dialyzer in waste-bin", "One tap is of two things; each lies in the wrong bin, and each has to be got out of it."},
			{"torn-down-first", firstOne, "The checklist has them in a leak-proof container before the first wipe, and in the bin they are in none."}}},
	{rule: "bucket-drain", fault: "the bucket emptied into the waste bin", is: instead("bucket-empty", 1, "bucket-to-waste"), at: "empty bucket in waste-bin"},
	{rule: "sharps", fault: "a needle is capped", of: "needles", is: putBefore("needles-to-sharps", 1, "recap"), at: "recap needles"},
	{rule: "looked-first", fault: "nobody looks for blood", is: leftOut(1, "look"), at: firstOne},
	{rule: "soil-first", fault: "blood is wiped over, seen then, and only then cleaned off", of: "blood", is: both(
		leftOut(1, "take-blood-wipe", "clean-chair"),
		putAfter("wipe-chair", 1, "fresh-wipe", "wipe-pole", "take-blood-wipe", "clean-chair", "gloves-off", "rub-hands", "gloves-on", "take-blood-wipe", "wipe-chair")), at: "wipe chair"},
	{rule: "right-product", fault: "the chair that had blood on it is disinfected with the everyday wipe", of: "blood",
		is: both(instead("take-blood-wipe", 2, "take-station-wipe"), instead("take-blood-wipe", 2, "take-station-wipe")),
		at: "wipe chair #2"}, // the right product would have put it right then
	{rule: "wipe-fit", fault: "the latches are wiped with a spent wipe first, then with a fresh one",
		is: both(putBefore("wipe-latches", 1, "wipe-spent"), putAfter("wipe-latches", 1, "fresh-wipe", "wipe-latches")), at: "wipe latches"},
	{rule: "gloved", fault: "no gloves for tear-down", is: both(leftOut(2, "gloves-on"), leftOut(2, "gloves-off")), at: "take off lines"},
	{rule: "hands-after-gloves", fault: "the phone answered between gloves and hand rub", is: putAfter("gloves-off", 3, "touch-phone"), at: "touch phone"},
	{rule: "hands-before-gloves", fault: "no hand hygiene between the patient and the gloves", is: leftOut(2, "rub-hands"), at: "put on gloves"},
	{rule: "hands-long-enough", fault: "the first rub lasts five seconds", short: 1, at: "rub hands 5s"},
	{rule: "soap-for-soil", fault: "soiled hands are rubbed, and washed only the next time",
		is: both(putBefore("rub-hands", 4, "hands-soiled"), instead("rub-hands", 5, "wash-hands")), at: "rub hands 20s #4"},
	{rule: "fresh-gloves", fault: "the gloves of tear-down stay on for the bucket", is: leftOut(2, "gloves-off", "rub-hands", "gloves-on"), at: firstOne},
	{rule: "ppe-order", fault: "the gown goes on over the gloves", is: both(leftOut(1, "gown-on"), putAfter("gloves-on", 2, "gown-on")), at: "put on gown"},
	{rule: "shield-clean", fault: "the eye protection is left as it is", is: leftOut(1, "eyes-away"), at: theEnd},
	{rule: "staging-wet", fault: "the staging surface is not wiped", is: leftOut(1, "fresh-wipe", "wipe-staging", "until-reached:staging"), at: "bring supplies to staging",
		also: []alsoTold{{"declared-order", "bring supplies to staging", "The clinic has made “wipe the staging surface, then bring supplies” a pair of its own order."}}},
	{rule: "wet-long-enough", fault: "the pole, which dries soonest, is not wiped again", is: leftOut(10, "fresh-wipe", "wipe-pole"), at: ready},
	{rule: "every-surface", fault: "the cuff is left out", is: leftOut(1, "wipe-cuff"), at: ready},
	{rule: "one-face-one-wipe", fault: "the wipe of the left side goes on to the right side", is: leftOut(6, "fresh-wipe"), at: "wipe right"},
	{rule: "top-down", fault: "the front panel before the screen above it", is: both(leftOut(1, "wipe-front"), putBefore("wipe-controls", 1, "wipe-front")), at: "wipe screen"},
	{rule: "kept-apart", fault: "gloves that were on the used chair touch the screen, which is then done again with fresh ones",
		is: putBefore("fresh-wipe", 7, "touch-chair", "touch-screen", "gloves-off", "rub-hands", "gloves-on", "fresh-wipe", "wipe-controls"), at: "touch screen"},
	{rule: "items-leave-right", fault: "unopened supplies go back to the clean area at first", is: putBefore("discard-supplies", 1, "return-unopened"), at: "set unopened-supplies at clean-area",
		also: []alsoTold{{"kept-apart", "set unopened-supplies at clean-area", "What is used lies among clean things there, which is a danger of its own: whoever takes from there takes it along."}}},
	{rule: "bucket-dry", fault: "the bucket is put back before it has had its time", is: both(leftOut(1, "bucket-back"), putAfter("wipe-top", 1, "bucket-back")), at: "put bucket back"},
	{rule: "clean-last", fault: "things for the next patient come while the last surfaces are wet", is: putBefore("until-reached:counter", 1, "bring-next"), at: "bring next-set to staging"},
	{rule: "ready-empty", fault: "she comes back for her coat, and it is called ready", is: putBefore("declare-ready", 1, "patient-back"), at: ready},
	{rule: "out-of-use", fault: "the machine is tagged, and called ready", is: putBefore("rub-hands", 7, "tag-out"), at: ready},
	{rule: "blood-leak", fault: "nobody is told of the blood leak", of: "leak", is: leftOut(1, "report"), at: theEnd},
	{rule: "gloves-stay", fault: "out of the station in gloves, before they come off", is: putBefore("gloves-off", 3, "leave", "come-back"), at: "leave station"},
	{rule: "isolation", fault: "the gown is worn out of the room", of: "isolation", is: both(leftOut(1, "gown-off"), putAfter("declare-ready", 1, "leave")), at: "leave station"},
	{rule: "end-of-day", fault: "the floor is not handed over", of: "end of day", is: leftOut(1, "hand-over-floor"), at: ready},
	{rule: "hands-at-end", fault: "no last hand hygiene", is: leftOut(7, "rub-hands"), at: theEnd},
	{rule: "declared-order", fault: "the bucket is not put back", is: leftOut(1, "bucket-back"), at: ready},
	{rule: "not-possible", fault: "hands are rubbed in gloves", is: putAfter("wipe-top", 1, "rub-hands"), at: "rub hands 20s #6"},
}

// taps is the work as the recorder sends it: each step when it is finished, hands timed by
// two taps, and what is seen of surfaces.
func taps(t *testing.T, p *procedure.Procedure, s *simulate.Scenario, w work, short int) (all []training.Watched) {
	t.Helper()
	played, tapped, err := simulate.Play(p, s, w)
	require.NoError(t, err)
	finished := make([]action.Millis, len(tapped))
	for i, from := range played.From {
		if from >= 0 {
			finished[from] = max(finished[from], played.Log.Acts[i].At)
		}
	}
	for i, from := range played.From { // a step is one tap
		if from >= 0 {
			played.Log.Acts[i].At = finished[from]
		}
	}
	slices.SortStableFunc(played.Log.Acts, func(a, b action.Act) int { return cmp.Compare(a.At, b.At) })
	add := func(at action.Millis, a training.Watched) {
		a.AtMs = int64(at)
		a.Key = fmt.Sprintf("the-tap-%06d", len(all)+1)
		all = append(all, a)
	}
	add(0, training.Watched{Text: "watching from connected"})
	cleanings := 0
	for i, tap := range tapped {
		verb := p.Steps[p.StepIndex(tap.Step)].Acts[0]
		if verb.Verb != action.RubHands && verb.Verb != action.WashHands {
			add(finished[i], training.Watched{Step: tap.Step})
			continue
		}
		cleanings++
		if cleanings == short {
			verb.Millis = 5000
		}
		begun := finished[i] - action.Millis(p.Steps[p.StepIndex(tap.Step)].Seconds)*1000
		add(begun, training.Watched{Step: tap.Step})
		over := begun + verb.Millis
		add(over, training.Watched{Undo: all[len(all)-1].Key})
		add(over, training.Watched{Step: tap.Step, Text: verb.Text()})
	}
	for _, a := range simulate.Watched(p, played.Log) {
		if a.Verb == action.StillWet || a.Verb == action.Dry {
			add(a.At, training.Watched{Text: a.Text()})
		}
	}
	slices.SortStableFunc(all, func(a, b training.Watched) int { return cmp.Compare(a.AtMs, b.AtMs) })
	for i := range all {
		all[i].N = i + 1
	}
	return all
}

// faultless is the work of a kind, with what it is done by.
func (w *world) faultless(kind string) (k kindOfWork, p *procedure.Procedure, s *simulate.Scenario, cues work) {
	t := w.T.(*testing.T)
	k = kindsOfWork[cmp.Or(kind, "turnover")]
	s, _ = w.Scenario(cmp.Or(k.begins, "against-the-clock"))
	cues = simulate.CuesOf(s.Model)
	if k.is != nil {
		cues = k.is(t, cues)
	}
	for _, c := range w.Library.Competencies() {
		if c.ID == k.competency {
			p, _ = w.Library.Procedure(c.Procedure)
		}
	}
	require.NotNil(t, p, kind)
	free := *s // whoever is watched may do whatever the procedure knows
	free.Steps = nil
	for i := range p.Steps {
		free.Steps = append(free.Steps, p.Steps[i].ID)
	}
	return k, p, &free, cues
}

// judged sends the taps of a work, as a tablet does, and gives the log's acts and what
// was found.
func (w *world) judged(k kindOfWork, all []training.Watched) (acts []action.Act, r assess.Result) {
	w.T.Helper()
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, k.competency, "station-wipe")
	require.NoError(w.T, err)
	for some := range slices.Chunk(all, 40) {
		as, why := w.batch(d.ID, "tablet-one", some...)
		require.NotContains(w.T, as, training.KeptRefused, why)
	}
	d, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, all[len(all)-1].AtMs, "", training.LastOf{Device: "tablet-one", N: len(all)})
	require.NoError(w.T, err)
	require.NoError(w.T, json.Unmarshal(d.ResultJSON, &r))
	p, _ := w.Library.Procedure(d.Procedure)
	log, err := action.Parse("watched", d.Log, p.Words)
	require.NoError(w.T, err)
	return log.Acts, r
}

// foundAt are the findings as “rule at act”, the act with its number among those that read
// the same where it is not the first.
func foundAt(acts []action.Act, r assess.Result) (all []string) {
	for _, f := range r.Findings {
		at := theEnd
		if f.Act > 0 {
			at = acts[f.Act-1].Text()
			nth := 0
			for i := range acts[:f.Act] {
				if acts[i].Text() == at {
					nth++
				}
			}
			if nth > 1 {
				at += fmt.Sprintf(" #%d", nth)
			}
		}
		all = append(all, f.Rule+" at "+at)
	}
	return all
}

// demoLike is a clinic that works by the built-in set, in which what rests on custom was
// confirmed as the demo clinic's educator does, and which asks for a time between
// patients.
func demoLike(t *testing.T) *world {
	files := scenarios.BuiltIn().Map()
	for name, put := range map[string][2]string{
		"between-patients.procedure.yaml": {"settings:\n", "settings:\n  patient_free_s: 1200\n"},
		"patient.parts.yaml":              {"marks:\n", "marks:\n  - {id: patient-free, title: Free of patients for long enough, rule: patient-free, worth: 3, critical: false}\n"},
	} {
		require.Equal(t, 1, strings.Count(string(files[name]), put[0]))
		files[name] = []byte(strings.Replace(string(files[name]), put[0], put[1], 1))
	}
	set, err := scenarios.SetOf(files)
	require.NoError(t, err)
	lib, err := set.Load()
	require.NoError(t, err)
	return openWorld(t, clinictest.Options{Library: lib.Confirmed("Edda Invented", "2026-01-05")}).staff()
}

func TestFaultlessWorkIsFaultless(t *testing.T) {
	w := demoLike(t)
	for kind := range kindsOfWork {
		k, p, s, cues := w.faultless(kind)
		acts, r := w.judged(k, taps(t, p, s, cues, 0))
		require.Empty(t, foundAt(acts, r), kind)
		require.Equal(t, assess.Pass, r.Marks.Result, "%s: %+v", kind, r.NotAssessed)
	}
}

// One fault of each rule in work that is otherwise faultless: that finding at that act, and
// no other.
func TestOneFaultIsOneFinding(t *testing.T) {
	w := demoLike(t)
	done := map[string]bool{}
	for _, f := range oneFaultEach {
		done[f.rule] = true
		t.Run(f.rule, func(t *testing.T) {
			k, p, s, cues := w.faultless(f.of)
			if f.is != nil {
				cues = f.is(t, cues)
			}
			want := []string{f.rule + " at " + f.at}
			for _, a := range f.also {
				require.NotEmpty(t, a.why)
				want = append(want, a.rule+" at "+a.at)
			}
			acts, r := w.judged(k, taps(t, p, s, cues, f.short))
			require.ElementsMatch(t, want, foundAt(acts, r), "%+v", r.Findings)
			for i := range r.Findings {
				require.Equal(t, soft(f.rule), r.Findings[i].Advice(), "what the clinic has confirmed is a breach")
			}
		})
	}
	for _, name := range rules.Names() {
		require.True(t, done[name], "no fault of %s: add a row to oneFaultEach", name)
	}
}

// soft reports whether a rule only ever advises.
func soft(name string) bool {
	return slices.ContainsFunc(rules.All, func(r *assess.Rule) bool { return r.Name == name && r.Soft })
}

// A reason speaks of what happened: nobody sat down where nobody had left, no blood is in a
// machine that was tagged for something else, and no step is missing where hands were rubbed
// in gloves.
func TestReasonsFitWhatHappened(t *testing.T) {
	w := demoLike(t)
	for _, c := range []struct {
		rule        string
		is          change
		says, never string
	}{
		{"ready-empty", both(leftOut(1, "help-out"), leftOut(1, "check-gone")), "See the patient out first.", "sat down"},
		{"ready-empty", putBefore("declare-ready", 1, "patient-back"), "See the station empty", "See the patient out first."},
		{"out-of-use", putBefore("rub-hands", 7, "tag-out"), "Whoever put the tag on had a reason.", "Blood"},
		{"not-possible", putAfter("wipe-top", 1, "rub-hands"), "Take the gloves off, then rub or wash", "missing"},
		{"not-possible", leftOut(1, "lines-off"), "the used blood lines cannot be done here: still on the machine.", "it was"},
		{"wet-long-enough", both(leftOut(1, "until-reached:counter", "bucket-back"), leftOut(1, "declare-ready")), "when the work ended", "log"},
	} {
		k, p, s, cues := w.faultless("")
		_, r := w.judged(k, taps(t, p, s, c.is(t, cues), 0))
		i := slices.IndexFunc(r.Findings, func(f assess.Finding) bool { return f.Rule == c.rule })
		require.GreaterOrEqual(t, i, 0, c.rule)
		text := strings.Join([]string{r.Findings[i].Message, r.Findings[i].Why, r.Findings[i].Next}, " ")
		require.Contains(t, text, c.says)
		require.NotContains(t, text, c.never)
	}
}
