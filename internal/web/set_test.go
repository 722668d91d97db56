package web

import (
	"crypto/rand"
	"maps"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
	"stillwet/scenarios"
	"stillwet/views"
)

// withSet is a clinic whose set lies in its data file, as every real one's does.
func withSet(t *testing.T) *clinic {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	c := openWith(t, clinictest.Options{Library: lib, Files: scenarios.BuiltIn().Map(), Zone: "UTC"}, Config{})
	require.NoError(t, c.Begin(t.Context()))
	c.Library = c.Service.Library
	c.serveAnew(Config{})
	return c.staff()
}

// edit sends the form of a row, with what else the page would send.
func (b *browser) edit(list, row, do string, more url.Values) answer {
	set, err := b.c.Sets(b.c.T.Context(), b.actor)
	require.NoError(b.c.T, err)
	form := url.Values{"key": {rand.Text()}, "list": {list}, "row": {row}, "do": {do}, "procedure": {""}, "revision": {strconv.Itoa(set.Draft.Revision)}}
	for name, value := range more {
		form[name] = value
	}
	return b.post("/set/edit", form)
}

// What was typed to approve a version is there again when it is refused, but no password;
// the reason stands in the panel, and has the focus.
func TestARefusedApprovalKeepsWhatWasTyped(t *testing.T) {
	c := withSet(t)
	e := c.educator
	require.Equal(t, 303, e.edit("surfaces", "screen", "put", url.Values{"f-title": {"Display"}}).StatusCode)
	v, err := c.ProposeSet(t.Context(), e.actor, rand.Text(), whole(t, e.revision()), "We call it so.")
	require.NoError(t, err)
	next := string(c.Today().AddDays(4))
	form := func(more url.Values) url.Values {
		all := url.Values{"key": {rand.Text()}, "hash": {v.Hash}, "from": {next}, "approval": {"paper"}, "approver": {"Marek Invented"}, "approver-role": {"medical director"},
			"approved-on": {string(c.Today())}, "paper": {""}, "password": {clinictest.Password}, "second-name": {"nora"}, "second-password": {"not to be seen"}}
		maps.Copy(all, more)
		return all
	}
	reason := regexp.MustCompile(`(?s)id="approve">.*?</header>\s*<div class="note look words" role="alert" tabindex="-1" autofocus>[^<]+</div>`)
	for why, more := range map[string]url.Values{"the place of the paper": nil, "a wrong password": {"paper": {"Binder 3"}, "password": {"a wrong one"}}} {
		r := e.post("/set/versions/2/approve", form(more))
		require.Contains(t, []int{401, 403, 422}, r.StatusCode, why)
		require.Regexp(t, reason, r.body, why)
		require.Equal(t, 1, strings.Count(r.body, "autofocus"), why)
		for _, kept := range []string{`name="from" value="` + next + `"`, `value="paper" required checked`, `value="Marek Invented"`, `value="medical director"`, `name="approved-on" value="` + string(c.Today()) + `"`, `name="second-name" value="nora"`} {
			require.Contains(t, r.body, kept, why)
		}
		require.NotContains(t, r.body, "not to be seen", why)
		require.NotContains(t, r.body, clinictest.Password, why)
	}
	r := e.post("/set/versions/2/withdraw", url.Values{"key": {rand.Text()}, "why": {"  "}})
	require.Equal(t, 422, r.StatusCode)
	require.Regexp(t, `(?s)/withdraw" class="form">\s*<div class="note look words" role="alert"`, r.body)
	require.Equal(t, 303, e.post("/set/versions/2/approve", form(url.Values{"paper": {"Binder 3"}})).StatusCode)
	r = e.post("/set/versions/2/approve", form(url.Values{"paper": {"Binder 3"}}))
	require.Regexp(t, `(?s)</div>\s*<div class="note look words" role="alert" tabindex="-1" autofocus>[^<]*approved`, r.body, "without a panel it stands at the top")
}

