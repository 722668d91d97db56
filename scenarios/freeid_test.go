package scenarios_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/scenarios"
)

// A title gives an id that the loader takes and nothing has yet, also of what no station has.
func TestIDsOfTitles(t *testing.T) {
	s := scenarios.BuiltIn()
	for title, want := range map[string]string{
		"Footrest": "footrest", "  Bed, with rails  ": "bed-with-rails", "Screen": "screen-2", "Counter": "counter-2", "Wall box": "wall-box-2",
		"液体": "surface", "": "surface", "É": "surface", "3-minute wipe": "3-minute-wipe", strings.Repeat("long ", 30): "long-long-long-long-long-long-long-long",
	} {
		id := s.FreeID("surfaces", title)
		require.Equal(t, want, id, title)
		require.True(t, action.ValidID(id), id)
	}
	for title, want := range map[string]string{"Gauze": "gauze", "Screen": "screen-2", "Waste bin": "waste-bin-2", "Gloves": "gloves-2", "Phone": "phone-2", "": "item"} {
		require.Equal(t, want, s.FreeID("items", title), "the log knows surfaces, things and places by one word")
	}
	two, err := s.With(scenarios.Edit{Do: "put", List: "surfaces", Row: "footrest", Fields: fields{"title": "Footrest", "face": "chair", "wipe_s": "8"}})
	require.NoError(t, err)
	require.Equal(t, "footrest-2", two.FreeID("surfaces", "Footrest"))
	require.Equal(t, "end-of-day-2", s.FreeID("variants", "End of day"), "a station of another kind is a file of its own")
}
