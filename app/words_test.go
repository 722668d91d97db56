package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess/rules"
	"stillwet/scenarios"
)

func words(t *testing.T) (v vocabulary) {
	code, out, errs := stillwet(t, "words", "--json")
	require.Equal(t, 0, code, errs)
	require.NoError(t, json.Unmarshal([]byte(out), &v))
	return v
}

func documents(t *testing.T) string {
	var all strings.Builder
	for _, name := range []string{"../README.md", "../DEVELOPERS.md"} {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		all.Write(text)
	}
	return all.String()
}

// Every command in the documents is there, and the other way round.
func TestTheDocumentsNameTheCommands(t *testing.T) {
	documented := map[string]bool{}
	for _, m := range regexp.MustCompile("`(?:bin/)?stillwet ([a-z-]+)((?: [a-z-]+)?)").FindAllStringSubmatch(documents(t), -1) {
		documented[m[1]] = true
		documented[m[1]+m[2]] = true
	}
	known := map[string]bool{}
	for _, c := range words(t).Commands {
		require.True(t, documented[c.Name], "stillwet %s is in neither document", c.Name)
		first, _, _ := strings.Cut(c.Name, " ")
		known[first] = true
		code, _, errs := stillwet(t, append(strings.Fields(c.Name), "--help")...)
		require.Equal(t, 0, code, "%s: %s", c.Name, errs)
	}
	for name := range documented {
		first, _, _ := strings.Cut(name, " ")
		require.True(t, known[first], "the documents name stillwet %s, which is not there", name)
	}
}

// Rules are named in the documents, in check logs and in mark sheets.
func TestEveryRuleThatIsNamedExists(t *testing.T) {
	var known []string
	for _, r := range words(t).Rules {
		known = append(known, r.Name)
		require.NotEmpty(t, r.Doc)
		require.NotContains(t, r.Doc, "{", "%s: a word is not put in", r.Name)
		require.NotEmpty(t, r.Source)
		require.NotEmpty(t, r.Needs)
	}
	require.Equal(t, rules.Names(), known)
	named := map[string]string{}
	find := func(where, text, pattern string) {
		for _, m := range regexp.MustCompile(pattern).FindAllStringSubmatch(text, -1) {
			named[m[1]] = where
		}
	}
	find("the documents", documents(t), "(?:[Rr]ule|rules) `([a-z-]+)`")
	logs, err := filepath.Glob("../testdata/checks/logs/*.log")
	require.NoError(t, err)
	require.NotEmpty(t, logs)
	for _, name := range logs {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		find(name, string(text), `# want.*"([a-z-]+):`)
	}
	lib, err := scenarios.Load()
	require.NoError(t, err)
	for _, c := range lib.Competencies() {
		p, ok := lib.Procedure(c.Procedure)
		require.True(t, ok)
		for _, m := range p.MarkSheet.Marks {
			if !m.Watcher {
				named[m.Rule] = p.ID
			}
		}
	}
	require.Greater(t, len(named), len(known)/2)
	for name, where := range named {
		require.Contains(t, known, name, "named in %s", where)
	}
}

// filled are words that fit a slot.
var filled = map[string]string{"SURFACE": "screen", "ITEM": "bucket", "THING": "screen", "WORN": action.Gloves, "GEAR": action.Gown, "PLACE": "drain", "STAGE": action.FromGone,
	"MARK": "friction", "VERDICT": action.VerdictMet, "REASON": action.Reasons[0], "CAUSE": action.Causes[0],
	"PRODUCT": "station-wipe", "STEP": "wipe-top", "WIPE": "w1", "NUMBER": "1", "SECONDS": "20s"}

