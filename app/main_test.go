package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
)

func stillwet(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	err := run(context.Background(), args, &out, &errs)
	return exitCode(err, &errs), out.String(), errs.String()
}

func file(t *testing.T, text string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "x.log")
	require.NoError(t, os.WriteFile(name, []byte(text), 0o600))
	return name
}

const model = "../scenarios/ordinary-turnover.model.log"

func TestAssessExitCodes(t *testing.T) {
	code, out, _ := stillwet(t, "assess", model)
	require.Equal(t, 0, code, out)
	require.Regexp(t, `pass, (\d+) of (\d+) marks`, out)

	text, err := os.ReadFile(model)
	require.NoError(t, err)
	broken := file(t, strings.Replace(string(text), "wipe cuff\n", "", 1))
	code, out, _ = stillwet(t, "assess", broken)
	require.Equal(t, 1, code)
	require.Contains(t, out, "Not wiped with disinfectant: the blood pressure cuff.")
	require.Contains(t, out, "local law come first", "the caution stands on every result")

	code, _, errs := stillwet(t, "assess", model, file(t, strings.Replace(string(text), "wipe cuff", "wipe cufff", 1)), file(t, "x"))
	require.Equal(t, 2, code)
	require.Contains(t, errs, "x.log:"+lineOf(string(text), "wipe cuff\n")+`: unknown surface "cufff"; nearest: cuff`)
	require.Contains(t, errs, "x.log:1: expected", "faults of all logs at once")

	for _, args := range [][]string{{"assess", "missing.log"}, {"assess"}, {"frobnicate"}, {"assess", "--procedure", "missing.yaml", model}, {"verify", "--data", t.TempDir()}} {
		code, _, errs := stillwet(t, args...)
		require.Equal(t, 2, code, "%v", args)
		require.NotEmpty(t, errs)
	}
}

// The shape that other programs read.
func TestAssessJSON(t *testing.T) {
	text, err := os.ReadFile(model)
	require.NoError(t, err)
	name := file(t, strings.Replace(string(text), "rub hands 20s\n", "", 1))
	code, out, _ := stillwet(t, "assess", "--json", name)
	require.Equal(t, 1, code)
	var r map[string]any
	require.NoError(t, json.Unmarshal([]byte(out), &r))
	require.Equal(t, filepath.ToSlash(name), r["log"])
	require.Equal(t, "between-patients", r["procedure"])
	require.Len(t, r["procedure_hash"], 64)
	require.EqualValues(t, assess.RulesVersion, r["rules_version"])
	require.Empty(t, r["not_assessed"])
	findings := r["findings"].([]any)
	require.Len(t, findings, 1)
	finding := findings[0].(map[string]any)
	for _, key := range []string{"rule", "act", "at_s", "surface", "message", "why", "next", "source", "critical", "level", "line", "count"} {
		require.Contains(t, finding, key)
	}
	require.Equal(t, "hands-before-patient", finding["rule"])
	require.EqualValues(t, 1, finding["act"])
	require.Nil(t, finding["at_s"])
	require.Equal(t, "breach", finding["level"])
	require.EqualValues(t, 1, finding["count"])
	require.Contains(t, strings.Split(string(text), "\n")[int(finding["line"].(float64))], "check patient stable", "the line of the file, one rub less")
	marks := r["marks"].(map[string]any)
	for _, key := range []string{"met", "missed", "not_assessed", "score", "cut", "result", "pass"} {
		require.Contains(t, marks, key)
	}
}

// Advice changes no exit code: the published checklist has no word on where the
// bucket stands, and the built-in pairs of custom are nobody's yet.
func TestAdviceIsNoFinding(t *testing.T) {
	text, err := os.ReadFile(model)
	require.NoError(t, err)
	aside := "set bucket at drying-place\n"
	require.Contains(t, string(text), aside)
	late := strings.Replace(strings.Replace(string(text), aside, "", 1), "wipe top\n", "wipe top\n"+aside, 1)
	code, out, errs := stillwet(t, "assess", file(t, late))
	require.Equal(t, 0, code, "%s%s", out, errs)
	require.Contains(t, out, "(advice)  “Wipe the machine top” came before “Set the bucket aside to dry")
}

// A log of another version of the procedure is told at the line that says so.
func TestAWrongHashHasItsLine(t *testing.T) {
	text, err := os.ReadFile(model)
	require.NoError(t, err)
	other := strings.Replace(string(text), "procedure between-patients -", "procedure between-patients "+strings.Repeat("0", 64), 1)
	code, _, errs := stillwet(t, "assess", file(t, other))
	require.Equal(t, 2, code)
	require.Contains(t, errs, "x.log:"+lineOf(other, "procedure between-patients")+": the log is of another version")
}

