package web

import (
	"encoding/json"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Whatever a script's body holds, it is answered: done, or refused with a sentence.
func FuzzJSONBody(f *testing.F) {
	w := staffed(f)
	for _, seed := range []string{`{"draft":"x","revision":0,"steps":["rub-hands"]}`, `{"draft":"x","key":"12345678","step":"rub-hands","at_ms":1}`,
		`{"key":"12345678","at_ms":9e99,"text":"undone 1"}`, `{"draft":"x"} {}`,
		batchOf(1, "rub-hands", "", 5), batchOf(0, "", "undone 1", -5), `{"device":"tablet-1","acts":[{"key":"12345678","n":1,"at_ms":1,"wall":"x","undo":"y"},null]}`, `{"steps":{}}`, "\xff", `[`} {
		for i := range byte(7) {
			f.Add(i, seed)
		}
	}
	got := w.preceptor.post("/watch/new", startForm(w.trainee.id(), turnover, "station-wipe"))
	require.Equal(f, 303, got.StatusCode, got.body)
	demo := strings.TrimPrefix(strings.TrimSuffix(got.Header.Get("Location"), "/record"), "/demonstrations/")
	paths := []string{"/practice/ordinary-turnover/steps", "/practice/against-the-clock/tap", "/practice/against-the-clock/finish",
		"/practice/against-the-clock/discard", "/demonstrations/none/batch", "/demonstrations/" + demo + "/batch", "/demonstrations/none/end"}
	f.Fuzz(func(t *testing.T, to byte, body string) {
		w.T = t
		path := paths[int(to)%len(paths)]
		got := w.preceptor.send(path, body)
		var answer map[string]any
		require.NoError(t, json.Unmarshal([]byte(got.body), &answer), "%s: %s", path, got.body)
		require.Less(t, got.StatusCode, 500, "%s: %v", path, answer)
		if got.StatusCode >= 400 {
			require.NotEmpty(t, answer["error"], path)
		}
	})
}

// Whatever a form holds, a page or the way to one comes back.
func FuzzFormBody(f *testing.F) {
	w := staffed(f)
	for _, seed := range []string{"username=edda&password=x", "key=12345678&name=N&staff_no=1&username=nora&role=trainee&hired=2026-01-01",
		"key=a&key=b", "%zz=%", "key=12345678&competency=turnover-between-patients&from=2026-01-01&until=9999-99-99", "draft=x&revision=&add=rub-hands&after=-9"} {
		for i := range byte(7) {
			f.Add(i, seed)
		}
	}
	paths := []string{"/sign-in", "/people", "/people/none/entitle", "/password", "/watch/new", "/first/none", "/practice/ordinary-turnover/steps"}
	f.Fuzz(func(t *testing.T, to byte, body string) {
		w.T = t
		path := paths[int(to)%len(paths)]
		r := httptest.NewRequest("POST", path, strings.NewReader(body))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		r.Header.Set("X-Form-Token", w.educator.token)
		got := w.educator.do(r)
		require.Less(t, got.StatusCode, 500, "%s: %s", path, got.body)
		require.True(t, got.StatusCode == 303 || strings.HasPrefix(got.body, "<!doctype html>"), "%s: %d", path, got.StatusCode)
	})
}
