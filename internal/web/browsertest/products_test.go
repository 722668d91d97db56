package browsertest

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// severalInUse lets the pack of a recording say that two products are in use.
const severalInUse = `const asked = window.fetch; window.fetch = async (...args) => {
	const answer = await asked(...args);
	if (!String(args[0]).endsWith("/pack")) return answer;
	const pack = await answer.json();
	pack.data.in_use = ["station-wipe", "blood-wipe"];
	return new Response(JSON.stringify(pack), { status: answer.status, headers: answer.headers }); };`

// Of several products in use the tap that takes a wipe asks of which it is, by one answer; the wet
// time asked for is that of its label. Of one it asks nothing.
func TestRecorderAsksWhichProduct(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.click(tapOf("fresh-wipe"))
	b.saved(1)
	require.Empty(t, b.texts("#panel-cells .tap"), "one is in use")

	b.with(severalInUse)
	b.reload(id)
	b.click(tapOf("fresh-wipe"))
	require.Contains(t, b.text("#panel-title"), "of which product?")
	require.Equal(t, []string{"Station wipe, 2-minute label", "Blood-claim wipe, 3-minute label", "Cancel"}, b.texts("#panel-cells .tap"))
	on := eval[layout](b, probe)
	fitsFingers(t, on, "while it asks")
	b.answer("Blood-claim wipe, 3-minute label")
	b.saved(2)
	require.Empty(t, b.texts("#panel-cells .tap"))
	require.Contains(t, b.text("#last"), ": Blood-claim wipe, 3-minute label")
	b.click(tapOf("wipe-top"))
	b.until(`/^Wet 0:0\d of 3:00$/.test(document.querySelector('[data-steps="wipe-top"] .state').textContent)`, "the label of the wipe in hand counts")
	b.sent()
	c.later(b, id, time.Minute)
	require.Regexp(t, `^Wet 1:0\d of 3:00$`, b.state("wipe-top"), "also after a reload")
	b.click(tapOf("fresh-wipe"))
	b.answer("Cancel")
	require.Equal(t, []string{"take wipe w1 of station-wipe", "take wipe w2 of blood-wipe", "wipe top"}, c.recorded(id), "what was cancelled is not noted")
}
