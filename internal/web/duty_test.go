package web

import (
	"crypto/rand"
	"database/sql"
	"fmt"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/procedure"
	"stillwet/internal/store"
	"stillwet/internal/training"
)

// dutySQL gives everybody who is trained one duty of each kind, because of a version that
// an educator says something follows from. Its leaves are those of other records: nothing
// here is verified.
var dutySQL = []string{
	`INSERT INTO set_events (version, seq, event, at, by_id, by_name, why, approval, approver_id, approver, approver_role, approved_on, approval_at, in_force_from, leaf)
		SELECT 1, column1, column2, '2026-01-05T09:00:00.000Z', :edda, 'Edda Invented', '', 'here', :edda, 'Edda Invented', '', '2026-01-05', '', '2026-01-05', column1
		FROM (VALUES (1, 'proposed'), (2, 'approved'))`,
	`INSERT INTO set_follow_ups (version, seq, at, by_id, by_name, in_force_at, why, changes, chosen, leaf)
		VALUES (1, 1, '2026-01-05T09:00:00.000Z', :edda, 'Edda Invented', '2026-01-05T09:00:00.000Z', 'A new label.', '[]', '[]', 3)`,
	`INSERT INTO duties (id, version, follow_up, person_id, name, staff_no, kind, subject, title, due)
		SELECT column1 || '-' || id, 1, 1, id, name, staff_no, column1, column2, column2, '2026-02-05'
		FROM people CROSS JOIN (VALUES ('read', ''), ('module', 'first'), ('demonstration', :competency)) WHERE role <> 'educator'`,
}

func (c *clinic) giveDuties(db *sql.DB) {
	exec := func(statement string, args ...any) {
		_, err := db.Exec(statement, args...)
		require.NoError(c.T, err, statement)
	}
	exec("INSERT INTO set_versions (number, hash, based_on, origin, why, edits) VALUES (1, printf('%064d', 1), 0, 'edited', 'A new label.', '[]')")
	files, err := clinictest.FrozenFiles()
	require.NoError(c.T, err)
	for name, text := range files {
		exec("INSERT INTO set_files (hash, bytes) VALUES (?, ?)", procedure.Digest(text), text)
		exec("INSERT INTO set_version_files (version, name, hash) VALUES (1, ?, ?)", name, procedure.Digest(text))
	}
	for _, statement := range dutySQL {
		exec(statement, sql.Named("edda", c.educator.id()), sql.Named("competency", turnover))
	}
}

// withDuties gives the duties to a clinic whose file is open.
func (c *clinic) withDuties() {
	db, err := sql.Open("sqlite3", filepath.Join(c.Dir, store.DataFile)+"?_busy_timeout=5000&_foreign_keys=on")
	require.NoError(c.T, err)
	db.SetMaxOpenConns(1)
	c.giveDuties(db)
	require.NoError(c.T, db.Close())
}

// approved brings a version into force today in which a row has another value.
func (c *clinic) approved(list, row string, fields url.Values) training.SetVersion {
	e := c.educator
	require.Equal(c.T, 303, e.edit(list, row, "put", fields).StatusCode)
	sets, err := c.Sets(c.T.Context(), e.actor)
	require.NoError(c.T, err)
	v, err := c.ProposeSet(c.T.Context(), e.actor, rand.Text(), sets.Draft.Revision, "The label was read again.")
	require.NoError(c.T, err)
	v, err = c.ApproveSet(c.T.Context(), e.actor, rand.Text(), training.SetApproving{Version: v.Number, Hash: v.Hash, From: c.Today(), Approval: training.Approval{How: training.ApprovedHere}},
		clinictest.Password, training.SecondPerson{})
	require.NoError(c.T, err)
	return v
}

var (
	box    = regexp.MustCompile(`<input type="checkbox" name="(ask [^"]*)" value="yes"( checked)?`)
	dutyAt = regexp.MustCompile(`href="(/duties/[^"]+)"`)
	notMet = regexp.MustCompile(`So it cannot be signed as met; watch a new one under the present procedure`)
)

