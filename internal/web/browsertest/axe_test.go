package browsertest

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/stretchr/testify/require"
)

// axe is the accessibility checker, at the version of package-lock.json.
func axe(t *testing.T) string {
	script, err := os.ReadFile("node_modules/axe-core/axe.min.js")
	require.NoError(t, err, "run \"make axe\" first: it fetches the checker with npm ci")
	return string(script)
}

// violation is one rule that a page breaks.
type violation struct {
	ID    string
	Help  string
	Nodes []string
}

const runAxe = `axe.run(document, {runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}})
	.then((r) => r.violations.map((v) => ({ID: v.id, Help: v.help, Nodes: v.nodes.map((n) => n.html.slice(0, 140) + " " + (n.any[0]?.message ?? ""))})))`

// accessible asks the checker, with everything that can be opened open.
func (b *tab) accessible(checker string, p page) {
	b.t.Helper()
	eval[bool](b, `(document.querySelectorAll("details").forEach((d) => { d.open = true; }), true)`)
	eval[bool](b, checker+"; true")
	var all []string
	for _, v := range eval[[]violation](b, runAxe) {
		all = append(all, fmt.Sprintf("%s (%s):\n  %s", v.ID, v.Help, strings.Join(v.Nodes, "\n  ")))
	}
	require.Empty(b.t, all, "%s", p.name)
}

// What opens over the boards is asked the same, in both colour schemes.
func TestBoxesOverTheBoardsAreAccessible(t *testing.T) {
	checker := axe(t)
	for _, scheme := range []string{"light", "dark"} {
		t.Run(scheme, func(t *testing.T) {
			c := living(t)
			b, _ := c.recording(tablet)
			run := c.running(tablet)
			for _, x := range []*tab{b, run} {
				x.media(&emulation.MediaFeature{Name: "prefers-color-scheme", Value: scheme}, &emulation.MediaFeature{Name: "prefers-reduced-motion", Value: "reduce"})
			}
			b.click(tapOf("rub-hands"))
			b.accessible(checker, page{name: "recorder while it times"})
			for button, leave := range map[string]string{"#open-more": "[data-back]", "#help": "#panel-cells .plain", "#unseen": "#panel-cells .plain", "#end": "dialog[open] [data-close]"} {
				b.click(button)
				b.accessible(checker, page{name: "recorder, " + button})
				large(b, page{name: "recorder, " + button})
				b.click(leave)
			}
			run.click("#open-more")
			run.accessible(checker, page{name: "run, more"})
			large(run, page{name: "run, more"})
		})
	}
}

// TestForcedColoursKeepTheWords: where a system paints its own colours, every
// state must still be there as a word.
func TestForcedColoursKeepTheWords(t *testing.T) {
	c := staffed(t)
	b, _ := c.recording(tablet)
	b.media(&emulation.MediaFeature{Name: "forced-colors", Value: "active"})
	b.click(tapOf("fresh-wipe"))
	b.click(tapOf("wipe-top"))
	b.until(`document.querySelector('.tap[data-steps="wipe-top"] .state').textContent.startsWith("Wet ")`, "the state is not a word")
	require.True(t, eval[bool](b, `matchMedia("(forced-colors: active)").matches`))
	require.Greater(t, eval[float64](b, `parseFloat(getComputedStyle(document.querySelector('.tap[data-steps="wipe-top"]')).borderTopWidth)`), 0.0)
}
