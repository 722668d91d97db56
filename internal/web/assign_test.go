package web

import (
	"context"
	"crypto/rand"
	"fmt"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// assigned asks the first module of people, and is its id.
func (c *clinic) assigned(who ...*browser) string {
	ctx := context.Background()
	var ids []string
	for _, b := range who {
		ids = append(ids, b.id())
	}
	ask := training.Ask{Kind: training.ModuleDuty, Of: "first", Due: c.Today().AddDays(10), Why: "The yearly round."}
	p, err := c.PreviewAssignment(ctx, c.educator.actor, ask, ids)
	require.NoError(c.T, err)
	a, err := c.Assign(ctx, c.educator.actor, rand.Text(), ask, ids, p.Seen)
	require.NoError(c.T, err)
	return a.ID
}

var seenField = regexp.MustCompile(`name="seen" value="([0-9a-f]+)"`)

// The whole way by hand: ticked rows, the form, the preview, the confirmation, what each of
// them sees, and the undoing.
func TestSomethingIsAskedOfManyAtOnce(t *testing.T) {
	c := staffed(t)
	ticked := c.educator.get("/people/ask?person=" + c.trainee.id()).body
	require.Regexp(t, `name="who-`+c.trainee.id()+`"[^>]* checked`, ticked)
	require.NotRegexp(t, `name="who-`+c.otherLearner.id()+`"[^>]* checked`, ticked)
	form := url.Values{"what": {"module:first"}, "due": {string(c.Today().AddDays(10))}, "why": {"Mr. Miller complained"}, "who-" + c.trainee.id(): {"yes"}}
	form.Set("do", "all")
	r := c.educator.post("/people/ask", form)
	require.Equal(t, 200, r.StatusCode)
	require.Regexp(t, `name="who-`+c.otherLearner.id()+`"[^>]* checked`, r.body)
	require.Contains(t, r.body, "Mr. Miller complained", "what was typed is there still")
	form.Del("do")
	form.Set("who-"+c.otherLearner.id(), "yes")
	r = c.educator.post("/people/ask", form)
	require.Equal(t, 422, r.StatusCode)
	require.Contains(t, r.body, "a patient&#39;s name")
	form.Set("why", "The yearly round.")
	form.Set("due", "2020-01-01")
	r = c.educator.post("/people/ask", form)
	require.Equal(t, 422, r.StatusCode)
	require.Contains(t, r.body, "1 Jan 2020 is no day for this")
	form.Set("due", string(c.Today().AddDays(10)))
	c.assigned(c.otherLearner)
	r = c.educator.post("/people/ask", form)
	require.Equal(t, 200, r.StatusCode)
	require.Contains(t, r.body, "1 person is asked, 1 is left out")
	require.Contains(t, r.body, "Asked already, by")
	form.Set("key", rand.Text())
	form.Set("seen", "something else")
	r = c.educator.post("/assignments", form)
	require.Equal(t, 409, r.StatusCode)
	require.Contains(t, r.body, "Nothing was asked. Look at it again.")
	form.Set("key", rand.Text())
	form.Set("seen", seenField.FindStringSubmatch(r.body)[1])
	r = c.educator.post("/assignments", form)
	require.Equal(t, 303, r.StatusCode)
	at := r.Header.Get("Location")

	home := c.trainee.get("/practice").body
	require.Contains(t, home, "Asked by Edda Invented: The yearly round.")
	duty := regexp.MustCompile(`/duties/[^"]+`).FindString(home)
	page := c.trainee.get(duty).body
	require.Contains(t, page, "Take the test")
	require.Contains(t, page, "What was passed before it was asked for does not count")
	require.Contains(t, c.preceptor.get(duty).body, "What was passed before does not count.")
	require.Equal(t, 404, c.otherLearner.get(duty).StatusCode)
	require.Contains(t, c.educator.get("/people/"+c.trainee.id()).body, duty)
	require.Contains(t, c.educator.get("/assignments").body, at)
	require.Contains(t, c.educator.get("/changes?kind=asked").body, "Asked of people")
	r = c.educator.post(duty+"/move", url.Values{"key": {rand.Text()}, "due": {string(c.Today().AddDays(20))}, "why": {"Later."}})
	require.Equal(t, 409, r.StatusCode)

	require.Contains(t, c.educator.get(at).body, "Undo it for all")
	require.Equal(t, 303, c.educator.post(at+"/undo", url.Values{"key": {rand.Text()}}).StatusCode)
	require.NotContains(t, c.educator.get(at).body, "Undo it for all")
	require.NotContains(t, c.trainee.get("/practice").body, "The yearly round.")
	r = c.educator.post(at+"/undo", url.Values{"key": {rand.Text()}})
	require.Equal(t, 409, r.StatusCode)
	require.Contains(t, r.body, "Edda Invented undid it already.")
}

// Two thousand ticks go through the form.
func TestAFormOfTwoThousandTicksIsTaken(t *testing.T) {
	c := staffed(t)
	form := url.Values{"what": {"module:first"}, "due": {string(c.Today())}, "why": {strings.Repeat("é", 300)}, "key": {rand.Text()}, "seen": {strings.Repeat("a", 64)}, "sure": {strings.Repeat("a", 64)}}
	for i := range 2000 {
		form.Set(fmt.Sprintf("who-%036d", i), "yes")
	}
	r := c.educator.post("/people/ask", form)
	require.Equal(t, 422, r.StatusCode)
	require.Contains(t, r.body, "not among the people here")
	require.Equal(t, 422, c.educator.post("/assignments", form).StatusCode)
}

// With nobody ticked it is of everybody under the filter, and of no others.
func TestAFilterSaysOfWhomItIsAsked(t *testing.T) {
	c := staffed(t)
	page := c.educator.get("/people/ask?role=preceptor").body
	require.Regexp(t, `name="who-`+c.preceptor.id()+`"[^>]* checked`, page)
	require.NotContains(t, page, "who-"+c.trainee.id())
	require.Contains(t, page, `action="/people/ask?role=preceptor"`, "the filter stays")
	require.NotContains(t, c.educator.get("/people/ask").body, " checked")
}

// The desk's number is how many rows it leads to.
func TestWhatIsOverdueIsCountedAsItIsListed(t *testing.T) {
	c := staffed(t)
	c.assigned(c.trainee, c.otherLearner)
	number := func() string {
		return regexp.MustCompile(`href="/people/waits#asked"[^>]*>\s*<b>(\d+)</b>`).FindStringSubmatch(c.educator.get("/people").body)[1]
	}
	rows := func() int {
		_, list, _ := strings.Cut(c.educator.get("/people/waits").body, `id="asked"`)
		list, _, _ = strings.Cut(list, "</section>")
		return strings.Count(list, "<tr>") - strings.Count(list, "<thead>")
	}
	require.Equal(t, "0", number())
	require.Zero(t, rows())
	c.Pass(11 * 24 * time.Hour)
	c.educator = c.signIn("edda", training.DemoPassword)
	require.Equal(t, "2", number())
	require.Equal(t, 2, rows())
}
