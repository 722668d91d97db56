package rules_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
)

// edit changes the act lines of a log.
type edit func(t *testing.T, lines []string) []string

// at finds the nth line (from 1) with a text.
func at(t *testing.T, lines []string, text string, nth int) int {
	t.Helper()
	for i, l := range lines {
		if l == text {
			if nth--; nth == 0 {
				return i
			}
		}
	}
	require.FailNow(t, "the model log has no such line", "%q", text)
	return -1
}

func drop(text string, nth int) edit {
	return func(t *testing.T, lines []string) []string {
		i := at(t, lines, text, nth)
		return slices.Delete(slices.Clone(lines), i, i+1)
	}
}

func before(text string, nth int, add ...string) edit {
	return func(t *testing.T, lines []string) []string {
		return slices.Insert(slices.Clone(lines), at(t, lines, text, nth), add...)
	}
}

func after(text string, nth int, add ...string) edit {
	return func(t *testing.T, lines []string) []string {
		return slices.Insert(slices.Clone(lines), at(t, lines, text, nth)+1, add...)
	}
}

func swap(text, with string) edit {
	return func(t *testing.T, lines []string) []string {
		lines = slices.Clone(lines)
		lines[at(t, lines, text, 1)] = with
		return lines
	}
}

func all(edits ...edit) edit {
	return func(t *testing.T, lines []string) []string {
		for _, e := range edits {
			lines = e(t, lines)
		}
		return lines
	}
}

// wrong is a log that breaks one thing of a right one.
type wrong struct {
	rule, name string
	edit       edit
	also       []string
}

