package rules_test

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/scenarios"
)

const checks = "../../../testdata/checks/"

// want is one expectation: a rule, a surface or piece of equipment when one is
// named, words of the message, the way of the contamination ("lines > gloves"), and
// how often it was done.
type want struct {
	line         int // 0: at the end of the log
	advice       bool
	rule, target string
	words, way   string
	times        string
}

func (w want) String() string {
	return fmt.Sprintf("line %d: %s%s:%s %q %s %s", w.line, map[bool]string{true: "advice "}[w.advice], w.rule, w.target, w.words, w.way, w.times)
}

// note is something that is told and no breach.
type note struct {
	line  int
	words string
}

// checkLog is a log with the expectations written in its comments. TARGET is a
// surface or a piece of protective equipment.
//
//	# source: where the expectation comes from (must be there)
//	# rules: the rules that are compared ("none"); all of them without this line
//	# right: RULE ...               near misses: there was an occasion, its marks are met, nothing was found
//	# want-end: [advice] RULE[:TARGET] ["words"] [via WAY] [times N]; ...   at the end of the log
//	# not-assessed: RULE[:TARGET] ...
//	# unasked: RULE[:TARGET] ...    not assessed, and the clinic does not ask to see it
//	# outcome: pass | not pass | incomplete
//	# mark: ID met | missed | not assessed | not applicable
//	ACT  # want [advice] RULE[:TARGET] ["words"] [via WAY] [times N]; RULE ...
//	ACT  # note "words"             where one is named, or "# notes: none" stands, all notes are compared
type checkLog struct {
	source      string
	rules       []string
	right       []string
	wants       []want
	notAssessed []string
	unasked     []string
	outcome     string
	marks       [][2]string
	notes       []note
	allNotes    bool
}

var (
	wantPattern = regexp.MustCompile(`^(advice )?([a-z-]+)(?::([a-z-]+))?(?: "([^"]+)")?(?: via ([a-z> -]+?))?(?: times (\d+))?$`)
	partPattern = regexp.MustCompile(`(?:[^;"]|"[^"]*")+`) // parted by semicolons outside of quotes
	notePattern = regexp.MustCompile(`^"([^"]+)"$`)
)

func readCheck(t *testing.T, text string) checkLog {
	t.Helper()
	var c checkLog
	for i, line := range strings.Split(text, "\n") {
		_, comment, ok := strings.Cut(line, "#")
		if !ok {
			continue
		}
		key, rest, _ := strings.Cut(strings.TrimSpace(comment), " ")
		c.read(t, i+1, key, strings.TrimSpace(rest))
	}
	return c
}

func (c *checkLog) read(t *testing.T, line int, key, rest string) {
	switch key {
	case "source:":
		c.source = rest
	case "rules:":
		c.rules = strings.Fields(rest)
	case "right:":
		c.right = strings.Fields(rest)
	case "not-assessed:":
		c.notAssessed = append(c.notAssessed, strings.Fields(rest)...)
	case "unasked:":
		c.unasked = append(c.unasked, strings.Fields(rest)...)
	case "outcome:":
		c.outcome = rest
	case "mark:":
		id, status, _ := strings.Cut(rest, " ")
		c.marks = append(c.marks, [2]string{id, status})
	case "want-end:":
		c.wants = append(c.wants, parseWants(t, 0, rest)...)
	case "want":
		c.wants = append(c.wants, parseWants(t, line, rest)...)
	case "notes:":
		require.Equal(t, "none", rest, "line %d", line)
		c.allNotes = true
	case "note":
		m := notePattern.FindStringSubmatch(rest)
		require.NotNil(t, m, "line %d: cannot read the note %q", line, rest)
		c.notes, c.allNotes = append(c.notes, note{line, m[1]}), true
	}
}

func parseWants(t *testing.T, line int, text string) []want {
	t.Helper()
	var all []want
	for _, part := range partPattern.FindAllString(text, -1) {
		m := wantPattern.FindStringSubmatch(strings.TrimSpace(part))
		require.NotNil(t, m, "line %d: cannot read the expectation %q", line, part)
		require.Contains(t, rules.Names(), m[2], "line %d: unknown rule", line)
		all = append(all, want{line, m[1] != "", m[2], m[3], m[4], m[5], m[6]})
	}
	return all
}

// checkFiles lists the project's logs, those of its other frozen procedures, and
// those of $CHECKS_DIR.
func checkFiles(t *testing.T) []string {
	t.Helper()
	var files []string
	patterns := []string{checks + "logs/*.log", checks + "others/*.log"}
	if dir := os.Getenv("CHECKS_DIR"); dir != "" {
		patterns = append(patterns, filepath.Join(dir, "logs", "*.log"))
	}
	for _, pattern := range patterns {
		more, err := filepath.Glob(pattern)
		require.NoError(t, err)
		files = append(files, more...)
	}
	return files
}

