package scenarios_test

import (
	"io/fs"
	"maps"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

func TestBuiltInSetLoads(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	kinds := map[simulate.Kind]int{}
	for _, s := range lib.Scenarios() {
		kinds[s.Kind]++
	}
	require.GreaterOrEqual(t, kinds[simulate.BuildOrder], 2)
	require.GreaterOrEqual(t, kinds[simulate.TimedRun], 1)
	require.NotEmpty(t, lib.Competencies())
}

// files is the built-in set with some files changed.
func files(t *testing.T, change map[string]func(string) string) fstest.MapFS {
	t.Helper()
	set := fstest.MapFS{}
	entries, err := fs.Glob(os.DirFS("."), "*")
	require.NoError(t, err)
	for _, name := range entries {
		if strings.HasSuffix(name, ".go") {
			continue
		}
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		if f := change[name]; f != nil {
			before := string(text)
			text = []byte(f(before))
			require.NotEqual(t, before, string(text), "the change of %s did nothing", name)
		}
		set[name] = &fstest.MapFile{Data: text}
	}
	return set
}

func replace(old, with string) func(string) string {
	return func(s string) string { return strings.Replace(s, old, with, 1) }
}

const (
	proc     = "between-patients.procedure.yaml"
	ordinary = "ordinary-turnover.yaml"
	model    = "ordinary-turnover.model.log"
)

func lineOf(t *testing.T, name, text string) string {
	t.Helper()
	all, err := os.ReadFile(name)
	require.NoError(t, err)
	before, _, ok := strings.Cut(string(all), text)
	require.True(t, ok, "%s has no %q", name, text)
	n := strings.Count(before, "\n") + 1
	return name + ":" + itoa(n) + ":"
}

func itoa(n int) string {
	if n < 10 {
		return string(rune('0' + n))
	}
	return itoa(n/10) + string(rune('0'+n%10))
}

// loaderFaults are faults of every kind, each with the list, row and field at which a page
// shows it.
var loaderFaults = map[string]struct {
	file   string
	change func(string) string
	place  string // a text of the untouched file whose line is named
	want   string
	field  string
}{
	"unknown field":        {"machine.parts.yaml", replace("high_touch: true", "high_tuch: true"), "high_touch: true", `unknown field "high_tuch"`, "surfaces screen high_tuch"},
	"unknown setting":      {proc, replace("  wet: restart", "  wett: restart"), "wet: restart", `unknown field "wett"`, "settings between-patients wett"},
	"unknown in sheet":     {proc, replace("  cut_percent:", "  cut_per_cent:"), "cut_percent:", `unknown field "cut_per_cent"`, "settings between-patients cut_per_cent"},
	"unknown in programme": {"programme.yaml", replace("notice_days", "notice_day"), "notice_days", `unknown field "notice_day"`, "competencies turnover-between-patients notice_day"},
	"repeated field":       {ordinary, replace("version:", "title: x\nversion:"), "version:", `already defined`, "scenarios ordinary-turnover title"},
	"wrong type":           {"products.parts.yaml", replace("label_s: 120", "label_s: long"), "label_s: 120", "cannot unmarshal", "products station-wipe label_s"},
	"no yaml":              {ordinary, replace("id: ordinary", "id: [ordinary"), "id: ordinary", "", "scenarios ordinary-turnover "},
	"bad role":             {"bucket.parts.yaml", replace("role: bucket", "role: pail"), "role: bucket", `"pail" is none of station, staging, bucket`, "surfaces bucket-inside role"},
	"bad basis":            {"machine.parts.yaml", replace("clinic to confirm}", "heard somewhere}"), "clinic to confirm}", "none of", "surfaces screen basis"},
	"published, no source": {"machine.parts.yaml", replace(`"published: CDC, Notes for Clinical Managers (all station surfaces)"`, `"published:"`), "published: CDC, Notes", "needs its source", "surfaces top basis"},
	"missing surface":      {"machine.parts.yaml", replace("acts: [wipe top]", "acts: [wipe topp]"), "acts: [wipe top]", `unknown surface "topp"; nearest: top`, "steps wipe-top acts.0"},
	"unknown place":        {"tear-down.parts.yaml", replace("goes: [leakproof-container]", "goes: [leakproof-contaner]"), "goes: [leakproof-container]", "nearest: leakproof-container", "items lines goes.0"},
	"order of nothing":     {"supplies.parts.yaml", replace("earlier: check-gone", "earlier: check-gon"), "earlier: check-gone", `unknown step "check-gon"; nearest: check-gone`, "order check-gon wipe-staging earlier"},
	"unknown rule":         {"blood.parts.yaml", replace("rule: soil-first", "rule: soil-furst"), "rule: soil-first", "nearest: soil-first", "marks soil rule"},
	"surface of no rule":   {"hands.parts.yaml", replace("rule: gloved, worth", "rule: gloved, surface: counter, worth"), "rule: gloved,", `rule "gloved" speaks of no single surface`, "marks gloved surface"},
	"label of nothing":     {"products.parts.yaml", replace("label_s: 120", "label_s: 0"), "label_s: 120", "0 s is not between", "products station-wipe label_s"},
	"claim of nobody":      {"products.parts.yaml", labelled("claims: [{for: ' ', label_s: 120, used: true}]"), "label_s: 120", "say in up to 80 letters", "products station-wipe claims.0.for"},
	"claim twice":          {"products.parts.yaml", labelled("claims: [{for: HIV, label_s: 120, used: true}, {for: hiv, label_s: 60}]"), "label_s: 120", `"hiv" is there twice`, "products station-wipe claims.1.for"},
	"claim of no time":     {"products.parts.yaml", labelled("claims: [{for: HIV, label_s: 120, used: true}, {for: fungi, label_s: 0}]"), "label_s: 120", "0 s is not between", "products station-wipe claims.1.label_s"},
	"no claim used":        {"products.parts.yaml", labelled("claims: [{for: HIV, label_s: 120}]"), "label_s: 120", "claims none of these times", "products station-wipe claims"},
	"a shorter claim":      {"products.parts.yaml", labelled("claims: [{for: HIV, label_s: 120, used: true}, {for: fungi, label_s: 300, used: true}]"), "label_s: 120", "not the longest time that the clinic claims: 300 s for fungi", "products station-wipe label_s"},
	"treatment unsaid":     {"products.parts.yaml", labelled("reading: treatment, reading_by: Mara Voss, reading_on: '2027-01-02'"), "label_s: 120", "type in what it says", "products station-wipe reading_words"},
	"treatment of nobody":  {"products.parts.yaml", labelled("reading: treatment, reading_words: Leave it alone, reading_on: '2027-01-02'"), "label_s: 120", "who typed in the label's words", "products station-wipe reading_by"},
	"treatment undated":    {"products.parts.yaml", labelled("reading: treatment, reading_words: Leave it alone, reading_by: Mara Voss"), "label_s: 120", "who typed in the label's words", "products station-wipe reading_by"},
	"another reading":      {"products.parts.yaml", labelled("reading: quick"), "label_s: 120", `"quick" is none of wet, treatment`, "products station-wipe reading"},
	"words of no reading":  {"products.parts.yaml", labelled("reading_words: Leave it alone"), "label_s: 120", "say treatment, or leave them out", "products station-wipe reading"},
	"checked by nobody":    {"products.parts.yaml", labelled("checked_on: '2027-01-02'"), "label_s: 120", "who compared it with the label", "products station-wipe checked_by"},
	"good until when":      {"products.parts.yaml", labelled("good_until: soon"), "label_s: 120", `"soon" is no day`, "products station-wipe good_until"},
	"hours of a wipe":      {"products.parts.yaml", labelled("good_h: 8"), "label_s: 120", "only a dilution has hours", "products station-wipe good_h"},
	"hours too many":       {"products.parts.yaml", labelled("made_h: 4, good_h: 25"), "label_s: 120", "no dilution is good for longer", "products station-wipe good_h"},
	"unknown step":         {ordinary, replace("take-bleach,", "take-bleech,"), "take-bleach,", `unknown step "take-bleech"; nearest: take-bleach`, "scenarios ordinary-turnover without.2"},
	"unknown area":         {ordinary, replace("without_areas: [seen]", "without_areas: [bloood]"), "without_areas: [seen]", `unknown area "bloood"; nearest: blood`, "scenarios ordinary-turnover without_areas.0"},
	"area twice":           {ordinary, replace("without_areas: [seen]", "without_areas: [seen, seen]"), "without_areas: [seen]", `area "seen" is there twice`, "scenarios ordinary-turnover without_areas.1"},
	"unwipable surface":    {ordinary, replace("without: [", "without: [wipe-counter, "), "without: [", `no step that is offered wipes surface "counter"`, "scenarios ordinary-turnover without"},
	"unknown product":      {ordinary, replace("product: station-wipe", "product: soap"), "product: station-wipe", `unknown product "soap"`, "scenarios ordinary-turnover product"},
	"bad kind":             {ordinary, replace("kind: build", "kind: quiz"), "kind: build", "none of build, run", "scenarios ordinary-turnover kind"},
	"other file name":      {ordinary, replace("id: ordinary-turnover", "id: ordinary"), "id: ordinary", "must be the name of the file", "scenarios ordinary-turnover id"},
	"model breaks a rule":  {model, replace("rub hands 20s\nput on gloves", "look at station\nput on gloves"), "put on gloves", "hands-before-gloves", "scenarios ordinary-turnover model"},
	"model word":           {model, replace("wipe cuff", "wipe cufff"), "wipe cuff", `unknown surface "cufff"`, "scenarios ordinary-turnover model"},
	"programme":            {"programme.yaml", replace("ordinary-turnover,", "ordinary,"), "ordinary-turnover,", `unknown scenario "ordinary"`, "competencies turnover-between-patients scenarios.0"},
	"scenario twice":       {"programme.yaml", replace("ordinary-turnover, ", "against-the-clock, "), "against-the-clock", `scenario "against-the-clock" is there twice`, "competencies turnover-between-patients scenarios.2"},
	"programme number":     {"programme.yaml", replace("interval_months: 12", "interval_months: 0"), "interval_months: 12", "0 is not between", "competencies turnover-between-patients interval_months"},
}

// labelled puts more on the label of the station wipe.
func labelled(more string) func(string) string {
	return replace("label_s: 120,", "label_s: 120, "+more+",")
}

func TestFaultsNameFileAndLine(t *testing.T) {
	for name, c := range loaderFaults {
		t.Run(name, func(t *testing.T) {
			_, err := scenarios.LoadFS(files(t, map[string]func(string) string{c.file: c.change}))
			require.ErrorContains(t, err, lineOf(t, c.file, c.place))
			require.ErrorContains(t, err, c.want)
		})
	}
}

func TestEveryFaultIsAtAField(t *testing.T) {
	for name, c := range loaderFaults {
		t.Run(name, func(t *testing.T) {
			s := changed(t, map[string]func(string) string{c.file: c.change})
			_, err := s.LoadStrictly()
			require.Error(t, err)
			var at []string
			for _, f := range s.FieldFaults(err) {
				if strings.Contains(f.Text, c.want) && f.File == c.file {
					at = append(at, f.List+" "+f.Row+" "+f.Field)
				}
			}
			require.Contains(t, at, c.field)
		})
	}
}

func TestAllFaultsAtOnce(t *testing.T) {
	_, err := scenarios.LoadFS(files(t, map[string]func(string) string{
		"products.parts.yaml": replace("label_s: 120", "label_s: 0"),
		"bucket.parts.yaml":   replace("role: bucket", "role: pail"),
		proc:                  replace("cut_percent: 90", "cut_percent: 190"),
		"programme.yaml":      replace("interval_months: 12", "interval_months: 0"),
	}))
	for _, want := range []string{"label_s", "pail", "190 is not between", "interval_months"} {
		require.ErrorContains(t, err, want)
	}
}

func TestCyclesInTheOrderAreNamed(t *testing.T) {
	_, err := scenarios.LoadFS(files(t, map[string]func(string) string{
		proc: replace("settings:\n", "order:\n  - {earlier: lines-off, later: check-gone, why: x, basis: common practice}\nsettings:\n"),
	}))
	require.ErrorContains(t, err, lineOf(t, proc, "settings:\n"))
	require.ErrorContains(t, err, "the order runs in a circle: ")
	require.ErrorContains(t, err, "check-gone before wipe-staging before bring-supplies before lines-off before check-gone")
}

func TestMissingModelIsRefused(t *testing.T) {
	set := files(t, nil)
	delete(set, model)
	_, err := scenarios.LoadFS(set)
	require.ErrorContains(t, err, model)
}

// The same text gives the same hash, and any change that can alter a result
// gives another, also in a part.
func TestHashFollowsTheProcedure(t *testing.T) {
	read := func(file string, change func(string) string) string {
		lib, err := scenarios.Unproved(files(t, map[string]func(string) string{file: change}))
		require.NoError(t, err)
		p, ok := lib.Procedure("between-patients")
		require.True(t, ok)
		return p.Hash
	}
	comment := func(s string) string { return "# a comment\n" + s }
	same := read(proc, comment)
	require.Equal(t, same, read("machine.parts.yaml", comment), "comments do not count")
	for _, c := range []struct {
		file   string
		change func(string) string
	}{
		{"products.parts.yaml", replace("label_s: 120", "label_s: 121")}, {proc, replace("wet: restart", "wet: add-up")}, {proc, replace("cut_percent: 90", "cut_percent: 91")},
		{"machine.parts.yaml", replace("high_touch: true", "high_touch: false")}, {"machine.parts.yaml", replace("title: Machine top", "title: Top")},
		{"patient.parts.yaml", replace("worth: 5", "worth: 6")}, {proc, replace("settings:", "on: [hose]\nsettings:")},
	} {
		require.NotEqual(t, same, read(c.file, c.change))
	}
}

func FuzzReadProcedure(f *testing.F) {
	for _, name := range []string{proc, "../testdata/checks/station/" + proc} {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(text))
	}
	f.Add("id: [a, *a]")
	f.Fuzz(func(t *testing.T, s string) {
		p, faults := scenarios.ReadProcedure("f.yaml", []byte(s))
		require.True(t, (p == nil) == (len(faults) > 0), "either a procedure or faults")
		for _, err := range faults {
			require.Contains(t, err.Error(), "f.yaml:")
		}
	})
}

