package rules_test

import (
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// FuzzJudge: whatever can be read can be judged, and the station comes to the same
// state whether somebody writes down the ways of contaminations or not.
func FuzzJudge(f *testing.F) {
	_, p := builtIn(f)
	files, err := filepath.Glob(checks + "logs/*.log")
	require.NoError(f, err)
	require.NotEmpty(f, files)
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(f, err)
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		log, err := action.Parse("f", string(text), p.Words)
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		judgeWhole(t, p, log)
	})
}

// FuzzActs is the same over bytes that choose lines, so that nearly all of them can be
// read.
func FuzzActs(f *testing.F) {
	_, p := builtIn(f)
	f.Add([]byte{})
	f.Add([]byte{1, 0, 0, 0})
	for seed := range byte(40) {
		var acts []byte
		for i := range 120 {
			acts = append(acts, byte(i*(int(seed)+3)), seed*7+byte(i)*13)
		}
		f.Add(acts)
	}
	f.Fuzz(func(t *testing.T, acts []byte) {
		log, err := action.Parse("f", textOf(p.Words, acts), p.Words)
		if err != nil {
			require.ErrorContains(t, err, "undone")
			return
		}
		judgeWhole(t, p, log)
	})
}

// judgeWhole judges a log and checks what holds of every result.
func judgeWhole(t *testing.T, p *procedure.Procedure, log *action.Log) {
	t.Helper()
	result, err := rules.Assess(p, log, "f")
	if err != nil { // another procedure, or another version of it
		require.True(t, log.Procedure != p.ID || log.Hash != "-", err)
		return
	}
	for i := range result.Findings {
		f := &result.Findings[i]
		require.LessOrEqual(t, f.Act, len(log.Acts))
		require.Positive(t, f.Count)
		require.NotContains(t, f.Message+f.Why+f.Next, "{")
	}
	again, err := rules.Assess(p, log, "f")
	require.NoError(t, err)
	require.Equal(t, result, again)
	_, err = assess.Spells(p, log)
	require.NoError(t, err)
	acts, err := station.Bind(p, log)
	require.NoError(t, err)
	traced, bare := station.Start(p), station.Start(p)
	with, without := station.MachineFor(p, log, station.NewTrace()), station.MachineFor(p, log, nil)
	for i := range acts {
		with.Apply(&traced, &acts[i])
		without.Apply(&bare, &acts[i])
		require.True(t, traced == bare, "act %d", i+1)
	}
}

// textOf is a log of lines that bytes choose: two for each, the phrase and its words.
// The first tells what the log witnesses, its format and how time goes by.
func textOf(words action.Words, acts []byte) string {
	witness, version, step := []string{"order", "order clock", "order clock drying"}[0], action.Version, 0
	if len(acts) > 0 {
		witness = []string{"order", "order clock", "order clock drying"}[acts[0]%3]
		version, step, acts = 1+int(acts[0]/3)%action.Version, int(acts[0]), acts[1:]
	}
	var b strings.Builder
	fmt.Fprintf(&b, "stillwet log %d\nprocedure between-patients -\nwitness %s\n", version, witness)
	now := 0
	for n := 0; len(acts) >= 2 && n < action.MaxActs; n++ {
		choice := binary.LittleEndian.Uint16(acts)
		acts = acts[2:]
		line := filled(words, phrases[int(choice)%len(phrases)], int(choice)/len(phrases), n)
		if strings.HasPrefix(line, "undone") && n == 0 {
			continue
		}
		if witness != "order" {
			now += (step + int(choice)) % 75
			fmt.Fprintf(&b, "%d:%02d ", now/60, now%60)
		}
		b.WriteString(line + "\n")
	}
	return b.String()
}

// filled puts words into a phrase, by number.
func filled(words action.Words, phrase string, by, n int) string {
	of := func(list []string) string { return list[by%len(list)] }
	return strings.NewReplacer("{surface}", of(words[action.Surface]), "{item}", of(words[action.Item]), "{place}", of(words[action.Place]),
		"{product}", of(words[action.Product]), "{step}", of(words[action.Step]), "{n}", fmt.Sprint(1+by%4), "{back}", fmt.Sprint(1+by%max(n, 1)),
		"{worn}", of(action.ProtectiveEquipment), "{mark}", of(words[action.Mark]), "{seconds}", fmt.Sprint(1+by%90),
		"{stage}", of(action.Stages), "{verdict}", of(action.Verdicts), "{reason}", of(action.Reasons), "{cause}", of(action.Causes)).Replace(phrase)
}
