package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/scenarios"
)

// exported is a folder with the built-in set, with words of one file changed.
func exported(t *testing.T, file, old, with string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "set")
	code, out, errs := stillwet(t, "set", "export", dir)
	require.Zero(t, code, errs)
	require.Contains(t, out, "set "+scenarios.BuiltIn().Hash())
	if file == "" {
		return dir
	}
	text, err := os.ReadFile(filepath.Join(dir, file))
	require.NoError(t, err)
	require.Contains(t, string(text), old)
	require.NoError(t, os.WriteFile(filepath.Join(dir, file), []byte(strings.Replace(string(text), old, with, 1)), 0o600))
	return dir
}

func TestASetIsExportedAndChecked(t *testing.T) {
	dir := exported(t, "", "", "")
	code, out, errs := stillwet(t, "set", "check", dir)
	require.Zero(t, code, errs)
	require.Regexp(t, `^no fault: \d+ scenarios, set `+scenarios.BuiltIn().Hash(), out)
	code, _, errs = stillwet(t, "set", "export", dir)
	require.Equal(t, exitBad, code)
	require.Contains(t, errs, "is not empty")
}

func TestCheckingASetTellsEveryFault(t *testing.T) {
	dir := exported(t, "products.parts.yaml", "label_s: 120", "label_s: 0")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "more.parts.yaml"), []byte("surfaces:\n  - {id: x, colour: red}\n"), 0o600))
	code, out, _ := stillwet(t, "set", "check", dir)
	require.Equal(t, exitFindings, code)
	require.Regexp(t, `(?m)^products\.parts\.yaml:\d+: products\.0\.label_s: 0 s is not between`, out)
	require.Contains(t, out, "more.parts.yaml:2: unknown field \"colour\"")

	require.NoError(t, os.WriteFile(filepath.Join(dir, "bomb.yaml"), []byte("a: 1\nb: &b [x]\nc: [*b, *b]\n"), 0o600))
	code, out, _ = stillwet(t, "set", "check", dir)
	require.Equal(t, exitFindings, code)
	require.Contains(t, out, "bomb.yaml:2: anchors and aliases")
	code, _, _ = stillwet(t, "set", "check", filepath.Join(dir, "nowhere"))
	require.Equal(t, exitBad, code)
}

func TestARestingScenarioIsNoFault(t *testing.T) {
	dir := exported(t, "chair-side.parts.yaml", "{id: chair,", "{id: chair, off: true,")
	code, out, errs := stillwet(t, "set", "check", dir)
	require.Zero(t, code, errs)
	require.Contains(t, out, "question order-of-work/patient-there rests: ")
	dir = exported(t, "machine.parts.yaml", "{id: pole,", "{id: pole, off: true,")
	code, out, errs = stillwet(t, "set", "check", dir)
	require.Zero(t, code, errs)
	require.Regexp(t, "(?m)^advice: Lesson “.*” speaks of “Pole”, which your stations do not have", out)
	dir = exported(t, "products.parts.yaml", "{id: blood-wipe,", "{id: blood-wipe, off: true,")
	code, out, errs = stillwet(t, "set", "check", dir)
	require.Zero(t, code, errs)
	require.Contains(t, out, "scenario blood-on-the-machine rests: it works with “Blood-claim wipe, 3-minute label”")
	require.Contains(t, out, "competency turnover-between-patients rests: it does not ask for scenario \"blood-on-the-machine\"")
}