// An educator renames a surface, adds a product, confirms the pairs, hides a scenario, sees
// the effect, approves it, and a new hire then meets it.
func TestTheClinicMakesTheProcedureItsOwn(t *testing.T) {
	c := withSet(t)
	e := c.educator
	page := e.get("/set").body
	require.Contains(t, page, "In force; starting point, confirmed by nobody")
	require.NotContains(t, page, "The draft")

	list := views.EditURL("surfaces", "", "")
	require.Equal(t, list, e.edit("surfaces", "screen", "put", url.Values{"f-title": {"Display"}}).Header.Get("Location"))
	require.Contains(t, e.get(list).body, "Display")
	r := e.edit("products", "", "put", url.Values{"f-title": {"Five minute wipe"}, "f-level": {"intermediate"}, "f-label_s": {"300"}, "f-dries_s": {"soon"}})
	require.Equal(t, 422, r.StatusCode)
	require.Contains(t, r.body, "3:00, 3 min, 2 min 40 s or 180 s")
	require.Contains(t, r.body, `value="Five minute wipe"`, "what was typed stays")
	require.Equal(t, 303, e.edit("products", "", "put", url.Values{"f-title": {"Five minute wipe"}, "f-level": {"intermediate"}, "f-label_s": {"300"}, "f-dries_s": {"330"}}).StatusCode)
	require.Equal(t, 303, e.edit("order", "", "confirm", nil).StatusCode)
	require.Equal(t, 303, e.edit("scenarios", "a-blood-leak-alarm", "hide", nil).StatusCode)

	page = e.get("/set").body
	for _, said := range []string{"Display", "Five minute wipe", "Your clinic does not offer it."} {
		require.Contains(t, page, said)
	}
	require.NotContains(t, c.trainee.get("/practice").body, "Display")
	require.Equal(t, 403, c.trainee.get("/set").StatusCode)

	draft, err := c.Sets(t.Context(), e.actor)
	require.NoError(t, err)
	r = e.post("/set/propose", url.Values{"key": {rand.Text()}, "revision": {strconv.Itoa(draft.Draft.Revision)}, "why": {"Our policy of this year."}})
	require.Equal(t, "/set/versions/2?effect=yes", r.Header.Get("Location"), r.body)
	page = e.get("/set/versions/2").body
	require.NotContains(t, page, "would be judged differently", "it is worked out when it is asked for")
	page = e.get("/set/versions/2?effect=yes").body
	require.Contains(t, page, "0 of 0 attempts would be judged differently")
	require.Contains(t, page, "Our policy of this year.")
	hash := regexp.MustCompile(`name="hash" value="([0-9a-f]+)"`).FindStringSubmatch(page)[1]
	approve := func(password string) answer {
		return e.post("/set/versions/2/approve", url.Values{"key": {rand.Text()}, "hash": {hash}, "from": {string(c.Today())}, "approval": {"paper"}, "approver": {"Marek Invented"},
			"approver-role": {"medical director"}, "approved-on": {string(c.Today())}, "paper": {"Binder 3"}, "password": {password}})
	}
	require.Contains(t, c.trainee.get("/procedures/between-patients").body, "Version 1 of the clinic&#39;s procedure: starting point, confirmed by nobody.")
	require.Contains(t, approve("a wrong one").body, "do not match")
	require.Equal(t, 303, approve(clinictest.Password).StatusCode)
	page = e.get("/set/versions/2").body
	require.Contains(t, page, "In force; approved")
	require.Contains(t, page, "the word of Marek Invented, medical director, on paper")

	read := c.trainee.get("/procedures/between-patients").body
	const today = "2 Mar 2026" // the day on which tests begin, as pages write it
	require.Contains(t, read, "Version 2 of the clinic&#39;s procedure, in force from "+today+", approved by Marek Invented (medical director), on paper of "+today+" (Binder 3).")
	require.NotContains(t, e.get("/procedures/between-patients?in=1").body, "of the clinic&#39;s procedure, in force", "that one is in force no more")
	require.Contains(t, read, "Display")
	require.Contains(t, read, "Five minute wipe")
	require.Contains(t, read, "confirmed by Edda Invented")
	require.Contains(t, read, "Hoses and other attached parts", "which is still to be confirmed")
	require.Contains(t, read, "clinic to confirm")
	require.NotContains(t, c.trainee.get("/practice").body, "a-blood-leak-alarm")

	zip := e.get("/set/versions/2/files")
	require.Equal(t, "application/zip", zip.Header.Get("Content-Type"))
	again, err := scenarios.ReadZip([]byte(zip.body))
	require.NoError(t, err)
	require.Equal(t, hash, again.Hash(), "what was approved is what comes out")
}

// Who comes second is told, and neither change is lost.
func TestTwoEducatorsOfOneDraft(t *testing.T) {
	c := withSet(t)
	e := c.educator
	first := url.Values{"key": {rand.Text()}, "list": {"surfaces"}, "row": {"screen"}, "do": {"put"}, "procedure": {""}, "revision": {"0"}, "f-title": {"Display"}}
	require.Equal(t, 303, e.post("/set/edit", first).StatusCode)
	second := url.Values{"key": {rand.Text()}, "list": {"surfaces"}, "row": {"chair"}, "do": {"put"}, "procedure": {""}, "revision": {"0"}, "f-title": {"Recliner"}}
	r := e.post("/set/edit", second)
	require.Equal(t, 409, r.StatusCode)
	require.Contains(t, r.body, "Their change is kept and yours was not saved over it")
	require.Contains(t, r.body, `value="Recliner"`, "and what was typed stays in the form")
	require.Contains(t, e.get(views.EditURL("surfaces", "", "")).body, "Display")
}

