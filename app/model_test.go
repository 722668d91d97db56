package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// copyOf is a library in a folder of its own, some of its files changed.
func copyOf(t *testing.T, from string, change map[string]func(string) string) string {
	t.Helper()
	dir := t.TempDir()
	entries, err := os.ReadDir(from)
	require.NoError(t, err)
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), ".go") {
			continue
		}
		text, err := os.ReadFile(filepath.Join(from, e.Name()))
		require.NoError(t, err)
		if f := change[e.Name()]; f != nil {
			text = []byte(f(string(text)))
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, e.Name()), text, 0o600))
	}
	return dir
}

// frozen is the set that tests know surface by surface; the living one may change.
const frozen = "../testdata/checks/station"

func TestModelPrintsThePresentFile(t *testing.T) {
	want, err := os.ReadFile("../scenarios/against-the-clock.model.log")
	require.NoError(t, err)
	code, out, errs := stillwet(t, "model", "against-the-clock")
	require.Zero(t, code, errs)
	require.Equal(t, string(want), out)
}

// A label of three minutes in place of two, and a wipe that stays wet longer:
// the model is written anew by one command, no time by hand.
func TestModelFollowsANewLabelTime(t *testing.T) {
	dir := copyOf(t, frozen, map[string]func(string) string{
		"between-patients.procedure.yaml": func(s string) string {
			return strings.Replace(s, "label_s: 120, dries_s: 150", "label_s: 180, dries_s: 400", 1)
		},
	})
	code, out, errs := stillwet(t, "model", "--library", dir, "against-the-clock")
	require.Zero(t, code, errs)
	require.Contains(t, out, "4:59 bring supplies to staging", "wiped at 1:44, three minutes wet, 15 s to gather")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "against-the-clock.model.log"), []byte(out), 0o600))
	code, again, errs := stillwet(t, "model", "--library", dir, "against-the-clock")
	require.Zero(t, code, errs)
	require.Equal(t, out, again, "the file knows its cues")
}

// A new surface: a row, a step, and its cue in the model.
func TestModelTakesANewSurface(t *testing.T) {
	offered := func(s string) string { return strings.Replace(s, "wipe-counter]", "wipe-counter, wipe-lamp]", 1) }
	dir := copyOf(t, frozen, map[string]func(string) string{
		"ordinary-turnover.yaml": offered, "blood-on-the-machine.yaml": offered, "against-the-clock.yaml": offered,
		"between-patients.procedure.yaml": func(s string) string {
			s = strings.Replace(s, "\nitems:", "  - {id: lamp, title: Reading lamp, face: counter, role: station, wipe_s: 5, basis: clinic to confirm}\n\nitems:", 1)
			return strings.Replace(s, "\norder:", "  - {id: wipe-lamp, label: Wipe the reading lamp, area: chair-side, acts: [wipe lamp], seconds: 0}\n\norder:", 1)
		},
	})
	code, _, errs := stillwet(t, "model", "--library", dir, "ordinary-turnover")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "Not wiped with disinfectant: the reading lamp.", "the present model does not know it")
	text, err := os.ReadFile(filepath.Join(dir, "ordinary-turnover.model.log"))
	require.NoError(t, err)
	cues := strings.Fields(strings.ReplaceAll(cuesOf(string(text)), "# cues:", ""))
	i := slices.Index(cues, "wipe-counter")
	cues = slices.Insert(cues, i+1, "wipe-lamp")
	code, out, errs := stillwet(t, append([]string{"model", "--library", dir, "ordinary-turnover"}, cues...)...)
	require.Zero(t, code, errs)
	require.Contains(t, out, "wipe counter\nwipe lamp\nwait\n")
}

func cuesOf(text string) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, "# cues:") {
			b.WriteString(line)
		}
	}
	return b.String()
}

func TestModelSaysWhatIsWrong(t *testing.T) {
	for want, args := range map[string][]string{
		`no scenario "nowhere"`:       {"model", "nowhere"},
		`"wipe-tip" is not offered`:   {"model", "ordinary-turnover", "wipe-tip"},
		"until-reached:pole":          {"model", "against-the-clock", "gloves-on", "until-reached:pole"},
		"nothing to wait for":         {"model", "ordinary-turnover", "+5s"},
		"no such file or directory":   {"model", "--library", filepath.Join(t.TempDir(), "none"), "ordinary-turnover"},
		"never declares the station":  {"model", "ordinary-turnover", "rub-hands"},
		"the model log breaks gloved": {"model", "ordinary-turnover", "wipe-top", "declare-ready"},
	} {
		code, _, errs := stillwet(t, args...)
		require.NotZero(t, code, args)
		require.Contains(t, errs, want)
	}
}
