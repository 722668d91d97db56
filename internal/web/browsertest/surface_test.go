package browsertest

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"stillwet/scenarios"
)

// onPicture looks at a picture of a station and a timeline: what lies over something
// else, what is cut off, and which surfaces are neither named nor listed.
const onPicture = `(() => {
	const shown = (e) => e.getBoundingClientRect().width > 0 && getComputedStyle(e).display !== "none";
	const said = (e) => e.textContent.trim() || e.getAttribute("class");
	const over = (a, b) => a.left < b.right - .5 && b.left < a.right - .5 && a.top < b.bottom - .5 && b.top < a.bottom - .5;
	const pairs = (all, same) => all.flatMap((a, i) => all.slice(i + 1).filter((b) => !same(a, b) && over(a.getBoundingClientRect(), b.getBoundingClientRect())).map((b) => said(a) + " over " + said(b)));
	const outside = (all, box, margin) => all.filter((e) => { const r = e.getBoundingClientRect();
		return r.left < box.left - margin || r.right > box.right + margin || r.top < box.top - margin || r.bottom > box.bottom + margin; }).map(said);
	const found = { Overlaps: [], Cut: [], Nameless: [], Marks: 0, Names: 0 };
	const pic = document.querySelector(".pic");
	if (pic) {
		const words = [...pic.querySelectorAll(".over text, .over .pin, .over .way-no, .over .badge")].filter(shown);
		found.Overlaps.push(...pairs(words, (a, b) => a.parentNode === b.parentNode));
		const whole = { ...pic.getBoundingClientRect().toJSON(), bottom: pic.parentNode.getBoundingClientRect().bottom };
		found.Cut.push(...outside(words, whole, .5));
		if (pic.parentNode.scrollHeight > pic.parentNode.clientHeight + 1) found.Cut.push("the picture scrolls up and down");
		for (const t of pic.querySelectorAll(".over .pin-text")) found.Cut.push(...outside([t], t.parentNode.querySelector(".pin").getBoundingClientRect(), 0));
		found.Names = [...pic.querySelectorAll(".over .name")].filter(shown).length;
		const listed = [...document.querySelectorAll(".unnamed li")].filter(shown).length;
		const surfaces = pic.querySelectorAll("[data-surface]").length;
		if (found.Names + listed < surfaces) found.Nameless.push(found.Names + " named and " + listed + " listed of " + surfaces);
		found.Nameless.push(...[...pic.querySelectorAll("[data-surface]")].filter((e) => !e.getAttribute("aria-label")).map((e) => e.dataset.surface));
	}
	for (const row of document.querySelectorAll(".line-row")) {
		const name = row.querySelector(".line-name");
		if (name.scrollWidth > name.clientWidth + 1 && name.clientWidth > 0) found.Cut.push(name.textContent);
		const marks = [...row.querySelectorAll(".flag, .hand")];
		const words = [...row.querySelectorAll(".axis text, .track > .at > .track-word")];
		found.Marks += marks.length;
		found.Overlaps.push(...pairs([...marks, ...words, ...row.querySelectorAll(":scope > .track > rect.spell:not([data-state=need])")], (a, b) => a.matches(".spell") && b.matches(".spell")));
		found.Overlaps.push(...pairs([name, ...marks], (a, b) => a !== name && b !== name));
		found.Cut.push(...outside([...marks, ...words], row.closest(".line").getBoundingClientRect(), 1));
	}
	found.Names += document.querySelectorAll(".line-name").length;
	return found;
})()`

type surfaces struct {
	Overlaps, Cut, Nameless []string
	Marks, Names            int
}

var upright = size{810, 1080, true}

// looksWhole asks a page at every size, drawn as it is and mirrored.
func (b *tab) looksWhole(path string) (got surfaces) {
	b.t.Helper()
	for _, s := range []size{desktop, tablet, upright, phone} {
		b.resize(s)
		b.open(path)
		got = eval[surfaces](b, onPicture)
		at := fmt.Sprintf("%s at %dx%d", path, s.width, s.height)
		require.Empty(b.t, got.Overlaps, at)
		require.Empty(b.t, got.Cut, at)
		require.Empty(b.t, got.Nameless, at)
		require.Positive(b.t, got.Names, at)
		fits(b, page{name: at})
	}
	return got
}

// mirror presses the button that turns the picture round, and comes back.
func (b *tab) mirror(path, to string) {
	b.t.Helper()
	b.resize(desktop)
	b.open(path)
	b.click(`form[action="/picture"] button[value="` + to + `"]`)
	b.until(fmt.Sprintf(`location.pathname === %q && document.readyState === "complete" && document.querySelector('form[action="/picture"] button').value !== %q`, path, to), "not back where it was chosen")
}

const middleOf = `((id) => { const r = document.querySelector('[data-surface="' + id + '"]').getBoundingClientRect(); return r.left + r.width / 2; })`

func TestPictureAndTimelineAreWhole(t *testing.T) {
	c := living(t)
	tess := c.In("tess")
	run := "/attempts/" + c.quickRun(tess)
	dirty := "/attempts/" + c.quickBuild(tess, "ordinary-turnover", []string{"check-gone", "rub-hands", "gloves-on", "fresh-wipe", "wipe-controls", "wipe-top", "gloves-off", "rub-hands", "gloves-on", "bucket-off", "touch-screen"})
	b := c.signedIn("tess", desktop)
	require.GreaterOrEqual(t, b.looksWhole(run).Marks, 5)
	b.looksWhole(dirty)
	left := func(id string) float64 { return eval[float64](b, middleOf+`("`+id+`")`) }
	b.resize(desktop)
	b.open(run)
	require.Less(t, left("left"), left("right"))
	require.Less(t, left("left"), left("chair"))
	b.mirror(run, "mirrored")
	require.Less(t, left("left"), left("right"), "the machine's left side is at the left of who faces it")
	require.Greater(t, left("left"), left("chair"), "the chair is on the other side")
	b.looksWhole(run)
	b.looksWhole(dirty)
	b.mirror(run, "drawn")
	require.Less(t, left("left"), left("chair"))
}

