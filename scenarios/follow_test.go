package scenarios_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/procedure"
	"stillwet/scenarios"
)

// Every surface of the built-in set by itself: dropped, and one more beside it. Only a
// story that names what is gone may rest.
func TestModelsFollowWithoutEachSurfaceAndWithOneMore(t *testing.T) {
	built, err := scenarios.Load()
	require.NoError(t, err)
	told := map[string][]string{ // by what is dropped
		"screen":     {"blood-on-the-screen"},
		"front":      {"blood-on-the-machine", "a-colleague-and-the-blood"},
		"side-table": {"spill-on-the-side-table"},
		"floor":      {"blood-on-the-floor"},
		"left":       {"called-away"},
		"pole":       {"an-alarm-against-the-clock"},
	}
	lessons := map[string][]string{"front": {"visible-blood"}} // its scenario is about blood there
	seen := map[string]bool{}
	for _, id := range every {
		for _, s := range proced(t, built, id).Surfaces {
			if seen[s.ID] {
				continue
			}
			seen[s.ID] = true
			t.Run(s.ID, func(t *testing.T) {
				t.Parallel()
				if s.Role != procedure.StagingSurface {
					_, lib := edited(t, scenarios.Edit{Do: "drop", List: "surfaces", Row: s.ID})
					require.ElementsMatch(t, told[s.ID], resting(t, lib, "scenario"), "without")
					require.ElementsMatch(t, lessons[s.ID], resting(t, lib, "lesson"), "without")
				}
				_, lib := edited(t, scenarios.Edit{Do: "put", List: "surfaces", Row: "one-more", Fields: fields{"title": "One more", "role": string(s.Role), "face": s.Face, "thing": s.Thing, "wipe_s": "5"}})
				require.Empty(t, resting(t, lib, "scenario"), "with one more on its side")
				_, lib = edited(t, scenarios.Edit{Do: "put", List: "surfaces", Row: "one-more", Fields: fields{"title": "One more", "role": string(s.Role), "face": "one more", "thing": s.ThingOf(), "wipe_s": "5"}})
				require.Empty(t, resting(t, lib, "scenario"), "with one more side")
			})
		}
	}
}

// Each surface as a side of its own: what is wiped with others then has a step of its own,
// and each side a fresh wipe.
func TestModelsFollowWhereEachSurfaceIsASideOfItsOwn(t *testing.T) {
	built, err := scenarios.Load()
	require.NoError(t, err)
	usual := []string{"screen", "buttons", "front", "pole", "call-light"} // the others with make soak
	for _, s := range proced(t, built, isolation).Surfaces {
		if !slices.Contains(usual, s.ID) && !thorough() {
			continue
		}
		t.Run(s.ID, func(t *testing.T) {
			t.Parallel()
			_, lib := edited(t, scenarios.Edit{Do: "put", List: "surfaces", Row: s.ID, Fields: fields{"face": "side of its own", "thing": s.ThingOf()}})
			require.Empty(t, resting(t, lib, "scenario"))
		})
	}
}

// modelOf is the model of a scenario that does not rest.
func modelOf(t *testing.T, lib *scenarios.Library, id string) string {
	t.Helper()
	resting(t, lib, "scenario")
	s, ok := lib.Scenario(id)
	require.True(t, ok, id)
	return s.Model
}

// A product that is not allowed everywhere: another is taken for what it is not allowed on,
// one that is strong enough where blood is, and the usual one again behind it.
func TestModelsTakeTheProductThatIsAllowed(t *testing.T) {
	foam := scenarios.Edit{Do: "put", List: "products", Row: "foam", Fields: fields{"title": "Foam", "level": "low", "label_s": "5:00", "dries_s": "6:00"}}
	strong := scenarios.Edit{Do: "put", List: "products", Row: "strong", Fields: fields{"title": "Strong", "level": "intermediate", "label_s": "5:00", "dries_s": "6:00"}}
	notOn := func(product, surfaces string) scenarios.Edit {
		return scenarios.Edit{Do: "put", List: "products", Row: product, Fields: fields{"not_on": surfaces}}
	}
	t.Run("on the screen", func(t *testing.T) {
		_, lib := edited(t, foam, notOn("station-wipe", "screen"), notOn("blood-wipe", "screen"))
		require.Equal(t, []string{"blood-on-the-screen"}, resting(t, lib, "scenario"), "nothing that is strong enough is allowed there")
		require.Contains(t, modelOf(t, lib, "ordinary-turnover"), "of foam\nwipe screen\nwipe buttons\nwipe keyboard\ntake wipe w5 of station-wipe\nwipe front\n")
	})
	t.Run("where blood is", func(t *testing.T) {
		_, lib := edited(t, foam, strong, notOn("blood-wipe", "front"))
		require.Empty(t, resting(t, lib, "scenario"))
		require.Contains(t, modelOf(t, lib, "blood-on-the-machine"), "of strong\nwipe front\n")
	})
	t.Run("withheld until it is needed", func(t *testing.T) {
		_, lib := edited(t, notOn("station-wipe", "screen"))
		require.NotContains(t, resting(t, lib, "scenario"), "against-the-clock")
		require.Regexp(t, "of (blood-wipe|bleach-dilution)\n.* wipe screen\n", modelOf(t, lib, "against-the-clock"))
	})
}

// A pair that the models were not written for.
func TestModelsFollowANewPair(t *testing.T) {
	for pair, rests := range map[string][]string{
		"wipe-side-table wipe-chair": nil,
		"wipe-counter wipe-left":     nil,
		"wipe-pole wipe-top":         {"an-alarm-against-the-clock"}, // the alarm comes when the pole was wiped
		"look discard-supplies":      {"the-bucket-goes-back-last"},  // a colleague threw them away
	} {
		t.Run(pair, func(t *testing.T) {
			_, lib := edited(t,
				scenarios.Edit{Do: "put", List: "order", Row: pair, Fields: fields{"why": "Our own custom."}},
				scenarios.Edit{Do: "confirm", List: "order", Row: pair, Fields: fields{"by": "Mara Voss", "on": "2027-01-02"}})
			require.ElementsMatch(t, rests, resting(t, lib, "scenario"))
		})
	}
}
