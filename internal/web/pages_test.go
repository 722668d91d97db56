package web

import (
	"crypto/rand"
	"fmt"
	"html"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
	"stillwet/views"
)

// labels are the rows of the build page in their order.
func labels(page string) (all []string) {
	page, _, _ = strings.Cut(page, "<template")
	for _, m := range regexp.MustCompile(`<span class="label">([^<]*)</span>`).FindAllStringSubmatch(page, -1) {
		all = append(all, m[1])
	}
	return all
}

func hidden(t testing.TB, page, name string) string {
	m := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(page)
	require.NotNil(t, m, "no field %s", name)
	return m[1]
}

func TestAnOrderCanBeBuiltWithoutAScript(t *testing.T) {
	w := staffed(t)
	b, at := w.trainee, "/practice/ordinary-turnover"
	require.Equal(t, 303, b.post(at+"/start", url.Values{"key": {rand.Text()}}).StatusCode)
	page := b.get(at).body
	press := func(button, value string, more ...string) {
		form := url.Values{button: {value}, "draft": {hidden(t, page, "draft")}, "revision": {hidden(t, page, "revision")}, "was": {hidden(t, page, "was")}, "was_after": {hidden(t, page, "was_after")}}
		for i := 0; i+1 < len(more); i += 2 {
			form.Set(more[i], more[i+1])
		}
		got := b.post(at+"/steps", form)
		require.Equal(t, 303, got.StatusCode, got.body)
		page = b.get(strings.TrimSuffix(got.Header.Get("Location"), "#order")).body
	}
	press("add", "gloves-on")
	press("add", "rub-hands")
	press("up", "2")
	require.Equal(t, []string{"Rub hands with hand rub", "Put on fresh gloves"}, labels(page))
	press("add", "eyes-on", "after", "1")
	require.Equal(t, []string{"Rub hands with hand rub", "Put on eye protection", "Put on fresh gloves"}, labels(page))
	require.Contains(t, page, "The step is added.")
	require.Regexp(t, `name="after" value="2"[^>]* checked`, page, "the next step goes behind the one just inserted")
	press("undo", "1", "after", "2")
	require.Regexp(t, `name="after" value="1"[^>]* checked`, page, "the mark is back where it was")
	press("undo", "1", "after", "1")
	require.Regexp(t, `name="after" value="2"[^>]* checked`, page)
	press("remove", "3")
	require.Equal(t, []string{"Rub hands with hand rub", "Put on eye protection"}, labels(page))
	press("undo", "1")
	require.Equal(t, []string{"Rub hands with hand rub", "Put on eye protection", "Put on fresh gloves"}, labels(page))
	press("clear", "1")
	require.Empty(t, labels(page))
	press("undo", "1")
	require.Len(t, labels(page), 3)
	require.Len(t, labels(b.get(at).body), 3, "the draft is kept")
}

func TestPaletteOrderTellsNothing(t *testing.T) {
	w := staffed(t)
	sc, _ := w.Library.Scenario("ordinary-turnover")
	p, _ := w.Library.Procedure(sc.Procedure)
	for _, g := range views.Groups(p, sc.Steps) {
		for i := 1; i < len(g.Steps); i++ {
			require.LessOrEqual(t, strings.ToLower(g.Steps[i-1].Label), strings.ToLower(g.Steps[i].Label), "steps stand by label")
		}
	}
}

func TestCountsAreTheRowsBehindThem(t *testing.T) {
	w := withRecords(t)
	page := w.educator.get("/people").body
	links := regexp.MustCompile(`<a href="(/people\?standing=[^"]*)"[^>]*>.*?<b>(\d+)</b>`).FindAllStringSubmatch(page, -1)
	require.Len(t, links, len(training.StandingWords))
	rows := regexp.MustCompile(`<td class="how">`)
	total := 0
	for _, l := range links {
		got := w.educator.get(strings.ReplaceAll(l[1], "&amp;", "&")).body
		n := len(rows.FindAllString(got, -1))
		require.Equal(t, l[2], fmt.Sprint(n), l[1])
		total += n
	}
	require.Equal(t, total, len(rows.FindAllString(page, -1)))
	require.Positive(t, total)
	one := w.educator.get("/people?search=theo").body
	require.Len(t, rows.FindAllString(one, -1), 1)
	require.Contains(t, one, "Theo Invented")
}

