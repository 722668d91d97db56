package browsertest

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
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

// choose goes to an answer by keys alone: Tab to the group, arrows within it. The answers
// stand in an order of the learner's own.
func (b *tab) choose(nth int) {
	b.t.Helper()
	b.tabTo(b.text(`input[name="choice"] + span`))
	b.do(chromedp.KeyEvent(" "))
	for range eval[int](b, fmt.Sprintf(`[...document.querySelectorAll("input[name=choice]")].findIndex((e) => e.value === "%d")`, nth)) {
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
	require.Equal(t, []string{"Done, 3 of 4 right at first · 4 min", "Next · 6 min", "Done · 8 min"}, b.texts(".way .soft")[:3])
}

const example = "/course/orientation-2/watch-against-the-clock"

// played is the number of the act that is shown.
func (b *tab) played() int { return eval[int](b, `document.getElementById("act-at").valueAsNumber`) }

// key presses a key without waiting for anything.
func (b *tab) key(k string) {
	b.t.Helper()
	b.do(chromedp.KeyEvent(k))
}

// The example is stepped through by keys: each act is told, in words and on the picture.
func TestTheExampleIsSteppedByKeyboard(t *testing.T) {
	b := living(t).signedIn("tess", desktop)
	b.open(example)
	b.until(`!document.getElementById("player").hidden`, "no player")
	require.Equal(t, 1, b.played())
	require.Empty(t, b.text("#act-said"), "nothing is said before anything is done")
	require.Equal(t, "true", eval[string](b, `document.getElementById("act-back").getAttribute("aria-disabled")`))
	for range 7 {
		b.key(kb.ArrowRight)
	}
	require.Equal(t, 8, b.played())
	require.Equal(t, b.text(".worked > li:nth-child(8) > b"), b.text("#act-now .text"))
	require.Equal(t, "8", eval[string](b, `String([...document.querySelectorAll(".worked > li")].findIndex((e) => e.ariaCurrent === "step") + 1)`))
	b.until(`document.getElementById("act-said").textContent.startsWith("Act 8 of ")`, "the act is not said")
	require.Contains(t, b.text("#act-said"), "Staging surface for supplies: wet since 1:44.")
	const staging = `document.querySelector("[data-surface=staging]")`
	require.Equal(t, "Staging surface for supplies, wet", eval[string](b, staging+`.getAttribute("aria-label")`))
	require.Equal(t, "fresh → clean, in use", b.text(".around .just dd"))
	require.Equal(t, 0, eval[int](b, staging+`.querySelector(".water").height.baseVal.value`), "its time begins")

	b.key(kb.ArrowRight) // its two minutes are over
	require.Equal(t, "reached", eval[string](b, staging+`.querySelector(".part").dataset.state`))
	require.Positive(t, eval[int](b, staging+`.querySelector(".water").height.baseVal.value`))
	b.key(kb.ArrowLeft)
	b.key(kb.ArrowLeft)
	require.Equal(t, 7, b.played())
	require.Equal(t, "Staging surface for supplies, not wiped", eval[string](b, staging+`.getAttribute("aria-label")`), "back is back")

	b.tabTo("Back")
	b.key(" ") // what has the focus keeps its own keys
	require.Equal(t, 6, b.played())
	eval[bool](b, `(document.getElementById("act-at").focus(), true)`)
	b.key(kb.End)
	require.Equal(t, b.text(".worked > li:last-child > b"), b.text("#act-now .text"))
	b.click("#act-last .btn")
	b.until(`document.querySelector(".panel h2")?.textContent === "You have seen it" && document.readyState === "complete"`, "not kept")
}

// Without a script the list is the example, and nothing stands there that does not work.
func TestTheExampleWithoutAScript(t *testing.T) {
	b := living(t).signedIn("tess", desktop)
	_, err := chromedp.Call(b.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	require.NoError(t, err)
	b.open(example)
	require.False(t, eval[bool](b, `document.getElementById("player").checkVisibility()`))
	require.Greater(t, eval[int](b, `document.querySelectorAll(".worked > li").length`), 80)
	b.click("#seen-form button")
	b.until(`document.querySelector(".panel h2")?.textContent === "You have seen it"`, "not kept")
}

// It plays by itself until it is stopped, and says nothing meanwhile.
func TestTheExamplePlays(t *testing.T) {
	b := living(t).signedIn("tess", phone)
	b.open(example)
	b.set("#act-speed", "0.5")
	b.click("#act-play")
	require.Equal(t, "Pause", b.text("#act-play"))
	b.until(`document.getElementById("act-at").valueAsNumber >= 3`, "it does not play")
	require.Empty(t, b.text("#act-said"))
	b.click("#act-play")
	require.Equal(t, "Play", b.text("#act-play"))
	b.click("#act-on")
	b.until(`document.getElementById("act-said").textContent !== ""`, "a step by hand is said")
}

// Without movement there are steps only.
func TestTheExampleWithoutMovement(t *testing.T) {
	b := living(t).signedIn("tess", tablet)
	b.media(&emulation.MediaFeature{Name: "prefers-reduced-motion", Value: "reduce"})
	b.open(example)
	b.until(`!document.getElementById("player").hidden`, "no player")
	require.Equal(t, []string{"Back", "Next"}, eval[[]string](b, `[...document.querySelectorAll(".steer button")].filter((e) => e.checkVisibility({ visibilityProperty: true })).map((e) => e.textContent)`))
	b.key(" ")
	require.Equal(t, 2, b.played())
}

// From one act to the next nothing moves, and the buttons are always in sight.
func TestNothingMovesBetweenActs(t *testing.T) {
	c := living(t)
	for name, s := range map[string]size{"desktop": desktop, "tablet": tablet, "phone": phone} {
		b := c.signedIn("tess", s)
		b.open(example)
		b.until(`!document.getElementById("player").hidden && document.fonts.status === "loaded"`, "no player")
		require.Empty(t, eval[[]string](b, `(async () => {
			await document.fonts.ready;
			await new Promise((r) => requestAnimationFrame(() => requestAnimationFrame(r)));
			const at = document.getElementById("act-at"), places = {}, moved = new Set();
			for (let i = 1; i <= at.max; i++) {
				at.value = i;
				at.dispatchEvent(new Event("input"));
				for (const of of ["#act-on", "#act-at", ".pic", ".around", ".player .legend", "#act-last", "#example"]) {
					const r = document.querySelector(of).getBoundingClientRect(), now = Math.round(r.top + scrollY);
					if (Math.abs((places[of] ??= now) - now) > 1) moved.add(of + " at act " + i);
				}
				const on = document.getElementById("act-on").getBoundingClientRect();
				if (on.top < 0 || on.bottom > innerHeight) moved.add("out of sight");
			}
			return [...moved].slice(0, 5);
		})()`), name)
	}
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
	require.Contains(t, b.text(".title .btn:not(.quiet)"), "Take it up again, with hints", "it did not pass")
	b.open("/practice")
	require.Equal(t, "Practice", b.text("section[aria-labelledby=done] .under"))
}
