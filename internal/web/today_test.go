package web

import (
	"crypto/rand"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"
)

// Who was given the right to today's list sees it, and nothing else of others.
func TestTheListOfTodayIsARightOfItsOwn(t *testing.T) {
	w := staffed(t)
	require.Equal(t, 403, w.trainee.get("/today").StatusCode)
	require.NotContains(t, w.trainee.get("/practice").body, `href="/today"`)
	person, err := w.Records.Person(t.Context(), w.trainee.id())
	require.NoError(t, err)
	edit := w.educator.get("/people/" + person.ID + "/edit")
	require.Contains(t, edit.body, `name="sees-today"`)
	form := url.Values{"key": {rand.Text()}, "seen": {w.educator.seenOf(person.ID)}, "name": {person.Name}, "role-trainee": {"yes"}, "sees-today": {"yes"}, "why": {""}}
	got := w.educator.post("/people/"+person.ID+"/correct", form)
	require.Equal(t, 303, got.StatusCode, got.body)

	page := w.trainee.get("/today")
	require.Equal(t, 200, page.StatusCode)
	require.Contains(t, page.body, "Only with a preceptor")
	require.Contains(t, w.trainee.get("/practice").body, `href="/today"`)
	for _, closed := range []string{"/people", "/watch", "/people/record?person=" + w.preceptor.id(), "/annual/2026.xlsx"} {
		require.Equal(t, 403, w.trainee.get(closed).StatusCode, closed)
	}
	require.Equal(t, 404, w.trainee.get("/people/"+w.preceptor.id()).StatusCode)
	require.Contains(t, w.educator.get("/changes").body, "sees the list of today")
}
