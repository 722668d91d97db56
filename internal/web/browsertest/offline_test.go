package browsertest

import (
	"context"
	"crypto/rand"
	"fmt"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/storage"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// What is recorded in a browser is lost by nothing that a clinic's network, a tablet or a
// person does. The server itself is stopped: a switch in the browser would not reach the
// worker.

// away stops the server; back starts it at its address.
func (c *clinic) away() { c.stop() }

func (c *clinic) back() {
	listener, err := net.Listen("tcp", strings.TrimPrefix(c.base, "http://"))
	require.NoError(c.T, err)
	c.restart(listener)
}

// other is a second tab of the same browser.
func (b *tab) other(c *clinic, s size) *tab {
	ctx, stop := chromedp.NewContext(b.ctx)
	b.t.Cleanup(stop)
	o := &tab{t: b.t, ctx: ctx, base: c.base}
	require.NoError(b.t, chromedp.Do(ctx, chromedp.Navigate("about:blank")))
	o.resize(s)
	return o
}

const counted = `document.getElementById("sent").textContent === "%d saved, %d sent, %d waiting"`

func (b *tab) counts(saved, sent, waiting int) {
	b.t.Helper()
	b.until(fmt.Sprintf(counted, saved, sent, waiting), fmt.Sprintf("not %d saved, %d sent, %d waiting, but: %s", saved, sent, waiting, b.text("#sent")))
}

// ready waits until the worker would answer for the server.
func (b *tab) ready() {
	b.t.Helper()
	require.True(b.t, eval[bool](b, `navigator.serviceWorker.ready.then(() => new Promise((done) => {
		if (navigator.serviceWorker.controller) return done(true);
		navigator.serviceWorker.addEventListener("controllerchange", () => done(true)); }))`))
}

// kill ends what runs the tab, as a tablet does that needs its memory. Nobody answers then.
func (b *tab) kill() {
	ctx, stop := context.WithTimeout(b.ctx, 300*time.Millisecond)
	defer stop()
	_, err := chromedp.Call(ctx, cdppage.Crash, struct{}{})
	require.Error(b.t, err, "the tab is gone")
}

// Half of it is recorded with the server off, over a reload; the tab is killed in the
// middle; then the server comes back.
func TestRecordingGoesOnWhileTheServerIsAway(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.ready()
	b.click(tapOf("rub-hands"))
	b.saved(1)
	c.away()
	b.click(tapOf("gloves-on"))
	b.counts(3, 2, 1)
	b.reload(id)
	b.counts(3, 2, 1)
	require.Contains(t, b.text("#last"), "Put on fresh gloves", "the page came without the server")
	b.click(tapOf("fresh-wipe"))
	b.until(`document.getElementById("last").textContent.includes("Take a fresh wipe")`, "not shown")

	// What was confirmed is there after the tab was killed at once.
	o := b.other(c, tablet)
	b.kill()
	o.open("/demonstrations/" + id + "/record")
	o.counts(4, 2, 2)
	require.Equal(t, []string{"gloves-on", "fresh-wipe"}, o.keptSteps())
	o.click("#undo")
	o.counts(5, 2, 3)

	// It can be finished now: what is not done shows, and it is asked again when all is sent.
	o.click("#end")
	require.Regexp(t, `^Station not ready: redo .*Machine top.* \(not noted as wiped\), Prime bucket \(not emptied\), gloves \(still on\) before the next patient; tell the charge nurse\.$`, o.text("#undone"))
	o.fill("#comment", "The network was away.")
	o.click("#finish-yes")
	o.until(`document.getElementById("waiting").textContent.includes("it is judged when they are")`, "not noted")
	o.reload(id)
	c.back()
	o.counts(5, 5, 0)
	o.until(`document.getElementById("finish").open`, "not asked again")
	require.Contains(t, o.text("#waiting"), "All is sent now")
	require.Equal(t, "The network was away.", eval[string](o, `document.getElementById("comment").value`))
	require.Equal(t, []string{"rub hands", "put on gloves", "take wipe w1 of station-wipe", "undone 4"}, c.recorded(id), "each once, in its order")
	o.click("#finish-yes")
	o.until(`document.getElementById("signing") !== null`, "no review")
}

// An address that gives a page of its own for everything is no server of ours.
func TestACaptivePageIsNoAnswer(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.ready()
	c.away()
	listener, err := net.Listen("tcp", strings.TrimPrefix(c.base, "http://"))
	require.NoError(t, err)
	captive := &http.Server{ReadHeaderTimeout: time.Second, Handler: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		_, _ = fmt.Fprint(w, "<h1>Welcome to our guests' network</h1>")
	})}
	go func() { _ = captive.Serve(listener) }()
	b.click(tapOf("rub-hands"))
	b.counts(2, 1, 1)
	b.until(`document.getElementById("trouble").textContent.includes("No answer")`, "a page was taken for an answer")
	require.NoError(t, captive.Close())
	c.back()
	b.counts(2, 2, 0)
	require.Equal(t, []string{"rub hands"}, c.recorded(id))
}

