package web

import (
	"net/http/httptest"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"
)

// withCookie asks for a page as a browser that keeps one more cookie.
func (b *browser) withCookie(path, name, value string) answer {
	r := httptest.NewRequest("GET", path, nil)
	r.Header.Set("Cookie", name+"="+value)
	return b.do(r)
}

func TestThePictureIsChosenForABrowser(t *testing.T) {
	w := withRecords(t)
	at := "/attempts/" + w.attempt
	page := w.trainee.get(at)
	require.Contains(t, page.body, "Left and right as you face the machine.")
	require.Contains(t, page.body, `value="mirrored"`)
	require.NotContains(t, page.body, "matrix(-1 0 0 1")

	got := w.trainee.post("/picture", url.Values{"picture": {"mirrored"}, "back": {at}})
	require.Equal(t, 303, got.StatusCode, got.body)
	require.Equal(t, at, got.Header.Get("Location"))
	require.Len(t, got.Cookies(), 1)
	cookie := got.Cookies()[0]
	require.Equal(t, "picture", cookie.Name)
	require.Equal(t, "mirrored", cookie.Value)
	require.True(t, cookie.HttpOnly)

	page = w.trainee.withCookie(at, "picture", "mirrored")
	require.Contains(t, page.body, "matrix(-1 0 0 1")
	require.Contains(t, page.body, `value="drawn"`)
	page = w.trainee.withCookie(at, "picture", `"><script>`)
	require.NotContains(t, page.body, "matrix(-1 0 0 1", "only the one word counts")

	got = w.trainee.post("/picture", url.Values{"picture": {"drawn"}, "back": {"/practice"}})
	require.Equal(t, 303, got.StatusCode)
	require.Empty(t, got.Cookies()[0].Value)
}

func TestThePictureLeadsBackToOurOwnPagesOnly(t *testing.T) {
	w := staffed(t)
	for _, back := range []string{"", "https://evil.example/", "//evil.example", `/\\evil.example`, "/\r\nX: y", "javascript:alert(1)"} {
		got := w.trainee.post("/picture", url.Values{"picture": {"mirrored"}, "back": {back}})
		require.Equal(t, 303, got.StatusCode, "%q", back)
		require.Equal(t, "/", got.Header.Get("Location"), "%q", back)
	}
	for _, form := range []url.Values{{"picture": {"upside-down"}, "back": {"/"}}, {"back": {"/"}}, {"picture": {"mirrored"}}} {
		got := w.trainee.post("/picture", form)
		require.Equal(t, 400, got.StatusCode, "%v", form)
		require.Empty(t, got.Cookies())
	}
}
