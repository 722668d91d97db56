package web

import (
	"context"
	"crypto/rand"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// try signs in with a password and answers the status.
func (b *browser) try(username, password string) int {
	return b.post("/sign-in", url.Values{"username": {username}, "password": {password}}).StatusCode
}

func TestStrangersDoNotKeepAKnownBrowserOut(t *testing.T) {
	w := staffed(t)
	w.serveAnew(Config{Behind: true})
	for i := range 100 {
		stranger := w.anonymous()
		stranger.from = fmt.Sprintf("192.0.2.%d", i)
		require.Contains(t, []int{401, 429}, stranger.try("edda", "guess after guess"))
	}
	home := &browser{c: w, known: w.educator.known}
	require.Equal(t, 303, home.try("edda", clinictest.Password))
	require.Equal(t, 429, w.anonymous().try("edda", clinictest.Password), "in a strange browser she has to wait")
	got := w.educator.post("/people/"+w.trainee.id()+"/close", url.Values{"key": {rand.Text()}, "own": {clinictest.Password}})
	require.Equal(t, 303, got.StatusCode, "her live session asks for no leave")

	answer := w.anonymous().post("/sign-in", url.Values{"username": {"edda"}, "password": {clinictest.Password}})
	require.Contains(t, answer.body, "in a browser in which you signed in with your present password before")
	require.Empty(t, answer.Cookies())
}

func TestTheCookieOfAKnownBrowser(t *testing.T) {
	for _, secure := range []bool{false, true} {
		c := openClinic(t, secure)
		c.FirstEducator("Edda Invented", "edda")
		got := c.anonymous().post("/sign-in", url.Values{"username": {"edda"}, "password": {clinictest.Password}})
		require.Equal(t, 303, got.StatusCode)
		require.Len(t, got.Cookies(), 2)
		known := got.Cookies()[1]
		require.Equal(t, secure, known.Name == "__Host-stillwet-known")
		require.True(t, known.HttpOnly)
		require.Equal(t, secure, known.Secure)
		require.Equal(t, http.SameSiteLaxMode, known.SameSite)
		require.Equal(t, 400*24*time.Hour, known.Expires.Sub(c.Now()).Round(time.Hour), "it outlives the session")
		require.NotContains(t, known.Value, "edda")
	}
	w := staffed(t)
	b := w.signIn("tess", clinictest.Password)
	for _, cookie := range b.post("/sign-out", nil).Cookies() {
		require.NotContains(t, cookie.Name, "-known", "signing out does not make the browser a stranger's")
	}
}

func TestOwnAccount(t *testing.T) {
	w := staffed(t)
	w.Pass(time.Minute)
	here, there, third := w.signIn("tess", clinictest.Password), w.signIn("tess", clinictest.Password), w.signIn("tess", clinictest.Password)
	page := here.get("/password").body
	require.Contains(t, page, "Your account")
	require.Equal(t, 4, strings.Count(page, "Another program"), "each session is listed")
	require.Equal(t, 1, strings.Count(page, "this one"))
	require.Contains(t, page, "End all others")
	require.NotContains(t, page, here.cookie)
	require.NotContains(t, page, there.cookie)

	end := func(b *browser, session string) int {
		return b.post("/password/sessions", url.Values{"session": {session}}).StatusCode
	}
	require.Equal(t, 303, end(w.otherLearner, there.actor.Session))
	require.Equal(t, 200, there.get("/practice").StatusCode, "another's session cannot be ended")
	require.Equal(t, 303, end(here, there.actor.Session))
	require.Equal(t, 401, there.get("/practice").StatusCode)
	require.Equal(t, 200, third.get("/practice").StatusCode)
	require.Equal(t, 303, end(here, ""))
	require.Equal(t, 401, third.get("/practice").StatusCode)
	require.Equal(t, 200, here.get("/practice").StatusCode)

	got := here.post("/password", url.Values{"key": {rand.Text()}, "old": {clinictest.Password}, "password": {"another long enough"}})
	require.Equal(t, 303, got.StatusCode, got.body)
	require.Len(t, got.Cookies(), 2, "a new session, and the browser stays known")
	require.Equal(t, 401, here.get("/practice").StatusCode, "the old cookie is dead")
	after := &browser{c: w, cookie: got.Cookies()[0].Value}
	require.Equal(t, 200, after.get("/practice").StatusCode)
}

func TestFormsAskForThePasswordAgain(t *testing.T) {
	w := staffed(t)
	at := "/people/" + w.trainee.id()
	require.NotContains(t, w.educator.get(at).body, `name="own"`, "not while it was just given")
	w.Pass(16 * time.Minute)
	page := w.educator.get(at).body
	require.Equal(t, 4, strings.Count(page, `name="own"`), "entitle, link, first password, close")
	before := w.dump()
	forms := map[string]url.Values{
		"/close": {}, "/reopen": {}, "/first-password": {}, "/link": {}, "/entitle": entitling(),
	}
	for path, form := range forms {
		form.Set("key", rand.Text())
		got := w.educator.post(at+path, form)
		require.Equal(t, 422, got.StatusCode, path)
		require.Contains(t, got.body, "Give your own password as well", path)
		form.Set("own", "not the password")
		got = w.educator.post(at+path, form)
		require.Equal(t, 422, got.StatusCode, path)
		require.Contains(t, got.body, "password is not right", path)
		require.Contains(t, got.body, `name="own"`)
		delete(form, "token")
	}
	require.Equal(t, strings.Split(before, "tries:")[0], strings.Split(w.dump(), "tries:")[0], "nothing was done, and wrong passwords are counted")
	w.Pass(time.Minute)
	forms["/close"].Set("own", clinictest.Password)
	require.Equal(t, 303, w.educator.post(at+"/close", forms["/close"]).StatusCode)
	require.NotContains(t, w.educator.get(at).body, `name="own"`, "given once, it stands for a quarter of an hour")
	require.Equal(t, 303, w.educator.post(at+"/reopen", url.Values{"key": {rand.Text()}}).StatusCode)
}

// Where nothing can be saved every page says so, and is shown.
func TestPagesOfAClinicThatCannotSave(t *testing.T) {
	w := withRecords(t)
	recording := w.preceptor.post("/watch/new", startForm(w.trainee.id(), turnover, "station-wipe"))
	require.Equal(t, 303, recording.StatusCode)
	at := strings.TrimSuffix(recording.Header.Get("Location"), "/record")
	w.Close()
	w.OpenToRead()
	w.serveAnew(Config{Ready: func(context.Context) error { return w.Store.Ready() }, LowSpace: func() string { return "12 MB" }})
	const banner = "Nothing can be saved now"
	for _, path := range []string{"/people", "/watch", "/practice", "/help", "/password", "/people/" + w.trainee.id(), "/demonstrations/" + w.demo, at + "/pack"} {
		got := w.preceptor.get(path)
		require.Equal(t, 200, got.StatusCode, path)
		require.Contains(t, got.body, banner, path)
	}
	require.Contains(t, w.educator.get("/people").body, "12 MB left")
	require.NotContains(t, w.preceptor.get("/people").body, "12 MB left", "it is the educator's to tell")
	ready := w.anonymous().get("/readyz")
	require.Equal(t, 503, ready.StatusCode)
	require.Contains(t, ready.body, "opened to read")

	b := w.signIn("tess", clinictest.Password)
	require.Equal(t, 200, b.get("/practice").StatusCode, "whoever signs in can read")
	got := w.preceptor.send(at+"/batch", batchOf(1, "rub-hands", "", 1))
	require.Equal(t, 503, got.StatusCode, "the recorder keeps its taps and sends them again")
	require.Contains(t, got.body, banner)
	form := w.preceptor.post("/watch/new", startForm(w.otherLearner.id(), turnover, "station-wipe"))
	require.Equal(t, 503, form.StatusCode)
	require.Contains(t, form.body, banner)
	require.Equal(t, 303, b.post("/sign-out", nil).StatusCode)
	require.Equal(t, 401, b.get("/practice").StatusCode)
}

func TestReadyzSaysWhyNot(t *testing.T) {
	w := newClinic(t)
	require.Equal(t, 200, w.anonymous().get("/readyz").StatusCode)
	require.NotContains(t, w.anonymous().get("/sign-in").body, "Nothing can be saved")
	w.serveAnew(Config{Ready: func(context.Context) error { return training.ErrUnsaved }})
	for _, method := range []string{"GET", "HEAD"} {
		got := w.anonymous().do(httptest.NewRequest(method, "/readyz", nil))
		require.Equal(t, 503, got.StatusCode)
	}
}
