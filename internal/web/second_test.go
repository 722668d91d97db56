package web

import (
	"bytes"
	"cmp"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"html"
	"net/url"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// A second procedure, unlike the built-in one (no patient, no bucket, two
// products, its own areas, words and picture), goes the whole way: whatever in
// the program knows only one procedure fails here.
func TestASecondProcedureGoesTheWholeWay(t *testing.T) {
	lib, err := scenarios.LoadFS(os.DirFS("../../testdata/trolley"))
	require.NoError(t, err)
	w := openOver(t, lib, false).staff()

	passed := w.buildCues("trolley-in-order", nil)
	require.Contains(t, passed, "Passed, with nothing to change")
	spoilt := w.buildCues("trolley-in-order", func(cue string) bool { return cue == "clean-handle" })
	require.Contains(t, spoilt, "Not passed yet")
	require.Contains(t, spoilt, `viewBox="-205 0 810 300"`)
	require.Contains(t, spoilt, ">Trolley</text>")
	require.NotContains(t, spoilt, ">Chair</text>")
	require.NotContains(t, strings.ToLower(spoilt), "bucket")
	require.Contains(t, w.runCues("trolley-by-the-clock"), "Passed, with nothing to change")
	require.Contains(t, w.runCues("trolley-by-the-clock"), "An alarm sounds", "the world is in the log")

	at := w.watchCues("trolley-by-the-clock")
	review := html.UnescapeString(w.preceptor.get(at).body)
	require.Contains(t, review, "Passed, with nothing to change")
	require.Contains(t, review, "Quick wipe, 1-minute label")
	sign := func(who string, form url.Values) {
		form.Set("key", rand.Text())
		form.Set("password", training.DemoPassword)
		got := w.preceptor.post(at+"/sign/"+who, form)
		require.Equal(t, 303, got.StatusCode, "%.400s", got.body)
	}
	got := w.preceptor.post(at+"/outcome", url.Values{"key": {rand.Text()}, "meaning": {string(training.WatchedMet)}, "why": {""}})
	require.Equal(t, 303, got.StatusCode, "%.400s", got.body)
	sign("learner", url.Values{"username": {"tess"}})
	sign("preceptor", url.Values{"meaning": {string(training.WatchedMet)}})
	got = w.preceptor.post("/people/"+w.trainee.id()+"/sign-off", url.Values{"key": {rand.Text()}, "competency": {"trolley"}, "password": {training.DemoPassword}})
	require.Equal(t, 303, got.StatusCode, "%.400s", got.body)
	require.Contains(t, w.educator.get("/people").body, "Clean-down of the supply trolley")

	book, err := excelize.OpenReader(bytes.NewReader([]byte(w.educator.get("/annual/2026.xlsx").body)))
	require.NoError(t, err)
	rows, err := book.GetRows("Sign-offs")
	require.NoError(t, err)
	require.Len(t, rows, 2)
	require.Contains(t, rows[1], "Clean-down of the supply trolley")
	readMe, err := book.GetRows("Read me")
	require.NoError(t, err)
	require.Contains(t, fmt.Sprint(readMe), "Clean-down of the supply trolley, version 1")
	require.NoError(t, book.Close())
}

// cues are the model's, with the scenario and its procedure.
func (c *clinic) cues(id string) (*simulate.Scenario, *procedure.Procedure, []string) {
	sc, p := c.Scenario(id)
	return sc, p, simulate.CuesOf(sc.Model)
}

// buildCues builds the model's order, less what is left out, and gives the page
// of its result.
func (c *clinic) buildCues(id string, leave func(string) bool) string {
	_, _, cues := c.cues(id)
	if leave != nil {
		cues = slices.DeleteFunc(cues, leave)
	}
	b, at := c.trainee, "/practice/"+id
	require.Equal(c.T, 303, b.post(at+"/start", url.Values{"key": {rand.Text()}}).StatusCode)
	page := b.get(at).body
	draft, revision := hidden(c.T, page, "draft"), hidden(c.T, page, "revision")
	steps, err := json.Marshal(cues)
	require.NoError(c.T, err)
	saved := b.send(at+"/steps", fmt.Sprintf(`{"draft":%q,"revision":%s,"steps":%s}`, draft, revision, steps))
	require.Equal(c.T, 200, saved.StatusCode, saved.body)
	require.Contains(c.T, b.get(at).body, "There is blood on: handle.", "the world tells of itself behind the step")
	return c.resultAt(b.post(at+"/finish", url.Values{"key": {rand.Text()}, "draft": {draft}, "revision": {"1"}}).Header.Get("Location"))
}

func (c *clinic) resultAt(address string) string {
	got := c.trainee.get(address)
	require.Equal(c.T, 200, got.StatusCode, got.body)
	return html.UnescapeString(got.body)
}

// runCues plays the model's run.
func (c *clinic) runCues(id string) string {
	sc, p, cues := c.cues(id)
	taps, end, err := simulate.Taps(p, sc, cues)
	require.NoError(c.T, err)
	b, at := c.trainee, "/practice/"+id
	require.Equal(c.T, 303, b.post(at+"/start", url.Values{"key": {rand.Text()}, "pace": {fmt.Sprint(sc.Pace)}}).StatusCode)
	page := b.get(at).body
	require.Contains(c.T, page, `"text":"An alarm sounds"`)
	_, rest, _ := strings.Cut(page, `"draft":"`)
	draft, _, _ := strings.Cut(rest, `"`)
	start := c.Now()
	for _, tap := range taps {
		c.Set(start.Add(time.Duration(tap.At) * time.Millisecond / time.Duration(sc.Pace)))
		got := b.send(at+"/tap", fmt.Sprintf(`{"draft":%q,"key":%q,"step":%q,"at_ms":%d}`, draft, rand.Text(), tap.Step, tap.At))
		require.Equal(c.T, 200, got.StatusCode, got.body)
	}
	c.Set(start.Add(time.Duration(end) * time.Millisecond / time.Duration(sc.Pace)))
	got := b.send(at+"/finish", fmt.Sprintf(`{"draft":%q,"key":%q,"at_ms":%d}`, draft, rand.Text(), end))
	require.Equal(c.T, 200, got.StatusCode, got.body)
	var way struct{ Way string }
	require.NoError(c.T, json.Unmarshal([]byte(got.body), &way))
	return c.resultAt(way.Way)
}

// tapSlack is how much later than a contact time somebody who watches must look,
// because taps are not exact (ruling on watched demonstrations).
const tapSlack action.Millis = 2000

// watchCues records the model as a preceptor taps it: each step when it is done, the
// end a little later, and "still wet" when the wipe in hand has had its time.
func (c *clinic) watchCues(id string) (at string) {
	sc, p, cues := c.cues(id)
	taps, _, err := simulate.Taps(p, sc, cues)
	require.NoError(c.T, err)
	type line struct {
		at         action.Millis
		step, text string
	}
	var lines []line
	label := action.Millis(0)
	for _, tap := range taps {
		step := &p.Steps[p.StepIndex(tap.Step)]
		done := tap.At + simulate.Busy(p, step)
		if tap.Step == "declare-ready" {
			done += tapSlack
		}
		lines = append(lines, line{at: done, step: tap.Step})
		for _, a := range step.Acts {
			switch a = procedure.OnShelf(a, sc.Product); a.Verb {
			case action.TakeWipe:
				label = action.Millis(p.Products[p.ProductIndex(a.Of)].LabelS) * 1000
			case action.Wipe:
				lines = append(lines, line{at: done + label + tapSlack, text: "still wet " + a.Object})
			}
		}
	}
	slices.SortStableFunc(lines, func(a, b line) int { return cmp.Compare(a.at, b.at) })
	got := c.preceptor.post("/watch/new", startForm(c.trainee.id(), "trolley", "quick-wipe"))
	require.Equal(c.T, 303, got.StatusCode, got.body)
	at = strings.TrimSuffix(got.Header.Get("Location"), "/record")
	board := c.preceptor.get(at + "/pack").body
	require.Contains(c.T, board, "Take a slow wipe")
	require.Contains(c.T, board, `"slow-wipe":{"title":"Slow wipe, 3-minute label","label_s":180}`, "the wipe in hand decides, in the browser as well")
	start := c.Now()
	for i, l := range lines {
		c.Set(start.Add(time.Duration(l.at) * time.Millisecond))
		got := c.preceptor.send(at+"/batch", batchOf(i+1, l.step, l.text, int64(l.at)))
		require.Equal(c.T, 200, got.StatusCode, got.body)
		require.Contains(c.T, got.body, `"stored"`)
		if l.step == "take-slow-wipe" {
			r, err := c.Recorded(c.T.Context(), c.preceptor.actor, strings.TrimPrefix(at, "/demonstrations/"))
			require.NoError(c.T, err)
			require.Contains(c.T, r.Lines[len(r.Lines)-1].Text, "of slow-wipe")
		}
	}
	end := c.preceptor.send(at+"/end", fmt.Sprintf(`{"key":%q,"at_ms":%d,"comment":""}`, rand.Text(), lines[len(lines)-1].at))
	require.Equal(c.T, 200, end.StatusCode, end.body)
	return at
}
