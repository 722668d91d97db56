package web

import (
	"html"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/views"
)

// A procedure is read whole: steps with reasons, pairs, demands, surfaces, products,
// things, choices, marks, and for each on what it rests.
func TestAProcedureIsRead(t *testing.T) {
	c := staffed(t)
	p, ok := c.Library.Procedure("between-patients")
	require.True(t, ok)
	for _, b := range []*browser{c.trainee, c.preceptor, c.educator} {
		page := b.get(views.ProcedureURL(p.Definition.ID, "")).body
		for _, x := range p.Surfaces {
			require.Contains(t, page, html.EscapeString(x.Title))
		}
		for _, x := range p.Products {
			require.Contains(t, page, html.EscapeString(x.Title))
		}
		for _, x := range p.MarkSheet.Marks {
			require.Contains(t, page, html.EscapeString(x.Title))
		}
		for _, x := range p.Order {
			require.Contains(t, page, html.EscapeString(x.Why))
		}
		require.Contains(t, page, "One right order, step by step")
		require.Contains(t, page, "Gloves are put on over clean hands.")
		require.Contains(t, page, "clinic to confirm")
		require.Contains(t, page, "advice until the clinic confirms it")
	}
	same := c.trainee.get(views.ProcedureURL(p.Definition.ID, p.Hash))
	require.Equal(t, 200, same.StatusCode)
	require.NotContains(t, same.body, "as it was judged")
	for _, path := range []string{"/procedures/no-such", views.ProcedureURL(p.Definition.ID, "0000"), views.ProcedureURL("no-such", p.Hash)} {
		require.Equal(t, 404, c.trainee.get(path).StatusCode, path)
	}
}
