package web

import (
	"context"
	"crypto/rand"
	"net/url"
	"regexp"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
	"stillwet/views"
)

// A change that holds in place of another of the same day keeps what that one says of sign-offs
// of before, and letting it go is told.
func TestASecondChangeOfTheDayKeepsTheFirst(t *testing.T) {
	c := staffed(t)
	e, ctx := c.educator, context.Background()
	at := "/requirements/" + turnover
	all := regexp.MustCompile(`name="recount" value="all"[^>]* checked`)
	require.False(t, all.MatchString(e.get(at).body))
	require.NoError(t, c.EnterEarlier(ctx, e.actor, rand.Text(), training.EarlierLine{PersonID: c.trainee.id(), Competency: turnover, On: c.Today().AddDays(-30), SignedBy: "Ulla Before", Evidence: "Green folder", Here: true}, clinictest.Password))
	of, err := c.RequirementsFor(ctx, e.actor, turnover)
	require.NoError(t, err)
	draft := training.Requirements{Competency: turnover, From: c.Today(), Why: "Ten months here.", Terms: of.Now.Terms}
	draft.Terms.IntervalMonths, draft.Terms.Recount = 10, true
	_, err = c.ChangeRequirements(ctx, e.actor, rand.Text(), of.Newest, draft)
	require.NoError(t, err)
	due := c.Today().AddDays(-30).AddMonths(10)
	record := e.get("/people/record?person=" + c.trainee.id()).body
	require.Contains(t, record, "signed off on "+shown(c.Today().AddDays(-30))+" by Ulla Before (from paper), due again "+shown(due))
	require.Contains(t, record, "Due again "+shown(due)+" (")
	require.Contains(t, record, "signed as due "+shown(c.Today().AddDays(-30).AddMonths(12))+", and a new interval counts since")

	require.Regexp(t, all, e.get(at).body, "the same day: it holds in place of the first")
	form := url.Values{"key": {rand.Text()}, "seen": {strconv.Itoa(of.Newest + 2)}}
	for name, value := range views.TypedRequirements(draft.Terms, c.Today(), true) {
		form.Set(name, value)
	}
	form.Set("signer", string(training.SignerEducator))
	form.Set("why", "Only educators.")
	kept := e.post(at+"/preview", form).body
	require.Contains(t, kept, "Who may sign off: Only educators")
	require.NotContains(t, kept, "sign-offs of before")
	form.Set("recount", "next")
	require.Contains(t, e.post(at+"/preview", form).body, "The interval counts from each person&#39;s next sign-off on. Before: for sign-offs of before as well.")

	c.Pass(24 * time.Hour)
	require.False(t, all.MatchString(e.get(at).body), "the next day's change comes after it")
}

// shown is a day as pages show it.
func shown(d training.Day) string { return d.Time().Format("2 Jan 2006") }