func TestAssessWithAProcedureFile(t *testing.T) {
	text, err := os.ReadFile(frozen + "/between-patients.procedure.yaml")
	require.NoError(t, err)
	name := filepath.Join(t.TempDir(), "own.procedure.yaml")
	require.NoError(t, os.WriteFile(name, []byte(strings.Replace(string(text), "earlier: eyes-on, later: lines-off", "earlier: declare-ready, later: check-stable", 1)), 0o600))
	code, out, errs := stillwet(t, "assess", "--procedure", name, frozen+"/ordinary-turnover.model.log")
	require.Equal(t, 1, code, errs)
	require.Contains(t, out, "came before “Declare the station ready”")

	require.NoError(t, os.WriteFile(name, []byte(strings.Replace(string(text), "label_s: 120", "label_s: 0", 1)), 0o600))
	code, _, errs = stillwet(t, "assess", "--procedure", name, frozen+"/ordinary-turnover.model.log")
	require.Equal(t, 2, code)
	require.Contains(t, errs, "own.procedure.yaml:"+lineOf(string(text), "label_s: 120")+": products.0.label_s: 0 s is not between")
}

func lineOf(text, part string) string {
	n := 1 + strings.Count(text[:strings.Index(text, part)], "\n")
	b, _ := json.Marshal(n)
	return string(b)
}

func TestServeRefusesADemoFolder(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, demoMark), nil, 0o600))
	code, _, errs := stillwet(t, "serve", "--data", dir)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "holds a demo clinic")
}

// A mistyped folder begins no clinic, whichever command it was typed for.
func TestAFolderWithoutAClinicStaysEmpty(t *testing.T) {
	list := file(t, "name,role\nAda Ohm,staff\n")
	for _, args := range [][]string{{"serve", "--listen", "127.0.0.1:0"}, {"import", "people", list}, {"reset-educator"}, {"verify"}, {"recheck"}} {
		dir := filepath.Join(t.TempDir(), "data")
		code, out, errs := stillwet(t, append(args, "--data", dir)...)
		require.Equal(t, 2, code, args)
		require.Contains(t, errs, "holds no clinic", args)
		require.Empty(t, out, args)
		require.NoDirExists(t, dir, args)
	}
}

func TestTheVersionIsSaid(t *testing.T) {
	code, out, _ := stillwet(t, "version")
	require.Zero(t, code)
	require.Regexp(t, `^stillwet \d+\.\d+.*, rules version `+strconv.Itoa(assess.RulesVersion)+`, go`, out)
}

func TestDemoRefusesAFolderOfSomethingElse(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "letter.txt"), nil, 0o600))
	code, _, errs := stillwet(t, "demo", "--data", dir)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "is not empty and holds no demo clinic")
}

func TestExportLeavesNoHalfFile(t *testing.T) {
	dir := t.TempDir()
	code, _, errs := stillwet(t, "export", "annual", "--data", filepath.Join(dir, "none"), "--out", filepath.Join(dir, "a.xlsx"))
	require.Equal(t, 2, code)
	require.Contains(t, errs, "holds no clinic")
	code, _, errs = stillwet(t, "export", "annual", "--data", dir, "--out", filepath.Join(dir, "a.csv"))
	require.Equal(t, 2, code)
	require.Contains(t, errs, "does not end in .xlsx")
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Empty(t, entries)
}

func TestBadZoneIsNamed(t *testing.T) {
	code, _, errs := stillwet(t, "verify", "--data", t.TempDir(), "--zone", "Mars/Olympus")
	require.Equal(t, 2, code)
	require.Contains(t, errs, `“Mars/Olympus” is no time zone`)
}

func TestSettingsStayWithTheFolder(t *testing.T) {
	f := folderFlags{Data: t.TempDir(), Clinic: "Invented Clinic", Zone: "America/Denver"}
	require.NoError(t, f.keep())
	later := folderFlags{Data: f.Data}
	set, err := later.settings()
	require.NoError(t, err)
	require.Equal(t, settings{"Invented Clinic", "America/Denver"}, set)
	later.Clinic = "Another"
	set, err = later.settings()
	require.NoError(t, err)
	require.Equal(t, settings{"Another", "America/Denver"}, set, "a flag wins")
	require.NoError(t, os.WriteFile(filepath.Join(f.Data, settingsFile), []byte("{"), 0o600))
	_, err = later.settings()
	require.ErrorContains(t, err, settingsFile)
}
