package views

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

func seconds(s float64) *float64 { return &s }

func resultWith(findings ...assess.Finding) Result {
	return Result{
		Result:    &assess.Result{Findings: findings, Marks: assess.Marks{Met: 6, Missed: 4, Score: .6, Cut: .9, Result: assess.NotPass}},
		Log:       &action.Log{Witness: action.Order | action.Clock, Acts: []action.Act{{Number: 1}, {Number: 2}, {Number: 3, At: 180_000}}},
		Procedure: &procedure.Procedure{},
	}
}

func TestWorstFindingsComeFirst(t *testing.T) {
	r := resultWith(
		assess.Finding{Rule: "end", Act: 0, Critical: true}, assess.Finding{Rule: "soft", Act: 1},
		assess.Finding{Rule: "late", Act: 3, Critical: true}, assess.Finding{Rule: "early", Act: 2, Critical: true},
	)
	var order []string
	for i, f := range r.findings() {
		require.Equal(t, string(rune('1'+i)), f.No)
		order = append(order, f.Rule)
	}
	require.Equal(t, []string{"early", "late", "end", "soft"}, order)
}

// Three findings stand open: they should say three things, not one thing of
// three surfaces.
func TestFindingsOfOneRuleMakeRoomForOthers(t *testing.T) {
	r := resultWith(
		assess.Finding{Rule: "wet", Surface: "a", Act: 1, Critical: true}, assess.Finding{Rule: "wet", Surface: "b", Act: 1, Critical: true, Message: "another thing: b"},
		assess.Finding{Rule: "hands", Act: 3, Critical: true}, assess.Finding{Rule: "order", Act: 1}, assess.Finding{Rule: "wet", Surface: "c", Act: 2},
	)
	var order []string
	for _, f := range r.findings() {
		order = append(order, f.Rule+f.Surface)
	}
	require.Equal(t, []string{"weta", "hands", "wetb", "order", "wetc"}, order)
}

// Twelve surfaces left out are one thing to learn, with one number everywhere.
func TestTheSameOfSeveralSurfacesIsOneFinding(t *testing.T) {
	left := func(surface string) assess.Finding {
		return assess.Finding{Rule: "every", Surface: surface, Act: 3, Message: "Not wiped: " + surface + "."}
	}
	r := resultWith(left("pole"), left("cuff"), assess.Finding{Rule: "every", Surface: "chair", Act: 3, Message: "Dirtied again: chair.", Chain: []string{"x"}})
	list := r.findings()
	require.Len(t, list, 2)
	require.Equal(t, "Not wiped: pole; cuff.", r.message(list[0]))
	require.Equal(t, []string{"1"}, at(list, "cuff"))
	require.Equal(t, []string{"2"}, at(list, "chair"))
	require.Empty(t, at(list, ""))
	require.Equal(t, "Not passed yet: 2 breaches.", r.sentence())
}

func TestResultInOneSentence(t *testing.T) {
	critical, soft, advice := assess.Finding{Critical: true}, assess.Finding{}, assess.Finding{Rule: "custom", Level: assess.AdviceLevel}
	for want, r := range map[string]Result{
		"Not passed yet: 1 breach, a critical one.":                                                resultWith(critical),
		"Not passed yet: 2 breaches, both critical.":                                               resultWith(critical, critical),
		"Not passed yet: 3 breaches, 1 of them critical.":                                          resultWith(critical, soft, soft),
		"Not passed yet: 1 breach.":                                                                resultWith(soft),
		"Passed, with nothing to change: 6 of 10 marks.":                                           outcome(resultWith(), assess.Pass),
		"Passed with 6 of 10 marks, and 1 breach to mend.":                                         outcome(resultWith(soft, advice), assess.Pass),
		"Passed without a breach: 6 of 10 marks, and 1 piece of advice.":                           outcome(resultWith(advice), assess.Pass),
		"Incomplete: something that must be seen could not be assessed.":                           outcome(resultWith(advice), assess.Incomplete),
		"Incomplete: something that must be seen could not be assessed, and there are 2 breaches.": outcome(resultWith(soft, soft), assess.Incomplete),
	} {
		require.Equal(t, want, r.sentence())
	}
}

func outcome(r Result, o assess.Outcome) Result {
	r.Result.Marks.Result = o
	return r
}

