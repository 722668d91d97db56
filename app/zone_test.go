package main

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// Whoever sets a clinic up says once in which zone it counts its days; it holds at once and
// after the next start.
func TestTheZoneIsAskedOnce(t *testing.T) {
	t.Setenv("TZ", "UTC")
	dir := filepath.Join(t.TempDir(), "clinic")
	s, stop := serving(t, "serve", "--new", "--data", dir, "--listen", "127.0.0.1:0")
	link := firstLink.FindStringSubmatch(s.said)
	require.NotNil(t, link, s.said)
	at := s.url + "/first/" + link[1]
	_, page := get(t, at)
	require.Contains(t, page, `name="zone"`)
	require.Contains(t, page, `value="UTC"`)
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	c := &http.Client{Jar: jar}
	form := url.Values{"key": {"key-of-the-first"}, "name": {"Edda Invented"}, "username": {"edda"}, "password": {"rain on the slate roof"}, "zone": {"Middle/Earth"}}
	require.Contains(t, posted(t, c, at, form), "“Middle/Earth” is no time zone")
	form.Set("zone", " america/chicago ")
	require.Contains(t, posted(t, c, at, form), "Days are counted in America/Chicago.")
	stop()
	kept, err := os.ReadFile(filepath.Join(dir, settingsFile))
	require.NoError(t, err)
	require.Contains(t, string(kept), `"zone": "America/Chicago"`)
	f := folderFlags{Data: dir}
	set, err := f.settings()
	require.NoError(t, err)
	require.Equal(t, "America/Chicago", set.Zone)
	require.Nil(t, (&folderFlags{Data: dir, Zone: "UTC"}).keepZone(), "where a flag says it at each start nobody is asked")
}

// posted sends a form and gives the page that it leads to.
func posted(t *testing.T, c *http.Client, at string, form url.Values) string {
	t.Helper()
	resp, err := c.PostForm(at, form)
	require.NoError(t, err)
	text, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	require.NoError(t, resp.Body.Close())
	return string(text)
}
