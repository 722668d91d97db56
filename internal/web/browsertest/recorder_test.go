package browsertest

import (
	"crypto/rand"
	"fmt"
	"net"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/simulate"
)

// recording opens a recorder on a screen.
func (c *clinic) recording(s size) (*tab, string) {
	d, err := c.StartDemonstration(c.T.Context(), c.In("pia"), rand.Text(), c.In("tess").Person.ID, turnover, "station-wipe")
	require.NoError(c.T, err)
	b := c.signedIn("pia", s)
	b.open("/demonstrations/" + d.ID + "/record")
	b.watchFrom("connected")
	b.saved(0)
	return b, d.ID
}

// watchFrom answers what is asked first.
func (b *tab) watchFrom(stage string) {
	b.t.Helper()
	b.click(fmt.Sprintf("[data-from=%s]", stage))
}

// saved waits until so many taps are saved besides the one that says where watching
// began.
func (b *tab) saved(taps int) {
	b.t.Helper()
	b.until(fmt.Sprintf(`document.getElementById("sent").textContent === "%[1]d saved, %[1]d sent, 0 waiting"`, taps+1), fmt.Sprintf("%d taps are not saved", taps))
}

// recorded are the texts of a demonstration after the one that says where watching
// began.
func (c *clinic) recorded(id string) (texts []string) {
	_, lines, err := c.Observations(c.T.Context(), c.In("pia"), id)
	require.NoError(c.T, err)
	require.Equal(c.T, "watching from connected", lines[0].Text)
	for _, l := range lines[1:] {
		texts = append(texts, l.Text)
	}
	return texts
}

// layout is what a finger meets on the recorder.
type layout struct {
	Scrolls                     bool
	Hidden, Clipped             []string
	Tops                        []float64
	MinHeight, MinWidth, MinGap float64
	StatusHeight                float64
}

const probe = `(() => {
	const columns = document.getElementById("taps");
	const taps = [...columns.querySelectorAll(".tap")];
	const boxes = taps.map((b) => b.getBoundingClientRect());
	const name = (b) => b.dataset.step;
	let gap = 1e9;
	boxes.forEach((a, i) => boxes.slice(i + 1).forEach((b) => {
		const dx = Math.max(b.left - a.right, a.left - b.right), dy = Math.max(b.top - a.bottom, a.top - b.bottom);
		gap = Math.min(gap, Math.max(dx, dy));
	}));
	return {
		Scrolls: columns.scrollHeight > columns.clientHeight + 1 || document.documentElement.scrollHeight > innerHeight + 1,
		Hidden: taps.filter((b, i) => !b.contains(document.elementFromPoint(boxes[i].x + boxes[i].width / 2, boxes[i].y + boxes[i].height / 2))).map(name),
		Clipped: taps.filter((b) => b.scrollHeight > b.clientHeight + 1 || b.scrollWidth > b.clientWidth + 1).map(name),
		Tops: boxes.map((r) => r.top + columns.scrollTop), MinGap: gap,
		MinHeight: Math.min(...boxes.map((r) => r.height)), MinWidth: Math.min(...boxes.map((r) => r.width)),
		StatusHeight: document.querySelector(".bar").getBoundingClientRect().height,
	};
})()`

func TestRecorderFitsATablet(t *testing.T) {
	for _, s := range []size{tablet, {1180, 820, true}, desktop, {1366, 768, false}} {
		t.Run(fmt.Sprintf("%dx%d", s.width, s.height), func(t *testing.T) {
			c := living(t)
			b, _ := c.recording(s)
			before := eval[layout](b, probe)
			require.False(t, before.Scrolls, "everything is on one screen")
			require.Empty(t, before.Hidden)
			require.Empty(t, before.Clipped)
			require.GreaterOrEqual(t, before.MinHeight, 64.0)
			require.GreaterOrEqual(t, before.MinWidth, 140.0)
			require.GreaterOrEqual(t, before.MinGap, 4.0)
			require.Equal(t, 52.0, before.StatusHeight)
			for _, step := range []string{"fresh-wipe", "wipe-controls", "wipe-latches"} {
				b.click(`.tap[data-step="` + step + `"]`)
			}
			b.saved(3)
			after := eval[layout](b, probe)
			require.Equal(t, before.Tops, after.Tops, "a button must never move")
			require.Empty(t, after.Clipped)
		})
	}
}

