package scenarios_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

// A story says the time of the label that the clinic has, and no story says another.
func TestStoriesSayTheLabelsTime(t *testing.T) {
	for seconds, words := range map[string]string{"60": "1 minute", "90": "90 seconds", "150": "2 minutes and 30 seconds", "180": "3 minutes", "300": "5 minutes"} {
		_, lib := edited(t, scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"label_s": seconds, "dries_s": "330"}})
		for _, id := range []string{"against-the-clock", "an-alarm-against-the-clock", "the-coat-against-the-clock", "end-of-day-by-the-clock"} {
			s, ok := lib.Scenario(id)
			require.True(t, ok, "%s rests with %s", id, seconds)
			require.Contains(t, s.Story, "asks for "+words+" of visible wetness", id)
		}
	}
	lib, err := scenarios.Load()
	require.NoError(t, err)
	for _, s := range lib.Scenarios() {
		for _, v := range append([]*simulate.Scenario{s}, s.Variants...) {
			require.NotContains(t, v.Story+v.Title+v.Teaches, "{", v.ID)
		}
	}
}

// What a form shows of a scenario is what its file says, and what is typed there is told.
func TestAStoryIsRewritten(t *testing.T) {
	set := scenarios.BuiltIn()
	told, ok := set.Told("against-the-clock")
	require.True(t, ok)
	require.Contains(t, told.Story, "{label time}")
	require.Equal(t, "station-wipe", told.Product)
	of, ok := set.Told("a-colleagues-wet-times")
	require.True(t, ok)
	require.Empty(t, of.Product, "it has that of what it spoils")
	for _, none := range []string{"no-such", "programme", "course", "../against-the-clock", ""} {
		_, ok := set.Told(none)
		require.False(t, ok, none)
	}
	_, lib := edited(t, scenarios.Edit{Do: "put", List: "scenarios", Row: "against-the-clock", Fields: fields{"story": "A quiet noon. The {product} asks for {label time}."}})
	s, _ := lib.Scenario("against-the-clock")
	require.Contains(t, s.Story, "wipe")
	require.Contains(t, s.Story, "asks for 2 minutes.")
	_, err := set.With(scenarios.Edit{Do: "put", List: "scenarios", Row: "against-the-clock", Fields: fields{"story": "It is in {nowhere}."}})
	require.ErrorContains(t, err, "{nowhere} is no fact that varies")
}

// A product is replaced by another in all scenarios at once, and nothing rests for it.
func TestAProductIsReplaced(t *testing.T) {
	set, lib := edited(t,
		scenarios.Edit{Do: "put", List: "products", Row: "five-minute-foam", Fields: fields{"title": "Five minute foam", "level": "intermediate", "label_s": "300", "dries_s": "330"}},
		scenarios.Edit{Do: "replace", List: "products", Row: "station-wipe", Fields: fields{"by": "five-minute-foam"}})
	s, ok := lib.Scenario("against-the-clock")
	require.True(t, ok)
	require.Equal(t, "five-minute-foam", s.Product)
	require.Contains(t, s.Story, "asks for 5 minutes")
	p, _ := lib.Procedure("between-patients")
	require.Negative(t, p.ProductIndex("station-wipe"))
	for _, r := range lib.Resting() {
		require.NotContains(t, r.Why, "station-wipe", r.Title)
		require.NotContains(t, r.Why, "2-minute", r.Title)
	}
	again, err := scenarios.BuiltIn().With(scenarios.Edit{Do: "replace", List: "products", Row: "station-wipe", Fields: fields{"by": "station-wipe"}})
	require.ErrorContains(t, err, "by itself")
	require.Nil(t, again)
	_, err = scenarios.BuiltIn().With(scenarios.Edit{Do: "replace", List: "products", Row: "station-wipe", Fields: fields{"by": "no-such"}})
	require.ErrorContains(t, err, "unknown product")
	_, err = set.With(scenarios.Edit{Do: "replace", List: "surfaces", Row: "screen", Fields: fields{"by": "chair"}})
	require.Error(t, err)
}
