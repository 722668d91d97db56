package web

import (
	"crypto/rand"
	"encoding/json"
	"fmt"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"
)

// An order that is practised is told its breaches at once, at the learner's own steps,
// on the page and in the answer to a save; a test hears nothing before its end.
func TestHintsStandAtTheStepsOfPracticeAndNowhereElse(t *testing.T) {
	c := staffed(t)
	const at = "/practice/ordinary-turnover"
	const steps = `["rub-hands","fresh-wipe","wipe-staging"]` // bare hands at disinfectant
	for _, guided := range []bool{true, false} {
		d, err := c.OpenDraft(t.Context(), c.trainee.actor, "ordinary-turnover", guided)
		require.NoError(t, err)
		r := c.trainee.send(at+"/steps", fmt.Sprintf(`{"draft":%q,"revision":0,"steps":%s}`, d.ID, steps))
		require.Equal(t, 200, r.StatusCode, r.body)
		var saved struct {
			Hints []struct {
				Row                int
				Message, Why, Next string
			}
		}
		require.NoError(t, json.Unmarshal([]byte(r.body), &saved))
		page := c.trainee.get(fmt.Sprintf("%s?guided=%s", at, map[bool]string{true: "yes", false: "no"}[guided])).body
		if !guided {
			require.Equal(t, `{"revision":1}`, r.body)
			require.NotContains(t, page, `name="hints"`)
			require.NotContains(t, page, "Bare hands")
			continue
		}
		require.NotEmpty(t, saved.Hints)
		require.Equal(t, 3, saved.Hints[0].Row, "bare hands wipe at the third step")
		for _, h := range saved.Hints {
			require.NotEmpty(t, h.Why)
			require.NotEmpty(t, h.Next)
			require.Contains(t, page, h.Message)
		}
		require.Contains(t, page, `name="hints" value="now" checked`)
		require.Contains(t, c.trainee.get(at+"?guided=yes&hints=end").body, `name="hints" value="end" checked`)
	}
}

// Without a script a step goes to a place in one act, by the button beside it or by Enter.
func TestAStepMovesToAPlace(t *testing.T) {
	c := staffed(t)
	const at = "/practice/ordinary-turnover"
	d, err := c.OpenDraft(t.Context(), c.trainee.actor, "ordinary-turnover", false)
	require.NoError(t, err)
	d, err = c.SaveSteps(t.Context(), c.trainee.actor, d.ID, 0, []string{"rub-hands", "gloves-on", "eyes-on", "fresh-wipe"})
	require.NoError(t, err)
	for _, x := range []struct {
		row, field, place string
		code              int
		want              []string
	}{
		{"4", "to4", "1", 303, []string{"fresh-wipe", "rub-hands", "gloves-on", "eyes-on"}},
		{"0", "to2", "99", 303, []string{"fresh-wipe", "gloves-on", "eyes-on", "rub-hands"}},
		{"3", "to3", "", 422, []string{"fresh-wipe", "gloves-on", "eyes-on", "rub-hands"}},
		{"9", "to9", "1", 303, []string{"fresh-wipe", "gloves-on", "eyes-on", "rub-hands"}},
	} {
		r := c.trainee.post(at+"/steps", url.Values{"draft": {d.ID}, "revision": {fmt.Sprint(d.Revision)}, "move": {x.row}, x.field: {x.place}, "hints": {"end"}, "area": {"Wipes"}})
		require.Equal(t, x.code, r.StatusCode, r.body)
		if x.code == 303 {
			require.Contains(t, r.Header.Get("Location"), "&hints=end&area=Wipes", "what was chosen stays chosen")
		}
		d, err = c.Draft(t.Context(), c.trainee.actor, d.ID)
		require.NoError(t, err)
		require.Equal(t, x.want, d.Steps)
	}
}

// An own order that did not pass is taken up again; one that passed has the model beside
// it. Nobody else is offered either.
func TestAResultIsTakenUpOrStandsBesideTheModel(t *testing.T) {
	c := staffed(t)
	failed := "/attempts/" + c.buildAttempt(c.trainee)
	page := c.trainee.get(failed).body
	require.Contains(t, page, "Take it up again, with hints")
	require.NotContains(t, page, "The model beside your order")
	require.NotContains(t, c.educator.get(failed).body, "Take it up again")
	r := c.trainee.post(failed+"/take-up", url.Values{"key": {rand.Text()}})
	require.Equal(t, "/practice/ordinary-turnover?guided=yes#order", r.Header.Get("Location"), r.body)
	require.Contains(t, c.trainee.get("/practice/ordinary-turnover?guided=yes").body, `<li class="step" data-step="gloves-on">`)
	r = c.trainee.post(failed+"/take-up", url.Values{"key": {rand.Text()}})
	require.Equal(t, "/practice/ordinary-turnover?guided=yes&kept=yes#order", r.Header.Get("Location"), r.body)
	require.Contains(t, c.trainee.get("/practice/ordinary-turnover?guided=yes&kept=yes").body, "That order is kept")
	require.Equal(t, 404, c.educator.post(failed+"/take-up", url.Values{"key": {rand.Text()}}).StatusCode)

	passed := "/attempts/" + c.Build(c.trainee.actor, "ordinary-turnover", nil).ID
	page = c.trainee.get(passed).body
	require.Contains(t, page, "The model beside your order")
	require.NotContains(t, page, "Take it up again")
	require.NotContains(t, c.educator.get(passed).body, "The model beside your order")
}

// The place that was typed is found among all fields of the form, whichever comes first.
func TestTheFirstPlaceThatWasTyped(t *testing.T) {
	for range 50 {
		at, to, err := readMove(map[string]string{"token": "abc", "to3": "7", "to5": "1", "to1": ""}, "0")
		require.NoError(t, err)
		require.Equal(t, [2]int{3, 7}, [2]int{at, to})
	}
	_, _, err := readMove(map[string]string{"token": "abc", "to1": ""}, "0")
	require.Error(t, err, "no place was typed")
}