func TestRecorderWetTimers(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	state := `.tap[data-step="wipe-controls"] .state`
	require.Equal(t, "Tap when wiped", b.text(state))
	b.click(`.tap[data-step="fresh-wipe"]`)
	b.click(`.tap[data-step="wipe-controls"]`)
	b.until(`/^Wet 0:0\d of 2:00$/.test(document.querySelector('`+state+`').textContent)`, "no wet timer")
	c.Pass(2 * time.Minute)
	b.open("/demonstrations/" + id + "/record")
	require.Regexp(t, `^Wet 2:0\d of 2:00$`, b.text(state), "a tap may be off by two seconds: it is asked that much later")
	c.Pass(2 * time.Second)
	b.open("/demonstrations/" + id + "/record")
	require.Equal(t, "2:00 – still wet?", b.text(state), "the timer goes on through a reload")
	b.click(`.tap[data-step="wipe-controls"]`)
	require.Contains(t, b.text("#again-title"), "What do you see?")
	b.click(`[data-answer=still]`)
	b.saved(5)
	require.Regexp(t, `^Seen wet at 2:0\d$`, b.text(state))
	b.click(`.tap[data-step="wipe-top"]`)
	time.Sleep(600 * time.Millisecond) // a second tap sooner would be taken for a bounce
	b.click(`.tap[data-step="wipe-top"]`)
	b.click(`[data-answer=dry]`)
	b.until(`document.querySelector('.tap[data-step="wipe-top"]').dataset.state === "early"`, "dried before its time")
	b.sent()
	texts := c.recorded(id)
	require.Contains(t, texts, "still wet screen")
	require.Contains(t, texts, "still wet buttons")
	require.Contains(t, texts, "still wet keyboard")
	require.Contains(t, texts, "dry top")
}

func TestRecorderTakesABounceForOneTap(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	pressed := func(button string, pause int) {
		eval[bool](b, fmt.Sprintf(`new Promise((done) => { const b = document.querySelector(%q); b.click(); setTimeout(() => { b.click(); done(true); }, %d); })`, button, pause))
	}
	press := func(pause int) { pressed(tapOf("gloves-on"), pause) }
	press(100)
	require.Contains(t, b.text("#last"), "ignored")
	b.saved(1)
	time.Sleep(600 * time.Millisecond)
	press(600)
	b.saved(3)
	require.Len(t, c.recorded(id), 3)

	// So do the buttons below: one prompt, one act taken back, one pause.
	for _, button := range []string{"#prompt", "#undo", "#pause"} {
		pressed(button, 100)
		require.Contains(t, b.text("#last"), "ignored", button)
	}
	b.until(`document.getElementById("sent").dataset.waiting === "no"`, "not sent")
	require.Equal(t, []string{"prompted", "undone 5", "pause"}, c.recorded(id)[3:])
}

func TestRecorderUndoStaysInTheLog(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.click(`.tap[data-step="rub-hands"]`)
	b.click(`.tap[data-step="lines-off"]`)
	b.click("#undo")
	b.saved(3)
	b.open("/demonstrations/" + id + "/record")
	require.Contains(t, b.text("#last"), "Rub hands")
	b.click("#end")
	require.Contains(t, strings.Join(b.texts("#log s"), " "), "Take off lines and dialyzer (taken back)")
	require.Equal(t, []string{"rub hands", "take off lines", "take off dialyzer", "undone 3", "undone 4"}, c.recorded(id), "an entry takes each act back")
}