// Every phrase, with and without what may be left out, is read and written again.
func TestThePhrasesAreTheGrammar(t *testing.T) {
	v := words(t)
	seen := map[action.Verb]bool{}
	for _, p := range slices.Concat(v.Verbs, v.Events) {
		for _, optional := range []bool{true, false} {
			phrase := p.Phrase
			if !optional {
				phrase = regexp.MustCompile(` \[.*\]`).ReplaceAllString(phrase, "")
			}
			line := strings.NewReplacer("[", "", "]", "").Replace(phrase)
			for _, s := range p.Slots {
				require.Contains(t, filled, s.Word)
				line = strings.Replace(line, s.Word, filled[s.Word], 1)
				require.Equal(t, s.Optional, strings.Contains(p.Phrase[:strings.Index(p.Phrase, s.Word)], "["), p.Phrase)
			}
			a, err := action.ParseAct(line, nil)
			require.NoError(t, err, line)
			require.Equal(t, p.Phrase, a.Verb.String())
			require.Equal(t, line, a.Text())
			require.Equal(t, slices.ContainsFunc(v.Events, func(e phraseWords) bool { return e.Phrase == p.Phrase }), a.Verb.Event())
			seen[a.Verb] = true
		}
	}
	require.Len(t, seen, len(action.Verbs()))
	for _, w := range v.Worn {
		_, err := action.ParseAct("put on "+w, nil)
		require.NoError(t, err)
	}
	header := fmt.Sprintf("stillwet log %d\nprocedure p -\nwitness %s\n", v.LogVersion, strings.Join(v.Witness, " "))
	_, err := action.Parse("header", header, nil)
	require.NoError(t, err)
	sample := regexp.MustCompile(`(?m)^    stillwet log(?:.*\n    )*.*\n`).FindString(documents(t))
	read, err := action.Parse("README.md", sample, nil)
	require.NoError(t, err)
	require.NotEmpty(t, read.Acts)
}

// driedEarly has what no check log has: a note, of an early dry-out made good.
const driedEarly = `stillwet log 1
procedure between-patients -
witness order clock drying
0:00 rub hands 20s
0:10 put on gloves
0:20 take wipe w1 of station-wipe
0:30 wipe screen
0:40 dry screen
0:50 take wipe w2 of station-wipe
1:00 wipe screen
9:00 dry screen
9:10 declare ready
`

// The keys are those that assess really prints, over logs with everything.
func TestTheKeysAreThoseOfARealResult(t *testing.T) {
	logs, err := filepath.Glob("../testdata/checks/logs/*.log")
	require.NoError(t, err)
	printed := map[string]bool{}
	for _, name := range append(logs, frozen+"/ordinary-turnover.model.log", file(t, driedEarly)) {
		_, out, errs := stillwet(t, "assess", "--json", "--procedure", "../testdata/checks/station/between-patients.procedure.yaml", name)
		var result any
		require.NoError(t, json.Unmarshal([]byte(out), &result), errs)
		keysIn(result, "", printed)
	}
	// The built-in procedure says what a watcher need not see.
	_, out, errs := stillwet(t, "assess", "--json", file(t, "stillwet log 2\nprocedure between-patients -\nwitness order clock\n0:10 wipe left\n9:00 declare ready\n"))
	var result any
	require.NoError(t, json.Unmarshal([]byte(out), &result), errs)
	keysIn(result, "", printed)
	// A pair that is critical, of which nobody saw the earlier step.
	text, err := os.ReadFile("../testdata/checks/station/between-patients.procedure.yaml")
	require.NoError(t, err)
	critical := filepath.Join(t.TempDir(), "between-patients.procedure.yaml")
	const pair = "{earlier: wipe-staging, later: bring-supplies,"
	require.Contains(t, string(text), pair)
	require.NoError(t, os.WriteFile(critical, []byte(strings.Replace(string(text), pair, pair+" critical: true,", 1)), 0o600))
	_, out, errs = stillwet(t, "assess", "--json", "--procedure", critical, file(t, "stillwet log 2\nprocedure between-patients -\nwitness order clock\n0:10 not seen wipe-staging\n1:00 bring supplies to staging\n9:00 declare ready\n"))
	require.NoError(t, json.Unmarshal([]byte(out), &result), errs)
	keysIn(result, "", printed)
	var keys []string
	for k := range printed {
		keys = append(keys, k)
	}
	require.ElementsMatch(t, keys, words(t).ResultKeys)
}

func keysIn(v any, at string, found map[string]bool) {
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			path := strings.TrimPrefix(at+"."+k, ".")
			found[path] = true
			keysIn(x, path, found)
		}
	case []any:
		for _, x := range v {
			keysIn(x, at+"[]", found)
		}
	}
}

func TestWordsForPeopleSayTheSame(t *testing.T) {
	code, out, _ := stillwet(t, "words")
	require.Equal(t, 0, code)
	v := words(t)
	for _, p := range slices.Concat(v.Verbs, v.Events) {
		require.Contains(t, out, "\n  "+p.Phrase+"\n")
	}
	for _, r := range v.Rules {
		require.Contains(t, out, "\n  "+r.Name+" (needs ")
	}
	for _, k := range v.ResultKeys {
		require.Contains(t, out, "\n  "+k+"\n")
	}
	for _, e := range v.ExitCodes {
		require.Contains(t, out, fmt.Sprintf("\n  %d  %s\n", e.Code, e.Meaning))
	}
}
