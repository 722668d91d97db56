package browsertest

import (
	"fmt"
	"testing"
	"time"

	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// A browser cannot be put to sleep by a test. What its page would see of it is put in its
// place: whether it is in sight, and two clocks, of which a sleep stops the one and goes on
// with the other.
const twoClocks = `(() => {
	let set = 0, sight = true;
	const date = Date.now.bind(Date);
	Date.now = () => date() + set;
	Object.defineProperty(document, "hidden", { get: () => !sight });
	const turn = (on) => { sight = on; document.dispatchEvent(new Event("visibilitychange")); };
	globalThis.setClock = (ms) => { set += ms; return true; };
	globalThis.outOfSight = (ms) => { turn(false); set += ms; turn(true); return true; };
})()`

// withTwoClocks is a recording in a tab with such clocks.
func (c *clinic) withTwoClocks() (*tab, string) {
	b, id := c.recording(tablet)
	_, err := chromedp.Call(b.ctx, cdppage.AddScriptToEvaluateOnNewDocument, cdppage.AddScriptToEvaluateOnNewDocumentParams{Source: twoClocks})
	require.NoError(c.T, err)
	b.reload(id)
	return b, id
}

// near requires that the last act was noted so long after the first, give or take what a
// test takes.
func (c *clinic) near(id string, since time.Duration) {
	c.T.Helper()
	r, err := c.Recorded(c.T.Context(), c.In("pia"), id)
	require.NoError(c.T, err)
	at := time.Duration(r.Acts[len(r.Acts)-1].AtMs-r.Acts[0].AtMs) * time.Millisecond
	require.InDelta(c.T, since.Seconds(), at.Seconds(), 60, "noted %s after the first act", at)
}

func asleepFor(d time.Duration) string { return fmt.Sprintf(`outOfSight(%d)`, d.Milliseconds()) }
func setBy(d time.Duration) string     { return fmt.Sprintf(`setClock(%d)`, d.Milliseconds()) }

// A tablet that slept knows how long, also while the server is away.
func TestTheTimeGoesOnWhileATabletSleeps(t *testing.T) {
	c := staffed(t)
	b, id := c.withTwoClocks()
	c.away()
	eval[bool](b, asleepFor(10*time.Minute))
	b.click(tapOf("rub-hands")) // at once on waking
	b.counts(2, 1, 1)
	b.until(`/^1[01]:/.test(document.getElementById("time").textContent)`, "the time stood still: "+b.text("#time"))
	c.Pass(10 * time.Minute)
	c.back()
	b.counts(2, 2, 0)
	c.near(id, 10*time.Minute)
	c.Pass(20 * time.Minute) // the server first: the page asks it as soon as it wakes
	eval[bool](b, asleepFor(20*time.Minute))
	b.click(tapOf("gloves-on"))
	b.counts(3, 3, 0)
	c.near(id, 30*time.Minute)
}

// A clock that is set is no sleep: not in sight, neither on nor back, and nowhere as soon as
// the server says what time it is.
func TestAClockThatIsSetMovesNoAct(t *testing.T) {
	c := staffed(t)
	b, id := c.withTwoClocks()
	c.away()
	for i, d := range []time.Duration{time.Hour, -2 * time.Hour, 20 * time.Second} {
		eval[bool](b, setBy(d))
		b.click([]string{tapOf("rub-hands"), tapOf("gloves-on"), tapOf("fresh-wipe")}[i])
		b.counts(2+i, 1, 1+i)
	}
	eval[bool](b, asleepFor(-time.Hour)) // set back in the settings
	b.until(`document.getElementById("time").textContent.startsWith("0:")`, "a clock set back counts")
	c.back()
	b.counts(4, 4, 0)
	c.near(id, 0)

	eval[bool](b, asleepFor(time.Hour)) // set on in the settings, with the page out of sight
	pause()
	b.until(`document.getElementById("time").textContent.startsWith("0:")`, "the server was not asked: "+b.text("#time"))
	b.click(tapOf("wipe-top"))
	b.counts(5, 5, 0)
	c.near(id, 0)
}

// A page that was opened while the server was away goes by the tablet's clock until the
// server says what time it is.
func TestAPageThatWasOpenedOfflineIsPutRight(t *testing.T) {
	c := staffed(t)
	b, id := c.withTwoClocks()
	b.ready()
	_, err := chromedp.Call(b.ctx, cdppage.AddScriptToEvaluateOnNewDocument, cdppage.AddScriptToEvaluateOnNewDocumentParams{Source: setBy(time.Hour)})
	require.NoError(t, err)
	c.away()
	b.reload(id)
	require.Regexp(t, `^(60|1:00):\d\d$`, b.text("#time"), "nothing else is known")
	c.back()
	b.until(`document.getElementById("time").textContent.startsWith("0:")`, "not put right")
	b.click(tapOf("rub-hands"))
	b.counts(2, 2, 0)
	c.near(id, 0)
}
