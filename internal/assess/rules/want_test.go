package rules_test

import (
	"fmt"
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

// want is one expectation: a rule, a surface when one is named, and words of
// the message.
type want struct {
	line          int // 0: at the end of the log
	rule, surface string
	words         string
}

func (w want) String() string {
	return fmt.Sprintf("line %d: %s:%s %q", w.line, w.rule, w.surface, w.words)
}

// checkLog is a log with the expectations written in its comments:
//
//	# source: where the expectation comes from (must be there)
//	# rules: the rules that are compared; all of them without this line
//	# want-end: RULE[:SURFACE]      at the end of the log
//	# not-assessed: RULE[:SURFACE] ...
//	ACT  # want RULE[:SURFACE] ["words"]; RULE ...
type checkLog struct {
	source      string
	rules       []string
	wants       []want
	notAssessed []string
}

var wantPattern = regexp.MustCompile(`^([a-z-]+)(?::([a-z-]+))?(?: "([^"]+)")?$`)

func readCheck(t *testing.T, text string) checkLog {
	t.Helper()
	var c checkLog
	for i, line := range strings.Split(text, "\n") {
		_, comment, ok := strings.Cut(line, "#")
		if !ok {
			continue
		}
		comment = strings.TrimSpace(comment)
		key, rest, _ := strings.Cut(comment, " ")
		switch key {
		case "source:":
			c.source = rest
		case "rules:":
			c.rules = strings.Fields(rest)
		case "not-assessed:":
			c.notAssessed = strings.Fields(rest)
		case "want-end:":
			c.wants = append(c.wants, parseWants(t, 0, rest)...)
		case "want":
			c.wants = append(c.wants, parseWants(t, i+1, rest)...)
		}
	}
	return c
}

func parseWants(t *testing.T, line int, text string) []want {
	t.Helper()
	var all []want
	for _, part := range strings.Split(text, ";") {
		m := wantPattern.FindStringSubmatch(strings.TrimSpace(part))
		require.NotNil(t, m, "line %d: cannot read the expectation %q", line, part)
		require.Contains(t, rules.Names(), m[1], "line %d: unknown rule", line)
		all = append(all, want{line, m[1], m[2], m[3]})
	}
	return all
}

// checkFiles lists the project's logs and those of $CHECKS_DIR.
func checkFiles(t *testing.T) []string {
	t.Helper()
	files, err := filepath.Glob("../../../testdata/checks/logs/*.log")
	require.NoError(t, err)
	if dir := os.Getenv("CHECKS_DIR"); dir != "" {
		more, err := filepath.Glob(filepath.Join(dir, "logs", "*.log"))
		require.NoError(t, err)
		files = append(files, more...)
	}
	return files
}

func builtIn(t testing.TB) (*scenarios.Library, *procedure.Procedure) {
	t.Helper()
	lib, err := scenarios.LoadFS(os.DirFS("../../../testdata/checks/station"))
	require.NoError(t, err)
	p, ok := lib.Procedure("between-patients")
	require.True(t, ok)
	return lib, p
}

func TestWantLogs(t *testing.T) {
	_, p := builtIn(t)
	covered, lines := map[string]bool{}, 0
	for _, file := range checkFiles(t) {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		t.Run(filepath.Base(file), func(t *testing.T) {
			c := readCheck(t, string(text))
			require.NotEmpty(t, c.source, "a check names its source")
			log, err := action.Parse(file, string(text), p.Words)
			require.NoError(t, err)
			result, err := rules.Assess(p, log, file)
			require.NoError(t, err)
			compare(t, c, log, result)
			for _, w := range c.wants {
				covered[w.rule] = true
				lines++
			}
		})
	}
	for _, name := range rules.Names() {
		require.True(t, covered[name], "no log expects a breach of %s", name)
	}
	require.GreaterOrEqual(t, lines, 40, "expectations")
}

// compare fails on what is missing and on what is unexpected.
func compare(t *testing.T, c checkLog, log *action.Log, result *assess.Result) {
	t.Helper()
	looked := func(rule string) bool { return len(c.rules) == 0 || slices.Contains(c.rules, rule) }
	open := slices.Clone(c.wants)
	for _, f := range result.Findings {
		if !looked(f.Rule) {
			continue
		}
		line := 0
		if f.Act > 0 {
			line = log.Acts[f.Act-1].Line
		}
		i := slices.IndexFunc(open, func(w want) bool {
			return w.line == line && w.rule == f.Rule && (w.surface == "" || w.surface == f.Surface) && strings.Contains(f.Message, w.words)
		})
		if i < 0 {
			t.Errorf("unexpected finding at line %d: %s:%s %q", line, f.Rule, f.Surface, f.Message)
			continue
		}
		open = slices.Delete(open, i, i+1)
	}
	for _, w := range open {
		t.Errorf("missing finding: %s", w)
	}
	var gaps []string
	for _, g := range result.NotAssessed {
		if looked(g.Rule) {
			gaps = append(gaps, strings.TrimSuffix(g.Rule+":"+g.Surface, ":"))
		}
	}
	require.ElementsMatch(t, c.notAssessed, gaps, "not assessed")
}
