package views

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/scenarios"
)

// Where two products are in use, the page names both, and the step that takes from the
// shelf says which it is.
func TestWipesOfTwoProductsAreToldApart(t *testing.T) {
	edit := func(do, row string, with map[string]string) scenarios.Edit {
		return scenarios.Edit{Do: do, List: "products", Row: row, Fields: with}
	}
	one, err := scenarios.BuiltIn().Load()
	require.NoError(t, err)
	s, _ := one.Scenario("ordinary-turnover")
	p, _ := one.Procedure(s.Procedure)
	require.Equal(t, "Take a fresh wipe", p.SayingShelf(s.Steps, s.Product).Title("fresh-wipe"))
	require.Equal(t, "Station wipe, 2-minute label", atHand(s, p)[0].Text)

	set, err := scenarios.BuiltIn().With(edit("put", "foam", map[string]string{"title": "Foam", "level": "low", "label_s": "5:00", "dries_s": "6:00"}),
		edit("put", "station-wipe", map[string]string{"not_on": "screen"}), edit("put", "blood-wipe", map[string]string{"not_on": "screen"}))
	require.NoError(t, err)
	two, err := set.Load()
	require.NoError(t, err)
	s, _ = two.Scenario("ordinary-turnover")
	p, _ = two.Procedure(s.Procedure)
	said := p.SayingShelf(s.Steps, s.Product)
	require.Equal(t, "Take a fresh wipe: Station wipe, 2-minute label", said.Title("fresh-wipe"))
	require.Contains(t, labelsOf(Groups(said, s.Steps)), "Take a fresh wipe: Station wipe, 2-minute label")
	require.Contains(t, labelsOf(Groups(said, s.Steps)), "Take a wipe of Foam")
	facts := atHand(s, p)
	require.Len(t, facts, 2)
	require.Contains(t, facts[1].Text, "Foam, 5:00")
}
