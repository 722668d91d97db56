package browsertest

import (
	"crypto/rand"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// plainHost is a name of this machine that a browser does not take for one: what it gets
// from there over plain http it trusts as little as anything from afar.
const plainHost = "clinic.test"

// plainly is a tab of a preceptor who came over plain http.
func (c *clinic) plainly(s size) *tab {
	b := c.tab(s)
	b.base = strings.Replace(c.base, "127.0.0.1", plainHost, 1)
	b.signIn("pia")
	return b
}

// Without HTTPS a browser keeps no page and has no locks. The recorder records all the same,
// keeps its acts, and says what it cannot do, before anything is recorded and when it matters.
func TestRecordingOverPlainHTTP(t *testing.T) {
	c := staffed(t)
	d, err := c.StartDemonstration(t.Context(), c.In("pia"), rand.Text(), c.In("tess").Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	b := c.plainly(tablet)
	b.open("/watch")
	b.click("#ready")
	b.until(`document.getElementById("ready-said").textContent.startsWith("Fetched, but this address is not served over HTTPS")`, "it is not said what cannot be made ready")
	b.reload(d.ID)
	require.False(t, eval[bool](b, `window.isSecureContext`))
	require.Equal(t, "undefined undefined undefined", eval[string](b, `[typeof crypto.randomUUID, typeof navigator.serviceWorker, typeof navigator.locks].join(" ")`))
	require.Contains(t, b.text("#begin"), "do not reload or close it")
	require.True(t, eval[bool](b, `document.getElementById("plain").checkVisibility()`))
	b.watchFrom("connected")
	b.saved(0)
	b.click(tapOf("rub-hands"))
	b.saved(1)

	// The server goes away: acts are kept, and the page says that it is not.
	c.away()
	b.click(tapOf("gloves-on"))
	b.counts(3, 2, 1)
	b.until(`document.getElementById("trouble").textContent.includes("do not reload or close this page.")`, "not said")
	for _, s := range []size{tablet, phone} {
		b.resize(s)
		require.True(t, eval[bool](b, `(() => { const s = document.getElementById("trouble"); return [s, s.parentElement].every((e) => e.scrollWidth <= e.clientWidth); })()`), "cut off at %d", s.width)
	}
	b.resize(tablet)
	require.Equal(t, []string{"gloves-on"}, b.keptSteps())
	// Somebody reloads it all the same: there is no page, and nothing is lost.
	require.Error(t, b.tries("/demonstrations/"+d.ID+"/record"))
	c.back()
	b.reload(d.ID)
	b.counts(3, 3, 0)
	b.click(tapOf("fresh-wipe"))
	b.counts(4, 4, 0)
	require.Equal(t, []string{"rub hands", "put on gloves", "take wipe w1 of station-wipe"}, c.recorded(d.ID), "each once, in its order")

	keys := map[string]bool{}
	r, err := c.Recorded(t.Context(), c.In("pia"), d.ID)
	require.NoError(t, err)
	for _, a := range r.Acts {
		require.Regexp(t, "^[0-9a-f]{32}$", a.Key)
		keys[a.Key] = true
	}
	require.Len(t, keys, 4)

	// Of two tabs one records, without locks.
	o := b.other(c, tablet)
	o.base = b.base
	o.reload(d.ID)
	o.until(`document.getElementById("held").open`, "a second tab records too")
	o.click("#held-take")
	b.until(`document.getElementById("held").open`, "the first tab is not told")
}

// tries opens a page that may not come.
func (b *tab) tries(path string) error {
	return chromedp.Do(b.ctx, chromedp.Navigate(b.base+path))
}

// What was not sent is there after the browser's page is gone for long.
func TestPlainActsWaitForTheirPage(t *testing.T) {
	c := staffed(t)
	d, err := c.StartDemonstration(t.Context(), c.In("pia"), rand.Text(), c.In("tess").Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	b := c.plainly(tablet)
	b.reload(d.ID)
	b.watchFrom("connected")
	b.saved(0)
	c.away()
	b.click(tapOf("rub-hands"))
	b.counts(2, 1, 1)
	require.Error(t, b.tries("/watch"))
	c.back()
	c.Pass(26 * time.Hour)
	b.signIn("pia")
	b.open("/watch") // any page of those who record sends what waits
	require.Eventually(t, func() bool { return len(b.keptSteps()) == 0 }, stepTime, 50*time.Millisecond, "not sent")
	require.Equal(t, []string{"rub hands"}, c.recorded(d.ID))
}
