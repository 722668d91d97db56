package views

import (
	"fmt"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// idsOf are the steps of each group, by id.
func idsOf(groups []StepGroup) (all [][]string) {
	for _, g := range groups {
		var ids []string
		for _, s := range g.Steps {
			ids = append(ids, s.ID)
		}
		all = append(all, ids)
	}
	return all
}

// The palette stands by area as the procedure has them, and within an area by the
// seed, never as the model uses its steps.
func TestThePaletteTellsNoOrder(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	for _, base := range lib.Scenarios() {
		p, _ := lib.Procedure(base.Procedure)
		orders := map[string]bool{}
		for i := range 20 {
			seed := "seed " + strconv.Itoa(i)
			b := Build{Scenario: base.Variant(seed), Procedure: p, Draft: training.Draft{Seed: seed}}
			for _, list := range [][]StepGroup{Groups(p, b.Scenario.Steps), SeldomGroups(p, b.Scenario.Steps)} {
				byLabel := idsOf(list)
				shown := idsOf(b.palette(list))
				require.Len(t, shown, len(byLabel))
				for g := range shown {
					require.ElementsMatch(t, byLabel[g], shown[g])
					require.False(t, inOrder(shown[g], b.Scenario.Answer()), "%s, %s: %v", base.ID, seed, shown[g])
				}
				orders[fmt.Sprint(shown)] = true
			}
		}
		require.Greater(t, len(orders), 20, "%s: every try is laid out anew", base.ID)
		b := Build{Scenario: base, Procedure: p}
		require.Equal(t, labels(Groups(p, base.Steps)), labels(b.palette(Groups(p, base.Steps))), "a try without a seed is as it was")
	}
}

func labels(groups []StepGroup) (all []procedure.Step) {
	for _, g := range groups {
		all = append(all, g.Steps...)
	}
	return all
}

// inOrder reports whether two or more of ids stand as an answer first uses them.
func inOrder(ids, answer []string) bool {
	var first []string
	for _, id := range answer {
		if slices.Contains(ids, id) && !slices.Contains(first, id) {
			first = append(first, id)
		}
	}
	var used []string
	for _, id := range ids {
		if slices.Contains(first, id) {
			used = append(used, id)
		}
	}
	return len(used) > 1 && slices.Equal(first, used)
}
