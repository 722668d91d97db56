package browsertest

import (
	"crypto/rand"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/procedure"
	"stillwet/views"
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
	b.until(`document.getElementById("taps") !== null && document.readyState === "complete"`, "no run page")
}

// running is a tab with a run that has just begun.
func (c *clinic) running(s size) *tab {
	b := c.signedIn("tess", s)
	b.startRun()
	return b
}

// usual is how many of some steps stand on the board itself.
func usual(p *procedure.Procedure, steps []string) (n int) {
	for _, g := range views.Groups(p, steps) {
		n += len(g.Steps)
	}
	return n
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

// worded is the probe while every wipe button says the same.
func worded(state string) string {
	return fmt.Sprintf(`(document.querySelectorAll("#taps .tap .state").forEach((e) => { e.textContent = %q; }), %s)`, state, probe)
}

func TestRunFitsOneScreen(t *testing.T) {
	for _, s := range []size{tablet, desktop, {1366, 768, false}} {
		t.Run(fmt.Sprintf("%dx%d", s.width, s.height), func(t *testing.T) {
			c := living(t)
			b := c.running(s)
			before := eval[layout](b, probe)
			require.False(t, before.Scrolls, "everything is on one screen")
			require.Len(t, before.Tops, usual(c.Procedure, c.Run.Steps))
			require.Empty(t, before.Hidden)
			require.Empty(t, before.Clipped)
			require.GreaterOrEqual(t, before.MinHeight, 64.0)
			require.GreaterOrEqual(t, before.MinWidth, 140.0)
			require.Equal(t, 52.0, before.StatusHeight)
			for _, step := range []string{"fresh-wipe", "wipe-top", "wipe-call-light"} {
				b.click(tapOf(step))
				require.Equal(t, before.Tops, eval[layout](b, probe).Tops, "a button moved while the hands are busy")
				b.free()
			}
			require.Contains(t, b.text(tapOf("wipe-top")+" .state"), "Wet ")
			for _, state := range []string{"2:00 reached, wet", "Too short, dry 12:06"} {
				after := eval[layout](b, worded(state))
				require.Equal(t, before.Tops, after.Tops, "a button must never move")
				require.Empty(t, after.Clipped, state)
				require.Empty(t, after.Hidden)
			}
		})
	}
}

func TestRunKeepsItsButtonsInPlaceOnAPhone(t *testing.T) {
	b := staffed(t).running(phone)
	before := eval[layout](b, probe)
	b.click(tapOf("gloves-on"))
	eval[bool](b, `(document.getElementById("taps").scrollTop = 0, true)`)
	after := eval[layout](b, worded("Too short, dry 12:06"))
	require.Equal(t, before.Tops, after.Tops)
	require.Empty(t, after.Clipped)
	require.Equal(t, before.StatusHeight, after.StatusHeight)
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
	require.Equal(t, "Not wiped", state("wipe-pole"))
	for _, step := range []string{"fresh-wipe", "wipe-pole", "wipe-controls"} {
		b.click(tapOf(step))
		if step != "fresh-wipe" {
			require.Equal(t, "Being wiped", state(step))
		}
		b.free()
	}
	require.Regexp(t, `^Wet 0:0\d of 2:00$`, state("wipe-controls"), "of three surfaces the last one wiped has the longest way to go")
	require.Regexp(t, `^Wet 0:[12]\d of 2:00$`, state("wipe-pole"))
	trail := b.texts("#trail li")
	later := func(run time.Duration) {
		c.Pass(run / time.Duration(c.openRun(c.In("tess"), 3).Pace))
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
