package web

import (
	"compress/gzip"
	"crypto/rand"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
	"stillwet/views"
)

func TestHeadersOnEveryAnswer(t *testing.T) {
	w := withRecords(t)
	answers := map[string]answer{
		"page": w.educator.get("/people"), "page of a stranger": w.anonymous().get("/sign-in"),
		"no such page": w.anonymous().get("/nowhere"), "not signed in": w.anonymous().get("/people"),
		"not allowed": w.trainee.get("/people"), "wrong method": w.educator.do(httptest.NewRequest("DELETE", "/people", nil)),
		"workbook": w.educator.get("/annual/2026.xlsx"), "for a script": w.preceptor.send("/demonstrations/x/batch", "{"),
		"too large": w.tooLarge(), "redirect": w.educator.get("/"), "health": w.anonymous().get("/healthz"),
	}
	for name, a := range answers {
		require.Equal(t, policy, a.Header.Get("Content-Security-Policy"), name)
		require.Equal(t, "nosniff", a.Header.Get("X-Content-Type-Options"), name)
		require.Equal(t, "same-origin", a.Header.Get("Referrer-Policy"), name)
		require.Equal(t, "no-store", a.Header.Get("Cache-Control"), name)
		require.NotContains(t, a.body, "style=", name)
	}
	require.Equal(t, 405, answers["wrong method"].StatusCode)
	require.Equal(t, 413, answers["too large"].StatusCode)
	require.Contains(t, answers["too large"].body, "larger than any form of ours")
	require.Equal(t, 404, answers["no such page"].StatusCode)
	require.Contains(t, answers["no such page"].body, "Go to the start")
}

// tooLarge asks over a real connection: such a request never reaches a handler.
func (c *clinic) tooLarge() answer {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(c.T, err)
	ended := make(chan error, 1)
	go func() { ended <- c.app.Listener(listener) }()
	form := url.Values{"password": {strings.Repeat("x", passwords+1)}}
	resp, err := http.PostForm("http://"+listener.Addr().String()+"/sign-in", form)
	require.NoError(c.T, err)
	body, err := io.ReadAll(resp.Body)
	require.NoError(c.T, err)
	require.NoError(c.T, resp.Body.Close())
	require.NoError(c.T, c.app.Shutdown())
	require.NoError(c.T, <-ended)
	return answer{resp, string(body)}
}

func TestStaticFilesAreCachedAndNamedByContent(t *testing.T) {
	w := newClinic(t)
	page := w.anonymous().get("/sign-in").body
	at := strings.Index(page, "/static/")
	require.Positive(t, at)
	path, _, _ := strings.Cut(page[at:], `"`)
	got := w.anonymous().get(path)
	require.Equal(t, 200, got.StatusCode)
	require.Contains(t, got.Header.Get("Cache-Control"), "immutable")
	require.Equal(t, policy, got.Header.Get("Content-Security-Policy"))
	require.Equal(t, 404, w.anonymous().get("/static/000000000000/app.css").StatusCode)
	require.NotContains(t, page, "/static/missing/")
	_, ok := views.Static(path)
	require.True(t, ok)
}

func TestCookieOfASession(t *testing.T) {
	for _, secure := range []bool{false, true} {
		c := openClinic(t, secure)
		token, _, err := c.FirstRunToken(t.Context())
		require.NoError(t, err)
		form := url.Values{"key": {rand.Text()}, "name": {"Edda Invented"}, "username": {"edda"}, "password": {training.DemoPassword}}
		got := c.anonymous().post("/first/"+token, form)
		require.Equal(t, 303, got.StatusCode, got.body)
		cookie := got.Cookies()[0]
		require.True(t, cookie.HttpOnly)
		require.Equal(t, http.SameSiteLaxMode, cookie.SameSite)
		require.Equal(t, "/", cookie.Path)
		require.Equal(t, secure, cookie.Secure)
		require.Equal(t, secure, cookie.Name == "__Host-stillwet")
		require.Equal(t, secure, got.Header.Get("Strict-Transport-Security") != "")
		require.Equal(t, 303, c.anonymous().post("/first/"+token, form).StatusCode, "the same form sent twice is answered twice")
		form.Set("key", rand.Text())
		require.Equal(t, 404, c.anonymous().post("/first/"+token, form).StatusCode, "a set-up link works once")
	}
}

func TestSignInSaysTheSameForAWrongNameAndAWrongPassword(t *testing.T) {
	w := staffed(t)
	name := w.anonymous().post("/sign-in", url.Values{"username": {"nobody"}, "password": {"not the password"}})
	pass := w.anonymous().post("/sign-in", url.Values{"username": {"edda"}, "password": {"not the password"}})
	require.Equal(t, 401, name.StatusCode)
	require.Equal(t, 401, pass.StatusCode)
	require.Equal(t, strings.Replace(name.body, "nobody", "edda", 1), pass.body)
	require.Empty(t, pass.Cookies())
	require.Contains(t, pass.body, `role="alert"`)
}

