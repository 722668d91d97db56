package course_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/scenarios"
)

// Without supplies nothing is asked of where they lie, and no demand names a surface that is
// not there.
func TestWhatHasNoOccasionIsNotAsked(t *testing.T) {
	was, err := scenarios.Load()
	require.NoError(t, err)
	set, err := scenarios.BuiltIn().With(
		scenarios.Edit{Do: "hide", List: "items", Row: "supplies"}, scenarios.Edit{Do: "hide", List: "items", Row: "next-set"}, scenarios.Edit{Do: "hide", List: "surfaces", Row: "staging"},
		scenarios.Edit{Do: "hide", List: "surfaces", Row: "bucket-sides"}, scenarios.Edit{Do: "hide", List: "surfaces", Row: "bucket-outside"})
	require.NoError(t, err)
	is, err := set.Outline()
	require.NoError(t, err)
	before, _ := was.Procedure("between-patients")
	now, _ := is.Procedure("between-patients")
	supplies := func(p *procedure.Procedure) (n int) {
		for _, x := range course.Asked(p) {
			if x.What == "Supplies are set down only where they may lie, and only when that surface was wiped and has been wet for its time." {
				n++
			}
		}
		return n
	}
	require.Equal(t, 1, supplies(before))
	require.Zero(t, supplies(now))
	for _, x := range course.Asked(now) {
		require.NotContains(t, x.What, "staging surface")
		require.NotContains(t, x.What, "sides and outside")
	}
	require.True(t, course.HasOccasion(before, "staging-wet"))
	require.False(t, course.HasOccasion(now, "staging-wet"))
	for _, rule := range []string{"sharps", "leakproof", "bucket-drain", "bucket-dry", "order", "wet-long-enough"} {
		require.True(t, course.HasOccasion(now, rule), rule)
	}
}
