package scenarios_test

import (
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/scenarios"
)

// requireNoLeftovers looks at the lines of each model that lives: nobody waits before
// anything was wiped since the last wait, or takes off gloves that did nothing.
func requireNoLeftovers(t *testing.T, lib *scenarios.Library) {
	t.Helper()
	for _, s := range lib.Scenarios() {
		log, err := action.Parse(s.ID, s.Model, nil)
		require.NoError(t, err)
		wet, idle := false, false
		for _, a := range log.Acts {
			switch {
			case a.Verb == action.Wait:
				require.True(t, wet, "%s waits for nothing:\n%s", s.ID, s.Model)
				wet = false
				continue
			case a.Verb == action.Wipe:
				wet = true
			case a.Verb == action.TakeOff && a.Object == action.Gloves:
				require.False(t, idle, "%s has gloves for nothing:\n%s", s.ID, s.Model)
			}
			idle = a.Verb == action.PutOn && a.Object == action.Gloves
		}
	}
}

// noStaging drops the surface for supplies, with the supplies that may lie nowhere else.
var noStaging = []scenarios.Edit{
	{Do: "hide", List: "items", Row: "supplies"}, {Do: "hide", List: "items", Row: "next-set"}, {Do: "hide", List: "surfaces", Row: "staging"},
}

// What a dropped surface was wiped for goes with it, the wait and the gloves too.
func TestNothingIsLeftOverOfASurface(t *testing.T) {
	built, err := scenarios.Load()
	require.NoError(t, err)
	requireNoLeftovers(t, built)
	t.Run("staging", func(t *testing.T) {
		t.Parallel()
		_, lib := edited(t, noStaging...)
		requireNoLeftovers(t, lib)
		require.Contains(t, modelOf(t, lib, "ordinary-turnover"), "check patient gone\nrub hands 20s\nput on gown\n")
	})
	all := proced(t, built, isolation).Surfaces
	for seed := range uint64(12) {
		t.Run(strconv.FormatUint(seed, 10), func(t *testing.T) {
			t.Parallel()
			r := rand.New(rand.NewPCG(seed, 11))
			edits := append([]scenarios.Edit{}, noStaging...)
			for _, s := range all {
				if s.ID != "staging" && r.IntN(3) == 0 {
					edits = append(edits, scenarios.Edit{Do: "hide", List: "surfaces", Row: s.ID})
				}
			}
			set, err := scenarios.BuiltIn().With(edits...)
			require.NoError(t, err)
			lib, err := set.Load()
			require.NoError(t, err)
			requireNoLeftovers(t, lib)
		})
	}
}
