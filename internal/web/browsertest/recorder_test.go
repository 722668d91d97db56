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
	"stillwet/scenarios"
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

// layout is what a finger meets on a board.
type layout struct {
	Scrolls                             bool
	Hidden, Clipped                     []string
	Tops                                []float64
	MinHeight, MinWidth, MinGap, Letter float64
	StatusHeight                        float64
}

const probe = `(() => {
	const board = document.getElementById("board");
	const taps = [...board.querySelectorAll(".tap, .board-foot .btn")].filter((b) => b.checkVisibility({ visibilityProperty: true }));
	const boxes = taps.map((b) => b.getBoundingClientRect());
	const name = (b) => b.dataset.step || b.dataset.steps || b.id || b.textContent.trim();
	let gap = 1e9;
	boxes.forEach((a, i) => boxes.slice(i + 1).forEach((b) => {
		const dx = Math.max(b.left - a.right, a.left - b.right), dy = Math.max(b.top - a.bottom, a.top - b.bottom);
		gap = Math.min(gap, Math.max(dx, dy));
	}));
	const fixed = taps.map((b, i) => [b, boxes[i]]).filter(([b]) => !b.closest(".board-panel"));
	return {
		Scrolls: board.scrollHeight > board.clientHeight + 1 || document.documentElement.scrollHeight > innerHeight + 1 || document.documentElement.scrollWidth > innerWidth,
		Hidden: taps.filter((b, i) => !b.contains(document.elementFromPoint(boxes[i].x + boxes[i].width / 2, boxes[i].y + boxes[i].height / 2))).map(name),
		Clipped: [...taps, ...board.querySelectorAll(".board-now")].filter((b) => b.scrollHeight > b.clientHeight + 1 || b.scrollWidth > b.clientWidth + 1).map(name),
		Tops: fixed.map(([, r]) => r.top + board.scrollTop), MinGap: gap,
		MinHeight: Math.min(...boxes.map((r) => r.height)), MinWidth: Math.min(...boxes.map((r) => r.width)),
		Letter: Math.min(...taps.flatMap((b) => [b, ...b.querySelectorAll("span")]).map((e) => parseFloat(getComputedStyle(e).fontSize))),
		StatusHeight: document.querySelector(".bar").getBoundingClientRect().height,
	};
})()`

// tablets are the screens that the board is for, each also less what bars of a browser take.
func tablets() (all []size) {
	for _, s := range []size{tablet, {1080, 810, true}, {1280, 800, true}, {810, 1080, true}} {
		all = append(all, s, size{s.width, s.height - 100, true})
	}
	return all
}

// part shows a part of the board, where there is room for one at a time.
func (b *tab) part(name string) {
	b.t.Helper()
	if b.shown(".board-parts") {
		b.click(fmt.Sprintf(".board-parts [data-area=%s]", name))
	}
}

func (b *tab) shown(selector string) bool {
	b.t.Helper()
	return eval[bool](b, fmt.Sprintf(`document.querySelector(%q)?.checkVisibility() ?? false`, selector))
}

// answer presses what is asked on the panel.
func (b *tab) answer(words string) {
	b.t.Helper()
	b.until(fmt.Sprintf(`[...document.querySelectorAll("#panel-cells .tap")].some((e) => e.textContent === %q)`, words), words+" is not asked")
	eval[bool](b, fmt.Sprintf(`([...document.querySelectorAll("#panel-cells .tap")].find((e) => e.textContent === %q).click(), true)`, words))
}

// deck is a board with what wets a face of several parts on it.
type deck struct {
	*tab
	wet func()
}

// decks are the boards: whoever watches and whoever runs against the clock have the same one.
func (c *clinic) decks(s size) map[string]deck {
	watch, id := c.recording(s)
	run := c.running(s)
	return map[string]deck{
		"recorder": {watch, func() {
			watch.click(tapOf("fresh-wipe"))
			watch.group("wipe-front")
			watch.click(tapOf("wipe-front"))
			watch.sent()
			watch.reload(id)
		}},
		"run": {run, func() {
			run.click(tapOf("fresh-wipe"))
			run.free()
			run.group("wipe-front")
			run.click(tapOf("wipe-front"))
			fits := eval[layout](run, probe) // while the hands are busy
			require.Empty(run.t, fits.Clipped)
			run.until(`document.querySelector("#panel-cells .tap") !== null`, "what is to come is not shown")
			run.open("/practice/against-the-clock") // what was to come is left
			run.free()
		}},
	}
}

