package browsertest

import (
	"crypto/rand"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/simulate"
)

func (b *tab) startRun() {
	b.t.Helper()
	b.open("/practice/against-the-clock")
	b.begin()
}

// startSlowRun starts one whose clock goes no faster than the world's, for what
// must not be over before the browser has looked.
func (b *tab) startSlowRun() {
	b.t.Helper()
	b.open("/practice/against-the-clock")
	b.click(`input[name="pace"][value="1"]`)
	b.begin()
}

func (b *tab) begin() {
	b.t.Helper()
	b.click("main form .btn.big")
	b.until(`document.getElementById("run") !== null && document.readyState === "complete"`, "no run page")
}

// running is a tab with a run that has just begun.
func (c *clinic) running(s size) *tab {
	b := c.signedIn("tess", s)
	b.startRun()
	return b
}

// tapOf is the button of a step: its own, or the tile that it shares.
func tapOf(step string) string {
	return fmt.Sprintf(".tap:is([data-step=%q], [data-steps~=%q])", step, step)
}

// free waits until the hands are free again.
func (b *tab) free() {
	b.t.Helper()
	b.until(`document.getElementById("doing").textContent === "Your hands are free."`, "still busy")
}

// The clock begins with the first act: whoever reads the story first loses nothing, and it
// is judged from there.
func TestTheClockOfARunBeginsWithItsFirstAct(t *testing.T) {
	c := staffed(t)
	b := c.running(tablet)
	require.Equal(t, "The clock begins with your first act.", b.text("#doing"))
	c.Pass(3 * time.Minute)
	b.open("/practice/against-the-clock")
	require.Equal(t, "0:00", b.text("#time"))
	b.click(tapOf("gloves-on"))
	b.free()
	require.Regexp(t, `^0:0\d$|^0:1\d$`, b.text("#time"))
	require.Equal(t, []string{"0:00 Put on fresh gloves"}, b.texts("#trail li"))
	run := c.openRun(c.In("tess"), 1)
	require.GreaterOrEqual(t, run.Taps[0].At, action.Millis(12*60*1000), "the server counts from when it was opened, at four times the speed")
	c.Pass(15 * time.Second)
	b.open("/practice/against-the-clock")
	require.Regexp(t, `^1:[0-2]\d$`, b.text("#time"), "a reload goes on")
	b.click("#finish")
	b.follow("#ask-yes", "/attempts/")
	a, err := c.Attempt(t.Context(), c.In("tess"), strings.TrimPrefix(eval[string](b, "location.pathname"), "/attempts/"))
	require.NoError(t, err)
	require.Contains(t, a.Log, "\n0:08 put on gloves\n")
}

// A face is wiped part after part, as whoever watches notes it in one tap; what is left out
// is not wiped; and when some of it is wet, it is asked which part.
func TestRunWipesAFacePartAfterPart(t *testing.T) {
	c := staffed(t)
	b := c.running(tablet)
	p := c.Procedure
	for _, step := range []string{"gloves-on", "fresh-wipe"} {
		b.click(tapOf(step))
		b.free()
	}
	require.Equal(t, "on", b.text("#now-gloves"))
	require.Regexp(t, "^fresh: ", b.text("#now-wipe"))
	require.Equal(t, "in the chair", b.text("#now-patient"))
	require.Equal(t, "30 s", b.state("wipe-pole"))
	b.click(tapOf("wipe-pole"))
	b.until(`/ 30 s left$|2\d s left$/.test(document.getElementById("doing").textContent)`, "it is not said how long all of it takes")
	b.click(tapOf("wipe-top"))
	b.until(`/^Not taken: your hands are busy, \d+ s left\.$/.test(document.getElementById("said").textContent)`, "busy hands took something")
	b.answer(p.NameOf("attachments") + " 10\u00a0s") // is left out
	b.free()
	taps := c.openRun(c.In("tess"), 4).Taps
	require.Equal(t, []string{"wipe-pole", "wipe-cuff"}, []string{taps[2].Step, taps[3].Step})
	require.Regexp(t, "^2 of 3: Wet ", b.state("wipe-pole"))
	require.Regexp(t, "^in use: ", b.text("#now-wipe"))
	require.Equal(t, taps[2].At+action.Millis(10_000), taps[3].At, "one part begins when the one before it is finished")
	b.click(tapOf("wipe-pole"))
	require.Equal(t, "Pole and parts: which part?", b.text("#panel-title"))
	b.answer(p.NameOf("attachments") + " 10\u00a0s")
	b.free()
	require.Equal(t, "wipe-attachments", c.openRun(c.In("tess"), 5).Taps[4].Step)
	require.Regexp(t, "^Wet ", b.state("wipe-pole"))
}

