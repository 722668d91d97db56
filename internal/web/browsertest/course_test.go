package browsertest

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// tabTo presses Tab until what has the focus says something.
func (b *tab) tabTo(says string) {
	b.t.Helper()
	const words = `(() => { const e = document.activeElement; return ((e.closest("label") ?? e).textContent ?? "").trim(); })()`
	for range 60 {
		b.do(chromedp.KeyEvent(kb.Tab))
		if strings.HasPrefix(eval[string](b, words), says) {
			return
		}
	}
	b.t.Fatalf("Tab does not come to %q on %s", says, eval[string](b, "location.pathname"))
}

// enter presses Enter and waits for the next page.
func (b *tab) enter(otherwise string) {
	b.t.Helper()
	eval[bool](b, "window.before = true")
	b.do(chromedp.KeyEvent(kb.Enter))
	b.until(`window.before === undefined && document.readyState === "complete"`, otherwise)
}

// choose goes to an answer by keys alone: Tab to the group, arrows within it.
func (b *tab) choose(nth int) {
	b.t.Helper()
	b.tabTo(b.text(`input[name="choice"][value="1"] + span`))
	b.do(chromedp.KeyEvent(" "))
	for range nth - 1 {
		b.do(chromedp.KeyEvent(kb.ArrowDown))
	}
	b.tabTo("Answer")
	b.enter("the answer was not sent")
}

// From the first page to the first judged act, through a lesson and a worked example, by
// keys alone and without a script.
func TestTheFirstLessonByKeyboard(t *testing.T) {
	c := living(t)
	b := c.signedIn("tess", phone)
	require.Contains(t, b.text("#next"), "Clean hands, then gloves")
	b.tabTo("Go on:")
	b.enter("no lesson")
	require.Equal(t, "/course/orientation-1/read-hands-and-gloves", eval[string](b, "location.pathname"))

	b.choose(1) // touching the patient first
	require.Contains(t, b.text("#answer"), "The patient was touched with hands that had not been cleaned")
	require.Contains(t, b.text("#answer"), "Why it matters")
	require.Contains(t, b.text("#question"), "Question 1 of 4", "it is asked again")
	const inSight = `(() => { const r = document.getElementById("answer").getBoundingClientRect(); return r.top > -2 && r.top < innerHeight / 2; })()`
	b.until(inSight, "the reason is out of sight")
	b.choose(2)
	require.Contains(t, b.text("#answer"), "Right: “Rub hands with hand rub” may come next.")
	b.until(inSight, "the reason is out of sight")
	b.choose(2)
	b.choose(2)
	b.choose(12)
	require.Contains(t, b.text("#question"), "3 of 4 first answers were right")
	b.tabTo("Go on:")
	b.enter("no second part")
	require.Contains(t, b.text("h1"), "The order of the work")

	b.open("/course/orientation-1/watch-ordinary-turnover")
	require.Greater(t, eval[int](b, `document.querySelectorAll(".worked > li").length`), 50)
	require.Contains(t, b.text(".worked > li"), "Hands are clean.")
	b.tabTo("I have seen it")
	b.enter("not kept")
	require.Contains(t, b.text(".panel h2"), "You have seen it")
	b.open("/practice")
	require.Equal(t, []string{"Done, 3 of 4 right at first · 4 min", "Next · 6 min", "Done · 5 min"}, b.texts(".way .soft")[:3])
}

// Guided practice and the test of a scenario are begun apart and found again apart; what
// comes next is offered after each.
func TestPractiseThenTest(t *testing.T) {
	c := living(t)
	b := c.signedIn("tess", tablet)
	b.open("/practice/ordinary-turnover?guided=yes")
	require.True(t, eval[bool](b, `document.querySelector('input[name=guided][value=yes]').checked`))
	b.click("main form .btn.big")
	b.until(`document.getElementById("build") !== null && document.readyState === "complete"`, "no build page")
	require.Equal(t, "?guided=yes", eval[string](b, "location.search"))
	b.click("button[value=rub-hands]")
	b.until(`document.getElementById("saved").textContent === "Saved"`, "not saved")
	b.open("/practice/ordinary-turnover?guided=no")
	require.Contains(t, b.text("main"), "Go on with the practice that you have begun")
	b.open("/practice")
	require.Contains(t, b.text("#next"), "Go on with An ordinary turnover")
	b.click("#next .btn")
	b.until(`document.getElementById("build") !== null && document.readyState === "complete"`, "the practice is not found again")
	require.Equal(t, []string{"Rub hands with hand rub"}, b.texts("#steps .label"))
	b.follow("#judge", "/attempts/")
	require.Contains(t, b.text(".title"), "Practice · An ordinary turnover")
	require.Contains(t, b.text(".title .btn:not(.quiet)"), "Go on: read “Clean hands, then gloves”")
	b.open("/practice")
	require.Equal(t, "Practice", b.text("section[aria-labelledby=done] .under"))
}
