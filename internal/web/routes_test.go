package web

import (
	"cmp"
	"context"
	"crypto/rand"
	"fmt"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

func TestEveryRouteHasARule(t *testing.T) {
	declared := map[string]access{}
	for _, r := range routes() {
		name := r.method + " " + r.path
		require.NotContains(t, declared, name, "declared twice")
		declared[name] = r.who
		require.True(t, r.who.open != (len(r.who.roles) > 0), "%s is either open or for roles", name)
		require.Contains(t, []string{"GET", "POST"}, r.method)
	}
	served := map[string]bool{}
	for _, r := range newClinic(t).app.GetRoutes(true) {
		name := strings.Replace(r.Method, "HEAD", "GET", 1) + " " + r.Path // HEAD is GET without its body
		require.Contains(t, declared, name, "a route without a declared rule")
		served[name] = true
	}
	require.Len(t, served, len(declared), "a declared route is not served")
}

// addresses fills the ids of a route: the learner's own records, another
// learner's, ids that are not there and ids that cannot be.
func (w *records) addresses(path string) map[string]string {
	if !strings.Contains(path, ":") {
		return map[string]string{"plain": path}
	}
	fill := func(scenario, id, file string) string {
		part := map[string]string{"ordinary-turnover": "read-hands", "blood-on-the-machine": "watch-ordinary-turnover"}
		module := "first"
		if !strings.Contains(path, ":part") && part[scenario] == "" { // the module itself is not there
			module = scenario
		}
		return strings.NewReplacer(":module", module, ":part", cmp.Or(part[scenario], scenario), ":scenario", scenario, ":id", id, ":file", file, ":token", id, ":hash", "x", ":name", "y", ":number", file).Replace(path)
	}
	own, other := w.attempt, w.otherAttempt
	switch {
	case strings.HasPrefix(path, "/procedures/"):
		own, other = "between-patients", "between-patients"
	case strings.HasPrefix(path, "/people/"):
		own, other = w.trainee.id(), w.otherLearner.id()
	case strings.HasPrefix(path, "/duties/"):
		own, other = "read-"+w.trainee.id(), "read-"+w.otherLearner.id()
	case strings.HasPrefix(path, "/demonstrations/"):
		own, other = w.demo, w.otherDemo
	}
	return map[string]string{
		"own": fill("ordinary-turnover", own, "2026.xlsx"), "other": fill("blood-on-the-machine", other, "2025.xlsx"),
		"missing": fill("no-such", "id999999", "1990"), "malformed": fill("%2e%2e%2fetc", "%27%20OR%201=1--", "20x6.xlsx"),
	}
}

// records is a clinic in which two learners have something of everything.
type records struct {
	*clinic
	attempt, otherAttempt, demo, otherDemo string
}

func withRecords(t *testing.T) *records {
	w := &records{clinic: staffed(t)}
	w.attempt = w.buildAttempt(w.trainee)
	w.otherAttempt = w.buildAttempt(w.otherLearner)
	w.demo = w.watchShort(w.trainee)
	w.otherDemo = w.watchShort(w.otherLearner)
	w.withDuties()
	return w
}

// buildAttempt makes a short, wrong build through the pages.
func (c *clinic) buildAttempt(b *browser) string {
	const at = "/practice/ordinary-turnover"
	require.Equal(c.T, 303, b.post(at+"/start", url.Values{"key": {rand.Text()}}).StatusCode)
	d, err := c.OpenDraft(context.Background(), b.actor, "ordinary-turnover", false)
	require.NoError(c.T, err)
	r := b.send(at+"/steps", fmt.Sprintf(`{"draft":%q,"revision":%d,"steps":["rub-hands","gloves-on"]}`, d.ID, d.Revision))
	require.Equal(c.T, 200, r.StatusCode, r.body)
	d, err = c.Draft(context.Background(), b.actor, d.ID)
	require.NoError(c.T, err)
	r = b.post(at+"/finish", url.Values{"key": {rand.Text()}, "draft": {d.ID}, "revision": {fmt.Sprint(d.Revision)}})
	require.Equal(c.T, 303, r.StatusCode, r.body)
	return strings.TrimPrefix(r.Header.Get("Location"), "/attempts/")
}

// batchOf is one act of a tablet.
func batchOf(n int, step, text string, atMs int64) string {
	return fmt.Sprintf(`{"device":"tablet-1","acts":[{"key":%q,"n":%d,"step":%q,"text":%q,"at_ms":%d,"wall":"2026-03-02T15:00:00.000Z"}]}`, rand.Text(), n, step, text, atMs)
}

// startForm is the card with which watching starts: what is a competency, with the
// procedure of its station where it is not the usual one.
func startForm(person, what, product string) url.Values {
	return url.Values{"key": {rand.Text()}, "purpose": {"return"}, "person": {person}, "announced": {"yes"}, "what": {what}, "use " + what + " " + product: {"yes"},
		"clean": {"yes"}, "covered": {"yes"}}
}

// watchShort records a demonstration of two taps through the pages.
func (c *clinic) watchShort(learner *browser) string {
	b := c.preceptor
	r := b.post("/watch/new", startForm(learner.id(), turnover, "station-wipe"))
	require.Equal(c.T, 303, r.StatusCode, r.body)
	at := strings.TrimSuffix(r.Header.Get("Location"), "/record")
	for i, step := range []string{"rub-hands", "gloves-on"} {
		r = b.send(at+"/batch", batchOf(i+1, step, "", int64(1000*i)))
		require.Equal(c.T, 200, r.StatusCode, r.body)
		require.Contains(c.T, r.body, `"stored"`)
	}
	r = b.send(at+"/end", fmt.Sprintf(`{"key":%q,"at_ms":3000,"comment":""}`, rand.Text()))
	require.Equal(c.T, 200, r.StatusCode, r.body)
	return strings.TrimPrefix(at, "/demonstrations/")
}

func TestAnotherLearnersRecordIsAsIfItWereNotThere(t *testing.T) {
	w := withRecords(t)
	for _, pair := range [][2]string{
		{"/attempts/" + w.otherAttempt, "/attempts/id999999"},
		{"/demonstrations/" + w.otherDemo, "/demonstrations/id999999"},
		{"/people/" + w.otherLearner.id(), "/people/id999999"},
	} {
		other, missing := w.trainee.get(pair[0]), w.trainee.get(pair[1])
		require.Equal(t, 404, other.StatusCode, pair[0])
		clean := func(a answer) string { return tokenPattern.ReplaceAllString(a.body, "") }
		require.Equal(t, clean(missing), clean(other), "the two pages must not tell one from the other")
	}
	for _, at := range []string{"/attempts/" + w.attempt, "/demonstrations/" + w.demo, "/people/" + w.trainee.id()} {
		require.Equal(t, 200, w.trainee.get(at).StatusCode, at)
		require.Equal(t, 200, w.preceptor.get(at).StatusCode, at)
		require.Equal(t, 200, w.educator.get(at).StatusCode, at)
	}
}

func TestFormsFromElsewhereAreRefused(t *testing.T) {
	w := withRecords(t)
	before := w.dump()
	for _, r := range routes() {
		if r.method != "POST" || r.who.open {
			continue
		}
		at := w.addresses(r.path)["own"]
		if at == "" {
			at = r.path
		}
		b := w.educator
		if !r.who.allows(training.Person{Role: training.Educator}) {
			t.Fatalf("no educator at %s", r.path)
		}
		for name, spoil := range map[string]func(*browser, url.Values, map[string]string){
			"no token":        func(_ *browser, f url.Values, _ map[string]string) { f.Set("token", "") },
			"another's token": func(_ *browser, f url.Values, _ map[string]string) { f.Set("token", w.trainee.token) },
			"a broken token": func(b *browser, f url.Values, _ map[string]string) {
				f.Set("token", b.token[:63]+map[bool]string{true: "1", false: "0"}[b.token[63] == '0'])
			},
			"from another site":   func(_ *browser, _ url.Values, h map[string]string) { h["Sec-Fetch-Site"] = "cross-site" },
			"from a sister site":  func(_ *browser, _ url.Values, h map[string]string) { h["Sec-Fetch-Site"] = "same-site" },
			"from another origin": func(_ *browser, _ url.Values, h map[string]string) { h["Origin"] = "https://evil.example" },
			"from a hidden origin": func(_ *browser, _ url.Values, h map[string]string) {
				h["Origin"] = "null"
			},
		} {
			form, header := url.Values{"token": {b.token}, "key": {rand.Text()}}, map[string]string{}
			spoil(b, form, header)
			req := httptest.NewRequest("POST", at, strings.NewReader(form.Encode()))
			req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			for k, v := range header {
				req.Header.Set(k, v)
			}
			got := b.do(req)
			require.Equal(t, 403, got.StatusCode, "%s: %s: %.200s", at, name, got.body)
		}
	}
	require.Equal(t, before, w.dump(), "a refused form must change nothing")
}

func TestAskingForAPageWritesNothing(t *testing.T) {
	w := withRecords(t)
	before := w.dump()
	for _, r := range routes() {
		if r.method != "GET" {
			continue
		}
		for _, at := range w.addresses(r.path) {
			for _, b := range []*browser{w.anonymous(), w.trainee, w.preceptor, w.educator} {
				b.get(at)
				require.Equal(t, before, w.dump(), "GET %s wrote", at)
			}
		}
	}
}