// The scenario is read beside the procedure and the programme that it belongs to.
func FuzzReadScenario(f *testing.F) {
	text := func(name string) []byte {
		text, err := os.ReadFile(name)
		require.NoError(f, err)
		return text
	}
	const name = "ordinary-turnover.yaml"
	beside := fstest.MapFS{proc: {Data: text(proc)}}
	parts, err := fs.Glob(os.DirFS("."), "*.parts.yaml")
	require.NoError(f, err)
	for _, part := range parts {
		beside[part] = &fstest.MapFile{Data: text(part)}
	}
	f.Add(string(text(name)))
	f.Add(string(text("blood-on-the-machine.yaml")))
	f.Add("id: ordinary-turnover\nsteps: [~]\nstart: {a: b}\nevents: [[]]\n")
	f.Fuzz(func(t *testing.T, s string) {
		files := maps.Clone(beside)
		files[name] = &fstest.MapFile{Data: []byte(s)}
		lib, err := scenarios.Unproved(files)
		require.True(t, (lib == nil) == (err != nil), "either a library or faults")
		if err == nil {
			return
		}
		var faults interface{ Unwrap() []error }
		require.ErrorAs(t, err, &faults)
		require.NotEmpty(t, faults.Unwrap())
	})
}

// A model log is what its own cues give: a new surface or label time means
// writing it anew, never times by hand.
func TestModelsAreWhatTheirCuesGive(t *testing.T) {
	for _, dir := range []string{".", "../testdata/trolley"} {
		lib, err := scenarios.LoadFS(os.DirFS(dir))
		require.NoError(t, err)
		for _, s := range lib.Scenarios() {
			p, ok := lib.Procedure(s.Procedure)
			require.True(t, ok)
			cues := simulate.CuesOf(s.Model)
			require.NotEmpty(t, cues, s.ID)
			text, err := simulate.Model(p, s, cues)
			require.NoError(t, err)
			require.Equal(t, s.Model, text, "write it anew: stillwet model %s", s.ID)
		}
	}
}

