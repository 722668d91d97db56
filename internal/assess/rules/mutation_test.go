package rules_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess/rules"
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

// mutations break one thing in the model of an ordinary turnover. Besides its
// rule, each gives exactly the findings in also; every entry there is argued.
var mutations = []struct {
	rule, name string
	edit       edit
	also       []string
}{
	{"patient-ready", "the check of the patient left out", drop("check patient stable", 1), nil},
	{"patient-ready", "checked after the patient was helped out", all(drop("check patient stable", 1), after("help patient out", 1, "check patient stable")), nil},
	// The patient is there for all of it, so the look for an empty station cannot count either.
	{"patient-away", "the patient never leaves", drop("help patient out", 1), []string{"declared-order"}},
	{"torn-down-first", "waste thrown away after the bucket was wiped",
		all(drop("discard disposables in waste-bin", 1), after("set bucket at drying-place", 1, "discard disposables in waste-bin")), nil},
	{"torn-down-first", "reusable things never set apart", drop("set reusables at soiled-tray", 1), nil},
	// The clinic's order asks for an empty bucket as well.
	{"torn-down-first", "the bucket wiped full", drop("empty bucket in drain", 1), []string{"declared-order"}},
	// Blood that nobody cleans off stays to the end.
	{"soil-first", "blood wiped over", before("check patient stable", 1, "blood on front"), []string{"every-surface:front"}},
	// Fresh gloves were never put on, so there is nothing to take off later.
	{"gloved", "no gloves for tear-down", drop("put on gloves", 2), []string{"not-possible"}},
	{"hands-after-gloves", "something touched before hand hygiene", after("take off gloves", 1, "touch counter"), []string{"gloved"}},
	// The new gloves go on over the same unclean hands.
	{"hands-after-gloves", "gloves changed without hand hygiene", drop("rub hands 20s", 3), []string{"hands-before-gloves"}},
	{"hands-before-gloves", "the first hand hygiene left out", drop("rub hands 20s", 1), nil},
	{"fresh-gloves", "tear-down gloves kept for the bucket",
		all(drop("take off gloves", 2), drop("rub hands 20s", 3), drop("put on gloves", 3)), nil},
	{"fresh-gloves", "bucket gloves kept for the machine",
		all(drop("take off gloves", 3), drop("rub hands 20s", 4), drop("put on gloves", 4)), nil},
	{"fresh-gloves", "supply gloves kept for tear-down",
		all(drop("take off gloves", 1), drop("rub hands 20s", 2), drop("put on gloves", 2)), nil},
	{"wet-long-enough", "supplies set down at once", drop("wait", 1), nil},
	// Nothing has had its time, the bucket neither.
	{"wet-long-enough", "no wait at the end", drop("wait", 2), []string{"bucket-dry"}},
	{"wet-long-enough", "one surface wiped after the wait", all(drop("wipe counter", 1), after("wait", 2, "wipe counter")), nil},
	{"every-surface", "never declared ready", drop("declare ready", 1), nil},
	{"every-surface", "the cuff left out", drop("wipe cuff", 1), nil},
	// A bucket with a used side is set with clean things, and put back.
	{"every-surface", "the bucket's sides left out", drop("wipe bucket-sides", 1), []string{"bucket-dry", "kept-apart"}},
	// The glove that touched the used chair is what spoils the screen; the next
	// wipe with that glove is dirty work gone to clean.
	{"kept-apart", "the screen touched with used gloves", after("wipe right", 1, "touch chair", "touch screen"), []string{"every-surface:screen", "fresh-gloves"}},
	{"kept-apart", "the top wiped again with another face's wipe", after("wipe left", 1, "wipe top"), nil},
	{"kept-apart", "unopened supplies taken back", swap("discard unopened-supplies in waste-bin", "set unopened-supplies at clean-area"), []string{"torn-down-first"}},
	{"bucket-dry", "the bucket put back wet", all(drop("put bucket back", 1), before("wait", 2, "put bucket back")), nil},
	{"clean-last", "the next circuit brought before the wait", before("wait", 2, "bring next-set to staging"), nil},
	{"hands-at-end", "gloves kept on", all(drop("take off gloves", 4), drop("rub hands 20s", 5)), nil},
	{"hands-at-end", "no last hand hygiene", drop("rub hands 20s", 5), nil},
	{"declared-order", "supplies gathered after tear-down", all(drop("bring supplies to staging", 1), after("look at station", 1, "take off gloves", "rub hands", "bring supplies to staging", "put on gloves")), nil},
	{"declared-order", "nobody looks for blood", drop("look at station", 1), nil},
	{"declared-order", "the bucket never put back", drop("put bucket back", 1), nil},
	{"not-possible", "lines into the container while still on", drop("take off lines", 1), []string{"torn-down-first"}},
	{"not-possible", "hands rubbed in gloves", after("wipe top", 1, "rub hands"), nil},
}

func TestMutationsOfTheModel(t *testing.T) {
	lib, p := builtIn(t)
	s, ok := lib.Scenario("ordinary-turnover")
	require.True(t, ok)
	head, body := s.Model[:strings.Index(s.Model, "witness order\n")+len("witness order\n")], s.Model[strings.Index(s.Model, "witness order\n")+len("witness order\n"):]
	model := strings.Split(strings.TrimSpace(body), "\n")
	fired := map[string]bool{}
	for _, m := range mutations {
		t.Run(m.rule+"/"+m.name, func(t *testing.T) {
			text := head + strings.Join(m.edit(t, model), "\n") + "\n"
			log, err := action.Parse("mutation", text, p.Words)
			require.NoError(t, err)
			result, err := rules.Assess(p, log, m.name)
			require.NoError(t, err)
			var further []string
			own := false
			for _, f := range result.Findings {
				if f.Rule == m.rule {
					own = true
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
			require.True(t, own, "%s did not fire", m.rule)
			require.ElementsMatch(t, m.also, further)
			require.False(t, result.Marks.Score == 1, "a breach must cost marks")
			fired[m.rule] = true
		})
	}
	for _, name := range rules.Names() {
		require.True(t, fired[name], "no mutation fires %s", name)
	}
}