// followForm is the form of what follows as the page shows it.
func followForm(page string) url.Values {
	form := url.Values{"key": {rand.Text()}}
	for _, m := range box.FindAllStringSubmatch(page, -1) {
		if m[2] != "" {
			form.Set(m[1], "yes")
		}
	}
	for _, name := range []string{"read-by", "modules-by", "shown-by"} {
		form.Set(name, regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(page)[1])
	}
	return form
}

// A longer label time: what follows is proposed, confirmed, seen on first pages, read and
// signed, and seen to be done.
func TestALongerLabelTimeIsFollowedToItsEnd(t *testing.T) {
	c := withSet(t)
	e := c.educator
	v := c.approved("products", "station-wipe", url.Values{"f-label_s": {"130"}})
	require.Contains(t, e.get("/people").body, "Version 2 of the procedure was approved. Say what follows from it")
	at := "/set/versions/2"
	page := e.get(at).body
	require.Contains(t, page, "New hires and staff (2)")
	require.Contains(t, page, "Tess Invented, Theo Invented")
	form := followForm(page)
	for _, name := range []string{"ask trainee read ", "ask trainee module orientation-2", "ask preceptor module orientation-2", "ask educator read "} {
		require.Equal(t, "yes", form.Get(name), name)
	}
	require.False(t, form.Has("ask trainee module orientation-1"))
	require.False(t, form.Has("ask trainee demonstration "+turnover))
	require.Equal(t, string(v.InForceFrom()), form.Get("read-by"))
	require.Equal(t, string(v.InForceFrom().AddDays(30)), form.Get("modules-by"))
	require.Equal(t, string(v.InForceFrom().AddDays(30)), form.Get("shown-by"))

	weeks, year := string(c.Today().AddDays(14)), string(c.Today().AddDays(60))
	form.Set("ask trainee demonstration "+turnover, "yes")
	form.Set("shown-by", year)
	form.Set("modules-by", "")
	r := e.post(at+"/follow", form)
	require.Equal(t, 422, r.StatusCode)
	require.Contains(t, r.body, "Say by which day")
	require.Contains(t, r.body, `name="shown-by" value="`+year+`"`, "what was typed stays")
	form.Set("modules-by", weeks)
	form.Del("ask educator read ")
	require.Equal(t, 303, e.post(at+"/follow", form).StatusCode)
	page = e.get(at).body
	require.Contains(t, page, "0 done, 8 still to do.")
	require.Contains(t, page, "2 people have it already")
	require.NotContains(t, e.get("/people").body, "Say what follows from it")
	require.Contains(t, e.get("/people").body, "8 still to do because of version 2")

	for _, d := range c.dutiesOf(c.trainee) {
		require.Equal(t, map[training.DutyKind]string{training.ReadDuty: form.Get("read-by"), training.ModuleDuty: weeks, training.DemonstrationDuty: year}[d.Kind], string(d.Due), d.Kind)
	}

	home := c.trainee.get("/practice").body
	require.Contains(t, home, "To do because the procedure changed")
	require.Contains(t, home, "Pass “Orientation 2: wet time”")
	require.NotContains(t, home, "” again", "she never passed it")
	mine := dutyAt.FindStringSubmatch(home)[1]
	read := c.trainee.get(mine).body
	require.Contains(t, read, "contact time: 2:10, was 2:00")
	require.Contains(t, read, "<b>(a longer contact time)</b>")
	require.Contains(t, read, "/procedures/between-patients")
	require.Equal(t, 404, c.otherLearner.get(mine).StatusCode)
	sign := func(b *browser, password string) answer {
		return b.post(mine+"/read", url.Values{"key": {rand.Text()}, "password": {password}})
	}
	require.Equal(t, 404, sign(c.otherLearner, clinictest.Password).StatusCode)
	require.Contains(t, sign(c.trainee, "a wrong one").body, "That password is not right")
	require.Equal(t, 303, sign(c.trainee, clinictest.Password).StatusCode)
	require.Contains(t, c.trainee.get(mine).body, training.ReadWords)
	require.NotContains(t, c.trainee.get("/practice").body, mine)
	require.Contains(t, e.get(at).body, "1 done, 7 still to do.")
	require.Contains(t, e.get("/people/"+c.trainee.id()).body, "Read and signed")
	require.Contains(t, c.preceptor.get("/watch").body, "Read what changed, and sign that you did")

	require.Equal(t, 404, c.trainee.get("/procedures/between-patients?in=1").StatusCode, "it takes its time to be read, and does not hold")
	require.Equal(t, 200, c.preceptor.get("/procedures/between-patients?in=1").StatusCode)
	again := dutyAt.FindStringSubmatch(c.trainee.get("/practice").body)[1]
	require.Contains(t, c.trainee.get(again).body, `href="/practice/against-the-clock?guided=no">Take the test:`)
	his := dutyAt.FindStringSubmatch(c.otherLearner.get("/practice").body)[1]
	move := func(due, why string) answer {
		return e.post(his+"/move", url.Values{"key": {rand.Text()}, "due": {due}, "why": {why}})
	}
	refused := move(string(c.Today().AddDays(-1)), "He is on leave.")
	require.Equal(t, 422, refused.StatusCode)
	require.Contains(t, refused.body, "is no day for this")
	require.Contains(t, refused.body, `value="He is on leave."`, "what was typed stays")
	require.Equal(t, 403, c.otherLearner.post(his+"/move", url.Values{"key": {rand.Text()}, "due": {string(c.Today().AddDays(60))}, "why": {"Leave."}}).StatusCode)
	require.Equal(t, 303, move(string(c.Today().AddDays(60)), "He is on leave.").StatusCode)
	require.Regexp(t, `instead of [^:]+: He is on leave\. \(Edda Invented`, e.get(his).body)
	require.Contains(t, e.get("/set/versions/2").body, ", was ", "who has done what says the day of before")
	require.Contains(t, c.otherLearner.get("/").body+c.otherLearner.get("/practice").body, ", was ", "and so does his home")
	require.Equal(t, 403, c.otherLearner.post(his+"/take-back", url.Values{"key": {rand.Text()}, "why": {"I know it."}}).StatusCode)
	require.Contains(t, e.post(his+"/take-back", url.Values{"key": {rand.Text()}, "why": {""}}).body, "Say why it is taken back")
	require.Equal(t, 303, e.post(his+"/take-back", url.Values{"key": {rand.Text()}, "why": {"He wrote the label down himself."}}).StatusCode)
	require.Contains(t, e.get("/people/"+c.otherLearner.id()).body, "He wrote the label down himself.")
}

