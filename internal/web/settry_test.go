package web

import (
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/scenarios"
	"stillwet/views"
)

const tried = "ordinary-turnover"

// An order is built under the draft's procedure and judged by it; nothing is kept of it, and
// nobody but who works on the draft may.
func TestAScenarioOfTheDraftIsTried(t *testing.T) {
	c := withSet(t)
	e := c.educator
	require.Equal(t, 303, e.edit("surfaces", "", "put", url.Values{"f-title": {"Footrest"}, "f-face": {"chair"}, "f-wipe_s": {"8"}, "f-basis-kind": {"clinic to confirm"}}).StatusCode)
	before := kept(t, c)
	way := views.TryURL(tried)
	require.Contains(t, e.get(views.EditURL("scenarios", "", tried)).body, `href="`+way+`"`)
	board := e.get(way)
	require.Equal(t, 200, board.StatusCode)
	require.Contains(t, board.body, "Wipe the footrest")
	require.Contains(t, board.body, "Nothing of this is kept")
	require.NotContains(t, board.body, "build.js", "which would save")
	require.NotContains(t, c.trainee.get("/practice/"+tried).body, "footrest")
	require.Equal(t, 403, c.preceptor.get(way).StatusCode)

	seed := regexp.MustCompile(`name="seed" value="([a-z0-9]+)"`).FindStringSubmatch(board.body)[1]
	post := func(more url.Values) answer {
		more.Set("seed", seed)
		return e.post(way, more)
	}
	added := post(url.Values{"steps": {"rub-hands check-stable"}, "add": {"wipe-footrest"}, "was": {""}, "after": {"1"}}).body
	require.Contains(t, added, `name="steps" value="rub-hands wipe-footrest check-stable"`)
	require.Contains(t, added, "The step is added.")
	undone := post(url.Values{"steps": {"rub-hands wipe-footrest check-stable"}, "undo": {"1"}, "was": {"rub-hands check-stable"}, "was_after": {"1"}}).body
	require.Contains(t, undone, `name="steps" value="rub-hands check-stable"`)
	require.Equal(t, 422, post(url.Values{"steps": {"rub-hands"}, "add": {"no-such-step"}}).StatusCode)
	require.Equal(t, 422, post(url.Values{"steps": {""}, "judge": {"1"}}).StatusCode)

	right := strings.Join(answerOf(t, c, tried), " ")
	judged := post(url.Values{"steps": {right}, "judge": {"1"}})
	require.Equal(t, 200, judged.StatusCode)
	require.Contains(t, judged.body, "Passed")
	require.Contains(t, judged.body, "Trial, not kept")
	require.Contains(t, judged.body, "in=draft", "it was judged by the draft's procedure")
	without := strings.Replace(right, "wipe-footrest ", "", 1)
	require.NotEqual(t, right, without)
	missed := post(url.Values{"steps": {without}, "judge": {"1"}}).body
	require.Contains(t, missed, "ootrest")
	require.Contains(t, missed, "Go on with this order")
	require.Contains(t, post(url.Values{"steps": {without}, "again": {"1"}}).body, `name="steps" value="`+without+`"`)
	require.Equal(t, before, kept(t, c), "nothing was kept of all this")
}

// What the clinic has hidden can be tried before it is offered; what rests cannot.
func TestWhatIsHiddenIsTriedAndWhatRestsIsNot(t *testing.T) {
	e := withSet(t).educator
	require.Equal(t, 303, e.edit("scenarios", tried, "hide", nil).StatusCode)
	require.Contains(t, e.get(views.EditURL("scenarios", "", tried)).body, "Try it")
	require.Equal(t, 200, e.get(views.TryURL(tried)).StatusCode)
	require.Equal(t, 404, e.get(views.TryURL("against-the-clock")).StatusCode, "a run")
	require.NotContains(t, e.get(views.EditURL("scenarios", "", "against-the-clock")).body, "Try it")
	require.Equal(t, 404, e.get(views.TryURL("no-such")).StatusCode)
	require.Equal(t, 303, e.edit("surfaces", "side-table", "hide", nil).StatusCode)
	require.Equal(t, 404, e.get(views.TryURL("spill-on-the-side-table")).StatusCode)
}

// kept is all that a trial must leave alone.
func kept(t *testing.T, c *clinic) (all []any) {
	head, err := c.Records.Ledger(t.Context())
	require.NoError(t, err)
	for _, b := range []*browser{c.educator, c.trainee} {
		home, err := c.Home(t.Context(), b.actor)
		require.NoError(t, err)
		all = append(all, home)
	}
	return append(all, head)
}

// answerOf is the right answer of a scenario as the draft has it.
func answerOf(t *testing.T, c *clinic, id string) []string {
	draft, err := c.SetDraft(t.Context(), c.educator.actor)
	require.NoError(t, err)
	set, err := scenarios.SetOf(draft.Files)
	require.NoError(t, err)
	lib, err := set.Load()
	require.NoError(t, err)
	sc, ok := lib.Scenario(id)
	require.True(t, ok)
	return sc.Answer()
}
