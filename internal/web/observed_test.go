package web

import (
	"context"
	"crypto/rand"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// keepsObservation is a routine observation that was watched and kept.
func (c *clinic) keepsObservation(at training.Setting, trainee string, lines []clinictest.Seen) string {
	id := c.ObserveUnread(c.preceptor.actor, at, trainee, lines)
	_, err := c.Keep(context.Background(), c.preceptor.actor, rand.Text(), id)
	require.NoError(c.T, err)
	return id
}

func TestAMonthIsShownByShift(t *testing.T) {
	c := staffed(t)
	none := c.educator.get("/observations").body
	require.Contains(t, none, "0 of 10 station observations in March 2026")
	require.Contains(t, none, "Nobody has watched one yet")
	require.NotContains(t, none, "100 %")

	id := c.keepsObservation(training.Setting{Announced: "no", Discipline: "Technician", Shift: "Late"}, "", c.GoodWork())
	c.keepsObservation(training.Setting{Announced: "yes", Shift: "LATE "}, c.trainee.id(), c.GoodWork())
	page := c.educator.get("/observations?month=2026-03").body
	for _, text := range []string{"2 of 10 station observations in March 2026", "2 of 2, 100 %", "may be as low as 34 %", "Technician", "Tess", "No step was missed.", `href="/demonstrations/` + id + `"`} {
		require.Contains(t, page, text)
	}
	require.Contains(t, c.educator.get("/observations?month=2026-02").body, "the first one of this clinic began in March 2026")
	require.Equal(t, 422, c.educator.get("/observations?month=2026-04").StatusCode)
	require.Equal(t, 422, c.educator.get("/observations?month=yesterday").StatusCode)
}

func TestTheTargetIsChangedOnItsPage(t *testing.T) {
	c := staffed(t)
	send := func(monthly, why, seen string) answer {
		return c.educator.post("/observations/target", url.Values{"key": {rand.Text()}, "seen": {seen}, "month": {"2026-03"}, "monthly": {monthly}, "why": {why}})
	}
	for _, x := range []struct{ monthly, why, told string }{
		{"many", "Policy.", "The target is no whole number."},
		{"501", "Policy.", "The target is a whole number from 0 to 500."},
		{"12", "", "Say why"},
		{"12", "Patient John Smith, born 1950-02-03, asked for it.", "tick below that they may stay"},
	} {
		r := send(x.monthly, x.why, "0")
		require.Equal(t, 422, r.StatusCode, x.told)
		require.Contains(t, r.body, x.told)
		require.Contains(t, r.body, `value="`+x.monthly+`"`, "what was typed is there still")
	}
	require.Equal(t, 303, send("12", "Policy of March.", "0").StatusCode)
	require.Contains(t, c.educator.get("/observations").body, "0 of 12 station observations")
	r := send("14", "Policy of April.", "0")
	require.Equal(t, 409, r.StatusCode)
	require.Contains(t, r.body, "changed the target meanwhile")
	require.Equal(t, 303, send("0", "Policy of May.", "1").StatusCode)
	require.Contains(t, c.educator.get("/observations").body, "0 station observations in March 2026")
	require.Contains(t, c.educator.get("/changes?kind=requirements").body, "Target 0, was 12")
}
