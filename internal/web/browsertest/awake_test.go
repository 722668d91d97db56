package browsertest

import (
	"testing"

	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// bulb stands for the lock of a screen, which no browser without a screen gives: it counts
// how often it is asked for, and whether it is held.
const bulb = `window.bulb = { asked: 0, on: false, away: false };
	Object.defineProperty(Document.prototype, "hidden", { get: () => window.bulb.away });
	Object.defineProperty(Navigator.prototype, "wakeLock", { value: { request: async (what) => {
		const lock = new EventTarget();
		window.bulb.asked += 1;
		window.bulb.on = what === "screen";
		lock.release = async () => { window.bulb.on = false; lock.dispatchEvent(new Event("release")); };
		window.bulb.lock = lock;
		return lock; } } });`

// dark is a browser at an address that is not served over HTTPS: it has no lock.
const dark = `Object.defineProperty(Navigator.prototype, "wakeLock", { value: undefined });
	Object.defineProperty(window, "isSecureContext", { value: false });`

// with runs a script before those of every page to come.
func (b *tab) with(script string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, cdppage.AddScriptToEvaluateOnNewDocument, cdppage.AddScriptToEvaluateOnNewDocumentParams{Source: script})
	require.NoError(b.t, err)
}

// toBeSeen hides the page, as a browser does that lets the lock go, or shows it again.
func (b *tab) toBeSeen(yes bool) {
	b.t.Helper()
	show := `window.bulb.away = true; window.bulb.lock.release();`
	if yes {
		show = `window.bulb.away = false;`
	}
	eval[bool](b, `(() => { `+show+` document.dispatchEvent(new Event("visibilitychange")); return true; })()`)
}

// A screen that goes dark has to be woken with a gloved hand.
func TestTheScreenStaysOn(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.with(bulb)
	run := c.signedIn("tess", tablet)
	run.with(bulb)
	run.startRun()
	b.reload(id)
	for _, board := range []*tab{b, run} {
		board.until(`window.bulb.on && window.bulb.asked === 1`, "the screen may go dark")
		board.toBeSeen(false)
		board.toBeSeen(true)
		board.until(`window.bulb.on && window.bulb.asked === 2`, "it is asked for again when the page is seen again")
	}
	// Who only looks on keeps no screen awake.
	o := b.other(c, tablet)
	o.with(bulb)
	o.open("/demonstrations/" + id + "/record")
	o.until(`document.getElementById("held").open`, "two tabs record")
	require.Zero(t, eval[int](o, `window.bulb.asked`))
	o.click("#held-take")
	o.until(`window.bulb.on`, "whoever takes over keeps it awake")
	b.until(`!window.bulb.on`, "and the other lets it go")
}

// Where the browser has no lock all the rest works, and the board says so.
func TestWithoutALockTheBoardSaysSo(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.with(dark)
	b.click("#undo")
	b.saved(1)
	b.reload(id)
	b.until(`document.getElementById("begin").open`, "not asked")
	require.Contains(t, b.text("#plain"), "does not keep the screen on")
	require.True(t, b.shown("#plain"))
	b.watchFrom("connected")
	b.click(tapOf("gloves-on"))
	b.sent()

	run := c.signedIn("tess", tablet)
	run.with(dark)
	run.startRun()
	run.click(tapOf("gloves-on"))
	run.free()
	run.click("#situation")
	require.True(t, run.shown("#plain"))
	require.Contains(t, run.text("#plain"), "does not keep the screen on")
}
