package rules_test

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
)

// One engine judges for everybody: many ask it at once, with one procedure, and each gets
// the same answer.
func TestManyAreJudgedAtOnce(t *testing.T) {
	lib, p := builtIn(t)
	s, ok := lib.Scenario("ordinary-turnover")
	require.True(t, ok)
	want, err := rules.Assess(p, parsed(t, p, s.Model), "alone")
	require.NoError(t, err)
	text, err := want.JSON()
	require.NoError(t, err)
	log := parsed(t, p, s.Model)
	results, errs := make([]*assess.Result, 8), make([]error, 8)
	var all sync.WaitGroup
	for i := range results {
		all.Go(func() {
			l, err := action.Parse("log", action.Format(log), p.Words)
			if err != nil {
				errs[i] = err
				return
			}
			results[i], errs[i] = rules.Assess(p, l, "alone")
		})
	}
	all.Wait()
	for i := range results {
		require.NoError(t, errs[i])
		got, err := results[i].JSON()
		require.NoError(t, err)
		require.JSONEq(t, string(text), string(got))
	}
}
