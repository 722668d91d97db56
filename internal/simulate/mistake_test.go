package simulate_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/simulate"
)

func TestMistakesDoNotMoveOneAnother(t *testing.T) {
	cues := []string{"a", "b", "c", "b", "d"}
	drop := simulate.Mistake{ID: "drop", Out: 1, In: -1}
	put := simulate.Mistake{ID: "put", Out: -1, In: 3, Cue: "x"}
	move := simulate.Mistake{ID: "move", Out: 4, In: 0, Cue: "d"}
	last := simulate.Mistake{ID: "last", Out: -1, In: 5, Cue: "y"}
	change := simulate.Mistake{ID: "change", Out: 2, In: 2, Cue: "z"}
	for _, c := range []struct {
		mistakes []simulate.Mistake
		want     []string
	}{
		{nil, cues},
		{[]simulate.Mistake{drop}, []string{"a", "c", "b", "d"}},
		{[]simulate.Mistake{put}, []string{"a", "b", "c", "x", "b", "d"}},
		{[]simulate.Mistake{move}, []string{"d", "a", "b", "c", "b"}},
		{[]simulate.Mistake{last}, []string{"a", "b", "c", "b", "d", "y"}},
		{[]simulate.Mistake{change}, []string{"a", "b", "z", "b", "d"}},
		{[]simulate.Mistake{drop, put, move, last, change}, []string{"d", "a", "z", "x", "b", "y"}},
	} {
		require.Equal(t, c.want, simulate.Spoil(cues, c.mistakes))
	}
	require.Equal(t, []string{"a", "b", "c", "b", "d"}, cues, "the model stays as it was")
}

func TestPlacesOfACue(t *testing.T) {
	cues := []string{"rub", "on", "rub", "off", "rub", "on"}
	for _, c := range []struct {
		before, after string
		nth, want     int
	}{{"", "", 2, 2}, {"on", "", 2, 4}, {"", "on", 1, 2}, {"off", "on", 1, 2}} {
		at, err := simulate.Place(cues, "rub", c.before, c.after, c.nth)
		require.NoError(t, err)
		require.Equal(t, c.want, at)
	}
	_, err := simulate.Place(cues, "rub", "on", "", 3)
	require.ErrorContains(t, err, "rub stands 2 times directly before on in the model, so there is no time 3")
	_, err = simulate.Place(cues, "on", "rub", "", 2)
	require.Error(t, err, "nothing comes after the last")
}

func TestPlantingsAreAllChoices(t *testing.T) {
	mistakes := []simulate.Mistake{{ID: "a"}, {ID: "b"}, {ID: "c"}, {ID: "d"}}
	f := simulate.Plantings(mistakes, 2)
	var values []string
	for _, o := range f.Options {
		values = append(values, o.Value)
		require.Len(t, simulate.Planting(mistakes, o), 2)
	}
	require.Equal(t, []string{"a b", "a c", "a d", "b c", "b d", "c d"}, values)
	require.Len(t, simulate.Plantings(mistakes, 4).Options, 1)
}