func builtIn(t testing.TB) (*scenarios.Library, *procedure.Procedure) {
	t.Helper()
	lib, err := scenarios.LoadFS(os.DirFS(checks + "station"))
	require.NoError(t, err)
	p, ok := lib.Procedure("between-patients")
	require.True(t, ok)
	return lib, p
}

// procedures are those by which check logs are judged: the frozen one, the small
// frozen ones, and those of the program for ids that are neither.
type procedures struct {
	frozen map[string]*procedure.Procedure
	living *scenarios.Library
}

func loadProcedures(t testing.TB) *procedures {
	t.Helper()
	_, p := builtIn(t)
	all := &procedures{frozen: map[string]*procedure.Procedure{}}
	others := os.DirFS(checks + "others")
	names, err := fs.Glob(others, "*.procedure.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, names)
	for _, name := range names {
		text, err := fs.ReadFile(others, name)
		require.NoError(t, err)
		other, faults := scenarios.ReadProcedure(name, text, others)
		require.Empty(t, faults)
		all.frozen[other.ID] = other
	}
	all.frozen[p.ID] = p
	return all
}

func (all *procedures) named(t testing.TB, id string) *procedure.Procedure {
	t.Helper()
	if p, ok := all.frozen[id]; ok {
		return p
	}
	if all.living == nil {
		lib, err := scenarios.Load()
		require.NoError(t, err)
		all.living = lib
	}
	p, ok := all.living.Procedure(id)
	require.True(t, ok, "no procedure %q", id)
	return p
}

var procedureLine = regexp.MustCompile(`(?m)^procedure ([a-z0-9-]+) `)

// assessed is a check log judged by the procedure that its header names.
func (all *procedures) assessed(t testing.TB, file string) (text string, p *procedure.Procedure, log *action.Log, result *assess.Result) {
	t.Helper()
	bytes, err := os.ReadFile(file)
	require.NoError(t, err)
	text = string(bytes)
	header := procedureLine.FindStringSubmatch(text)
	require.NotNil(t, header, "%s names no procedure", file)
	p = all.named(t, header[1])
	log, err = action.Parse(file, text, p.Words)
	require.NoError(t, err)
	result, err = rules.Assess(p, log, file)
	require.NoError(t, err)
	return text, p, log, result
}

// neverOpen are the rules that no log leaves open, with the reason.
var neverOpen = map[string]string{
	"wipe-fit":          "a spent or dropped wipe is absent unless somebody notes it",
	"soap-for-soil":     "visibly soiled hands are absent unless somebody notes them",
	"one-face-one-wipe": "advice leaves no mark open",
	"top-down":          "advice leaves no mark open",
	"not-possible":      "what was not seen may have been done, so nothing is impossible for it",
}

func TestWantLogs(t *testing.T) {
	all := loadProcedures(t)
	breached, right, open, cited := map[string]bool{}, map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, file := range checkFiles(t) {
		t.Run(filepath.Base(file), func(t *testing.T) {
			text, p, log, result := all.assessed(t, file)
			c := readCheck(t, text)
			require.NotEmpty(t, c.source, "a check names its source")
			for _, m := range checkableFact.FindAllStringSubmatch(c.source, -1) {
				cited[m[1]] = true
			}
			compare(t, c, p, log, result)
			for _, w := range c.wants {
				breached[w.rule] = true
			}
			for _, rule := range c.right {
				right[rule] = true
			}
			for _, gap := range c.notAssessed {
				rule, _, _ := strings.Cut(gap, ":")
				open[rule] = true
			}
		})
	}
	for _, name := range rules.Names() {
		require.True(t, breached[name], "no log expects a breach of %s", name)
		require.True(t, right[name], "no log keeps %s by a little", name)
		require.NotEqual(t, neverOpen[name] != "", open[name], "either a log leaves %s open or neverOpen says why none does", name)
	}
	for fact := 1; fact <= lastFactOfActs; fact++ {
		require.True(t, cited[fmt.Sprint(fact)], "no log holds checkable fact %d of the guidance", fact)
	}
}

// The guidance lists fifteen facts to check. The first ten concern acts at a
// station, the others people and figures.
const lastFactOfActs = 10

var checkableFact = regexp.MustCompile(`checkable fact (\d+)`)

// looked reports whether the log compares a rule.
func (c *checkLog) looked(rule string) bool {
	return len(c.rules) == 0 || slices.Contains(c.rules, rule)
}

// compare fails on what is missing and on what is unexpected.
func compare(t *testing.T, c checkLog, p *procedure.Procedure, log *action.Log, result *assess.Result) {
	t.Helper()
	compareFindings(t, c, log, result)
	var gaps, unasked []string
	for _, g := range result.NotAssessed {
		name := strings.TrimSuffix(g.Rule+":"+g.Surface+g.Worn, ":")
		switch {
		case !c.looked(g.Rule):
		case g.Unasked:
			unasked = append(unasked, name)
		default:
			gaps = append(gaps, name)
		}
	}
	sameWords(t, "not assessed", c.notAssessed, gaps)
	sameWords(t, "not assessed and not asked", c.unasked, unasked)
	if got := string(result.Marks.Result); c.outcome != "" && c.outcome != got {
		t.Errorf("outcome: want %s, got %s", c.outcome, got)
	}
	for _, m := range c.marks {
		i := p.MarkIndex(m[0])
		require.GreaterOrEqual(t, i, 0, "there is no mark %s", m[0])
		if got := string(result.Marks.Lines[i].Status); got != m[1] {
			t.Errorf("mark %s: want %s, got %s", m[0], m[1], got)
		}
	}
	for _, rule := range c.right {
		keeps(t, p, result, rule)
	}
	if c.allNotes {
		compareNotes(t, c.notes, log, result)
	}
}

func sameWords(t *testing.T, what string, want, got []string) {
	t.Helper()
	slices.Sort(want)
	slices.Sort(got)
	if !slices.Equal(want, got) {
		t.Errorf("%s: want %v, got %v", what, want, got)
	}
}

func compareFindings(t *testing.T, c checkLog, log *action.Log, result *assess.Result) {
	t.Helper()
	open := slices.Clone(c.wants)
	for i := range result.Findings {
		f := &result.Findings[i]
		if !c.looked(f.Rule) {
			continue
		}
		line := lineOf(log, f.Act)
		at := slices.IndexFunc(open, func(w want) bool {
			return w.line == line && w.rule == f.Rule && w.advice == f.Advice() && w.fits(f)
		})
		if at < 0 {
			t.Errorf("unexpected finding at line %d: %s %s:%s%s %q %s %d", line, f.Level, f.Rule, f.Surface, f.Worn, f.Message, wayOf(f), f.Count)
			continue
		}
		open = slices.Delete(open, at, at+1)
	}
	for _, w := range open {
		t.Errorf("missing finding: %s", w)
	}
}

// fits reports whether a finding is about the target, says the words and tells the
// way, as far as they are named.
func (w want) fits(f *assess.Finding) bool {
	target := w.target == "" || w.target == f.Surface || w.target == f.Worn || slices.Contains(f.Surfaces, w.target)
	return target && strings.Contains(f.Message, w.words) && (w.way == "" || w.way == wayOf(f)) &&
		(w.times == "" || w.times == fmt.Sprint(f.Count))
}

// wayOf is the way of a contamination in one line: "lines > gloves > screen".
func wayOf(f *assess.Finding) (way string) {
	for i, hop := range f.Way {
		if i == 0 {
			way = hop.From
		}
		way += " > " + hop.To
	}
	return way
}

func lineOf(log *action.Log, act int) int {
	if act == 0 {
		return 0
	}
	return log.Acts[act-1].Line
}

// keeps checks a near miss: the rule had its occasion and found nothing.
func keeps(t *testing.T, p *procedure.Procedure, result *assess.Result, rule string) {
	t.Helper()
	for _, f := range result.Findings {
		if f.Rule == rule {
			t.Errorf("%s is not right: %q", rule, f.Message)
		}
	}
	met := !p.Judged(rule) // advice has no mark that could be met
	for i, m := range p.MarkSheet.Marks {
		met = met || m.Rule == rule && result.Marks.Lines[i].Status == assess.Met
	}
	if !met {
		t.Errorf("no mark of %s is met", rule)
	}
}

func compareNotes(t *testing.T, notes []note, log *action.Log, result *assess.Result) {
	t.Helper()
	open := slices.Clone(notes)
	for _, n := range result.Notes {
		line := lineOf(log, n.Act)
		i := slices.IndexFunc(open, func(w note) bool { return w.line == line && strings.Contains(n.Text, w.words) })
		if i < 0 {
			t.Errorf("unexpected note at line %d: %q", line, n.Text)
			continue
		}
		open = slices.Delete(open, i, i+1)
	}
	for _, n := range open {
		t.Errorf("missing note at line %d: %q", n.line, n.words)
	}
}