// The smallest that a tablet shows: targets 96 pixels, 12 between them, letters of 16.
// Nothing moves, also while something is asked.
func TestTheBoardFitsATablet(t *testing.T) { fitsTablets(t, living(t)) }

// The list form is the same board, and is asked the same.
func TestTheListFitsATablet(t *testing.T) { fitsTablets(t, listing(t)) }

// listing is a clinic that works by the built-in library and has chosen the list form.
func listing(t testing.TB) *clinic {
	set, err := scenarios.BuiltIn().With(scenarios.Edit{Do: "set", List: "settings", Fields: map[string]string{"board": "list"}})
	require.NoError(t, err)
	lib, err := set.Load()
	require.NoError(t, err)
	return newClinicOver(t, lib).staff()
}

// group shows the group of a step, where only one can be seen.
func (b *tab) group(step string) {
	b.t.Helper()
	name := eval[string](b, fmt.Sprintf(`document.querySelector(%q).closest("[id^=list-]")?.id.slice("list-".length) ?? ""`, tapOf(step)))
	if name != "" {
		b.click(fmt.Sprintf("[data-list=%q]", name))
	}
}

func fitsTablets(t *testing.T, c *clinic) {
	for name, b := range c.decks(tablet) {
		for i, s := range tablets() {
			b.resize(s)
			at := fmt.Sprintf("%s %dx%d", name, s.width, s.height)
			for _, other := range []string{"check-stable", "bucket-off", "wipe-chair", "wipe-front"} {
				b.group(other)
				fitsFingers(t, eval[layout](b.tab, probe), at+" "+other)
			}
			before := eval[layout](b.tab, probe)
			fitsFingers(t, before, at)
			require.Equal(t, 44.0, before.StatusHeight)
			if i == 0 {
				b.wet()
				b.group("wipe-front")
			}
			pause()
			b.click(tapOf("wipe-front")) // asks about its parts
			b.until(`document.querySelectorAll("#panel-cells .tap").length >= 3`, "nothing is asked")
			after := eval[layout](b.tab, probe)
			require.Equal(t, before.Tops, after.Tops, "a button must never move")
			fitsFingers(t, after, at)
			pause()
			b.click("#open-more")
			more := eval[layout](b.tab, probe)
			fitsFingers(t, more, at)
			b.click("[data-back]")
		}
	}
}

func fitsFingers(t *testing.T, on layout, at string) {
	t.Helper()
	require.False(t, on.Scrolls, "%s: everything is on one screen", at)
	require.Empty(t, on.Hidden, at)
	require.Empty(t, on.Clipped, at)
	require.GreaterOrEqual(t, on.MinHeight, 96.0, at)
	require.GreaterOrEqual(t, on.MinWidth, 96.0, at)
	require.GreaterOrEqual(t, on.MinGap, 12.0, at)
	require.GreaterOrEqual(t, on.Letter, 16.0, at)
}

// A phone shows one part at a time.
func TestTheBoardFitsAPhone(t *testing.T) { fitsPhones(t, living(t), "hands", "rest", "station") }

func TestTheListFitsAPhone(t *testing.T) { fitsPhones(t, listing(t), "hands", "station") }

func fitsPhones(t *testing.T, c *clinic, parts ...string) {
	for name, b := range c.decks(phone) {
		b.wet()
		for _, part := range parts {
			b.part(part)
			fitsPhone(t, eval[layout](b.tab, probe), name+", "+part)
		}
		for _, other := range []string{"check-stable", "bucket-off", "wipe-chair", "wipe-front"} {
			b.group(other)
			fitsPhone(t, eval[layout](b.tab, probe), name+", "+other)
		}
		pause()
		b.click(tapOf("wipe-front"))
		b.until(`document.querySelectorAll("#panel-cells .tap").length >= 3`, "nothing is asked")
		fitsPhone(t, eval[layout](b.tab, probe), name+", while it asks")
	}
}

func fitsPhone(t *testing.T, on layout, at string) {
	t.Helper()
	require.False(t, on.Scrolls, at)
	require.Empty(t, on.Hidden, at)
	require.Empty(t, on.Clipped, at)
	require.GreaterOrEqual(t, min(on.MinHeight, on.MinWidth), 48.0, at)
}

