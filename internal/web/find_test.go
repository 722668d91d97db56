package web

import (
	"crypto/rand"
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// finding is a clinic with the set as it comes.
func finding(t *testing.T) *clinic {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	return openOver(t, lib, false).staff()
}

var finds = []string{"a-colleagues-hands", "a-colleagues-wet-times", "a-colleague-and-the-blood", "a-colleagues-last-turnover"}

// begun is a search of the new hire, with everything that the engine finds in it.
func (c *clinic) begun(id string, guided bool) (training.Draft, *assess.Result) {
	d, err := c.OpenDraft(c.T.Context(), c.trainee.actor, id, guided)
	require.NoError(c.T, err)
	log, _, err := c.Shown(d)
	require.NoError(c.T, err)
	_, p := c.Scenario(id)
	whole, err := rules.Assess(p, log, id)
	require.NoError(c.T, err)
	return d, whole
}

// The page of a test has nothing of what is wrong, in its words, its data or its answers.
func TestATestToFindInTellsNothing(t *testing.T) {
	c := finding(t)
	for _, id := range finds {
		at := "/practice/" + id
		d, whole := c.begun(id, false)
		page := c.trainee.get(at + "?guided=no").body
		require.Contains(t, page, `id="player-data"`)
		require.Contains(t, page, "at least one row at which something is wrong; there may be more")
		saved := c.trainee.send(at+"/steps", fmt.Sprintf(`{"draft":%q,"revision":0,"steps":["%d"]}`, d.ID, whole.Breaches()[0].Act))
		require.Equal(t, 200, saved.StatusCode, saved.body)
		require.Equal(t, `{"revision":1}`, saved.body)
		again := c.trainee.get(at + "?guided=no").body
		for _, text := range []string{page, again} {
			for _, f := range whole.Findings {
				for _, secret := range []string{f.Message, f.Why, f.Next} {
					short := secret[:min(len(secret), 40)]
					require.NotContains(t, text, short)
				}
			}
			for _, word := range []string{"Without", "without\"", "Why it matters\"", "Too short", "Spoilt", "Reached", "Hands have to be", "used again", "touched by something used", "where it belongs", `"changes":`, "mistake"} {
				require.NotContains(t, strings.Split(text, `<template id="told">`)[0], word, id)
			}
		}
	}
}

// Every row can be marked, and none is told apart.
func TestEveryRowCanBeMarked(t *testing.T) {
	c := finding(t)
	for _, id := range finds {
		d, _ := c.begun(id, false)
		log, acts, err := c.Shown(d)
		require.NoError(t, err)
		require.Len(t, acts, len(log.Acts))
		page := c.trainee.get("/practice/" + id + "?guided=no").body
		require.Equal(t, len(log.Acts), strings.Count(page, `type="checkbox"`))
		for _, a := range acts {
			require.Nil(t, a.Without)
			require.Empty(t, a.Changes)
		}
	}
}

func TestPracticeTellsAtTheMarkedRow(t *testing.T) {
	c := finding(t)
	const at = "/practice/a-colleagues-wet-times"
	d, whole := c.begun("a-colleagues-wet-times", true)
	wrong := whole.Breaches()[0]
	r := c.trainee.send(at+"/steps", fmt.Sprintf(`{"draft":%q,"revision":0,"steps":["1","%d"]}`, d.ID, wrong.Act))
	require.Equal(t, 200, r.StatusCode, r.body)
	var saved struct {
		Told []struct {
			Row             int
			Text, Why, Next string
		}
	}
	require.NoError(t, json.Unmarshal([]byte(r.body), &saved))
	require.Equal(t, 1, saved.Told[0].Row)
	require.Contains(t, saved.Told[0].Text, "Nothing is wrong here: ")
	require.Empty(t, saved.Told[0].Why)
	require.Equal(t, wrong.Act, saved.Told[1].Row)
	require.Equal(t, "You found it: "+wrong.Message, saved.Told[1].Text)
	require.Equal(t, wrong.Why, saved.Told[1].Why)
	page := c.trainee.get(at + "?guided=yes").body
	require.Contains(t, page, "Nothing is wrong here: ")
	require.Contains(t, page, wrong.Message)
	empty := c.trainee.send(at+"/steps", fmt.Sprintf(`{"draft":%q,"revision":1,"steps":[]}`, d.ID))
	require.Equal(t, `{"revision":2}`, empty.body, "nothing is marked, so nothing is told")
}

// Without a script rows are marked, saved and judged by a plain form.
func TestFindingByAPlainForm(t *testing.T) {
	c := finding(t)
	const id, at = "a-colleague-and-the-blood", "/practice/a-colleague-and-the-blood"
	intro := c.trainee.get(at).body
	require.Contains(t, intro, "Find what is wrong")
	r := c.trainee.post(at+"/start", url.Values{"key": {rand.Text()}, "guided": {"no"}})
	require.Equal(t, at+"?guided=no", r.Header.Get("Location"), r.body)
	d, whole := c.begun(id, false)
	form := func(revision int, rows ...int) url.Values {
		v := url.Values{"key": {rand.Text()}, "draft": {d.ID}, "revision": {strconv.Itoa(revision)}}
		for _, n := range rows {
			v.Set(fmt.Sprintf("row-%d", n), "yes")
		}
		return v
	}
	r = c.trainee.post(at+"/steps", form(0, 12, 3))
	require.Equal(t, at+"?guided=no&did=marked#marked", r.Header.Get("Location"), r.body)
	page := c.trainee.get(at + "?guided=no&did=marked").body
	require.Contains(t, page, "2 marked")
	require.Contains(t, page, "The marks are saved.")
	require.Contains(t, page, `name="row-12" value="yes" checked`)
	require.Equal(t, 409, c.trainee.post(at+"/steps", form(0, 12)).StatusCode, "an older page")
	require.Equal(t, 422, c.trainee.post(at+"/steps", form(1, 4000)).StatusCode)
	require.Equal(t, 422, c.trainee.post(at+"/finish", form(1)).StatusCode, "nothing is marked")

	var rows []int
	for _, f := range whole.Breaches() {
		if !slices.Contains(rows, f.Act) {
			rows = append(rows, f.Act)
		}
	}
	last := rows[len(rows)-1]
	missed := whole.Breaches()[len(whole.Breaches())-1]
	r = c.trainee.post(at+"/finish", form(1, append([]int{2}, rows[:len(rows)-1]...)...))
	require.Equal(t, 303, r.StatusCode, r.body)
	require.NotEqual(t, 2, last)
	result := c.trainee.get(r.Header.Get("Location")).body
	require.Regexp(t, `You found \d of \d breaches, and marked 1 row where nothing was wrong\.`, result)
	require.Contains(t, result, missed.Message)
	require.Contains(t, result, missed.Why)
	require.Contains(t, result, "Not seen")
	require.Contains(t, result, "Marked, and nothing is wrong")
	require.Contains(t, result, "Lessons that teach this")
	require.Contains(t, result, fmt.Sprintf("Row %d", last))
	require.Contains(t, result, "Not passed yet")
	seen := c.educator.get(r.Header.Get("Location")).body
	require.NotContains(t, seen, "You found")
	require.Contains(t, seen, "Found: ")
	require.Equal(t, 404, c.otherLearner.get(r.Header.Get("Location")).StatusCode)
}
