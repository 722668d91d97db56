package web

import (
	"crypto/rand"
	"encoding/json"
	"fmt"
	"html"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/scenarios"
)

// The learner counts taps: acts of one tap are one step, and what was taken back, or
// happened by itself, is none.
func TestTapsAreTheStepsOfADemonstration(t *testing.T) {
	log := &action.Log{Witness: action.Order | action.Clock}
	for _, a := range []action.Act{
		{Verb: action.WatchingFrom, Object: action.FromConnected, At: 0}, {Verb: action.Wipe, Object: "screen", At: 1000}, {Verb: action.Wipe, Object: "buttons", At: 1000},
		{Verb: action.RubHands, At: 5000}, {Verb: action.Undone, Undoes: 4, At: 9000}, {Verb: action.RubHands, Millis: 4000, At: 9000}, {Verb: action.StillWet, Object: "screen", At: 9500}, {Verb: action.PutOn, Object: action.Gloves, At: 9500},
	} {
		log.Add(a)
	}
	require.Equal(t, []int{0, 1, 1, 0, 0, 2, 0, 3}, tapsOf(log))
	require.Equal(t, []int{0, 1, 1, 2}, stepsFrom([]int{-1, 0, 0, 1}))
}

// One vocabulary on the pages of results: step, breach, mark.
func TestResultPagesSpeakOfStepsBreachesAndMarks(t *testing.T) {
	w := withRecords(t)
	for _, at := range []string{"/attempts/" + w.attempt, "/demonstrations/" + w.demo} {
		page := html.UnescapeString(w.trainee.get(at).body)
		require.Contains(t, page, ">Breaches<")
		require.Contains(t, page, "What was done, step by step")
		shown := strings.ReplaceAll(visible(page), "seen the findings", "") // the words of the signature are older and stay
		require.NotRegexp(t, `(?i)\bfindings?\b|\bpoints?\b|\blines? \d|\d lines?\b`, shown, at)
	}
}

// visible is a page without its tags, names of its parts and the log as text.
func visible(page string) string {
	_, page, _ = strings.Cut(page, "<main")
	var b strings.Builder
	for part := range strings.SplitSeq(page, "<") {
		if _, text, ok := strings.Cut(part, ">"); ok && !strings.HasPrefix(part, "code") {
			b.WriteString(text + " ")
		}
	}
	return b.String()
}

// judgedOrder is the result page of an order in the built-in library.
func judgedOrder(t *testing.T, steps string) string {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	w := openOver(t, lib, false).staff()
	const at = "/practice/ordinary-turnover"
	require.Equal(t, 303, w.trainee.post(at+"/start", url.Values{"key": {rand.Text()}}).StatusCode)
	page := w.trainee.get(at).body
	draft := hidden(t, page, "draft")
	list, err := json.Marshal(strings.Fields(steps))
	require.NoError(t, err)
	saved := w.trainee.send(at+"/steps", fmt.Sprintf(`{"draft":%q,"revision":%s,"steps":%s}`, draft, hidden(t, page, "revision"), list))
	require.Equal(t, 200, saved.StatusCode, saved.body)
	return w.resultAt(w.trainee.post(at+"/finish", url.Values{"key": {rand.Text()}, "draft": {draft}, "revision": {"1"}}).Header.Get("Location"))
}

// Whoever touches the screen with gloves from the bucket is told where they were.
func TestAWayIsOnThePageInThreeForms(t *testing.T) {
	got := judgedOrder(t, "check-gone rub-hands gloves-on fresh-wipe wipe-controls wait gloves-off rub-hands gloves-on bucket-off touch-screen gloves-off")
	require.Contains(t, got, "The prime bucket touched your gloves at step 10; those gloves touched the screen at step 11.", "in a sentence")
	require.Regexp(t, `<path class="way" d="M[^"]+" marker-end="url\(#way-head\)">`, got, "as an arrow")
	require.Regexp(t, `<li><b>\d+b</b> Your gloves touched the screen at step 11\.</li>`, got, "step by step")
}

// From the screen up to the machine top is custom alone, which nobody of the clinic
// has confirmed: it is told apart and costs nothing.
func TestAdviceIsToldApart(t *testing.T) {
	got := judgedOrder(t, "check-gone rub-hands gloves-on fresh-wipe wipe-controls wipe-top")
	breaches, advice, told := strings.Cut(got, ">Advice<")
	require.True(t, told)
	require.Contains(t, advice, "It costs no mark.")
	require.Contains(t, advice, "Wiped after what is below it")
	require.NotContains(t, breaches, "Wiped after what is below it")
}