func TestSignInGoesOnOnlyToOurOwnPages(t *testing.T) {
	w := staffed(t)
	asked := w.anonymous().get("/people?standing=due")
	require.Equal(t, 401, asked.StatusCode)
	require.Contains(t, asked.body, `name="next" value="/people?standing=due"`)
	for next, want := range map[string]string{
		"/people?standing=due": "/people?standing=due", "//evil.example/": "/", "https://evil.example/": "/", `/\evil.example`: "/", "": "/",
		"/\t/evil.example": "/", "/\r\nSet-Cookie: x": "/", "/\x7f/evil.example": "/", "javascript:alert(1)": "/", "/" + strings.Repeat("x", 300): "/", "/\n/evil.example": "/", "/\x00/evil.example": "/", "/\u0085/evil.example": "/",
	} {
		got := w.anonymous().post("/sign-in", url.Values{"username": {"edda"}, "password": {training.DemoPassword}, "next": {next}})
		require.Equal(t, 303, got.StatusCode)
		require.Equal(t, want, got.Header.Get("Location"), "next %q", next)
	}
}

// A token in an address would be logged, kept by the browser and sent on.
func TestAFormsTokenIsNotTakenFromItsAddress(t *testing.T) {
	w := staffed(t)
	b := w.signIn("tess", training.DemoPassword)
	got := b.post("/sign-out?token="+url.QueryEscape(b.token), url.Values{"token": {""}})
	require.Equal(t, 403, got.StatusCode)
	require.Equal(t, 200, b.get("/practice").StatusCode)
}

func TestSigningOutEndsTheSession(t *testing.T) {
	w := staffed(t)
	b := w.signIn("tess", training.DemoPassword)
	require.Equal(t, 200, b.get("/practice").StatusCode)
	require.Equal(t, 405, b.get("/sign-out").StatusCode, "a link must not sign anybody out")
	require.Equal(t, 303, b.post("/sign-out", nil).StatusCode)
	got := b.get("/practice")
	require.Equal(t, 401, got.StatusCode, "the old cookie must be worth nothing")
	require.Contains(t, got.body, "session has ended")
	require.Equal(t, 200, w.trainee.get("/practice").StatusCode, "other sessions go on")
}