// mutations break one thing in the model of an ordinary turnover. Besides its
// rule, each gives exactly the findings in also; every entry there is argued.
var mutations = []wrong{
	{"patient-ready", "the check of the patient left out", drop("check patient stable", 1), nil},
	{"patient-ready", "checked after the patient was helped out", all(drop("check patient stable", 1), after("help patient out", 1, "check patient stable")), nil},
	{"hands-before-patient", "the first hand hygiene left out", drop("rub hands 20s", 1), nil},
	// That the patient was seen gone is proof of it (she may walk out alone), so the look has to go as well, which the order asks for before
	// the staging surface. What was wiped while she sat beside it is not disinfected, and she is there when the station is declared ready.
	{"patient-away", "the patient never leaves", all(drop("help patient out", 1), drop("check patient gone", 1)), []string{"declared-order", "ready-empty"}},
	{"patient-away", "the patient cannot leave, and nobody waits", all(drop("help patient out", 1), before("check patient gone", 1, "patient cannot leave")), []string{"declared-order", "ready-empty"}},
	{"torn-down-first", "waste thrown away after the bucket was wiped",
		all(drop("discard disposables in waste-bin", 1), after("set bucket at drying-place", 1, "discard disposables in waste-bin")), nil},
	{"torn-down-first", "reusable things never set apart", drop("set reusables at soiled-tray", 1), nil},
	// The clinic's order asks for an empty bucket as well.
	{"torn-down-first", "the bucket wiped full", drop("empty bucket in drain", 1), []string{"declared-order"}},
	// What is in the wrong container is not out of the way.
	{"leakproof", "the lines into the waste bin", swap("discard lines in leakproof-container", "discard lines in waste-bin"), []string{"torn-down-first"}},
	// The order wants it emptied into a drain before it is wiped.
	{"bucket-drain", "the bucket into the waste bin", swap("empty bucket in drain", "empty bucket in waste-bin"), nil},
	// In the wrong bin they are not out of the way.
	{"sharps", "needles into the waste bin", before("take off lines", 1, "take out needles", "discard needles in waste-bin"), []string{"torn-down-first"}},
	{"sharps", "a needle capped", before("take off lines", 1, "take out needles", "recap needles", "put needles in sharps"), nil},
	// The clinic's order asks for the look as well.
	{"looked-first", "nobody looks for blood", drop("look at station", 1), []string{"declared-order"}},
	// Blood that nobody cleans off stays to the end.
	{"soil-first", "blood wiped over", before("check patient stable", 1, "blood on front"), []string{"every-surface:front"}},
	{"right-product", "blood disinfected with a low-level product",
		before("take off gloves", 2, "blood on front", "take wipe x1 of blood-wipe", "clean front", "drop wipe"), nil},
	{"right-product", "a wipe past its date", swap("take wipe w5 of station-wipe", "take wipe w5 of old-wipe"), nil},
	{"wipe-fit", "a dropped wipe picked up", after("wipe left", 1, "drop wipe", "wipe left with w5"), nil},
	// Fresh gloves were never put on, so there is nothing to take off later: that is a note, since the bare hands are told.
	{"gloved", "no gloves for tear-down", drop("put on gloves", 2), nil},
	// Bare hands on a used counter.
	{"hands-after-gloves", "something touched before hand hygiene", after("take off gloves", 1, "touch counter"), []string{"gloved"}},
	// The new gloves go on over the same unclean hands.
	{"hands-after-gloves", "gloves changed without hand hygiene", drop("rub hands 20s", 4), []string{"hands-before-gloves"}},
	{"hands-before-gloves", "the hand hygiene after the patient left out", drop("rub hands 20s", 2), nil},
	{"hands-long-enough", "a rub of five seconds", swap("rub hands 20s", "rub hands 5s"), nil},
	// No soap ever comes, so they are soiled to the end.
	{"soap-for-soil", "soiled hands rubbed", before("rub hands 20s", 4, "hands soiled"), []string{"hands-at-end"}},
	{"fresh-gloves", "tear-down gloves kept for the bucket",
		all(drop("take off gloves", 2), drop("rub hands 20s", 4), drop("put on gloves", 3)), nil},
	{"fresh-gloves", "bucket gloves kept for the machine",
		all(drop("take off gloves", 3), drop("rub hands 20s", 5), drop("put on gloves", 4)), nil},
	// Going from supplies to tear-down in the same gloves is clean to dirty, and no mutation: see gloves-supplies-to-tear-down.log.
	{"fresh-gloves", "the phone answered in the middle of the machine", before("wipe left", 1, "touch phone"), nil},
	// So does it ask for eye protection before lines come off.
	{"ppe-order", "no eye protection at all", all(drop("put on eye-protection", 1), drop("take off eye-protection", 1), drop("disinfect eye-protection", 1)), []string{"declared-order"}},
	{"ppe-order", "no gown", all(drop("put on gown", 1), drop("take off gown", 1)), nil},
	{"ppe-order", "the gown put on over the gloves", all(drop("put on gown", 1), after("put on gloves", 2, "put on gown")), nil},
	{"shield-clean", "the shield left as it is", drop("disinfect eye-protection", 1), nil},
	// The clinic's order asks for the wiping as well.
	{"staging-wet", "the staging surface never wiped", drop("wipe staging", 1), []string{"declared-order"}},
	// Supplies somewhere else are not gathered where the order wants them.
	{"staging-wet", "supplies set on the counter", swap("bring supplies to staging", "bring supplies to counter"), []string{"declared-order"}},
	{"wet-long-enough", "supplies set down at once", drop("wait", 1), nil},
	// Nothing has had its time, the bucket neither.
	{"wet-long-enough", "no wait at the end", drop("wait", 2), []string{"bucket-dry"}},
	{"wet-long-enough", "one surface wiped after the wait", all(drop("wipe counter", 1), after("wait", 2, "wipe counter")), nil},
	{"wet-long-enough", "the screen towelled", after("wipe screen", 1, "wipe dry screen"), nil},
	{"every-surface", "never declared ready", drop("declare ready", 1), nil},
	{"every-surface", "the cuff left out", drop("wipe cuff", 1), nil},
	// A bucket with a used side is set with clean things, and put back.
	{"every-surface", "the bucket's sides left out", drop("wipe bucket-sides", 1), []string{"bucket-dry", "kept-apart"}},
	{"every-surface", "somebody sits in the finished chair", before("take off gloves", 4, "patient comes back", "patient sits", "patient leaves"), nil},
	{"one-face-one-wipe", "one wipe for both sides", drop("take wipe w6 of station-wipe", 1), nil},
	// The glove that touched the used chair is what spoils the screen; the next wipe with that glove is dirty work gone to clean.
	{"kept-apart", "the screen touched with used gloves", after("wipe right", 1, "touch chair", "touch screen"), []string{"every-surface:screen", "fresh-gloves"}},
	// It is the same wipe that goes from face to face, which is advice as well.
	{"kept-apart", "the top wiped again with another face's wipe", after("wipe left", 1, "wipe top"), []string{"one-face-one-wipe"}},
	// What goes where it may not is not out of the way, and it lies among clean things.
	{"items-leave-right", "unopened supplies taken back", swap("discard unopened-supplies in waste-bin", "set unopened-supplies at clean-area"), []string{"kept-apart"}},
	// Whoever takes it to the next station walks there in the gloves that are on.
	{"items-leave-right", "tape taken to the next station", after("look at station", 1, "set tape at neighbour-station"), []string{"gloves-stay"}},
	{"bucket-dry", "the bucket put back wet", all(drop("put bucket back", 1), before("wait", 2, "put bucket back")), nil},
	// On the tray for used things it is used again: not set aside, and not disinfected at the end.
	{"bucket-dry", "the finished bucket on the soiled tray", before("put bucket back", 1, "set bucket at soiled-tray"),
		[]string{"every-surface:bucket-inside", "every-surface:bucket-sides", "every-surface:bucket-outside"}},
	{"clean-last", "the next circuit brought before the wait", before("wait", 2, "bring next-set to staging"), nil},
	// She sits there to the end, and what she can reach is used again.
	{"clean-last", "the next patient seated before the wait", before("wait", 2, "seat next patient"),
		[]string{"ready-empty", "every-surface:chair", "every-surface:side-table", "every-surface:call-light", "every-surface:counter"}},
	{"ready-empty", "the patient back for her coat", before("declare ready", 1, "patient comes back"), nil},
	{"out-of-use", "tagged out of use and declared ready", before("declare ready", 1, "tag machine out of use"), nil},
	// The machine is declared ready with it.
	{"blood-leak", "a blood leak that nobody does anything about", before("check patient stable", 1, "blood leak"), []string{"out-of-use"}},
	// What the gloves touched outside nobody saw: they are used, and the machine is wiped with them.
	{"gloves-stay", "out of the station and back in gloves", after("wipe left", 1, "leave station", "come back"), []string{"fresh-gloves"}},
	{"isolation", "clamps of the isolation room", before("set reusables at soiled-tray", 1, "set isolation-clamps at soiled-tray"), nil},
	{"hands-at-end", "gloves kept on", all(drop("take off gloves", 5), drop("rub hands 20s", 8)), nil},
	{"hands-at-end", "no last hand hygiene", drop("rub hands 20s", 8), nil},
	{"declared-order", "supplies gathered after tear-down", all(drop("bring supplies to staging", 1), after("look at station", 1, "take off gloves", "rub hands", "bring supplies to staging", "put on gloves")), nil},
	{"declared-order", "the bucket never put back", drop("put bucket back", 1), nil},
	// The lines went into the container, so they were off: only that the taking off is missing is told.
	{"not-possible", "lines into the container while still on", drop("take off lines", 1), nil},
	{"not-possible", "hands rubbed in gloves", after("wipe top", 1, "rub hands"), nil},
}

