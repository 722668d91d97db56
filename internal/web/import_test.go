package web

import (
	"bytes"
	"crypto/rand"
	"html"
	"maps"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// sendList chooses a file on the page of imports.
func (b *browser) sendList(file string, cookies ...*http.Cookie) answer {
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for _, field := range [][2]string{{"token", b.token}, {"key", rand.Text()}} {
		require.NoError(b.c.T, w.WriteField(field[0], field[1]))
	}
	f, err := w.CreateFormFile("file", "staff.csv")
	require.NoError(b.c.T, err)
	_, err = f.Write([]byte(file))
	require.NoError(b.c.T, err)
	require.NoError(b.c.T, w.Close())
	r := httptest.NewRequest("POST", "/people/import", &body)
	r.Header.Set("Content-Type", w.FormDataContentType())
	for _, c := range cookies {
		r.AddCookie(c)
	}
	return b.do(r)
}

// carried is what the page of a list carries on.
func carried(t *testing.T, page string) url.Values {
	t.Helper()
	form := url.Values{"key": {rand.Text()}}
	for _, name := range []string{"list", "seen"} {
		found := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(page)
		require.NotNil(t, found, name)
		form.Set(name, html.UnescapeString(found[1]))
	}
	return form
}

func TestAListIsLookedThroughAndImported(t *testing.T) {
	c := staffed(t)
	e := c.educator
	require.Contains(t, e.get("/people").body, `href="/people/import"`)
	require.Equal(t, 422, e.sendList("").StatusCode)

	before := c.dump()
	bad := e.sendList("Nr;Name;Role;Hired;Locker\n0042;Ann Lee;nurse;03/04/2024;A\n7;Bo Ek;staff;2024-03-15;B\n")
	require.Equal(t, 200, bad.StatusCode)
	for _, part := range []string{"1 fault", "This is no role.", "1 date could be two days: row 2.", "03/04/2024 is", "3 April 2024: the day comes first", "March 4, 2024: the month comes first", "Not read: “Nr”, “Locker”."} {
		require.Contains(t, bad.body, part)
	}
	require.NotContains(t, bad.body, "Import all of it")
	rows := e.post("/people/import/bad", carried(t, bad.body))
	require.Equal(t, 200, rows.StatusCode)
	require.Contains(t, rows.Header.Get("Content-Disposition"), "rows-to-mend.csv")
	require.Contains(t, rows.body, "0042,Ann Lee,nurse,03/04/2024,A,\"Row 2. Role: This is no role.")
	require.NotContains(t, rows.body, "Bo Ek")
	form := carried(t, bad.body)
	require.Equal(t, 422, e.post("/people/import/confirm", form).StatusCode, "a list with faults")

	form.Set("dates", "day-month")
	for name, value := range map[string]string{"col-0": "staff number", "col-1": "name", "col-2": "", "col-3": "hired", "col-4": ""} {
		form.Set(name, value)
	}
	said := e.post("/people/import", form)
	require.Equal(t, 200, said.StatusCode)
	require.Contains(t, said.body, "This person is new here. Write a role")
	require.NotContains(t, said.body, "This could be")
	require.Contains(t, said.body, "Some dates could be two days.", "what was said can be said otherwise")
	require.Equal(t, before, c.dump(), "nothing is written by looking")

	good := e.sendList("Staff number;Name;Role;Hired\n0042;Ann Lee;staff;2024-03-15\n;Tess Invented;preceptor;2024-03-15\n")
	require.Contains(t, good.body, "Import all of it")
	require.Contains(t, good.body, "role new hire → preceptor")
	require.Contains(t, good.body, "here and not in the list")
	require.NotContains(t, good.body, "before you confirm")
	twice := e.sendList("Staff number;Name;Role;Hired\n0042;tess  invented;staff;2024-03-15\n")
	require.Contains(t, twice.body, "Look at 1 row before you confirm")
	require.Contains(t, twice.body, "Import all of it")
	require.Contains(t, e.sendList("Staff number;Name;Role;Hired\n0042;tess  invented;staff;2024-03-15\n7;Bo Ek;nurse;\n").body, "Look at 1 row before you confirm", "beside faults as well")
	form = carried(t, good.body)
	require.Equal(t, 403, c.preceptor.post("/people/import/confirm", maps.Clone(form)).StatusCode)
	stale := url.Values{"key": {rand.Text()}, "list": form["list"], "seen": {"another"}}
	require.Equal(t, 409, e.post("/people/import/confirm", stale).StatusCode)
	require.Equal(t, before, c.dump())

	for range 2 { // sent twice
		r := e.post("/people/import/confirm", form)
		require.Equal(t, 303, r.StatusCode, r.body)
		require.Equal(t, "/people/import?new=1&changed=1&same=0&left=0", r.Header.Get("Location"))
	}
	require.Contains(t, e.get("/people/import?new=1&changed=1&same=0&left=0").body, "1 person is new, 1 was changed, 0 were the same already.")
	require.Equal(t, 303, e.get("/people/import?new=x&changed=1&same=0&left=0").StatusCode)
	require.Contains(t, e.get("/people").body, "Ann Lee")
}

// Columns that were matched by hand are matched likewise in the next list.
func TestColumnsAreRemembered(t *testing.T) {
	c := staffed(t)
	e := c.educator
	list := "Wer;Was\nAnn Lee;staff\n"
	page := e.sendList(list)
	require.Contains(t, page.body, "Row 1 must be the header")
	form := carried(t, page.body)
	form.Set("col-0", "name")
	form.Set("col-1", "role")
	looked := e.post("/people/import", maps.Clone(form))
	require.Contains(t, looked.body, "Import all of it")
	form.Set("seen", carried(t, looked.body).Get("seen"))
	done := e.post("/people/import/confirm", form)
	require.Equal(t, 303, done.StatusCode, done.body)
	var kept []*http.Cookie
	for _, cookie := range done.Cookies() {
		if cookie.Name == columnsCookie {
			kept = append(kept, cookie)
		}
	}
	require.Len(t, kept, 1)
	require.Contains(t, e.sendList(list, kept...).body, "Everybody in the list is here already")
	kept[0].Value = "no such thing"
	require.Contains(t, e.sendList(list, kept...).body, "Row 1 must be the header")
}

// Who came by a list gets an account on the record.
func TestAnAccountIsOpenedOnTheRecord(t *testing.T) {
	c := staffed(t)
	form := carried(t, c.educator.sendList("Name;Role\nAnn Lee;staff\n").body)
	require.Equal(t, 303, c.educator.post("/people/import/confirm", form).StatusCode)
	people, err := c.Store.People(t.Context())
	require.NoError(t, err)
	var ann training.Person
	for _, p := range people {
		if p.Name == "Ann Lee" {
			ann = p
		}
	}
	at := "/people/" + ann.ID
	page := c.educator.get(at).body
	require.Contains(t, page, "no account yet")
	require.NotContains(t, page, "Give a new first password")
	require.Equal(t, 200, c.preceptor.get(at).StatusCode)
	require.Equal(t, 422, c.educator.post(at+"/account", url.Values{"key": {rand.Text()}, "username": {"a"}}).StatusCode)
	taken := c.educator.post(at+"/account", url.Values{"key": {rand.Text()}, "username": {"tess"}})
	require.Equal(t, 409, taken.StatusCode)
	require.Contains(t, taken.body, `value="tess"`, "what was typed is still there")

	c.Pass(16 * time.Minute)
	asked := c.educator.post(at+"/account", url.Values{"key": {rand.Text()}, "username": {"ann"}})
	require.Equal(t, 422, asked.StatusCode)
	opened := c.educator.post(at+"/account", url.Values{"key": {rand.Text()}, "username": {"ann"}, "own": {clinictest.Password}})
	require.Equal(t, 200, opened.StatusCode)
	found := regexp.MustCompile(`First password</dt>\s*<dd[^>]*>(?:<[^>]*>)*([^<]+)`).FindStringSubmatch(opened.body)
	require.NotNil(t, found, opened.body)
	c.log.secret(strings.TrimSpace(found[1]))
	_, _, err = c.SignIn(t.Context(), "ann", strings.TrimSpace(found[1]))
	require.NoError(t, err)
}

// Who is not in the list is ticked with a day; what was ticked stays when it is refused.
func TestWhoHasLeftIsTickedInTheList(t *testing.T) {
	c := staffed(t)
	e := c.educator
	page := e.sendList("Name,Role,Team\nEdda Invented,,\nTess Invented,staff,early\nPia Invented,preceptor,\n")
	require.Equal(t, 200, page.StatusCode)
	theo := c.otherLearner.id()
	require.Contains(t, page.body, "1 person is here and not in the list: who has left?")
	require.Contains(t, page.body, `name="last-day-`+theo+`" aria-label="Last day of Theo Invented" value="2026-03-02"`)
	form := carried(t, page.body)
	form.Set("own", clinictest.Password)
	form.Set("left-"+theo, "yes")
	form.Set("last-day-"+theo, "2020-01-01")
	refused := e.post("/people/import/confirm", form)
	require.Equal(t, 422, refused.StatusCode)
	require.Contains(t, refused.body, "Theo Invented: The last day is before the first. Nothing was imported.")
	require.Contains(t, refused.body, `value="2020-01-01"`)
	require.NotContains(t, e.get("/people").body, "Early", "all or nothing")
	form.Set("key", rand.Text())
	form.Set("last-day-"+theo, "2026-03-01")
	done := e.post("/people/import/confirm", form)
	require.Equal(t, 303, done.StatusCode, done.body)
	require.Contains(t, e.get(done.Header.Get("Location")).body, "0 people are new, 1 was changed, 2 were the same already, 1 left.")
	require.Equal(t, 401, c.otherLearner.get("/practice").StatusCode)
	require.Contains(t, e.get("/people?left=yes").body, "Theo Invented")
}