func (c *clinic) dutiesOf(b *browser) []training.DutyState {
	all, err := c.DutiesOf(c.T.Context(), b.actor, b.id())
	require.NoError(c.T, err)
	require.NotEmpty(c.T, all)
	return all
}

// The desk leads to a version that waits, and to the form of one that somebody came after.
func TestTheDeskTellsOfAVersionThatWaitsAndOfWhoCameSince(t *testing.T) {
	c := withSet(t)
	e := c.educator
	require.Equal(t, 303, e.edit("surfaces", "screen", "put", url.Values{"f-title": {"Display"}}).StatusCode)
	sets, err := c.Sets(t.Context(), e.actor)
	require.NoError(t, err)
	v, err := c.ProposeSet(t.Context(), e.actor, rand.Text(), sets.Draft.Revision, "We call it so.")
	require.NoError(t, err)
	page := e.get("/people").body
	require.Contains(t, page, "Version 2 of the procedure waits to be approved.")
	require.Contains(t, page, `href="/set/versions/2"`)
	_, err = c.ApproveSet(t.Context(), e.actor, rand.Text(), training.SetApproving{Version: 2, Hash: v.Hash, From: c.Today(), Approval: training.Approval{How: training.ApprovedHere}}, clinictest.Password, training.SecondPerson{})
	require.NoError(t, err)
	require.NotContains(t, e.get("/people").body, "waits to be approved")
	require.Equal(t, 303, e.post("/set/versions/2/follow", followForm(e.get("/set/versions/2").body)).StatusCode)
	require.NotContains(t, e.get("/people").body, "came since")
	c.Hire(e.actor, "Nora Invented", "nora", training.Trainee)
	page = e.get("/people").body
	require.Contains(t, page, "Version 2 of the procedure: 1 person came since and has not been asked.")
	require.Contains(t, page, `href="/set/versions/2#follow"`)
	page = e.get("/set/versions/2").body
	require.Contains(t, page, "Add people to it")
	require.Contains(t, page, "1 to add, 2 already")
	require.Equal(t, 303, e.post("/set/versions/2/follow", followForm(page)).StatusCode)
	require.NotContains(t, e.get("/people").body, "came since")
}

