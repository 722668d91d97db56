package browsertest

import (
	"crypto/rand"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// pause is longer than two presses on one button may be apart to count as one.
func pause() { time.Sleep(600 * time.Millisecond) }

func (b *tab) reload(id string) { b.open("/demonstrations/" + id + "/record") }

// later lets time pass for the recorder.
func (c *clinic) later(b *tab, id string, d time.Duration) {
	c.Pass(d)
	b.reload(id)
}

func (b *tab) state(step string) string { return b.text(tapOf(step) + " .state") }

func (b *tab) sent() {
	b.t.Helper()
	b.until(`document.getElementById("sent").dataset.waiting === "no"`, "not sent")
}

func TestRecorderAsksWhereWatchingBegins(t *testing.T) {
	c := staffed(t)
	d, err := c.StartDemonstration(t.Context(), c.In("pia"), rand.Text(), c.In("tess").Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	b := c.signedIn("pia", tablet)
	b.reload(d.ID)
	open := `document.getElementById("begin").open`
	b.until(open, "not asked")
	require.Equal(t, []string{"The patient is still connected", "The patient is off, in the chair", "The patient has left", "The patient has left, lines and dialyzer are off"}, b.texts("#begin [data-from]"))
	for range 3 {
		b.do(chromedp.KeyEvent(kb.Escape))
	}
	b.until(open, "it can be got round by a key")
	require.False(t, eval[bool](b, `(() => { const r = document.querySelector('[data-steps="rub-hands"]').getBoundingClientRect(); return Boolean(document.elementFromPoint(r.x + 5, r.y + 5)?.closest(".tap")); })()`), "something else can be tapped before")

	b.watchFrom("lines-off")
	b.saved(0)
	require.Contains(t, b.text("#last"), "Watching begins: the patient has left, lines and dialyzer are off")
	b.reload(d.ID)
	require.False(t, eval[bool](b, open), "asked once")
	b.click("#undo")
	b.until(open, "what was taken back is asked again")
	b.watchFrom("gone")
	b.sent()
	_, lines, err := c.Observations(t.Context(), c.In("pia"), d.ID)
	require.NoError(t, err)
	var texts []string
	for _, l := range lines {
		texts = append(texts, l.Text)
	}
	require.Equal(t, []string{"watching from lines-off", "undone 1", "watching from gone"}, texts)
}

func TestRecorderTimesTheCleaningOfHands(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	require.Equal(t, "Tap at start, at end", b.state("rub-hands"))
	before := eval[layout](b, probe)
	b.click(tapOf("rub-hands"))
	b.until(`/^Timing 0:0\d – tap when over$/.test(document.querySelector('[data-steps="rub-hands"] .state').textContent)`, "no timing")
	after := eval[layout](b, probe)
	require.Equal(t, before.Tops, after.Tops)
	require.Empty(t, after.Clipped)
	b.saved(1)
	require.Equal(t, []string{"rub hands"}, c.recorded(id), "the first tap writes no seconds")

	c.later(b, id, 21*time.Second)
	require.Regexp(t, `^Timing 0:2\d`, b.state("rub-hands"), "it goes on through a reload")
	b.click(tapOf("rub-hands"))
	b.sent()
	require.Regexp(t, `^Last: \d:\d\d Rub hands with hand rub, 2\d s$`, b.text("#last"))
	texts := c.recorded(id)
	require.Equal(t, []string{"rub hands", "undone 2"}, texts[:2])
	require.Regexp(t, `^rub hands 2\ds$`, texts[2], "whole seconds")
	require.Equal(t, "Tap at start, at end", b.state("rub-hands"))

	// Another step ends the timing, and the cleaning stays without seconds.
	b.click(tapOf("wash-hands"))
	b.click(tapOf("gloves-on"))
	b.sent()
	require.Equal(t, "Tap at start, at end", b.state("wash-hands"))
	require.Equal(t, []string{"wash hands", "put on gloves"}, c.recorded(id)[3:])
	// Nobody cleans hands for longer.
	b.click(tapOf("rub-hands"))
	b.sent()
	c.later(b, id, 91*time.Second)
	require.Equal(t, "Tap at start, at end", b.state("rub-hands"))
	b.click(tapOf("rub-hands"))
	b.sent()
	require.Equal(t, []string{"rub hands", "rub hands"}, c.recorded(id)[5:], "after so long it is another one")
}

func TestRecorderTimingFitsEveryScreen(t *testing.T) {
	for _, s := range []size{tablet, desktop, phone} {
		t.Run(fmt.Sprintf("%dx%d", s.width, s.height), func(t *testing.T) {
			b, _ := living(t).recording(s)
			b.part("hands")
			before := eval[layout](b, probe)
			for _, step := range []string{"wash-hands", "rub-hands"} {
				b.click(tapOf(step))
				b.until(fmt.Sprintf(`document.querySelector('[data-steps=%q] .state').textContent.startsWith("Timing")`, step), "no timing")
				after := eval[layout](b, probe)
				require.Equal(t, before.Tops, after.Tops, "a button must never move")
				require.Empty(t, after.Clipped)
			}
		})
	}
}

func TestRecorderMore(t *testing.T) {
	c := living(t)
	b, id := c.recording(tablet)
	b.click(tapOf("fresh-wipe"))
	b.click(tapOf("wipe-top"))
	more := func(group, button string) {
		b.click("#open-more")
		b.click(fmt.Sprintf("#more [data-group=%q]", b.groupOf(group)))
		b.click("#more " + button)
		b.until(`document.getElementById("more").hidden`, "a tap leads back to the board")
	}
	more("Away from the work", `[data-step="leave"]`)
	pause()
	more("Away from the work", `[data-step="come-back"]`)
	more("What you saw", `[data-about="blood on"]`)
	require.Contains(t, b.text("#panel-title"), "Tap the part of the station")
	pause()
	b.click(tapOf("wipe-top"))
	b.sent()
	require.Contains(t, b.text("#last"), "There is blood on: Machine top")
	require.Equal(t, []string{"take wipe w1 of station-wipe", "wipe top", "leave station", "come back", "blood on top"}, c.recorded(id))
	require.Empty(t, b.state("wipe-top"), "under blood nothing is disinfected")
	b.reload(id)
	require.Contains(t, b.text("#last"), "There is blood on: Machine top", "the words come back with a reload")
	more("What you saw", `[data-about="blood on"]`)
	b.click(tapOf("wipe-front"))
	b.answer(c.Procedure.NameOf("screen")) // which of its parts
	b.sent()
	require.Equal(t, "blood on screen", c.recorded(id)[5])
}

// groupOf is what a group under More is called by the page.
func (b *tab) groupOf(title string) string {
	b.t.Helper()
	return eval[string](b, fmt.Sprintf(`[...document.querySelectorAll("#groups [data-group]")].find((e) => e.textContent.trim() === %q).dataset.group`, title))
}

// What is noted as dry is dry everywhere: as a note, and as the step that waits for it.
func TestRecorderAllDry(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	for _, tap := range []string{"fresh-wipe", "wipe-top", "wipe-front"} {
		b.click(tapOf(tap))
	}
	b.saved(5)
	c.later(b, id, 2*time.Minute+3*time.Second)
	require.Equal(t, "2:00 – still wet?", b.state("wipe-top"))
	require.Zero(t, eval[int](b, `document.querySelectorAll('[data-step=wait]').length`), "who watches says what is to be seen")
	allDry := func() {
		b.click("#open-more")
		b.click("#more [data-group=saw]")
		b.click(`#more [data-note="all dry"]`)
	}
	allDry()
	require.Contains(t, b.text("#panel-title"), "too late to tell")
	b.answer("Did not see")
	b.answer("Did not see")
	b.sent()
	require.Regexp(t, `^Dry 2:0\d, not seen$`, b.state("wipe-top"), "no wet time is reached by being dry")
	b.click(tapOf("wipe-left"))
	pause()
	allDry()
	require.Contains(t, b.text("#panel-title"), "1 has not had the contact time")
	b.answer("Yes, all dry")
	b.sent()
	require.Regexp(t, `^Dry at 0:0\d of 2:00$`, b.state("wipe-left"), "seen dry before its time")
	require.Equal(t, []string{"all dry", "wipe left", "all dry"}, c.recorded(id)[7:])
}

// Dry two seconds before the time or later is neither early nor long enough: taps are
// off by so much.
func TestRecorderBetweenEarlyAndLongEnough(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.click(tapOf("fresh-wipe"))
	b.click(tapOf("wipe-top"))
	b.saved(2)
	c.later(b, id, 2*time.Minute-time.Second)
	b.click(tapOf("wipe-top"))
	require.Contains(t, b.text("#panel-title"), "Its time is not over", "it is said that it is not time yet")
	b.answer("Still wet")
	b.sent()
	require.Regexp(t, `^Wet `, b.state("wipe-top"), "too early to count")
	pause()
	b.click(tapOf("wipe-top"))
	b.answer("Looks dry")
	b.until(`document.querySelector('[data-steps="wipe-top"]').dataset.state === "unseen"`, "not between")
}

// The clinic asks for some surfaces and one side of the machine; the others do not nag.
func TestRecorderAsksOnlyForWhatMustBeSeen(t *testing.T) {
	c := living(t)
	b, id := c.recording(tablet)
	for _, tap := range []string{"fresh-wipe", "wipe-pole", "wipe-chair", "wipe-left"} {
		b.click(tapOf(tap))
	}
	b.saved(6)
	c.later(b, id, 2*time.Minute+3*time.Second)
	shown := func(step string) string {
		return eval[string](b, fmt.Sprintf(`document.querySelector('[data-steps~=%q]').dataset.state`, step))
	}
	require.Equal(t, "2:00 – still wet?", b.state("wipe-pole"), "it may be answered all the same")
	require.Equal(t, "open", shown("wipe-pole"))
	require.Equal(t, "ask", shown("wipe-chair"), "the chair is asked for by name")
	require.Equal(t, "ask", shown("wipe-left"), "it would be the one whole side")
	b.click("#end")
	require.Equal(t, "Nobody has noted whether these stayed wet for their time: Chair with arms and gaps; Machine left side. Without it the result will be incomplete.", b.text("#unanswered"))
	require.Contains(t, b.text("#no-face"), "No whole side of the machine was seen wet")
	b.click("#finish [data-close]")
	b.click(tapOf("wipe-left"))
	b.answer("Still wet")
	b.sent()
	b.click("#end")
	require.True(t, eval[bool](b, `document.getElementById("no-face").hidden`))
	require.NotContains(t, b.text("#unanswered"), "Pole")
}

// Before the bucket goes back it must be known that it is dry.
func TestRecorderAsksWhetherTheBucketIsDry(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	for _, tap := range []string{"bucket-off", "fresh-wipe", "wipe-bucket-inside", "wipe-top"} {
		b.click(tapOf(tap))
	}
	pause()
	require.Equal(t, "Put the bucket back", b.text(tapOf("bucket-off")+" .name"), "one button takes it off and puts it back")
	b.click(tapOf("bucket-back"))
	require.Contains(t, b.text("#panel-title"), "Dry? Prime bucket.")
	b.answer("Go back")
	pause()
	b.click(tapOf("bucket-back"))
	b.answer("Dry")
	b.sent()
	require.Equal(t, []string{"dry bucket-inside", "dry bucket-sides", "dry bucket-outside", "put bucket back"}, c.recorded(id)[6:])
	require.Regexp(t, "^Wet ", b.state("wipe-top"), "nothing was said of the rest")
}

// Whoever taps on instead of answering loses nothing: what waited for the answer is noted
// first. Going back, or undoing, notes nothing.
func TestNothingThatWaitsForAnAnswerIsLost(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	for _, tap := range []string{"bucket-off", "fresh-wipe", "wipe-bucket-inside"} {
		b.click(tapOf(tap))
	}
	pause()
	b.click(tapOf("bucket-back"))
	require.Contains(t, b.text("#panel-title"), "Dry? Prime bucket.")
	b.click(tapOf("gloves-on"))
	b.sent()
	require.Equal(t, []string{"put bucket back", "put on gloves"}, c.recorded(id)[5:])
	b.click("#undo")
	b.sent()
	pause()
	b.click(tapOf("bucket-off"))
	pause()
	b.click(tapOf("bucket-back"))
	b.answer("Go back")
	b.click(tapOf("gloves-on"))
	b.sent()
	require.Equal(t, []string{"undone 8", "take off bucket", "put on gloves"}, c.recorded(id)[7:])
	pause()
	b.click(tapOf("bucket-back"))
	require.Contains(t, b.text("#panel-title"), "Dry? Prime bucket.")
	b.click("#end")
	b.sent()
	require.Equal(t, "put bucket back", c.recorded(id)[10], "also when it is finished")
}

func TestRecorderStopped(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.click(tapOf("gloves-on"))
	b.click("#end")
	require.False(t, eval[bool](b, `document.getElementById("undeclared").hidden`))
	b.set("#reason", "called-away")
	require.True(t, eval[bool](b, `document.getElementById("undeclared").hidden`), "of work that was stopped nothing is missing")
	b.fill("#comment", "Ms Smith, born 3 May 1961, was there.") // is asked about once more
	b.click("#finish-yes")
	b.until(`!document.getElementById("warning").hidden`, "patient data in the comment are asked about")
	b.click("#finish [data-close]")
	require.Equal(t, "Stopped.", b.text("#halt"))
	pause()
	b.click(tapOf("gloves-off"))
	require.Contains(t, b.text("#last"), "It was stopped. Undo takes that back.")
	for _, button := range []string{"#pause", "#help", "#unseen", "#open-more"} {
		require.True(t, b.disabled(button), button)
	}
	require.Equal(t, []string{"put on gloves", "stopped called-away"}, c.recorded(id))
	b.click("#undo")
	b.until(`document.getElementById("halt").hidden`, "going on")
	b.click(tapOf("gloves-off"))
	b.click("#end")
	require.Empty(t, eval[string](b, `document.getElementById("reason").value`))
	b.set("#reason", "equipment")
	b.fill("#comment", "The machine alarmed.")
	b.click("#finish-yes")
	b.until(`document.getElementById("signing") !== null`, "no review")
	require.Contains(t, b.text("main"), "Stopped: equipment")
	require.NotContains(t, b.text("[aria-labelledby=breaches]"), "declared the station ready", "never failed for what is missing")
}

func TestRecorderWatcherMarks(t *testing.T) {
	c := living(t)
	b, id := c.recording(phone)
	b.part("hands")
	b.click(tapOf("gloves-on"))
	b.click("#end")
	mark := func(id, verdict string) string {
		return fmt.Sprintf("#finish input[data-mark=%s][value=%s]", id, verdict)
	}
	require.Equal(t, []string{"Wiped with friction", "Every corner reached", "A calm manner with the patient"}, b.texts("#finish legend"))
	require.Empty(t, eval[[]string](b, `[...document.querySelectorAll(".verdicts .choice")].filter((e) => e.scrollWidth > e.clientWidth).map((e) => e.textContent)`), "a word is cut off")
	require.Zero(t, eval[int](b, `document.querySelectorAll("#finish input[data-mark]:checked").length`), "nothing is chosen beforehand")
	b.click(mark("friction", "met"))
	b.click(mark("calm", "missed"))
	b.click("#finish-yes")
	b.until(`document.getElementById("signing") !== null`, "no review")
	require.Equal(t, []string{"put on gloves", "watcher says friction met", "watcher says calm missed"}, c.recorded(id), "what is left open is not recorded")
	eval[bool](b, `(document.querySelectorAll("details").forEach((d) => { d.open = true; }), true)`)
	row := func(title string) string {
		return eval[string](b, fmt.Sprintf(`[...document.querySelectorAll("#marks tr")].find((r) => r.textContent.includes(%q)).lastElementChild.textContent.trim()`, title))
	}
	require.Equal(t, "Met", row("Wiped with friction"))
	require.Equal(t, "Missed", row("A calm manner with the patient"))
	require.Equal(t, "Not assessed", row("Every corner reached"))
}

func TestRunMore(t *testing.T) {
	c := living(t)
	b := c.running(tablet)
	b.click("#open-more")
	require.Zero(t, eval[int](b, `document.querySelectorAll("[data-group=saw], [data-note]").length`), "who does the work notes nothing")
	b.click(fmt.Sprintf("#more [data-group=%q]", b.groupOf("Hands and protection")))
	require.Contains(t, strings.Join(b.texts("#more .tap"), " "), "Put on a mask 5 s")
	b.click(`#more [data-step="mask-on"]`)
	b.until(`document.getElementById("more").hidden && document.querySelectorAll("#trail li").length === 1`, "not done")
	b.free()
	require.Equal(t, "mask-on", c.openRun(c.In("tess"), 1).Taps[0].Step)
	require.Contains(t, b.text("#trail"), "Put on a mask")
}

func TestBuildingWithSeldomSteps(t *testing.T) {
	for _, s := range []size{desktop, phone} {
		t.Run(fmt.Sprintf("%dx%d", s.width, s.height), func(t *testing.T) {
			b := living(t).signedIn("tess", s)
			b.openBuild()
			require.False(t, eval[bool](b, `document.querySelector("#seldom").open`))
			b.click("#seldom summary")
			b.click("button[value=mask-on]")
			b.says("Put on a mask is now step 1 of 1.")
			require.Equal(t, "1×", b.text("button[value=mask-on] .times"))
			require.Zero(t, eval[int](b, `document.documentElement.scrollWidth - innerWidth`), "wider than the screen")
			b.until(`document.getElementById("saved").textContent === "Saved"`, "not saved")
			b.open("/practice/ordinary-turnover")
			require.Equal(t, []string{"Put on a mask"}, b.texts("#steps .label"))
		})
	}
}

// A contamination is told in a sentence, drawn as numbered arrows, and listed step by
// step; advice stands apart.
func TestTheResultShowsHowItTravelled(t *testing.T) {
	c := living(t)
	id := c.quickBuild(c.In("tess"), "ordinary-turnover", []string{"check-gone", "rub-hands", "gloves-on", "fresh-wipe", "wipe-controls", "wipe-top", "gloves-off", "rub-hands", "gloves-on", "bucket-off", "touch-screen"})
	b := c.signedIn("tess", tablet)
	b.open("/attempts/" + id)
	const told = "The prime bucket touched your gloves at step 10; those gloves touched the screen at step 11."
	require.Contains(t, b.text("[aria-labelledby=breaches]"), told)
	require.Contains(t, b.text("[aria-labelledby=advice]"), "It costs no mark.")
	require.NotContains(t, b.text("[aria-labelledby=breaches]"), "Advice")

	numbers := b.texts(".station .way-text")
	require.Len(t, numbers, 2, "from the bucket to the hands, from the hands to the screen")
	require.Regexp(t, `^\d+a`, numbers[0])
	require.Regexp(t, `^\d+b`, numbers[1])
	require.Equal(t, []string{"none", "none"}, eval[[]string](b, `[...document.querySelectorAll(".station .way")].map((e) => getComputedStyle(e).strokeDasharray)`), "solid lines")
	// An arrow must not end under the numbers that stand at its place.
	require.Empty(t, eval[[]string](b, `(() => { const pins = [...document.querySelectorAll(".station .pin")].map((e) => e.getBBox());
		return [...document.querySelectorAll(".station .way")].map((e) => e.getPointAtLength(e.getTotalLength()))
			.filter((p) => pins.some((r) => p.x > r.x && p.x < r.x + r.width && p.y > r.y && p.y < r.y + r.height)).map((p) => p.x + " " + p.y); })()`))
	b.click("[aria-labelledby=where] details summary")
	require.Contains(t, b.texts(".hops li"), numbers[1][:2]+" Your gloves touched the screen at step 11.")
}