// A second procedure, unlike the first: its picture is smaller, and has no sides.
func TestThePictureOfTheTrolleyIsWhole(t *testing.T) {
	lib, err := scenarios.LoadFS(os.DirFS("../../../testdata/trolley"))
	require.NoError(t, err)
	c := newClinicOver(t, lib).staff()
	path := "/attempts/" + c.quickBuild(c.In("tess"), "trolley-in-order", []string{"gloves-on", "take-wipe", "wipe-handle", "gloves-off"})
	b := c.signedIn("tess", desktop)
	b.looksWhole(path)
	require.Contains(t, strings.Join(b.texts(".over text"), " "), "Upper shelf")
	require.Zero(t, eval[int](b, `document.querySelectorAll('form[action="/picture"]').length`), "nothing in it tells left from right")
}

// Each surface with a finding is reached by Tab, says what it is, and leads to its first
// finding.
func TestSurfacesAreReachedByKeyboard(t *testing.T) {
	c := living(t)
	b := c.signedIn("tess", desktop)
	b.open("/attempts/" + c.quickRun(c.In("tess")))
	want := eval[[]string](b, `[...document.querySelectorAll(".tappable")].map((e) => e.getAttribute("aria-label"))`)
	require.Greater(t, len(want), 5)
	eval[bool](b, `(document.querySelector(".scroll:has(.pic)").focus(), true)`)
	var got []string
	for range want {
		b.do(chromedp.KeyEvent(kb.Tab))
		got = append(got, eval[string](b, `document.activeElement.getAttribute("aria-label") ?? document.activeElement.outerHTML.slice(0, 80)`))
	}
	require.Equal(t, want, got)
	require.Contains(t, strings.Join(want, "; "), "Pole, too short, number")
	require.Greater(t, eval[float64](b, `parseFloat(getComputedStyle(document.activeElement.querySelector(".part")).strokeWidth)`), 3.0, "where the keyboard is must be seen")
	first := eval[string](b, `document.activeElement.getAttribute("href")`)
	b.do(chromedp.KeyEvent(kb.Enter))
	b.until(fmt.Sprintf(`location.hash === %q && document.querySelector(location.hash).getBoundingClientRect().height > 0`, first), "not led to its finding")
}

// inState puts every wipe tile into a state with its longest words.
const inState = `((state, level, words) => {
	for (const e of document.querySelectorAll(".tap[data-state]")) {
		const tile = e.cloneNode(true); // the page's own clock must not put it right
		tile.dataset.state = state;
		tile.style.setProperty("--level", level);
		tile.querySelector(".state").textContent = words;
		e.replaceWith(tile);
	}
})`

// onRun and onRecorder are the longest words of the states that a board shows.
var (
	onRun = map[string]string{
		"unwiped": "1 of 3: Being wiped", "wet": "Wet 11:24 of 12:00", "reached": "12:00 reached, wet", "dry": "Reached, dry", "early": "Too short, dry 12:06", "spoilt": "Spoilt again",
	}
	onRecorder = map[string]string{
		"unwiped": "", "wet": "Wet 11:24 of 12:00", "open": "12:00 – still wet?", "ask": "12:00 – still wet?", "reached": "Seen wet at 12:05",
		"dry": "Seen wet at 12:05, dry", "early": "Dry at 11:05 of 12:00", "unseen": "Dry 12:10, not seen",
	}
)

// Words keep their room on a tile whatever its state, and no tile moves.
func TestTilesInEveryState(t *testing.T) {
	for _, s := range []size{tablet, desktop, phone} {
		c := living(t)
		run := c.running(s)
		recorder, _ := c.recording(s)
		for b, words := range map[*tab]map[string]string{run: onRun, recorder: onRecorder} {
			before := eval[layout](b, probe)
			for state, text := range words {
				eval[bool](b, fmt.Sprintf(`(%s(%q, .6, %q), true)`, inState, state, text))
				after := eval[layout](b, probe)
				require.Equal(t, before.Tops, after.Tops, "%s moves a button", state)
				require.Empty(t, after.Clipped, "%s at %dx%d", state, s.width, s.height)
			}
		}
	}
}

// States are told apart by their shapes, also where the system paints.
func TestStatesDifferInShape(t *testing.T) {
	b, _ := living(t).recording(tablet)
	for _, forced := range []string{"none", "active"} {
		b.media(&emulation.MediaFeature{Name: "forced-colors", Value: forced})
		drawn := map[string]string{}
		for _, state := range []string{"unwiped", "wet", "open", "ask", "reached", "dry", "early", "spoilt", "unseen"} {
			eval[bool](b, fmt.Sprintf(`(%s(%q, .6, "the same words"), true)`, inState, state))
			look := eval[string](b, `(() => { const e = document.querySelector(".board .tap[data-state]"), s = getComputedStyle(e), sign = getComputedStyle(e.querySelector(".state"), "::before");
				const plain = (x) => x.replaceAll(/(rgb|color)a?\([^)]*\)/g, "");
				return [plain(s.backgroundImage), plain(s.boxShadow), sign.clipPath, sign.content].join(" | "); })()`)
			require.NotContains(t, drawn, look, "forced colours %s: %s looks like %s", forced, state, drawn[look])
			drawn[look] = state
		}
	}
}
