package browsertest

import (
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// On paper a page has whose and when on every sheet, what is folded open, and nothing to
// press.
func TestPaperHasEverythingAndNothingToPress(t *testing.T) {
	c := living(t)
	record := "/people/" + c.In("tess").Person.ID
	result := "/attempts/" + c.quickBuild(c.In("tess"), "ordinary-turnover", []string{"gloves-on", "fresh-wipe", "wipe-top"})
	b := c.signedIn("edda", desktop)
	for path, whose := range map[string]string{record: "Tess Invented", result: "An ordinary turnover", "/people": "People"} {
		b.open(path)
		b.print()
		require.Empty(t, eval[[]string](b, `[...document.querySelectorAll("button, input, select, textarea, .btn, nav, .head")].filter((e) => e.checkVisibility()).map((e) => e.textContent.trim() || e.name)`), path)
		head := eval[string](b, `getComputedStyle(document.querySelector(".sheet-head")).display + " " + document.querySelector(".sheet-head").innerText`)
		require.Contains(t, head, "table-header-group", "so that it stands on every sheet")
		for _, words := range []string{whose, "Invented Clinic of Lakeside", "printed 2 Mar 2026 by"} {
			require.Contains(t, head, words, path)
		}
		require.Empty(t, eval[[]string](b, `[...document.querySelectorAll("details")].filter((d) => d.checkVisibility() && ![...d.querySelectorAll(":scope > :not(summary)")].some((e) => e.getBoundingClientRect().height > 0)).map((d) => d.textContent.trim().slice(0, 40))`), "%s: still folded", path)
	}
}

func (b *tab) print() {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
	require.NoError(b.t, err)
}