func TestAddingAPersonTellsTheFirstPasswordOnce(t *testing.T) {
	w := staffed(t)
	form := url.Values{"key": {rand.Text()}, "name": {"Nora <b>Invented"}, "staff_no": {"00070"}, "username": {"nora"}, "role-trainee": {"yes"}, "hired": {"2026-03-01"}}
	got := w.educator.post("/people", form)
	require.Equal(t, 200, got.StatusCode, got.body)
	require.Contains(t, got.body, "Nora &lt;b&gt;Invented")
	require.NotContains(t, got.body, "Nora <b>")
	m := regexp.MustCompile(`<dt>First password</dt>\s*<dd class="mono">([^<]+)</dd>`).FindStringSubmatch(got.body)
	require.NotNil(t, m, got.body)
	b := w.anonymous()
	r := b.post("/sign-in", url.Values{"username": {"nora"}, "password": {m[1]}})
	require.Equal(t, 303, r.StatusCode, r.body)
	b.cookie = r.Cookies()[0].Value
	for _, at := range []string{"/practice", "/practice/ordinary-turnover"} {
		got := b.get(at)
		require.Equal(t, 303, got.StatusCode)
		require.Equal(t, "/password", got.Header.Get("Location"), "an own password comes first")
	}
	require.NotContains(t, w.educator.get("/people").body, m[1])
}

func TestSigningNeedsTheRightHandsInTheRightOrder(t *testing.T) {
	w := withRecords(t)
	at := "/demonstrations/" + w.demo
	sign := func(b *browser, who string, form url.Values) answer {
		form.Set("key", rand.Text())
		return b.post(at+"/sign/"+who, form)
	}
	early := sign(w.preceptor, "preceptor", url.Values{"meaning": {string(training.WatchedNotMet)}, "password": {training.DemoPassword}})
	require.Equal(t, 409, early.StatusCode, "%.300s", early.body)
	require.Contains(t, w.preceptor.get(at).body, "Not offered:", "a demonstration that did not pass cannot be signed as met")
	w.Choose(w.preceptor.actor, w.demo, training.WatchedNotMet)
	before := w.dump()
	wrong := sign(w.preceptor, "learner", url.Values{"username": {"tess"}, "password": {"not the password"}})
	require.Equal(t, 422, wrong.StatusCode)
	require.Contains(t, wrong.body, `role="alert"`)
	self := sign(w.preceptor, "learner", url.Values{"username": {"pia"}, "password": {training.DemoPassword}})
	require.GreaterOrEqual(t, self.StatusCode, 400)
	require.Less(t, self.StatusCode, 500)
	require.Equal(t, signaturesIn(before), signaturesIn(w.dump()))

	require.Equal(t, 303, sign(w.preceptor, "learner", url.Values{"username": {"tess"}, "password": {training.DemoPassword}}).StatusCode)
	met := sign(w.preceptor, "preceptor", url.Values{"meaning": {string(training.WatchedMet)}, "password": {training.DemoPassword}})
	require.GreaterOrEqual(t, met.StatusCode, 400)
	require.Less(t, met.StatusCode, 500)
	require.Equal(t, 303, sign(w.preceptor, "preceptor", url.Values{"meaning": {string(training.WatchedNotMet)}, "password": {training.DemoPassword}}).StatusCode)
	page := html.UnescapeString(w.trainee.get(at).body)
	require.Contains(t, page, training.LearnerDid.Words())
	require.Contains(t, page, training.WatchedNotMet.Words())
	require.Contains(t, page, "Ledger number")
	require.Contains(t, page, training.Caution)
}

func signaturesIn(dump string) string {
	_, after, _ := strings.Cut(dump, "\nsignatures: ")
	rows, _, _ := strings.Cut(after, "\ntries: ") // a wrong password is counted, and only that
	return rows
}

func TestWorkbookIsForEducators(t *testing.T) {
	w := withRecords(t)
	got := w.educator.get("/annual/2026.xlsx")
	require.Equal(t, 200, got.StatusCode)
	require.True(t, strings.HasPrefix(got.body, "PK"), "a workbook is a zip file")
	require.Contains(t, got.Header.Get("Content-Disposition"), "stillwet-2026.xlsx")
	require.Equal(t, 403, w.preceptor.get("/annual/2026.xlsx").StatusCode)
	require.Equal(t, 404, w.educator.get("/annual/2026.csv").StatusCode)
}

func BenchmarkResultPage(b *testing.B) {
	w := staffed(b)
	at := "/attempts/" + w.buildAttempt(w.trainee)
	b.ReportAllocs()
	for b.Loop() {
		if got := w.trainee.get(at); got.StatusCode != 200 {
			b.Fatal(got.body)
		}
	}
}

func TestSignInNamesAreForEducators(t *testing.T) {
	w := staffed(t)
	require.Contains(t, w.educator.get("/people/"+w.trainee.id()).body, "<b>tess</b>")
	require.NotContains(t, w.preceptor.get("/people/"+w.trainee.id()).body, "<b>tess</b>")
	_, err := w.SignInName(t.Context(), w.preceptor.actor, w.trainee.id())
	require.ErrorIs(t, err, training.ErrForbidden)
}
