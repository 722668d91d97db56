package web

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestARecordForASurveyorIsReachedFromPeople(t *testing.T) {
	w := staffed(t)
	page := w.educator.get("/people").body
	require.Contains(t, page, `action="/people/record" id="chosen"`)
	require.Contains(t, page, `form="chosen" name="person" value="`+w.trainee.id()+`"`)
	require.NotContains(t, w.preceptor.get("/people").body, `form="chosen"`)
	require.Contains(t, w.educator.get("/people/"+w.trainee.id()).body, `href="/people/record?person=`+w.trainee.id()+`"`)

	twice := "/people/record?person=" + w.trainee.id() + "&person=" + w.preceptor.id() + "&person=" + w.trainee.id()
	got := w.educator.get(twice)
	require.Equal(t, 200, got.StatusCode)
	require.Equal(t, 2, strings.Count(got.body, `class="person-sheet`), "each person once, in a sheet of their own")
	require.Equal(t, 404, w.educator.get("/people/record?person=nobody").StatusCode)
}
