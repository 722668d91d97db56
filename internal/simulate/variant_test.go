package simulate_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/simulate"
)

func of(name string, values ...string) simulate.Fact {
	f := simulate.Fact{Name: name}
	for _, v := range values {
		f.Options = append(f.Options, simulate.Option{Value: v, Words: "the " + v})
	}
	return f
}

// By hand: the first eight bytes of the SHA-256 of "seed", a zero byte and "where" are
// 11603460320590182878, which leaves 878 of 1000.
func TestPickIsStable(t *testing.T) {
	require.Equal(t, 878, simulate.Pick("seed", "where", 1000))
	require.Zero(t, simulate.Pick("any", "where", 1))
}

func TestVariantFollowsTheSeed(t *testing.T) {
	facts := []simulate.Fact{of("where", "front", "chair", "top"), of("side", "left", "right")}
	s := &simulate.Scenario{ID: "base", Vary: facts}
	for _, fixed := range simulate.Combinations(facts) {
		s.Variants = append(s.Variants, &simulate.Scenario{ID: simulate.Fill("{where} {side}", fixed), Story: simulate.FillWords("{where}, {side}, {else}", fixed)})
	}
	require.Equal(t, "front left", s.Variants[0].ID)
	require.Equal(t, "top right", s.Variants[5].ID)
	require.Equal(t, "the chair, the left, {else}", s.Variants[2].Story)
	require.Same(t, s, s.Variant(""))
	met := map[string]int{}
	for i := range 600 {
		seed := fmt.Sprint("s", i)
		v := s.Variant(seed)
		require.Same(t, v, s.Variant(seed))
		want := facts[0].Options[simulate.Pick(seed, "where", 3)].Value + " " + facts[1].Options[simulate.Pick(seed, "side", 2)].Value
		require.Equal(t, want, v.ID)
		met[v.ID]++
	}
	require.Len(t, met, 6)
	for id, n := range met { // 100 is expected of each; six times the standard deviation is 55
		require.InDelta(t, 100, n, 55, id)
	}
	plain := &simulate.Scenario{ID: "plain"}
	require.Same(t, plain, plain.Variant("seed"))
}

func TestShuffledTellsNoAnswer(t *testing.T) {
	names := []string{"a", "b", "c", "d", "e"}
	answer := []string{"b", "x", "d", "b"}
	orders := map[string]bool{}
	for i := range 200 {
		got := simulate.Shuffled(fmt.Sprint(i), names, answer)
		require.ElementsMatch(t, names, got)
		require.Greater(t, slices.Index(got, "b"), slices.Index(got, "d"))
		orders[fmt.Sprint(got)] = true
	}
	require.Greater(t, len(orders), 40, "of 60 there are")
	require.Equal(t, []string{"a", "b", "c", "d", "e"}, names, "the list given is left as it is")
	require.Equal(t, []string{"b"}, simulate.Shuffled("s", []string{"b"}, answer))
}