// mutationsOf break right check logs of procedures that ask for what the frozen
// station does not, by log. Only the rules that the log is about are looked at.
var mutationsOf = map[string][]wrong{
	"end-of-day-whole": {
		{"end-of-day", "no internal disinfection", drop("start internal disinfection", 1), nil},
		// Waste that still lies there is in the way of the first wipe as well.
		{"end-of-day", "waste left for the night", drop("discard waste in bin", 1), []string{"torn-down-first"}},
	},
	"patient-free-just-long-enough": {
		{"patient-free", "a millisecond too soon", swap("11:00 seat next patient", "10:59.999 seat next patient"), nil},
	},
	"isolation-kept": {
		{"isolation", "the gown worn out of the room", drop("take off gown", 1), nil},
		// In the gloves that are on.
		{"isolation", "clamps taken out", swap("set room-clamps at tray", "set room-clamps at corridor"), []string{"gloves-stay"}},
	},
	"top-down-higher-first": {
		{"top-down", "the panel before the screen", drop("wipe screen", 1), nil},
	},
}

func TestMutationsOfTheModel(t *testing.T) {
	lib, p := builtIn(t)
	s, ok := lib.Scenario("ordinary-turnover")
	require.True(t, ok)
	head, model := parts(t, s.Model)
	fired := map[string]bool{}
	for _, m := range mutations {
		m.check(t, p, &checkLog{}, head, model)
		fired[m.rule] = true
	}
	procedures := loadProcedures(t)
	for name, list := range mutationsOf {
		text, other, _, _ := procedures.assessed(t, checks+"others/"+name+".log")
		c := readCheck(t, text)
		head, model := parts(t, text)
		for _, m := range list {
			m.check(t, other, &c, head, model)
			fired[m.rule] = true
		}
	}
	for _, name := range rules.Names() {
		require.True(t, fired[name], "no mutation fires %s", name)
	}
}

// parts are the header of a log and the lines after it.
func parts(t *testing.T, text string) (head string, lines []string) {
	t.Helper()
	witness := strings.Index(text, "\nwitness ") + 1
	require.Positive(t, witness)
	end := witness + strings.Index(text[witness:], "\n") + 1
	return text[:end], strings.Split(strings.TrimSpace(text[end:]), "\n")
}

func (m *wrong) check(t *testing.T, p *procedure.Procedure, c *checkLog, head string, model []string) {
	t.Run(m.rule+"/"+m.name, func(t *testing.T) {
		log, err := action.Parse("mutation", head+strings.Join(m.edit(t, model), "\n")+"\n", p.Words)
		require.NoError(t, err)
		result, err := rules.Assess(p, log, m.name)
		require.NoError(t, err)
		var further []string
		fired, advice := false, true
		for _, f := range result.Findings {
			switch {
			case f.Rule == m.rule:
				fired, advice = true, advice && f.Advice()
				continue
			case !c.looked(f.Rule):
				continue
			}
			name := f.Rule
			if f.Surface != "" && f.Rule == "every-surface" {
				name += ":" + f.Surface
			}
			if !slices.Contains(further, name) {
				further = append(further, name)
			}
		}
		require.True(t, fired, "%s did not fire", m.rule)
		require.ElementsMatch(t, m.also, further)
		require.Equal(t, !advice, misses(p, result, m.rule), "a breach costs a mark, and advice none")
	})
}

// misses reports whether a mark of a rule is missed.
func misses(p *procedure.Procedure, result *assess.Result, rule string) bool {
	for i, m := range p.MarkSheet.Marks {
		if m.Rule == rule && result.Marks.Lines[i].Status == assess.Missed {
			return true
		}
	}
	return false
}