func TestFindingsOfOneMomentShareAMark(t *testing.T) {
	r := resultWith(
		assess.Finding{Act: 1, AtS: seconds(10), Surface: "pole"}, assess.Finding{Act: 2, AtS: seconds(11), Surface: "pole"},
		assess.Finding{Act: 3, AtS: seconds(150), Surface: "pole"}, assess.Finding{Act: 3, AtS: seconds(10), Surface: "not-wiped"},
		assess.Finding{Act: 3},
	)
	r.Spells = []assess.SurfaceSpells{{Surface: "pole", NeedMs: 120_000, Spells: []assess.Spell{{From: 0, To: 100_000}}}}
	l := r.timeline(r.findings())
	require.Len(t, l.Tracks, 2, "that of the hands is empty and left out")
	require.Len(t, l.Tracks[0].Marks, 1, "a finding without a time has no place on it")
	require.Len(t, l.Tracks[1].Marks, 2)
	require.Equal(t, []string{"1", "2"}, l.Tracks[1].Marks[0].Nos)
	require.Equal(t, "Numbers 1, 2", l.Tracks[1].Marks[0].title())
}

func TestASpellIsOnlyLongWhenTheLogTellsIt(t *testing.T) {
	r := resultWith()
	r.Log.Acts = append(r.Log.Acts, action.Act{Number: 4, At: 600_000})
	x := assess.SurfaceSpells{NeedMs: 120_000}
	require.Equal(t, StateEarly, r.stateOf(x, assess.Spell{From: 0, To: 119_999}))
	require.Equal(t, StateReached, r.stateOf(x, assess.Spell{From: 0, To: 120_000}), "who watches sees it wet, not how it dries")
	r.Log.Witness |= action.Drying
	require.Equal(t, StateDry, r.stateOf(x, assess.Spell{From: 0, To: 120_000}))
	require.Equal(t, StateReached, r.stateOf(x, assess.Spell{From: 0, To: 600_000}), "wet at the end")
	x.Spells, x.Early = []assess.Spell{{From: 0, To: 200_000}, {From: 300_000, To: 500_000}}, true
	require.Equal(t, StateDry, r.stateOf(x, x.Spells[0]), "an earlier one")
	require.Equal(t, StateEarly, r.stateOf(x, x.Spells[1]), "it was used before its time, though it stayed wet")
	require.Equal(t, "no: it was used before its time was over", longText(r, x, x.Spells[1]))
	x.Unknown = true
	require.Equal(t, StateUnseen, r.stateOf(x, assess.Spell{From: 0, To: 500_000}))
}

func TestEveryVerbHasWords(t *testing.T) {
	p := &procedure.Procedure{}
	for v := action.CheckStable; v.String() != "?"; v++ {
		text := ActWords(p, action.Act{Verb: v, Object: "screen", Place: "drain", With: "w2", Of: "wipe", Millis: 20_000, Undoes: 4})
		require.NotEmpty(t, text, v.String())
		require.NotContains(t, text, "{", v.String())
	}
	require.Equal(t, "Rub hands with hand rub for 20 s", ActWords(p, action.Act{Verb: action.RubHands, Millis: 20_000}))
	require.Equal(t, "Wipe: screen (wipe 2)", ActWords(p, action.Act{Verb: action.Wipe, Object: "screen", With: "w2"}))
}

func TestDaysInWords(t *testing.T) {
	f := Frame{Today: "2026-03-02"}
	for d, want := range map[training.Day]string{
		"2026-03-02": "today", "2026-03-03": "tomorrow", "2026-03-01": "yesterday", "2026-04-01": "in 30 days", "2025-03-02": "365 days ago", "": "",
	} {
		require.Equal(t, want, f.until(d), string(d))
	}
}

// Remarks and indentation of a sheet are not served; nothing but them may go. A script is
// served with all that it imports, so that a page asks for one.
func TestWhatIsServedIsLighterAndTheSame(t *testing.T) {
	require.Equal(t, ".a { b: c; }\n", string(lighter([]byte("/* one\n   two */\n.a { b: c; }\n"))))
	sources, err := filepath.Glob("static/js/*.js")
	require.NoError(t, err)
	require.NotEmpty(t, sources)
	for _, source := range sources {
		name := filepath.Base(source)
		if name == "sw.js" {
			continue // it is served from the root
		}
		f, ok := Static(urls[name])
		require.True(t, ok, "%s: run make generate", name)
		require.NotRegexp(t, `(?m)(^|;)import[ {*"]`, string(f.Body), name)
	}
}

func TestStaticFilesStandInOneFolder(t *testing.T) {
	require.Contains(t, urls, "app.css")
	folder, _, _ := strings.Cut(urls["app.css"], "app.css")
	for name, url := range urls {
		require.Equal(t, folder+name, url, "a sheet finds its letters by a relative address")
		f, ok := Static(url)
		require.True(t, ok)
		require.NotEmpty(t, f.Type, name)
	}
}
