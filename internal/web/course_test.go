package web

import (
	"crypto/rand"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/training"
)

const lesson = "/course/first/read-hands"

// answer sends an answer to a question of the lesson.
func (b *browser) answer(question, choice string) answer {
	return b.post(lesson+"/answer", url.Values{"key": {rand.Text()}, "question": {question}, "choice": {choice}})
}

// A lesson works by its forms alone: a wrong answer is told with its reason and asked again,
// and the last right one marks the part.
func TestALessonWithoutAScript(t *testing.T) {
	c := staffed(t)
	require.Contains(t, c.trainee.get("/practice").body, `href="`+lesson+`"`)
	page := c.trainee.get(lesson).body
	require.Contains(t, page, "Question 1 of 3")
	require.NotContains(t, page, "Why it matters")

	r := c.trainee.answer("first", "1")
	require.Equal(t, 303, r.StatusCode, r.body)
	require.Equal(t, lesson+"?said=first#answer", r.Header.Get("Location"))
	page = c.trainee.get(lesson + "?said=first").body
	require.Contains(t, page, "Question 1 of 3")
	require.Contains(t, page, "Gloves were put on over hands that had not been cleaned.")
	require.Contains(t, page, "Why it matters")
	require.Contains(t, page, "Next time")
	require.Contains(t, page, "What this rests on")

	require.Equal(t, 303, c.trainee.answer("first", "2").StatusCode)
	page = c.trainee.get(lesson + "?said=first").body
	require.Contains(t, page, "Right: “Rub hands")
	require.Contains(t, page, "Question 2 of 3")
	require.Equal(t, 303, c.trainee.answer("then", "2").StatusCode)
	require.Equal(t, 303, c.trainee.answer("row", "5").StatusCode)
	require.Contains(t, c.trainee.get(lesson).body, "2 of 3 first answers were right")
	require.Contains(t, c.otherLearner.get(lesson).body, "Question 1 of 3", "everyone has their own")

	nothing := c.trainee.post(lesson+"/answer", url.Values{"key": {rand.Text()}, "question": {"first"}})
	require.Equal(t, 422, nothing.StatusCode)
	require.Contains(t, nothing.body, "Choose one of the answers")
	require.Equal(t, 404, c.trainee.get("/course/first/read-nothing").StatusCode)
	test := c.trainee.get("/course/first/practise-ordinary-turnover")
	require.Equal(t, "/practice/ordinary-turnover?guided=yes", test.Header.Get("Location"), "what is practised is a scenario")
}

// Of a person's guided practice another preceptor sees nothing, on no page.
func TestGuidedPracticeIsNotForEveryone(t *testing.T) {
	c := staffed(t)
	otto := c.Hire(c.educator.actor, "Otto Invented", "otto", training.Preceptor)
	own := c.signIn("otto", training.DemoPassword)
	r := c.educator.post("/people/"+c.trainee.id()+"/orientation", url.Values{"key": {rand.Text()}, "preceptor": {otto.Person.ID}, "last-day": {"2026-05-31"}})
	require.Equal(t, 303, r.StatusCode, r.body)
	ctx := t.Context()
	d, err := c.OpenDraft(ctx, c.trainee.actor, "ordinary-turnover", true)
	require.NoError(t, err)
	d, err = c.SaveSteps(ctx, c.trainee.actor, d.ID, d.Revision, []string{"rub-hands"})
	require.NoError(t, err)
	a, err := c.FinishBuild(ctx, c.trainee.actor, rand.Text(), d.ID, d.Revision)
	require.NoError(t, err)
	at := "/attempts/" + a.ID
	for _, b := range []*browser{c.trainee, own, c.educator} {
		require.Contains(t, b.get("/people/"+c.trainee.id()).body, at)
		require.Contains(t, b.get(at).body, "Practice · ")
	}
	require.NotContains(t, c.preceptor.get("/people/"+c.trainee.id()).body, at)
	require.Equal(t, 404, c.preceptor.get(at).StatusCode)
	require.Equal(t, 404, c.otherLearner.get(at).StatusCode)

	watch := own.get("/watch").body
	require.Contains(t, watch, "Your new hires")
	require.Contains(t, watch, "in paid time")
	require.Contains(t, watch, "The first module: read “Hands and gloves”")
	require.NotContains(t, c.preceptor.get("/watch").body, "Your new hires")
	record := c.preceptor.get("/people/" + c.trainee.id()).body
	require.Contains(t, record, "Primary preceptor: Otto Invented. Orientation ends on 31 May 2026")
	require.Contains(t, record, "Set by Edda Invented")
	wrong := c.educator.post("/people/"+c.trainee.id()+"/orientation", url.Values{"key": {rand.Text()}, "preceptor": {c.otherLearner.id()}, "last-day": {"2026-05-31"}})
	require.Equal(t, 422, wrong.StatusCode)
	require.Contains(t, wrong.body, "Choose a preceptor or an educator")
}

// After a test that was not passed, what teaches the missed things is offered.
func TestAResultLeadsToWhatTeaches(t *testing.T) {
	c := staffed(t)
	page := c.trainee.get("/attempts/" + c.buildAttempt(c.trainee)).body
	require.Contains(t, page, "Lessons that teach this")
	require.Contains(t, page, `href="`+lesson+`"`)
	require.NotContains(t, c.educator.get("/attempts/"+c.buildAttempt(c.trainee)).body, "Lessons that teach this")
}

// The result of the last test says that the module is passed, and leads on.
func TestTheResultSaysThatTheModuleIsPassed(t *testing.T) {
	c := staffed(t)
	said := "The first module is passed."
	require.NotContains(t, c.trainee.get("/attempts/"+c.Play(c.trainee.actor).ID).body, said)
	c.Modules(c.trainee.actor)
	attempts, err := c.Home(t.Context(), c.trainee.actor)
	require.NoError(t, err)
	for _, a := range attempts.Attempts {
		if a.ScenarioID == "against-the-clock" && a.Outcome == assess.Pass {
			require.Contains(t, c.trainee.get("/attempts/"+a.ID).body, said)
			require.NotContains(t, c.educator.get("/attempts/"+a.ID).body, said, "it is hers")
			return
		}
	}
	t.Fatal("no test was passed")
}