// What is read before its day is the version that will hold.
func TestAVersionIsReadBeforeItHolds(t *testing.T) {
	c := withSet(t)
	e := c.educator
	require.Equal(t, 303, e.edit("surfaces", "screen", "put", url.Values{"f-title": {"Display"}}).StatusCode)
	require.Equal(t, 303, e.edit("variants", "", "put", url.Values{"f-of": {"between-patients"}, "f-title": {"Bed"}, "f-without-there": {"yes"}, "f-without-chair": {"yes"}}).StatusCode)
	sets, err := c.Sets(t.Context(), e.actor)
	require.NoError(t, err)
	v, err := c.ProposeSet(t.Context(), e.actor, rand.Text(), sets.Draft.Revision, "We call it so.")
	require.NoError(t, err)
	_, err = c.ApproveSet(t.Context(), e.actor, rand.Text(), training.SetApproving{Version: 2, Hash: v.Hash, From: c.Today().AddDays(5), Approval: training.Approval{How: training.ApprovedHere}}, clinictest.Password, training.SecondPerson{})
	require.NoError(t, err)
	require.Equal(t, 303, e.post("/set/versions/2/follow", followForm(e.get("/set/versions/2").body)).StatusCode)
	mine := dutyAt.FindStringSubmatch(c.trainee.get("/practice").body)[1]
	page := c.trainee.get(mine).body
	require.Contains(t, page, "Here it is as it will be then")
	stations := regexp.MustCompile(`href="(/procedures/([^"?]+)\?in=2)"`).FindAllStringSubmatch(page, -1)
	bed := slices.IndexFunc(stations, func(m []string) bool { return strings.Contains(m[2], "bed") })
	require.GreaterOrEqual(t, bed, 1, "the station with a bed is read too")
	require.Equal(t, "between-patients", stations[bed-1][2], "behind the procedure that it is of")
	require.Contains(t, c.trainee.get(stations[bed][1]).body, "Bed")
	read := c.trainee.get("/procedures/between-patients?in=2").body
	require.Contains(t, read, "Display")
	require.Contains(t, read, "as version 2 of the clinic")
	require.NotContains(t, c.trainee.get("/procedures/between-patients").body, "Display")
	require.Equal(t, 404, c.trainee.get("/procedures/between-patients?in=9").StatusCode)
	require.Equal(t, 404, c.trainee.get("/procedures/between-patients?in=x").StatusCode)
}

