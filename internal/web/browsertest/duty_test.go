package browsertest

import (
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// An educator approves a longer label time and confirms what follows; a new hire sees it on
// her first page, reads it and signs, and the educator sees that it is done.
func TestALongerLabelTimeReachesTheNewHire(t *testing.T) {
	c := withSet(t)
	edda := c.signedIn("edda", desktop)
	edda.open("/set/edit?list=products&row=station-wipe")
	edda.set(`[name="f-label_s"]`, "130")
	edda.click(`form[action="/set/edit"] .btn.big`)
	edda.until(`location.pathname === "/set/edit" && !location.search.includes("row=")`, "the label is not kept")
	edda.open("/set")
	edda.fill("#why", "The label was read again.")
	edda.follow(`form[action="/set/propose"] button`, "/set/versions/2")
	edda.click(`[name="approval"][value="here"]`)
	edda.fill("#password", password)
	edda.click(`form[action$="/approve"] button`)
	edda.until(`document.getElementById("follow") !== null`, "it is not asked what follows")

	checker := axe(t)
	edda.isWell(checker, "what follows is asked")
	edda.open("/people")
	edda.isWell(checker, "the desk")
	require.Contains(t, edda.text("[aria-labelledby=desk]"), "Version 2 of the procedure was approved. Say what follows from it")
	edda.follow("[aria-labelledby=desk] a", "/set/versions/2")
	require.True(t, eval[bool](edda, `document.querySelector("[name='ask trainee module orientation-2']").checked`), "what practises wet time is proposed")
	require.False(t, eval[bool](edda, `document.querySelector("[name='ask trainee module orientation-1']").checked`))
	for _, more := range []string{"module orientation-1", "demonstration " + turnover} { // more than is proposed
		require.True(t, eval[bool](edda, `document.querySelector("[name='ask trainee `+more+`']").checked = true`))
	}
	edda.click("#follow form .btn.big")
	edda.until(`document.querySelector("[aria-labelledby=done]") !== null`, "what was confirmed is not shown")
	require.Contains(t, edda.text("[aria-labelledby=done]"), "0 done, 7 still to do.")

	edda.isWell(checker, "what was confirmed")
	tess := c.signedIn("tess", phone)
	tess.isWell(checker, "the first page, with duties")
	require.Contains(t, tess.text("[aria-labelledby=duties]"), "The label was read again.")
	tess.follow(`[aria-labelledby=duties] a[href^="/duties/"]`, "/duties/")
	require.Contains(t, tess.text("[aria-labelledby=changed]"), "contact time: 2:10, was 2:00")
	tess.isWell(checker, "what changed, to be signed")
	tess.fill("#password", password)
	tess.click(`form[action$="/read"] button`)
	tess.until(`document.querySelector("[aria-labelledby=signed]") !== null`, "it is not signed")
	require.Contains(t, tess.text("[aria-labelledby=signed]"), training.ReadWords)
	tess.isWell(checker, "signed")
	tess.open("/practice")
	require.Len(t, tess.texts(`[aria-labelledby=duties] tbody tr`), 3, "two modules and a demonstration are left")
	require.NotContains(t, tess.text("[aria-labelledby=duties]"), "Read what changed")

	edda.open("/set/versions/2")
	require.Contains(t, edda.text("[aria-labelledby=done]"), "1 done, 6 still to do.")
	report, err := c.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}

// An approval that is refused stays as it was typed, with the reason in its panel and in
// sight, on a phone too; the panel comes before what the version changes.
func TestARefusedApprovalIsMendedWhereItStands(t *testing.T) {
	c := withSet(t)
	edda := c.signedIn("edda", desktop)
	edda.open("/set/edit?list=surfaces&row=screen")
	edda.set(`[name="f-title"]`, "Display")
	edda.click(`form[action="/set/edit"] .btn.big`)
	edda.until(`location.pathname === "/set/edit" && !location.search.includes("row=")`, "the name is not kept")
	edda.open("/set")
	edda.fill("#why", "We call it so.")
	edda.follow(`form[action="/set/propose"] button`, "/set/versions/2")
	edda.resize(phone)
	require.True(t, eval[bool](edda, `document.getElementById("approve").getBoundingClientRect().top < document.getElementById("changes").getBoundingClientRect().top`))
	edda.click(`[name="approval"][value="paper"]`)
	for field, text := range map[string]string{"#approver": "Marek Invented", "#approver-role": "medical director", "#paper": "Binder 3", "#password": "a wrong one"} {
		edda.fill(field, text)
	}
	edda.set("#approved-on", "2026-03-01")
	edda.click(`form[action$="/approve"] button`)
	edda.until(`document.querySelector("#approve [role=alert]") !== null`, "the panel does not say why")
	edda.until(`document.activeElement.matches("#approve [role=alert]")`, "the reason has not the focus")
	require.True(t, eval[bool](edda, `(() => { const r = document.activeElement.getBoundingClientRect(); return r.top >= 0 && r.bottom <= innerHeight; })()`), "the reason is in sight")
	for field, text := range map[string]string{"#approver": "Marek Invented", "#approver-role": "medical director", "#paper": "Binder 3", "#approved-on": "2026-03-01", "#password": ""} {
		require.Equal(t, text, eval[string](edda, `document.querySelector("`+field+`").value`), field)
	}
	edda.isWell(axe(t), "a refused approval")
	edda.fill("#password", password)
	edda.click(`form[action$="/approve"] button`)
	edda.until(`document.getElementById("follow") !== null`, "it is not approved")
}

// isWell looks at a page as it is, and at every width: nothing scrolls sideways, everything
// has its size, its contrast and its name.
func (b *tab) isWell(checker, name string) {
	p := page{name: name}
	sound(b, p)
	was := size{b.wide, 800, false}
	for _, s := range []size{desktop, tablet, phone} {
		b.resize(s)
		fits(b, p)
		large(b, p)
	}
	b.resize(was)
	for _, scheme := range []string{"light", "dark"} {
		b.media(&emulation.MediaFeature{Name: "prefers-color-scheme", Value: scheme}, &emulation.MediaFeature{Name: "prefers-reduced-motion", Value: "reduce"})
		b.accessible(checker, p)
	}
}