// A session that ended keeps what waits, for its own person alone.
func TestWhatWaitsIsOnesOwn(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	cookies := `Promise.resolve(document.cookie)`
	require.Empty(t, eval[string](b, cookies), "no script reads who is signed in")
	_, err := chromedp.Call(b.ctx, network.ClearBrowserCookies, struct{}{})
	require.NoError(t, err)
	b.click(tapOf("rub-hands"))
	b.until(`document.getElementById("trouble").textContent.includes("Sign in on another tab to send 1 act.")`, "not told: "+b.text("#trouble"))
	b.counts(2, 1, 1)

	b.signIn("edda")
	b.open("/people")
	b.until(`document.getElementById("unsent").textContent.includes("1 act that somebody else recorded waits in this browser.")`, "not told of it")
	require.NotContains(t, b.text("#unsent"), "Tess")
	require.Equal(t, []string{"rub-hands"}, b.keptSteps(), "it was not sent by another")
	require.Empty(t, c.recorded(id))

	b.signOut()
	b.signIn("pia")
	b.open("/watch")
	require.Eventually(t, func() bool { return len(b.keptSteps()) == 0 }, stepTime, 50*time.Millisecond, "not sent")
	require.Equal(t, []string{"rub hands"}, c.recorded(id))
}

func (b *tab) signOut() {
	b.t.Helper()
	b.click(`form[action="/sign-out"] button`)
	b.until(`location.pathname === "/sign-in"`, "not signed out")
}

// Signing out with acts that wait is refused once, with the way out; a copy brings them in.
func TestSigningOutSaysWhatIsNotSent(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.open("/watch")
	b.click("#ready")
	b.until(`document.getElementById("ready-said").textContent.startsWith("Ready: this recording")`, "not ready")
	b.reload(id)
	b.open("/watch")
	eval[bool](b, `(window.fetch = async () => { throw new TypeError("away"); }, true)`) // the way to the server is cut for this page alone
	eval[bool](b, fmt.Sprintf(`new Promise((done) => { const open = indexedDB.open("stillwet"); open.onsuccess = () => {
		const t = open.result.transaction("acts", "readwrite"); const all = t.objectStore("acts").getAll();
		all.onsuccess = () => t.objectStore("acts").put({ ...all.result[0], n: all.result.length + 1, key: "a-key-of-two-days-ago", step: "rub-hands", text: undefined, state: "waiting", wall: "2026-01-01T00:00:00.000Z" });
		t.oncomplete = () => { open.result.close(); done(%t); }; }; })`, true))
	b.click(`form[action="/sign-out"] button`)
	b.until(`document.getElementById("unsent").textContent.includes("sign out all the same")`, "signed out without a word")
	require.Contains(t, b.text("#unsent"), "1 act that you recorded in this browser is not sent yet.")
	require.Contains(t, b.text("#unsent"), "more than a day")
	eval[bool](b, `(window.saved = "", URL.createObjectURL = (blob) => { blob.text().then((t) => { window.saved = t; }); return "#"; }, [...document.querySelectorAll("#unsent button")].find((x) => x.textContent === "Save a copy").click(), true)`)
	b.until(`window.saved !== ""`, "no copy")
	saved := eval[string](b, `window.saved`)
	require.NotContains(t, saved, "Tess")
	require.NotContains(t, saved, "Pia")
	b.click(`form[action="/sign-out"] button`)
	b.until(`location.pathname === "/sign-in"`, "the second press signs out")
	require.Zero(t, eval[int](b, `new Promise((done) => { const open = indexedDB.open("stillwet"); open.onsuccess = () => { const n = open.result.transaction("packs").objectStore("packs").count(); n.onsuccess = () => { open.result.close(); done(n.result); }; }; })`), "no names stay")

	o := c.signedIn("pia", tablet) // another browser
	o.open("/watch")
	for _, want := range []string{"1 acts were stored, 0 were there before", "0 acts were stored, 1 were there before"} {
		o.click("#copy summary")
		eval[bool](o, fmt.Sprintf(`(() => { const d = new DataTransfer(); d.items.add(new File([%q], "acts.json", { type: "application/json" })); document.getElementById("acts").files = d.files; return true; })()`, saved))
		o.click("#copy form button")
		o.until(fmt.Sprintf(`document.querySelector("main").textContent.includes(%q)`, want), "not brought in")
	}
	require.Equal(t, []string{"rub hands"}, c.recorded(id))
}

