package web

import (
	"crypto/rand"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/views"
)

// An educator adds a place and a thing that goes there; the steps come with the thing, what
// rests is said at its list, and the last change can be taken back.
func TestThingsAndPlacesAreAdded(t *testing.T) {
	e := withSet(t).educator
	list := views.EditURL("places", "", "")
	require.Contains(t, e.get(list).body, "Add one")
	require.Contains(t, e.get(list+"&new=yes").body, "What it is for")
	require.Equal(t, 303, e.edit("places", "", "put", url.Values{"f-title": {"Red bag"}, "f-kind": {"leak-proof"}, "f-basis-kind": {"clinic to confirm"}}).StatusCode)
	require.Contains(t, e.get(list).body, "For waste, closed and leak-proof")

	form := e.get(views.EditURL("items", "", "") + "&new=yes").body
	require.Contains(t, form, "used again: set apart")
	require.Contains(t, form, `name="f-goes-red-bag"`)
	thing := url.Values{"f-title": {"Soaked pads"}, "f-kind": {"single-use"}, "f-goes-there": {"yes"}, "f-when_named": {"false"}, "f-isolation": {"false"}, "f-basis-kind": {"clinic to confirm"}}
	refused := e.edit("items", "", "put", thing)
	require.Equal(t, 422, refused.StatusCode)
	require.Contains(t, refused.body, `id="field-goes-wrong"`, "where it may go is missing, and its field says so")
	require.Contains(t, refused.body, `value="Soaked pads"`)
	thing.Set("f-goes-red-bag", "yes")
	require.Equal(t, 303, e.edit("items", "", "put", thing).StatusCode)
	row := e.get(views.EditURL("items", "", "soaked-pads")).body
	require.Contains(t, row, "row=discard-soaked-pads", "the step leads to its words")
	require.Contains(t, row, "Throw away the soaked pads")
	require.NotContains(t, e.get(views.EditURL("items", "", "")).body, "not shown to learners")
	require.Contains(t, e.get(views.EditURL("scenarios", "", "ordinary-turnover")).body, "<li>Throw away the soaked pads</li>", "the right answer has it")

	require.Equal(t, 303, e.edit("items", "lines", "put", url.Values{"f-goes-there": {"yes"}, "f-goes-waste-bin": {"yes"}}).StatusCode)
	require.Contains(t, e.get(views.EditURL("items", "", "")).body, "not shown to learners", "lines go into what is leak-proof, or no answer is right")
	require.Equal(t, 303, e.post("/set/undo", url.Values{"key": {rand.Text()}, "revision": {e.revision()}}).StatusCode)
	require.Equal(t, 303, e.edit("items", "soaked-pads", "hide", nil).StatusCode)
	after := e.get(views.EditURL("steps", "", "")).body
	require.NotContains(t, after, "soaked pads")
	require.NotContains(t, after, "not shown to learners", "nobody in a story puts away what is not there")
	require.Equal(t, 422, e.edit("places", "waste-bin", "put", url.Values{"f-kind": {"hole"}}).StatusCode)
}