// What changed at a station of another kind alone is told with its name and asked for as any
// other change; what changed everywhere is told once.
func TestAChangeAtOneStationIsAskedForToo(t *testing.T) {
	c := withSet(t)
	e := c.educator
	bed := url.Values{"f-of": {"between-patients"}, "f-title": {"Bed"}, "f-without-there": {"yes"}, "f-without-chair": {"yes"}}
	c.approved("variants", "", bed)
	require.Contains(t, e.get("/set/versions/2").body, "Station turnover between patients: Bed”: new")
	rail := url.Values{"f-of": {"bed"}, "f-title": {"Bed rail"}, "f-face": {"a side of its own"}, "f-wipe_s": {"9"}, "f-basis-kind": {"clinic to confirm"}}
	require.Equal(t, 303, e.edit("surfaces", "", "put", rail).StatusCode)
	c.approved("settings", "between-patients", url.Values{"procedure": {"between-patients"}, "f-cut_percent": {"85"}})
	page := e.get("/set/versions/3").body
	require.Regexp(t, `name="ask trainee read " value="yes" checked`, page)
	require.Equal(t, 303, e.post("/set/versions/3/follow", followForm(page)).StatusCode)
	mine := dutyAt.FindAllStringSubmatch(c.trainee.get("/practice").body, -1)
	read := c.trainee.get(mine[len(mine)-1][1]).body
	require.Contains(t, read, "At “Bed”: Surface “Bed rail”: new")
	require.Equal(t, 1, strings.Count(read, "lowest score that passes"), "the choices of a station are those of the whole")
	require.Equal(t, 1, strings.Count(read, `href="/procedures/bed"`), read)
}

// A demonstration that a critical change overtook says so before anybody signs.
func TestAnOvertakenDemonstrationSaysSo(t *testing.T) {
	c := withSet(t)
	d := c.Watch(c.preceptor.actor, c.trainee.actor, c.GoodWork())
	at := "/demonstrations/" + d.ID
	c.educator = c.signIn("edda", clinictest.Password)
	c.approved("surfaces", "screen", url.Values{"f-title": {"Display"}})
	c.preceptor = c.signIn("pia", clinictest.Password)
	require.NotRegexp(t, notMet, c.preceptor.get(at).body, "a name is not critical")
	c.Choose(c.preceptor.actor, d.ID, training.WatchedMet)
	c.approved("marks", "order", url.Values{"f-critical": {"true"}})
	page := c.preceptor.get(at).body
	require.Regexp(t, notMet, page)
	require.Contains(t, page, "Version 3 of the clinic&#39;s procedure is in force from "+c.Today().Said())
	require.Regexp(t, notMet, c.signIn("tess", clinictest.Password).get(at).body)
	_, err := c.SignAsLearner(t.Context(), c.preceptor.actor, rand.Text(), d.ID, training.Learner{Username: "tess", Password: clinictest.Password})
	require.NoError(t, err)
	require.Contains(t, c.preceptor.get(at).body, "<b>Not offered:</b> Version 3")
	r := c.preceptor.post(at+"/sign/preceptor", url.Values{"key": {rand.Text()}, "meaning": {"watched-met"}, "password": {clinictest.Password}})
	require.Equal(t, 409, r.StatusCode)
	require.Regexp(t, notMet, r.body)
	c.Choose(c.preceptor.actor, d.ID, training.WatchedNotMet)
	require.Equal(t, 303, c.preceptor.post(at+"/sign/preceptor", url.Values{"key": {rand.Text()}, "meaning": {"watched-not-met"}, "password": {clinictest.Password}}).StatusCode)
}

// The desk tells the days on which procedures are to be reviewed, and what nobody confirmed.
func TestTheDeskTellsWhatPasses(t *testing.T) {
	c := withSet(t)
	page := c.educator.get("/people").body
	require.Regexp(t, `\d+ values of the procedure are not confirmed yet`, page)
	require.NotContains(t, page, "is to be reviewed")
	form := url.Values{"f-review_by": {string(c.Today().AddDays(30))}, "procedure": {"between-patients"}}
	c.approved("settings", "between-patients", form)
	require.Contains(t, c.educator.get("/people").body, "is to be reviewed by")
	c.Pass(31 * 24 * 3600 * 1e9)
	c.educator = c.signIn("edda", clinictest.Password)
	page = c.educator.get("/people").body
	require.Contains(t, page, "was to be reviewed by")
	link := regexp.MustCompile(`href="(/set/edit\?list=settings[^"]*)"`).FindStringSubmatch(page)[1]
	require.Contains(t, c.educator.get(regexp.MustCompile(`&amp;`).ReplaceAllString(link, "&")).body, fmt.Sprintf("value=%q", form.Get("f-review_by")))
	require.NotContains(t, c.preceptor.get("/watch").body, "reviewed by")
}