// TestRecorderSurvivesAnOutage stops the server itself: a switch in the browser
// would not show what a clinic's network does.
func TestRecorderSurvivesAnOutage(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	address := strings.TrimPrefix(c.base, "http://")
	c.stop()
	b.click(`.tap[data-step="rub-hands"]`)
	b.click(`.tap[data-step="gloves-on"]`)
	b.until(`document.getElementById("sent").textContent.includes("2 waiting")`, "taps that are not sent must be counted")
	b.until(`document.getElementById("trouble").textContent.includes("No answer")`, "it must be told that nothing answers")
	require.Contains(t, b.text("#last"), "Put on fresh gloves", "and what was tapped last")
	require.Equal(t, []string{"rub-hands", "gloves-on"}, b.keptSteps(), "kept in the browser")
	b.click("#end")
	require.Contains(t, b.text("#waiting"), "not sent yet")
	b.click("#finish [data-close]")
	listener, err := net.Listen("tcp", address)
	require.NoError(t, err)
	c.restart(listener)
	b.saved(2)
	require.Len(t, c.recorded(id), 2, "each once")
}

// keptSteps are the steps of what waits in the browser's database.
func (b *tab) keptSteps() []string {
	b.t.Helper()
	return eval[[]string](b, `new Promise((done, fail) => { const open = indexedDB.open("stillwet"); open.onerror = fail;
		open.onsuccess = () => { const all = open.result.transaction("acts").objectStore("acts").getAll();
			all.onsuccess = () => { open.result.close(); done(all.result.filter((a) => a.state === "waiting").map((a) => a.step ?? a.text)); }; }; })`)
}

func (b *tab) disabled(selector string) bool {
	b.t.Helper()
	return eval[bool](b, fmt.Sprintf(`document.querySelector(%q).disabled`, selector))
}

// untilReady taps the clocked model up to the moment before the station is
// declared ready. Of the staging surface and the bucket, which are used before,
// it is noted what was seen; of the rest nothing.
func (c *clinic) untilReady(id string) {
	p := c.Procedure
	var lines []seen
	taps, _ := c.Taps("against-the-clock")
	for _, s := range taps {
		if s.Step != "declare-ready" {
			lines = append(lines, seen{at: s.At + simulate.Busy(p, &p.Steps[p.StepIndex(s.Step)]), step: s.Step})
		}
	}
	for _, s := range c.goodTurnover() {
		if s.text == "still wet staging" || strings.HasPrefix(s.text, "still wet bucket-") || strings.HasPrefix(s.text, "dry bucket-") {
			lines = append(lines, s)
		}
	}
	slices.SortStableFunc(lines, func(a, b seen) int { return int(a.at - b.at) })
	c.observe(id, lines)
}

func TestRecorderAsksForAllThatReachedTheirTime(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	require.True(t, b.disabled("#wet"), "nothing was wiped yet")
	c.untilReady(id)
	b.open("/demonstrations/" + id + "/record")
	require.Equal(t, "Still wet: 13", b.text("#wet"))
	before := eval[layout](b, probe)
	require.Empty(t, before.Clipped)

	b.click("#end")
	require.Contains(t, b.text("#unanswered"), "Nobody has noted whether these stayed wet for their time:")
	require.Contains(t, b.text("#unanswered"), "Machine top")
	require.NotContains(t, b.text("#unanswered"), "bucket", "it was answered")
	require.False(t, eval[bool](b, `document.getElementById("undeclared").hidden`), "nobody declared the station ready")
	b.click("#finish [data-close]")

	b.click("#wet")
	require.Len(t, b.texts("#looking-list li"), 13)
	b.click("#looking [data-close]")
	b.click(tapOf("declare-ready"))
	require.Contains(t, b.text("#looking-why"), "Declare the station ready", "afterwards it is too late")
	b.click("#looking [data-close]")
	require.Equal(t, "Still wet: 13", b.text("#wet"), "going back answers nothing")
	b.click("#wet")
	b.click("#looking-all")
	b.until(`document.getElementById("wet").textContent === "Still wet: 0" && document.getElementById("sent").dataset.waiting === "no"`, "not answered")
	require.True(t, b.disabled("#wet"))
	require.Equal(t, before.Tops, eval[layout](b, probe).Tops, "a button must never move")
	time.Sleep(600 * time.Millisecond) // the tap that was asked about must not count as a bounce
	b.click(tapOf("declare-ready"))
	b.until(`document.getElementById("last").textContent.includes("Declare the station ready") && document.getElementById("sent").dataset.waiting === "no"`, "not noted")

	b.click("#end")
	require.True(t, eval[bool](b, `document.getElementById("unanswered").hidden && document.getElementById("undeclared").hidden`))
	b.click("#finish-yes")
	b.until(`document.getElementById("signing") !== null`, "no review")
	require.Contains(t, b.text("h1"), "Passed")
	require.NotContains(t, b.text("main"), "Nobody noted whether this was still wet")
}