// Gear turns, as on the board of whoever watches.
func TestRunTurnsGear(t *testing.T) {
	c := staffed(t)
	b := c.running(tablet)
	name := func() string { return b.text(tapOf("gloves-on") + " .name") }
	require.Equal(t, "Put on fresh gloves", name())
	b.click(tapOf("gloves-on"))
	b.free()
	require.Equal(t, "Take off gloves", name())
	b.click(tapOf("gloves-on"))
	b.free()
	require.Equal(t, "none", b.text("#now-gloves"))
	require.Equal(t, "gloves-off", c.openRun(c.In("tess"), 2).Taps[1].Step)
}

func TestRunSaysThatBusyHandsTakeNothing(t *testing.T) {
	c := staffed(t)
	b := c.signedIn("tess", tablet)
	b.startSlowRun()
	b.click(tapOf("wash-hands"))
	b.until(`/^Washing hands with soap and water, \d+ s left$/.test(document.getElementById("doing").textContent)`, "it is not said what the hands do")
	b.click(tapOf("gloves-on"))
	b.until(`/^Not taken: your hands are busy, \d+ s left\.$/.test(document.getElementById("said").textContent)`, "a tap that is not taken must be told")
	require.Len(t, b.texts("#trail li"), 1)
	require.Equal(t, "wash-hands", c.openRun(c.In("tess"), 1).Taps[0].Step)
	b.click("#finish")
	b.until(`document.getElementById("said").textContent.startsWith("Your hands are still busy")`, "a run cannot end in the middle of a step")
}

func TestRunWetTimersGoOnThroughAReload(t *testing.T) {
	c := staffed(t)
	b := c.running(tablet)
	state := func(step string) string { return b.text(tapOf(step) + " .state") }
	for _, step := range []string{"fresh-wipe", "wipe-pole", "wipe-controls"} {
		b.click(tapOf(step))
		if step != "fresh-wipe" {
			require.Equal(t, "Being wiped", state(step))
		}
		b.free()
	}
	require.Regexp(t, `^Wet 0:0\d of 2:00$`, state("wipe-controls"), "of several surfaces the last one wiped has the longest way to go")
	require.Regexp(t, `^Wet [01]:\d\d of 2:00$`, state("wipe-pole"))
	trail := b.texts("#trail li")
	later := func(run time.Duration) {
		c.Pass(run / time.Duration(c.openRun(c.In("tess"), 7).Pace))
		b.open("/practice/against-the-clock")
		require.Equal(t, trail, b.texts("#trail li"), "the run goes on where it was")
	}
	later(100 * time.Second)
	require.Regexp(t, `^Too short, dry \d:\d\d$`, state("wipe-pole"))
	require.Regexp(t, `^Wet 1:[45]\d of 2:00$`, state("wipe-controls"))
	later(22 * time.Second)
	require.Equal(t, "2:00 reached, wet", state("wipe-controls"))
	later(5 * time.Minute)
	require.Equal(t, "Reached, dry", state("wipe-controls"))
}

func TestRunAsksBeforeItEnds(t *testing.T) {
	c := staffed(t)
	b := c.running(desktop)
	for _, way := range []string{"#finish", "#discard"} {
		b.click(way)
		b.until(`document.getElementById("ask").open`, "not asked")
		b.click("#ask-no")
	}
	c.openRun(c.In("tess"), 0)
	b.click("#discard")
	b.click("#ask-yes")
	b.until(`location.pathname === "/practice"`, "not led away from the run")
	run, err := c.Unfinished(t.Context(), c.In("tess"), "against-the-clock", false)
	require.NoError(t, err)
	require.Nil(t, run)
}

func TestRunSaysThatItEndedOnAnotherPage(t *testing.T) {
	c := staffed(t)
	b := c.running(desktop)
	tess := c.In("tess")
	require.NoError(t, c.DiscardDraft(t.Context(), tess, rand.Text(), c.openRun(tess, 0).ID))
	for range 2 {
		b.click(tapOf("gloves-on"))
		b.until(`document.getElementById("ask").open && document.getElementById("ask-yes").textContent === "Load the page again"`, "a tap that is refused must be told")
		b.click("#ask-no")
	}
	b.click(tapOf("gloves-on"))
	b.click("#ask-yes")
	b.until(`document.getElementById("run") === null && document.querySelector("main form .btn.big") !== null`, "the page still shows a run that is gone")
}

// Every run that is offered fits the smallest tablets, upright and across.
func TestEveryRunFits(t *testing.T) {
	c := living(t)
	b := c.signedIn("tess", tablet)
	runs := 0
	for _, sc := range c.Library.Scenarios() {
		if sc.Kind != simulate.TimedRun {
			continue
		}
		runs++
		b.open("/practice/" + sc.ID)
		b.begin()
		for _, s := range []size{{1024, 668, true}, {810, 980, true}} {
			b.resize(s)
			fitsFingers(t, eval[layout](b, probe), fmt.Sprintf("%s %dx%d", sc.ID, s.width, s.height))
		}
	}
	require.Greater(t, runs, 3)
}