func TestRecorderWetTimers(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	state := tapOf("wipe-front") + " .state"
	require.Empty(t, b.text(state))
	b.click(tapOf("fresh-wipe"))
	b.click(tapOf("wipe-front")) // a face with its small parts is one tap
	b.sent()
	p := c.Procedure
	require.Equal(t, []string{p.NameOf("screen") + ", " + p.NameOf("buttons") + ", " + p.NameOf("keyboard"), p.NameOf("front"), p.NameOf("latches")}, b.texts("#panel-cells .tap"))
	b.until(fmt.Sprintf(`/^Wet 0:0\d of 2:00$/.test(document.querySelector(%q).textContent)`, state), "no wet timer")
	b.sent()
	c.Pass(2 * time.Minute)
	b.reload(id)
	require.Regexp(t, `^Wet 2:0\d of 2:00$`, b.text(state), "a tap may be off by two seconds: it is asked that much later")
	c.Pass(2 * time.Second)
	b.reload(id)
	require.Equal(t, "2:00 – still wet?", b.text(state), "the timer goes on through a reload")
	b.click(tapOf("wipe-front"))
	require.Contains(t, b.text("#panel-title"), "What do you see?")
	b.answer(p.NameOf("latches")) // is taken out
	b.answer("Still wet")
	b.saved(1 + 3 + 4)
	b.click(tapOf("wipe-top"))
	pause()
	b.click(tapOf("wipe-top"))
	b.answer("Looks dry")
	b.until(`document.querySelector('[data-steps="wipe-top"]').dataset.state === "early"`, "dried before its time")
	b.sent()
	texts := c.recorded(id)
	require.Equal(t, []string{"take wipe w1 of station-wipe", "wipe screen", "wipe buttons", "wipe keyboard", "wipe front", "wipe latches",
		"still wet screen", "still wet buttons", "still wet keyboard", "still wet front", "wipe top", "dry top"}, texts)
}

// What was not wiped of a face is taken out, and put back by another press.
func TestRecorderPartsOfAFace(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.click(tapOf("wipe-pole"))
	b.answer(c.Procedure.NameOf("cuff"))
	b.saved(4)
	require.Equal(t, []string{"wipe pole", "wipe cuff", "wipe attachments", "undone 3"}, c.recorded(id))
	require.Regexp(t, "^2 of 3: Wet ", b.text(tapOf("wipe-pole")+" .state"))
	b.answer(c.Procedure.NameOf("cuff"))
	b.saved(5)
	pause()
	b.click("#undo")
	b.sent()
	require.Equal(t, "undone 6", c.recorded(id)[5], "what was put back is taken back alone")
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

	// So do the buttons below: one act taken back, one pause.
	for _, button := range []string{"#undo", "#pause"} {
		pressed(button, 100)
		require.Contains(t, b.text("#last"), "ignored", button)
	}
	b.until(`document.getElementById("sent").dataset.waiting === "no"`, "not sent")
	require.Equal(t, []string{"undone 4", "pause"}, c.recorded(id)[3:])
}