func TestRecorderSaysWhenLookingCameTooLate(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.click(tapOf("fresh-wipe"))
	b.click(tapOf("wipe-top"))
	b.saved(2)
	c.Pass(2*time.Minute + 2*time.Second)
	b.open("/demonstrations/" + id + "/record")
	b.click(tapOf("declare-ready"))
	b.click("#looking-skip")
	b.saved(3)
	b.click("#wet")
	b.click("#looking-all")
	b.saved(4)
	b.click("#end")
	require.Contains(t, b.text("#unanswered"), "Machine top", "an answer after the declaring is too late")
}

func TestRecorderPausedStays(t *testing.T) {
	c := staffed(t)
	b, _ := c.recording(phone)
	before := eval[layout](b, probe)
	b.click("#pause")
	b.click("#prompt")
	b.saved(2)
	require.Equal(t, "Paused.", eval[string](b, `document.getElementById("halt").innerText`))
	after := eval[layout](b, probe)
	require.Equal(t, before.StatusHeight, after.StatusHeight)
	require.Equal(t, before.Tops, after.Tops)
	b.click("#pause")
	b.until(`document.getElementById("halt").hidden`, "going on")
}

// The line that counts what is sent must not push the buttons about.
func TestRecorderButtonsStayOnAPhoneWhenTapsWait(t *testing.T) {
	c := staffed(t)
	c.Demo = true // its words take room in the same line
	b, _ := c.recording(phone)
	b.click(tapOf("rub-hands"))
	b.saved(1)
	before := eval[layout](b, probe).Tops
	address := strings.TrimPrefix(c.base, "http://")
	c.stop()
	b.click(tapOf("gloves-on"))
	b.until(`document.getElementById("sent").textContent.includes("1 waiting")`, "not counted")
	b.until(`document.getElementById("trouble").textContent.includes("No answer")`, "not told")
	require.Equal(t, before, eval[layout](b, probe).Tops)
	require.True(t, eval[bool](b, `(() => { const s = document.getElementById("sent"); return s.scrollWidth <= s.clientWidth && s.scrollHeight <= s.clientHeight; })()`), "the count is cut off")
	listener, err := net.Listen("tcp", address)
	require.NoError(t, err)
	c.restart(listener)
	b.saved(2)
	require.Equal(t, before, eval[layout](b, probe).Tops)
}

// losing lets the first answer of an address get lost on its way.
const losing = `(() => { const real = window.fetch; let lost = false;
	window.fetch = async (...args) => { const answer = await real(...args);
		if (!lost && String(args[0]).endsWith(%q)) { lost = true; throw new TypeError("lost"); } return answer; }; return true; })()`

// What was finished and not heard of is finished once, and led to.
func TestFinishingAgainAfterALostAnswer(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.click(tapOf("rub-hands"))
	b.saved(1)
	eval[bool](b, fmt.Sprintf(losing, "/end"))
	b.click("#end")
	b.click("#finish-yes")
	b.until(`document.getElementById("warning").textContent.includes("does not answer")`, "the loss is not told")
	b.click("#finish-yes")
	b.until(`location.pathname === "/demonstrations/`+id+`"`, "not led to what was finished")

	run := c.running(tablet)
	run.click(tapOf("gloves-on"))
	run.free()
	eval[bool](run, fmt.Sprintf(losing, "/finish"))
	run.click("#finish")
	run.click("#ask-yes")
	run.until(`document.getElementById("said").textContent.includes("does not answer")`, "the loss is not told")
	run.click("#finish")
	run.follow("#ask-yes", "/attempts/")
}