func TestEventsAreChecked(t *testing.T) {
	const clock = "against-the-clock.yaml"
	for event, want := range map[string]string{
		`{after: look, happens: dry chair}`:                       "nothing that happens by itself",
		`{after: lok, happens: alarm}`:                            "nearest: look",
		`{happens: alarm}`:                                        "after which step",
		`{after: look, at: "0:10", happens: alarm}`:               "after which step",
		`{at: soon, happens: alarm}`:                              "no time of the form m:ss",
		`{after: look, happens: the patient faints}`:              "unknown act",
		`{after: blood-front, happens: patient leaves}`:           "no step that this scenario offers",
		`{after: look, happens: patient leaves, colour: blue}`:    `unknown field "colour"`,
		`{after: check-stable, happens: blood on the front door}`: "surface",
	} {
		_, err := scenarios.LoadFS(files(t, map[string]func(string) string{
			clock: func(s string) string { return s + "events:\n  - " + event + "\n" },
		}))
		require.ErrorContains(t, err, clock+":", event)
		require.ErrorContains(t, err, want, event)
	}
	_, err := scenarios.LoadFS(files(t, map[string]func(string) string{
		ordinary: func(s string) string { return s + "events:\n  - {at: \"0:10\", happens: alarm}\n" },
	}))
	require.ErrorContains(t, err, "a scenario without a clock has no times")
}