func TestBadInputIsRefusedWithASentence(t *testing.T) {
	w := withRecords(t)
	steps := "/practice/ordinary-turnover/steps"
	require.Equal(t, 303, w.trainee.post("/practice/ordinary-turnover/start", url.Values{"key": {rand.Text()}}).StatusCode)
	d, err := w.OpenDraft(t.Context(), w.trainee.actor, "ordinary-turnover", false)
	require.NoError(t, err)
	body := func(revision int, step string) string {
		return fmt.Sprintf(`{"draft":%q,"revision":%d,"steps":[%q]}`, d.ID, revision, step)
	}
	before := w.dump()
	for name, c := range map[string]struct {
		got    answer
		status int
		words  string
	}{
		"broken JSON":                  {w.trainee.send(steps, `{"draft":`), 400, "could not be read"},
		"wrong type":                   {w.trainee.send(steps, `{"draft":7}`), 400, `draft\" does not take this kind of value (number)`},
		"wrong type of a shared field": {w.trainee.send("/practice/against-the-clock/tap", `{"at_ms":"soon"}`), 400, `field \"at_ms\" does not take this kind of value (string)`},
		"wrong type of all":            {w.trainee.send(steps, `[]`), 400, `field \"(the whole)\"`},
		"unknown field":                {w.trainee.send(steps, `{"draft":"x","outcome":"pass"}`), 400, "outcome"},
		"two values":                   {w.trainee.send(steps, body(d.Revision, "rub-hands")+"{}"), 400, "more than one"},
		"unknown step":                 {w.trainee.send(steps, body(d.Revision, "no-such-step")), 422, "no-such-step"},
		"stale revision":               {w.trainee.send(steps, body(d.Revision+7, "rub-hands")), 409, ""},
		"another's draft":              {w.otherLearner.send(steps, body(d.Revision, "rub-hands")), 404, ""},
		"field twice":                  {w.trainee.post(steps, url.Values{"draft": {d.ID, d.ID}, "revision": {"0"}, "add": {"rub-hands"}}), 400, "twice"},
		"field missing":                {w.trainee.post(steps, url.Values{"draft": {d.ID}, "add": {"rub-hands"}}), 400, "revision"},
		"no number":                    {w.trainee.post(steps, url.Values{"draft": {d.ID}, "revision": {"many"}, "add": {"rub-hands"}}), 400, "no number"},
		"no button":                    {w.trainee.post(steps, url.Values{"draft": {d.ID}, "revision": {"0"}}), 400, "button"},
		"name of nothing":              {w.educator.post("/people", url.Values{"key": {rand.Text()}, "name": {"\u2800\u200d"}, "staff_no": {""}, "username": {"nora"}, "role-trainee": {"yes"}, "hired": {"2026-01-01"}}), 422, "shows no letter"},
		"name of fillers":              {w.educator.post("/people", url.Values{"key": {rand.Text()}, "name": {"\u3164\u3164"}, "staff_no": {""}, "username": {"nora"}, "role-trainee": {"yes"}, "hired": {"2026-01-01"}}), 422, "name is missing"},
		"name in lines":                {w.educator.post("/people", url.Values{"key": {rand.Text()}, "name": {"Nora\nInvented"}, "staff_no": {""}, "username": {"nora"}, "role-trainee": {"yes"}, "hired": {"2026-01-01"}}), 422, "several lines"},
		"no day":                       {w.educator.post("/people", url.Values{"key": {rand.Text()}, "name": {"Nora Invented"}, "staff_no": {""}, "username": {"nora"}, "role-trainee": {"yes"}, "hired": {"soon"}}), 422, "needs a day"},
		"no role":                      {w.educator.post("/people", url.Values{"key": {rand.Text()}, "name": {"Nora Invented"}, "staff_no": {""}, "username": {"nora"}, "role-queen": {"yes"}, "hired": {"2026-01-01"}}), 422, ""},
		"name in use":                  {w.educator.post("/people", url.Values{"key": {rand.Text()}, "name": {"Nora Invented"}, "staff_no": {""}, "username": {"tess"}, "role-trainee": {"yes"}, "hired": {"2026-01-01"}}), 409, ""},
		"watch oneself":                {w.preceptor.post("/watch/new", startForm(w.preceptor.id(), turnover, "station-wipe")), 422, ""},
		"not entitled":                 {w.educator.post("/watch/new", startForm(w.trainee.id(), turnover, "station-wipe")), 403, ""},
		"backwards days":               {w.educator.post("/people/"+w.preceptor.id()+"/entitle", url.Values{"key": {rand.Text()}, "competency": {turnover}, "from": {"2026-05-01"}, "until": {"2026-04-01"}, "approval": {"alone"}}), 422, ""},
		"short password":               {w.trainee.post("/password", url.Values{"key": {rand.Text()}, "old": {training.DemoPassword}, "password": {"short"}}), 422, ""},
	} {
		require.Equal(t, c.status, c.got.StatusCode, "%s: %.400s", name, c.got.body)
		require.Contains(t, c.got.body, c.words, name)
	}
	require.Equal(t, before, w.dump(), "nothing may be half-saved")
}

func TestTheSameFormTwiceCountsOnce(t *testing.T) {
	w := staffed(t)
	form := startForm(w.trainee.id(), turnover, "station-wipe")
	one, two := w.preceptor.post("/watch/new", form), w.preceptor.post("/watch/new", form)
	require.Equal(t, 303, one.StatusCode, one.body)
	require.Equal(t, one.Header.Get("Location"), two.Header.Get("Location"))
	form.Set("person", w.otherLearner.id())
	require.Equal(t, 422, w.preceptor.post("/watch/new", form).StatusCode, "the same key for somebody else")
}

func TestErrorsForScriptsAreJSON(t *testing.T) {
	w := staffed(t)
	got := w.anonymous().send("/demonstrations/x/batch", "{}")
	require.Equal(t, 401, got.StatusCode)
	require.Contains(t, got.Header.Get("Content-Type"), "application/json")
	require.Contains(t, got.body, `"error":`)
}

// Static files are packed once, and a browser that takes no gzip gets them plain.
func TestStaticFilesArePackedForWhoTakesIt(t *testing.T) {
	b := newClinic(t).anonymous()
	path := regexp.MustCompile(`/static/[^"]+\.css`).FindString(b.get("/sign-in").body)
	plain := b.get(path)
	require.Empty(t, plain.Header.Get("Content-Encoding"))
	for _, takes := range []string{"gzip", "gzip, deflate, br"} {
		r := httptest.NewRequest("GET", path, nil)
		r.Header.Set("Accept-Encoding", takes)
		got := b.do(r)
		require.Equal(t, []string{"gzip"}, got.Header.Values("Content-Encoding"))
		require.Equal(t, "Accept-Encoding", got.Header.Get("Vary"))
		w, err := gzip.NewReader(strings.NewReader(got.body))
		require.NoError(t, err)
		text, err := io.ReadAll(w)
		require.NoError(t, err)
		require.Equal(t, plain.body, string(text))
		require.Less(t, len(got.body), len(plain.body)/3)
	}
}