func TestRecorderUndoStaysInTheLog(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.click(tapOf("rub-hands"))
	b.click(tapOf("lines-off"))
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
	b.click(tapOf("rub-hands"))
	b.click(tapOf("gloves-on"))
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

// Before the station is declared ready each face is asked about by itself: nobody swears to
// eleven surfaces at once.
func TestRecorderAsksForAllThatReachedTheirTime(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	c.untilReady(id)
	b.reload(id)
	open := `document.querySelectorAll(".board [data-state=ask], .board [data-state=open]").length`
	require.Equal(t, 8, eval[int](b, open), "faces")
	before := eval[layout](b, probe)
	require.Empty(t, before.Clipped)

	b.click("#end")
	require.Contains(t, b.text("#unanswered"), "Nobody has noted whether these stayed wet for their time:")
	require.Contains(t, b.text("#unanswered"), "Machine top")
	require.NotContains(t, b.text("#unanswered"), "bucket", "it was answered")
	require.False(t, eval[bool](b, `document.getElementById("undeclared").hidden`), "nobody declared the station ready")
	b.click("#finish [data-close]")

	b.click(tapOf("declare-ready"))
	require.Contains(t, b.text("#panel-title"), "Once “Declare the station ready” is noted it is too late to tell", "afterwards it is too late")
	b.answer("Go back")
	require.Equal(t, 8, eval[int](b, open), "going back answers nothing")
	pause()
	b.click(tapOf("declare-ready"))
	for range 8 {
		b.answer("Still wet")
	}
	b.until(`document.getElementById("last").textContent.includes("Declare the station ready") && document.getElementById("sent").dataset.waiting === "no"`, "not noted")
	require.Zero(t, eval[int](b, open))
	require.Equal(t, before.Tops, eval[layout](b, probe).Tops, "a button must never move")

	b.click("#end")
	require.True(t, eval[bool](b, `document.getElementById("unanswered").hidden && document.getElementById("undeclared").hidden`))
	b.click("#finish-yes")
	b.until(`document.getElementById("signing") !== null`, "no review")
	require.Contains(t, b.text("h1"), "Passed")
	require.NotContains(t, b.text("main"), "Nobody noted whether this was still wet")
}

// What nobody saw is not asked again, and stays open.
func TestRecorderSaysWhatNobodySaw(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.click(tapOf("fresh-wipe"))
	b.click(tapOf("wipe-top"))
	b.saved(2)
	c.Pass(2*time.Minute + 2*time.Second)
	b.reload(id)
	b.click(tapOf("declare-ready"))
	b.answer("Did not see")
	b.saved(3)
	b.click("#end")
	require.Contains(t, b.text("#unanswered"), "Machine top", "an answer after the declaring is too late")
}

// A prompt counts for the next act, and can be taken back until then; stepping in is said
// in one word. Either makes it practice.
func TestRecorderHelped(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	prompt := func() { b.click("#help"); b.answer("Prompt for the next act"); pause() }
	prompt()
	require.Contains(t, b.text("#help"), "goes with the next act")
	b.click("#help")
	require.Equal(t, "Prompt, stepped in…", b.text("#help"), "taken back")
	require.Equal(t, "Tap a surface when its wiping is finished.", b.text("#panel-title"), "nothing is asked any more")
	pause()
	prompt()
	b.click(tapOf("gloves-on"))
	b.click("#help")
	b.answer("I stepped in: patient safety")
	b.sent()
	require.Equal(t, []string{"prompted", "put on gloves", "stepped in patient-safety"}, c.recorded(id))
	b.click("#end")
	b.click("#finish-yes")
	b.until(`document.getElementById("signing") !== null`, "no review")
	require.Contains(t, b.text("main"), "practice")
}

// Not seen is a mode: it is pressed, then the act, or how long nothing was seen.
func TestRecorderNotSeen(t *testing.T) {
	c := living(t)
	b, id := c.recording(tablet)
	unseen := func(button string) { b.click("#unseen"); b.click(button); pause() }
	unseen(tapOf("help-out"))
	unseen(tapOf("wipe-front"))
	b.answer(c.Procedure.NameOf("front"))
	b.click("#unseen")
	pause()
	b.click("#unseen") // pressed again, it is over
	require.Equal(t, "false", eval[string](b, `document.getElementById("unseen").getAttribute("aria-pressed")`))
	pause()
	b.click("#unseen")
	b.answer("The last minute was not seen")
	pause()
	unseen("#open-more")
	b.click(fmt.Sprintf("#more [data-group=%q]", b.groupOf("Away from the work")))
	b.click(`#more [data-step="leave"]`)
	b.sent()
	require.Equal(t, []string{"not seen help-out", "not seen wipe-front", "not seen for 60s", "not seen leave"}, c.recorded(id))
}

func TestRecorderPausedStays(t *testing.T) {
	c := staffed(t)
	b, _ := c.recording(phone)
	before := eval[layout](b, probe)
	b.click("#pause")
	b.saved(1)
	require.Equal(t, "Paused.", eval[string](b, `document.getElementById("halt").innerText`))
	after := eval[layout](b, probe)
	require.Equal(t, before.StatusHeight, after.StatusHeight)
	require.Equal(t, before.Tops, after.Tops)
	pause()
	b.click("#pause")
	b.until(`document.getElementById("halt").hidden`, "going on")
}

// The line that counts what is sent must not push the buttons about.
func TestRecorderButtonsStayOnAPhoneWhenTapsWait(t *testing.T) {
	c := staffed(t)
	c.Demo = true // its words take room in the same line
	b, _ := c.recording(phone)
	b.part("hands")
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