// Every list has its rows, and every row a form; what is not there is said.
func TestEveryRowOfTheSetHasItsForm(t *testing.T) {
	c := withSet(t)
	link := regexp.MustCompile(`href="(/set/edit\?[^"]*row=[^"]*)"`)
	for _, list := range []string{"surfaces", "products", "order", "items", "places", "steps", "marks", "settings", "closing", "scenarios"} {
		page := c.educator.get(views.EditURL(list, "", ""))
		require.Equal(t, 200, page.StatusCode, list)
		rows := link.FindAllStringSubmatch(page.body, -1)
		require.NotEmpty(t, rows, list)
		for _, row := range rows[:min(5, len(rows))] {
			path := regexp.MustCompile(`&amp;`).ReplaceAllString(row[1], "&")
			r := c.educator.get(path)
			require.Equal(t, 200, r.StatusCode, path)
			require.Contains(t, r.body, "Keep it in the draft", path)
		}
	}
	require.Equal(t, 404, c.educator.get("/set/edit?list=surfaces&row=no-such").StatusCode)
	require.Equal(t, 404, c.educator.get("/set/edit?list=no-such").StatusCode)
	require.Equal(t, 404, c.educator.get("/set/versions/9").StatusCode)
}

// What an educator confirmed is the clinic's own on the page that is read, and the count of
// what is open is that of the page.
func TestWhatIsConfirmedIsReadSo(t *testing.T) {
	c := withSet(t)
	before := c.trainee.get("/procedures/between-patients").body
	require.Regexp(t, `\d+ values are the clinic&#39;s to confirm`, before)
	require.Contains(t, before, "clinic to confirm")
	for _, list := range []string{"surfaces", "items", "places", "order", "marks", "settings"} {
		require.Equal(t, 303, c.educator.edit(list, "", "confirm", nil).StatusCode, list)
	}
	for _, product := range []string{"station-wipe", "blood-wipe", "bleach-dilution"} {
		require.Equal(t, 303, c.educator.edit("products", product, "confirm", url.Values{"label": {"yes"}}).StatusCode, product)
	}
	sets, err := c.Sets(t.Context(), c.educator.actor)
	require.NoError(t, err)
	v, err := c.ProposeSet(t.Context(), c.educator.actor, rand.Text(), sets.Draft.Revision, "We looked at each.")
	require.NoError(t, err)
	_, err = c.ApproveSet(t.Context(), c.educator.actor, rand.Text(), training.SetApproving{Version: v.Number, Hash: v.Hash, From: c.Today(), Approval: training.Approval{How: training.ApprovedHere}}, clinictest.Password, training.SecondPerson{})
	require.NoError(t, err)
	after := c.trainee.get("/procedures/between-patients").body
	require.NotContains(t, after, "to confirm")
	require.Contains(t, after, "confirmed by Edda Invented")
}

// seenIn is the mark of a row that its page has.
func (b *browser) seenIn(list, row string) string {
	found := regexp.MustCompile(`name="seen" value="([0-9a-f]+)"`).FindStringSubmatch(b.get("/set/edit?list=" + list + "&row=" + row).body)
	require.Len(b.c.T, found, 2)
	return found[1]
}

// Two tabs on different rows do not stand in each other's way; on the same row the later one
// is told that it is her own change, keeps what it typed, and may keep it after all.
func TestTwoTabsOfOneEducator(t *testing.T) {
	c := withSet(t)
	e := c.educator
	seen := map[string]string{"screen": e.seenIn("surfaces", "screen"), "counter": e.seenIn("surfaces", "counter")}
	change := func(row, title string) answer {
		return e.edit("surfaces", row, "put", url.Values{"f-title": {title}, "revision": {"0"}, "seen": {seen[row]}})
	}
	require.Equal(t, 303, change("screen", "Display").StatusCode)
	require.Equal(t, 303, change("counter", "Bench").StatusCode)
	list := e.get("/set/edit?list=surfaces").body
	require.Contains(t, list, "Display")
	require.Contains(t, list, "Bench")
	refused := change("screen", "Monitor")
	require.Equal(t, 409, refused.StatusCode)
	require.Contains(t, refused.body, "It is your own change, in another tab")
	require.Contains(t, refused.body, `value="Monitor"`)
	require.Contains(t, e.get("/set/edit?list=surfaces").body, "Display", "nothing was written over")
	seen["screen"] = e.seenIn("surfaces", "screen")
	require.Equal(t, 303, change("screen", "Monitor").StatusCode)
}
