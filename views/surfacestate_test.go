package views

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// cssRule is one rule of a sheet: its selectors and what it declares.
type cssRule struct{ Selectors, Body string }

// cssRules are those of all sheets, also within media queries.
func cssRules(t *testing.T) (all []cssRule) {
	names, err := filepath.Glob("static/css/*.css")
	require.NoError(t, err)
	for _, name := range names {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		plain := cssRemarks.ReplaceAll(text, nil)
		for _, m := range regexp.MustCompile(`([^{}]+)\{([^{}]*)\}`).FindAllStringSubmatch(string(plain), -1) {
			all = append(all, cssRule{strings.TrimSpace(m[1]), m[2]})
		}
	}
	require.NotEmpty(t, all)
	return all
}

var stateInCSS = regexp.MustCompile(`\[data-state="?([^\]"]*)"?\]`)

// drawnBy is the rule that draws a state: one for tile, bar, shape and sign.
func drawnBy(t *testing.T, s SurfaceState) string {
	var found []string
	for _, r := range cssRules(t) {
		if strings.HasSuffix(r.Selectors, "[data-state="+string(s)+"]") && strings.Contains(r.Body, "--tone") {
			for _, class := range []string{".tap", ".spell", ".part", ".state-mark"} {
				require.Contains(t, r.Selectors, class, "%s: no rule for %s", s, class)
			}
			found = append(found, r.Body)
		}
	}
	require.Len(t, found, 1, "%s is drawn by one rule", s)
	return found[0]
}

// declared is the value that a rule gives a property.
func declared(body, property string) string {
	m := regexp.MustCompile(property + `: ([^;]+);`).FindStringSubmatch(body)
	if m == nil {
		return ""
	}
	return m[1]
}

// cornersIn is a polygon of CSS as the table writes it.
func cornersIn(polygon string) string {
	return strings.TrimSuffix(strings.TrimPrefix(strings.ReplaceAll(polygon, "%", ""), "polygon("), ")")
}

// The sheet draws each state as the table says: its accent, its edge, its sign.
func TestTheSheetDrawsTheTable(t *testing.T) {
	paint := map[fill][]string{
		fillEmpty: {"var(--card)", "var(--sunk)", "none"}, fillRising: {"var(--water)"}, fillFull: {"var(--water)"}, fillHatch: {"url(#hatch)"}, fillWash: {"var(--look-wash)"},
	}
	for _, l := range surfaceLooks {
		body := drawnBy(t, l.State)
		require.Equal(t, l.Mark, cornersIn(declared(body, "--mark")), l.State)
		require.Equal(t, strconv.Itoa(int(l.Frame)), declared(body, "--frame"), l.State)
		require.Equal(t, l.Dashed, declared(body, "--dash") != "", l.State)
		require.Contains(t, paint[l.Fill], declared(body, "--paint"), l.State)
		tone := map[signal][]string{signalAct: {"var(--act-part)"}, signalLook: {"var(--look-part)"}, signalNone: {"var(--edge)", "var(--ink)"}}
		require.Contains(t, tone[l.Signal], declared(body, "--tone"), l.State)
	}
}

// Every rule that names a state names one of the table.
func TestNoRuleNamesAnotherState(t *testing.T) {
	known := map[string]bool{}
	for _, l := range surfaceLooks {
		known[string(l.State)] = true
	}
	for _, r := range cssRules(t) {
		for _, m := range stateInCSS.FindAllStringSubmatch(r.Selectors, -1) {
			require.True(t, known[m[1]], "%q names %q, which is no state", r.Selectors, m[1])
		}
		act, look := strings.Contains(r.Body, "--act"), strings.Contains(r.Body, "--look")
		require.False(t, act && look && strings.Contains(r.Selectors, "data-state"), "%q has both accents", r.Selectors)
	}
}

// Told in grey: no two states have the same inside, edge and sign. Dashes are of the time
// that is asked for, the thick frame of the state that asks.
func TestStatesAreToldWithoutColour(t *testing.T) {
	type shape struct {
		Fill   fill
		Frame  frame
		Dashed bool
		Mark   string
	}
	seen := map[shape]SurfaceState{}
	words := map[string]bool{}
	for _, l := range surfaceLooks {
		s := shape{l.Fill, l.Frame, l.Dashed, l.Mark}
		require.NotContains(t, seen, s, "%s looks like %s", l.State, seen[s])
		seen[s] = l.State
		require.NotEmpty(t, l.Word)
		require.False(t, words[l.Word], "%q twice", l.Word)
		words[l.Word] = true
		require.Equal(t, l.State == StateNeed, l.Dashed, l.State)
		require.Equal(t, l.State == StateAsk, l.Frame == frameThick, l.State)
	}
	for _, r := range cssRules(t) {
		if regexp.MustCompile(`\.(tap|spell|part)\b`).MatchString(r.Selectors) && regexp.MustCompile(`dashed|dotted`).MatchString(r.Body) {
			require.Equal(t, ".tap[data-state=need]", r.Selectors, "dashes are of the time that is asked for")
		}
	}
}

func script(t *testing.T, name string) string {
	text, err := os.ReadFile("static/js/" + name)
	require.NoError(t, err)
	return string(text)
}

// The scripts show the states of the table, through the one function that paints a tile.
func TestTheScriptsShowTheTable(t *testing.T) {
	list := regexp.MustCompile(`export const states = \[([^\]]+)\]`).FindStringSubmatch(script(t, "wet.js"))
	require.NotNil(t, list)
	shown := strings.Split(strings.ReplaceAll(list[1], `"`, ""), ", ")
	var want []string
	for _, l := range surfaceLooks {
		// No tile is in these: one is what a bar is measured by, one tells less than boards do,
		// and of blood boards tell in words.
		if l.State != StateNeed && l.State != StateDried && l.State != StateBlood {
			want = append(want, string(l.State))
		}
	}
	slices.Sort(shown)
	slices.Sort(want)
	require.Equal(t, want, shown)
	for _, name := range []string{"run.js", "recorder.js"} {
		require.NotContains(t, script(t, name), "dataset.state =", name)
		require.Regexp(t, `paint\((b|tile\.el), `, script(t, name), name)
	}
	for _, m := range regexp.MustCompile(`state: "(\w+)"`).FindAllStringSubmatch(script(t, "wet.js"), -1) {
		require.Contains(t, shown, m[1])
	}
}

// What is drawn by the server alone fills by quarters, each of which the sheet knows.
func TestLevelsOfTheServerAreQuarters(t *testing.T) {
	require.Equal(t, []string{"0", "0", "25", "50", "75", "100", "100"}, []string{quarter(-1), quarter(.1), quarter(.3), quarter(.5), quarter(.7), quarter(.9), quarter(2)})
	for _, q := range []string{"25", "50", "75", "100"} {
		require.True(t, slices.ContainsFunc(cssRules(t), func(r cssRule) bool {
			return r.Selectors == `.tap[data-level="`+q+`"]` && strings.Contains(r.Body, "--level")
		}), q)
	}
	tile := rendered(t, SurfaceTile(StateWet, .5, "Screen"))
	require.Contains(t, tile, `data-state="wet"`)
	require.Contains(t, tile, `data-level="50"`)
	require.Contains(t, tile, ">Wet<")
}

func TestAKeyTellsWhatItIsAskedFor(t *testing.T) {
	all := rendered(t, StateKey())
	for _, l := range surfaceLooks {
		require.Contains(t, all, l.meaning())
	}
	some := rendered(t, StateKey(StateEarly, StateNeed))
	require.Contains(t, some, "Too short")
	require.NotContains(t, some, "Spoilt")
}
