package rules_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
)

// wide is the frozen procedure with so many further steps, surfaces and items
// before its own that every index is as large as it may be.
func wide(t *testing.T) *procedure.Procedure {
	_, p := builtIn(t)
	d := p.Definition
	var steps []procedure.Step
	for i := range procedure.MaxSteps - len(d.Steps) {
		steps = append(steps, procedure.Step{ID: fmt.Sprintf("filler-%d", i), Label: "Filler", Area: "hands", Acts: procedure.Acts{{Verb: action.Alarm, At: action.Untimed}}})
	}
	d.Steps = append(steps, d.Steps...)
	var items []procedure.Item
	for i := range procedure.MaxItems - len(d.Items) {
		items = append(items, procedure.Item{ID: fmt.Sprintf("spare-%d", i), Title: "Spare", Kind: procedure.Supplies, Goes: []string{"staging"}})
	}
	d.Items = append(items, d.Items...)
	var surfaces []procedure.Surface
	for i := range procedure.MaxSurfaces - len(d.Surfaces) {
		surfaces = append(surfaces, procedure.Surface{ID: fmt.Sprintf("tray-%d", i), Title: "Tray", Face: "staging surface", Role: procedure.StagingSurface, WipeS: 1})
	}
	d.Surfaces = append(surfaces, d.Surfaces...)
	w, faults := procedure.New(d, rules.Names())
	require.Empty(t, faults)
	return w
}

// How many steps, surfaces and items come before makes no difference.
func TestCheckLogsHoldAtTheCaps(t *testing.T) {
	all, w := loadProcedures(t), wide(t)
	judged := 0
	for _, file := range checkFiles(t) {
		_, p, log, small := all.assessed(t, file)
		if p.ID != w.ID {
			continue
		}
		large, err := rules.Assess(w, log, file)
		require.NoError(t, err)
		require.Equal(t, small.Findings, large.Findings, file)
		require.Equal(t, small.NotAssessed, large.NotAssessed, file)
		require.Equal(t, small.Marks, large.Marks, file)
		judged++
	}
	require.Positive(t, judged)
}
