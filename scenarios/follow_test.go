package scenarios_test

import (
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
				}
				_, lib := edited(t, scenarios.Edit{Do: "put", List: "surfaces", Row: "one-more", Fields: fields{"title": "One more", "role": string(s.Role), "face": s.Face, "thing": s.Thing, "wipe_s": "5"}})
				require.Empty(t, resting(t, lib, "scenario"), "with one more on its side")
				_, lib = edited(t, scenarios.Edit{Do: "put", List: "surfaces", Row: "one-more", Fields: fields{"title": "One more", "role": string(s.Role), "face": "one more", "thing": s.ThingOf(), "wipe_s": "5"}})
				require.Empty(t, resting(t, lib, "scenario"), "with one more side")
			})
		}
	}
}