func TestAHugeFileIsRefused(t *testing.T) {
	_, faults := scenarios.ReadProcedure("p.yaml", []byte("# "+strings.Repeat("x", procedure.MaxText)))
	require.Len(t, faults, 1)
	require.ErrorContains(t, faults[0], "p.yaml:1: the file is larger than")
}

func TestTwoOfOneNameAreRefused(t *testing.T) {
	set := files(t, nil)
	set["again.procedure.yaml"] = set[proc]
	_, err := scenarios.LoadFS(set)
	require.ErrorContains(t, err, `again.procedure.yaml:1: the file of procedure "between-patients" is named between-patients.procedure.yaml`)

	_, err = scenarios.LoadFS(files(t, map[string]func(string) string{"programme.yaml": func(s string) string {
		_, list, _ := strings.Cut(s, "competencies:\n")
		return s + list
	}}))
	require.ErrorContains(t, err, `"turnover-between-patients" is there twice`)
}

func TestAModuleIsOfItsCompetencysProcedure(t *testing.T) {
	set := files(t, nil)
	for _, name := range []string{"supply-trolley.procedure.yaml", "trolley-in-order.yaml", "trolley-in-order.model.log"} {
		text, err := os.ReadFile("../testdata/trolley/" + name)
		require.NoError(t, err)
		set[name] = &fstest.MapFile{Data: text}
	}
	set["programme.yaml"] = &fstest.MapFile{Data: []byte(strings.Replace(string(set["programme.yaml"].Data), "ordinary-turnover,", "trolley-in-order,", 1))}
	_, err := scenarios.LoadFS(set)
	require.ErrorContains(t, err, `scenario "trolley-in-order" is of procedure "supply-trolley", not of "between-patients"`)
}
