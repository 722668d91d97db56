package web

import (
	"context"
	"crypto/rand"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/roster"
	"stillwet/internal/training"
)

// aPaper is somebody's sign-off from paper, and a batch that waits.
func (c *clinic) aPaper(who *browser) string {
	ctx := context.Background()
	require.NoError(c.T, c.EnterEarlier(ctx, c.educator.actor, rand.Text(), training.EarlierLine{PersonID: who.id(), Competency: turnover, On: "2024-02-02", SignedBy: "Ulla Before", Evidence: "Green folder", Here: true}, clinictest.Password))
	text := "Staff number,Name,Competency,Date,Signed by,Evidence\n," + who.actor.Person.Name + "," + turnover + ",2024-01-02,Ulla Before,Green folder\n"
	f, err := roster.ReadList(strings.NewReader(text), int64(len(text)), roster.EarlierList, c.Today().Time(), "")
	require.NoError(c.T, err)
	plan, err := c.ImportEarlier(ctx, f)
	require.NoError(c.T, err)
	require.Empty(c.T, plan.Faults)
	all, err := c.EarlierOf(ctx, who.actor, who.id())
	require.NoError(c.T, err)
	return all[0].ID
}

func TestAPaperIsEnteredConfirmedAndPutRight(t *testing.T) {
	c := staffed(t)
	send := func(path string, form url.Values) answer {
		form.Set("key", rand.Text())
		return c.educator.post(path, form)
	}
	at := "/people/" + c.trainee.id()
	form := url.Values{"competency": {turnover}, "on": {"2025-08-10"}, "signed-by": {"Ulla Before"}, "evidence": {"Green folder"}, "here": {"no"}, "site": {""}, "due": {""}, "password": {clinictest.Password}}
	r := send(at+"/earlier", form)
	require.Equal(t, 422, r.StatusCode)
	require.Contains(t, r.body, "say at which other site")
	require.Contains(t, r.body, "Green folder", "what was typed is there still")
	form.Set("site", "Sister clinic")
	require.Equal(t, 303, send(at+"/earlier", form).StatusCode)
	page := c.trainee.get(at).body
	require.Contains(t, page, "From paper:")
	require.Contains(t, page, "Ulla Before (from paper)")
	require.Contains(t, page, "not shown here")
	require.Contains(t, c.educator.get("/people").body, "Ulla Before (from paper)")

	all, err := c.EarlierOf(context.Background(), c.trainee.actor, c.trainee.id())
	require.NoError(t, err)
	e := "/earlier-entries/" + all[0].ID
	require.Equal(t, 200, c.trainee.get(e).StatusCode)
	require.Equal(t, 404, c.otherLearner.get(e).StatusCode)
	form.Set("on", "2025-08-11")
	form.Set("why", "")
	require.Contains(t, send(e+"/correct", form).body, "Say what was wrong")
	require.Regexp(t, `id="due"[^>]* value=""`, c.educator.get(e).body, "the clinic's interval counts from another day too")
	form.Set("why", "It was the eleventh.")
	form.Set("why", "it was the eleventh")
	r = send(e+"/correct", form)
	require.Equal(t, 303, r.StatusCode)
	is := c.educator.get(r.Header.Get("Location")).body
	require.Contains(t, is, "Corrected. This is the sign-off that counts now.")
	require.Contains(t, is, "Sign-off of 11 Aug 2025", "it is the new one")
	require.Contains(t, wordsOf(c.trainee.get(e).body), "It was the eleventh. Ledger number")
	all, err = c.EarlierOf(context.Background(), c.trainee.actor, c.trainee.id())
	require.NoError(t, err)
	require.Equal(t, 303, send("/earlier-entries/"+all[0].ID+"/withdraw", url.Values{"why": {"Of somebody else."}, "password": {clinictest.Password}}).StatusCode)
	require.NotContains(t, c.educator.get("/people").body, "(from paper)")

	c.aPaper(c.otherLearner)
	waiting, err := c.EarlierWaiting(context.Background(), c.educator.actor)
	require.NoError(t, err)
	require.Contains(t, c.educator.get("/earlier").body, training.OneEarlierWords)
	to := "/earlier/" + waiting[0].ID
	require.Equal(t, 422, send(to+"/confirm", url.Values{"password": {"wrong"}}).StatusCode)
	r = send(to+"/confirm", url.Values{"password": {clinictest.Password}})
	require.Equal(t, 303, r.StatusCode)
	require.Contains(t, c.educator.get(r.Header.Get("Location")).body, "1 sign-off from paper is confirmed and counts now.")
	require.NotContains(t, c.educator.get("/people?done=nonsense&n=x").body, "note done")
	require.Contains(t, c.educator.get("/earlier").body, "Nothing waits to be confirmed")
}
