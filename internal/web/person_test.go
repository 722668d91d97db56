package web

import (
	"crypto/rand"
	"html"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

var surePattern = regexp.MustCompile(`name="sure" value="([0-9a-f]+)"`)

// What may be a slip is asked about once, what was typed stays, and the same form sent twice
// is one person.
func TestASlipInANewPersonIsAskedAboutOnce(t *testing.T) {
	w := staffed(t)
	form := url.Values{"key": {rand.Text()}, "name": {"Tess Invented"}, "staff_no": {"7"}, "username": {"tess2"}, "role-preceptor": {"yes"}, "role-manager": {"yes"},
		"job": {"RN"}, "team": {"early"}, "email": {"t@example.org"}, "hired": {"2026-03-01"}, "left": {"2026-12-31"}}
	asked := w.educator.post("/people", form)
	require.Equal(t, 422, asked.StatusCode)
	require.Contains(t, asked.body, "There is somebody called Tess Invented already (new hire).")
	for _, kept := range []string{`value="RN"`, `value="early"`, `value="t@example.org"`, `value="tess2"`, `value="2026-12-31"`, `name="role-manager" value="yes" checked`} {
		require.Contains(t, asked.body, kept)
	}
	form.Set("sure", surePattern.FindStringSubmatch(asked.body)[1])
	for range 2 {
		r := w.educator.post("/people", form)
		require.Equal(t, 200, r.StatusCode, r.body)
		require.Contains(t, r.body, "Tess Invented can sign in now")
	}
	people := w.educator.get("/people?role=manager").body
	require.Contains(t, people, "Preceptor, manager")
	require.Contains(t, people, "1 of 4 people")

	form.Set("key", rand.Text())
	form.Set("name", "Nora Invented")
	form.Set("staff_no", "007")
	other := w.educator.post("/people", form)
	require.Contains(t, other.body, "which differs from 007 in the zeros before it only", "another slip is asked about as well")
}

func (b *browser) seenOf(id string) (seen string) {
	page := b.get("/people/" + id + "/edit")
	require.Equal(b.c.T, 200, page.StatusCode)
	return regexp.MustCompile(`name="seen" value="([0-9a-f]+)"`).FindStringSubmatch(page.body)[1]
}

// A person is corrected, leaves and comes back, in the browser.
func TestAPersonIsCorrectedLeavesAndComesBack(t *testing.T) {
	w := staffed(t)
	id := w.trainee.id()
	at := "/people/" + id
	form := url.Values{"key": {rand.Text()}, "seen": {w.educator.seenOf(id)}, "name": {"Tess Newname"}, "staff_no": {"0042"}, "role-preceptor": {"yes"}, "job": {""}, "team": {"late"},
		"email": {"tess"}, "hired": {"2026-01-05"}, "why": {""}, "own": {clinictest.Password}}
	wrong := w.educator.post(at+"/correct", form)
	require.Equal(t, 422, wrong.StatusCode)
	require.Contains(t, wrong.body, "The e-mail address is none")
	require.Contains(t, wrong.body, `value="Tess Newname"`, "what was typed stays")
	require.NotContains(t, wrong.body, clinictest.Password)
	form.Set("email", "")
	form.Set("key", rand.Text())
	r := w.educator.post(at+"/correct", form)
	require.Equal(t, 303, r.StatusCode, r.body)
	page := w.educator.get(at + "/edit").body
	for _, line := range []string{"Name Tess Newname, was Tess Invented", "role preceptor, was new hire", "team late", "By Edda Invented"} {
		require.Contains(t, page, line)
	}
	stale := w.educator.post(at+"/correct", with(form, "key", rand.Text()))
	require.Equal(t, 409, stale.StatusCode)
	require.Contains(t, stale.body, "What you wrote is what stands now.")
	late := with(form, "key", rand.Text())
	late.Set("job", "RN")
	late.Set("team", "early")
	stale = w.educator.post(at+"/correct", late)
	require.Equal(t, 409, stale.StatusCode)
	require.Contains(t, stale.body, "Press again to change it once more: job title none → RN; team late → early.")
	require.Contains(t, stale.body, `value="RN"`, "what was typed stays")
	seen := regexp.MustCompile(`name="seen" value="([0-9a-f]+)"`).FindStringSubmatch(stale.body)[1]
	require.Equal(t, w.educator.seenOf(id), seen, "the next press counts")

	leave := url.Values{"key": {rand.Text()}, "last": {"2026-03-01"}, "own": {clinictest.Password}}
	require.Equal(t, 303, w.educator.post(at+"/leaves", leave).StatusCode)
	require.Equal(t, 401, w.trainee.get("/practice").StatusCode, "the session has ended")
	require.NotContains(t, w.educator.get("/people").body, "Tess Newname")
	require.Contains(t, w.educator.get("/people?left=yes").body, "Tess Newname")
	require.Contains(t, w.educator.get(at).body, "does not work here now")
	require.Regexp(t, `id="until"[^>]* value=""`, w.educator.get(at+"/edit").body, "the last day of the time before is none of the next")
	back := url.Values{"key": {rand.Text()}, "first": {"2026-03-01"}, "until": {""}, "own": {clinictest.Password}}
	refused := w.educator.post(at+"/returns", back)
	require.Contains(t, refused.body, "is not behind the last day of the time before")
	back = url.Values{"key": {rand.Text()}, "first": {"2026-03-02"}, "until": {"2026-09-30"}, "own": {clinictest.Password}}
	require.Equal(t, 303, w.educator.post(at+"/returns", back).StatusCode)
	page = w.educator.get(at + "/edit").body
	require.Contains(t, page, "from 5 Jan 2026 until 1 Mar 2026")
	require.Contains(t, page, "from 2 Mar 2026 until 30 Sep 2026, the last day")
	moved := url.Values{"key": {rand.Text()}, "last": {"2026-08-31"}, "why": {"A long illness."}, "own": {clinictest.Password}}
	warned := w.educator.post(at+"/leaves", moved)
	require.Equal(t, 422, warned.StatusCode)
	require.Contains(t, warned.body, "reads like a reason of health")
	tick := regexp.MustCompile(`name="sure" value="([0-9a-f]+)"[^>]*>`).FindStringSubmatch(warned.body)
	require.NotContains(t, tick[0], "checked")
	require.Equal(t, 422, w.educator.post(at+"/leaves", with(moved, "key", rand.Text())).StatusCode, "pressing once more is no answer")
	moved.Set("sure", tick[1])
	require.Equal(t, 303, w.educator.post(at+"/leaves", moved).StatusCode)
	require.Contains(t, w.educator.get("/people?left=yes").body, "account closed")
	require.Equal(t, 303, w.educator.post(at+"/reopen", url.Values{"key": {rand.Text()}, "own": {clinictest.Password}}).StatusCode)
	w.signIn("tess", clinictest.Password)
}

// A manager sees where everybody stands, and no practice.
func TestWhatAManagerSees(t *testing.T) {
	w := withRecords(t)
	w.Hire(w.educator.actor, "Mona Invented", "mona", training.Manager)
	mona := w.signIn("mona", clinictest.Password)
	people := mona.get("/people").body
	require.Contains(t, people, "Not in training here")
	require.Contains(t, people, "Edda Invented")
	require.Contains(t, people, "/annual/2026.xlsx")
	require.NotContains(t, people, "/people/new")
	require.NotContains(t, people, "/people/import")
	record := mona.get("/people/" + w.trainee.id())
	require.Equal(t, 200, record.StatusCode)
	for _, link := range []string{"/attempts/", "/demonstrations/", "/edit", "/watch/new", "/plans/", "/duties/"} {
		require.NotContains(t, record.body, link)
	}
}

// with is a form with another value.
func with(form url.Values, name, value string) url.Values {
	other := url.Values{}
	for k, v := range form {
		other[k] = v
	}
	other.Set(name, value)
	return other
}

// A form whose session has ended is not lost: it goes through the sign-in and is sent again
// when its person says so. No password is carried.
func TestAFormOutlivesItsSession(t *testing.T) {
	w := staffed(t)
	form := url.Values{"key": {rand.Text()}, "name": {"Nora <Invented>"}, "staff_no": {"0070"}, "username": {"nora"}, "role-trainee": {"yes"}, "hired": {"2026-03-01"},
		"own": {"my own secret"}, "second-password": {"another secret"}}
	w.Pass(2 * time.Hour)
	door := w.educator.post("/people", form)
	require.Equal(t, 401, door.StatusCode)
	require.Contains(t, door.body, "What you typed is kept on this page")
	require.NotContains(t, door.body, "secret")
	carried := url.Values{"username": {"edda"}}
	for _, m := range regexp.MustCompile(`name="(kept-[^"]+|again)" value="([^"]*)"`).FindAllStringSubmatch(door.body, -1) {
		carried.Set(m[1], html.UnescapeString(m[2]))
	}
	require.Equal(t, "/people", carried.Get("again"))
	require.Equal(t, "Nora <Invented>", carried.Get("kept-name"))
	stranger := w.anonymous()
	wrong := stranger.post("/sign-in", with(carried, "password", "a wrong one"))
	require.Equal(t, 401, wrong.StatusCode)
	require.Contains(t, wrong.body, `name="kept-name" value="Nora &lt;Invented&gt;"`, "a slip in the password loses nothing")
	again := stranger.post("/sign-in", with(carried, "password", clinictest.Password))
	require.Equal(t, 200, again.StatusCode)
	require.Contains(t, again.body, "What you typed is still here")
	require.NotContains(t, w.educator.get("/people").body, "Nora", "nothing is sent by itself")
	for _, c := range again.Cookies() {
		if c.Name == "stillwet" {
			stranger.cookie = c.Value
			w.log.secret(c.Value)
		}
	}
	stranger.token = tokenIn(t, again)
	sent := url.Values{"key": {rand.Text()}}
	for _, m := range regexp.MustCompile(`name="([a-z_-]+)" value="([^"]*)"`).FindAllStringSubmatch(again.body, -1) {
		if m[1] != "token" && m[1] != "key" {
			sent.Set(m[1], html.UnescapeString(m[2]))
		}
	}
	added := stranger.post("/people", sent)
	require.Equal(t, 200, added.StatusCode, added.body)
	require.Contains(t, added.body, "Nora &lt;Invented&gt; can sign in now")

	long := w.anonymous().post("/people", url.Values{"name": {strings.Repeat("x", 2500) + strings.Repeat("\u6db2", 80)}})
	require.NotContains(t, long.body, "kept-name", "what would be cut off is not carried")
	elsewhere := w.anonymous().post("/sign-in", url.Values{"username": {"edda"}, "password": {clinictest.Password}, "again": {"//evil.example/"}, "kept-name": {"x"}})
	require.Equal(t, 303, elsewhere.StatusCode)
}
