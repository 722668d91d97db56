package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"mime/multipart"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// recordingBy begins a recording and gives its id.
func (c *clinic) recordingBy(b *browser) string {
	r := b.post("/watch/new", startForm(c.trainee.id(), turnover, "station-wipe"))
	require.Equal(c.T, 303, r.StatusCode, r.body)
	return strings.TrimPrefix(strings.TrimSuffix(r.Header.Get("Location"), "/record"), "/demonstrations/")
}

// bringActs sends a file as the form of the watch page does.
func (b *browser) bringActs(text string) answer {
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	require.NoError(b.c.T, form.WriteField("token", b.token))
	file, err := form.CreateFormFile("acts", "acts.json")
	require.NoError(b.c.T, err)
	_, err = file.Write([]byte(text))
	require.NoError(b.c.T, err)
	require.NoError(b.c.T, form.Close())
	r := httptest.NewRequest("POST", "/watch/copy", &body)
	r.Header.Set("Content-Type", form.FormDataContentType())
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return b.do(r)
}

func aCopy200(demo string, acts int) string {
	list := make([]string, acts)
	for i := range list {
		list[i] = fmt.Sprintf(`{"key":"copied-act-%04d","n":%d,"at_ms":%d,"wall":"2026-03-02T15:00:00.000Z","text":"alarm"}`, i, i+1, 1000*i)
	}
	return fmt.Sprintf(`{"format":"stillwet-acts-1","device":"another-tablet","recordings":[{"demonstration":%q,"acts":[%s]}]}`, demo, strings.Join(list, ","))
}

// A copy brings each act in once, says where it was not taken, and brings nothing of what
// it cannot read.
func TestASavedCopyComesInOnce(t *testing.T) {
	w := staffed(t)
	demo := w.recordingBy(w.preceptor)
	for _, want := range []string{"450 acts were stored, 0 were there before", "0 acts were stored, 450 were there before"} {
		got := w.preceptor.bringActs(aCopy200(demo, 450))
		require.Equal(t, 200, got.StatusCode, got.body)
		require.Contains(t, got.body, want)
	}
	r, err := w.Recorded(t.Context(), w.preceptor.actor, demo)
	require.NoError(t, err)
	require.Len(t, r.Acts, 450)

	before := w.dump()
	for text, want := range map[string]string{
		"":  "Choose the file first",
		"{": "no saved copy of acts", `{"format":"x"}`: "its form", `[]`: "no saved copy",
		aCopy200(demo, 1) + "{}":                                                 "more than one thing",
		`{"format":"stillwet-acts-1","names":[]}`:                                "names",
		`{"format":"stillwet-acts-1","device":"another-tablet","recordings":[]}`: "0 recordings",
		aCopy200("nothing-there", 2):                                             "Recording 1: There is no such demonstration.",
		strings.ReplaceAll(aCopy200(demo, 2), "alarm", "pause"):                  "Recording 1, act 2: Another act came under the same key",
		strings.ReplaceAll(aCopy200(demo, 2), "copied", "other"):                 "Recording 1, act 1: Another act of this device has the number 1.",
	} {
		got := w.preceptor.bringActs(text)
		require.Equal(t, 422, got.StatusCode, text)
		require.Contains(t, got.body, want)
	}
	require.Equal(t, before, w.dump(), "what is not taken leaves nothing")

	w.EntitleTo(w.educator.actor, w.educator.actor)
	got := w.educator.bringActs(aCopy200(demo, 1))
	require.Contains(t, got.body, "Only the preceptor who started this demonstration can record it.")
}

// Whatever a file holds, it is read or refused with a sentence.
func FuzzCopy(f *testing.F) {
	f.Add([]byte(aCopy200("x", 2)))
	for _, seed := range []string{`{"format":"stillwet-acts-1","device":"d","recordings":[{"demonstration":"x","acts":[null]}]}`, "{}", "[", "null", `{"recordings":[{"acts":[{"n":1e99}]}]}`, "\xff"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		in, err := readCopy(data)
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		require.True(t, json.Valid(data))
		require.Equal(t, copyFormat, in.Format)
		require.NotEmpty(t, in.Recordings)
	})
}

// The recorder's page is the same for everybody, and what a browser keeps of it holds
// neither names nor tokens; the worker keeps nothing that is not there.
func TestWhatABrowserKeepsIsNobodysOwn(t *testing.T) {
	w := staffed(t)
	demo := w.recordingBy(w.preceptor)
	shell := w.anonymous().get("/recorder")
	require.Equal(t, 200, shell.StatusCode)
	require.Equal(t, shell.body, w.preceptor.get("/demonstrations/"+demo+"/record").body)
	for _, name := range []string{"Pia", "Tess", "token"} {
		require.NotContains(t, shell.body, name)
	}
	worker := w.anonymous().get("/sw.js")
	require.Equal(t, 200, worker.StatusCode)
	require.Equal(t, "no-cache", worker.Header.Get("Cache-Control"))
	require.Contains(t, worker.Header.Get("Content-Type"), "text/javascript")
	require.NotContains(t, worker.body, "VERSION")
	kept := regexp.MustCompile(`/static/[^"]+`).FindAllString(worker.body, -1)
	require.NotEmpty(t, kept)
	for _, url := range kept {
		require.Equal(t, 200, w.anonymous().get(url).StatusCode, url)
	}
	for _, url := range regexp.MustCompile(`/static/[^"]+`).FindAllString(shell.body, -1) {
		require.Contains(t, kept, url, "the page needs it")
	}
	pack := w.preceptor.get("/demonstrations/" + demo + "/pack")
	require.Contains(t, pack.body, "Tess Invented")
	require.NotContains(t, strings.ToLower(pack.body), "token")
	require.NotContains(t, pack.body, w.preceptor.token)
}