// A second tablet is told who records, looks on, and takes over with one press. So is a
// second tab.
func TestOneTabletRecords(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.click(tapOf("rub-hands"))
	b.saved(1)
	o := c.signedIn("pia", tablet)
	o.reload(id)
	o.until(`document.getElementById("held").open`, "not told")
	require.Contains(t, o.text("#held-why"), "Another tablet or browser records it")
	require.Contains(t, o.text("#held-why"), "2 acts have come")
	o.click("#held [data-close]")
	require.Contains(t, o.text("#last"), "Rub hands", "it sees what came")
	o.click(tapOf("gloves-on"))
	o.until(`document.getElementById("held").open`, "it recorded all the same")
	o.click("#held-take")
	o.until(`!document.getElementById("held").open`, "not taken over")
	pause()
	o.click(tapOf("gloves-on"))
	o.saved(2)

	b.click(tapOf("fresh-wipe"))
	b.until(`document.getElementById("held").open`, "the first is not told")
	require.Equal(t, []string{"rub hands", "put on gloves", "take wipe w1 of station-wipe"}, c.recorded(id), "what it had not sent counts")

	second := o.other(c, tablet)
	second.reload(id)
	second.until(`document.getElementById("held").open`, "a second tab records too")
	require.Contains(t, second.text("#held-why"), "Another tab of this browser")
	second.click("#held-take")
	o.until(`document.getElementById("held").open`, "the first tab is not told")
	second.click(tapOf("wipe-top"))
	second.sent()
	require.Len(t, c.recorded(id), 4)
}

// filling writes into the page's database until it takes no more, not even a few bytes.
const (
	filling = `(async () => { const db = await new Promise((done) => { const r = indexedDB.open("stillwet"); r.onsuccess = () => done(r.result); });
		const put = (i, size) => new Promise((done) => { const t = db.transaction("own", "readwrite");
			t.oncomplete = () => done(true); t.onabort = () => done(false);
			t.objectStore("own").put(crypto.getRandomValues(new Uint8Array(size)), "junk-" + i); });
		let i = 0;
		for (const size of [60000, 4000, 200, 10]) { let n = 0; while (n++ < 400 && await put(i++, size)); if (size === 60000 && n > 400) return false; }
		db.close(); return true; })()`
	emptied = `new Promise((done) => { const r = indexedDB.open("stillwet"); r.onsuccess = () => { const t = r.result.transaction("own", "readwrite");
		t.objectStore("own").delete(IDBKeyRange.bound("junk-", "junk-z")); t.oncomplete = () => { r.result.close(); done(true); }; }; })`
)

// Storage that is full is said at once, and what was not kept is not shown as if it were.
func TestFullStorageIsSaid(t *testing.T) {
	c := staffed(t)
	d, err := c.StartDemonstration(t.Context(), c.In("pia"), rand.Text(), c.In("tess").Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	id := d.ID
	b := c.signedIn("pia", tablet)
	bytes := 2e6
	_, err = chromedp.Call(b.ctx, storage.OverrideQuotaForOrigin, storage.OverrideQuotaForOriginParams{Origin: c.base, QuotaSize: &bytes})
	require.NoError(t, err)
	b.reload(id)
	b.watchFrom("connected")
	b.saved(0)
	require.True(t, eval[bool](b, filling), "it cannot be filled")
	b.click(tapOf("rub-hands"))
	b.until(`document.getElementById("last").textContent.startsWith("Not recorded: This tablet's storage is full.")`, "not said: "+b.text("#last"))
	b.counts(1, 1, 0)
	require.NotContains(t, b.state("rub-hands"), "Timing", "nothing is timed that was not kept")
	eval[bool](b, emptied)
	pause()
	b.click(tapOf("rub-hands"))
	b.saved(1)
	require.Equal(t, []string{"rub hands"}, c.recorded(id))
}

// A new version of the worker takes the place of the old one in the middle of a recording.
func TestTheWorkerIsReplacedInTheMiddle(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.ready()
	b.click(tapOf("rub-hands"))
	b.saved(1)
	version := eval[string](b, `caches.keys().then((k) => k.join())`)
	eval[bool](b, `caches.open("stillwet-older").then((c) => c.put("/recorder", new Response("an older page"))).then(() => true)`)
	eval[bool](b, `navigator.serviceWorker.getRegistration().then((r) => r.unregister())`)
	b.reload(id) // it is installed anew, as a new version is
	b.ready()
	b.until(`(caches.keys().then((k) => { window.kept = k.join(); }), window.kept === "`+version+`")`, "the older is still there")
	c.away()
	b.reload(id)
	b.counts(2, 2, 0)
	b.click(tapOf("gloves-on"))
	b.counts(3, 2, 1)
	c.back()
	b.saved(2)
	require.Equal(t, []string{"rub hands", "put on gloves"}, c.recorded(id))
}
