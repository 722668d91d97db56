package browsertest

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// practising is a page of guided practice with these steps in the order.
func practising(t *testing.T, s size, steps ...string) *tab {
	c := staffed(t)
	tess := c.In("tess")
	d, err := c.OpenDraft(t.Context(), tess, "ordinary-turnover", true)
	require.NoError(t, err)
	_, err = c.SaveSteps(t.Context(), tess, d.ID, d.Revision, steps)
	require.NoError(t, err)
	b := c.signedIn("tess", s)
	b.open("/practice/ordinary-turnover?guided=yes")
	b.until(`document.querySelector("#build.quick") !== null`, "no script")
	return b
}

// area shows an area of the palette, where one is shown at a time, and presses a step of it.
func (b *tab) area(step string) {
	b.t.Helper()
	eval[bool](b, fmt.Sprintf(`(document.querySelector("button[name=add][value=%s]").closest(".group").querySelector(".area input").click(), true)`, step))
	b.click("button[name=add][value=" + step + "]")
}

// inSight: a point in the middle of the thing is where it seems to be.
func (b *tab) inSight(selector string) {
	b.t.Helper()
	b.until(fmt.Sprintf(`(() => { const e = document.querySelector(%q), r = e.getBoundingClientRect();
		const at = document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2);
		return r.top >= 0 && r.bottom <= innerHeight && at !== null && (e === at || e.contains(at)); })()`, selector), selector+" is out of sight")
}

const savedAll = `document.getElementById("saved").textContent === "Saved"`

func TestAHintStandsWhereTheStepWasPressed(t *testing.T) {
	for _, s := range []size{phone, desktop} {
		t.Run(fmt.Sprint(s.width), func(t *testing.T) {
			b := practising(t, s, "rub-hands", "check-stable", "help-out", "check-gone", "rub-hands")
			b.area("wipe-pole")
			b.until(`document.getElementById("hinted").textContent.startsWith("Hint at step 6: ")`, "no hint at the press")
			first := b.text("#hinted")
			b.inSight("#hinted")
			b.inSight("button[name=undo]")
			b.inSight("button[name=add][value=wipe-pole]")
			b.click("button[name=add][value=wipe-latches]")
			b.says("Wipe line holders, latches, small parts is now step 7 of 7.")
			b.until(savedAll, "not saved")
			require.NotEmpty(t, b.text("#hinted"), "the hint went at the next press, and was: "+first)
			require.Regexp(t, `^\d+ hints$`, b.text("#all-hints"))
			at := strings.TrimSuffix(strings.Fields(b.text("#hinted"))[3], ":")
			b.click("#see")
			b.inSight("#steps > li:nth-child(" + at + ") .label")
			require.Contains(t, b.focused(), "Step "+at+", ")
			if s == phone {
				b.until(`getComputedStyle(document.getElementById("back")).display !== "none"`, "no way back")
				b.click("#back")
				b.inSight("button[name=add][value=wipe-pole]")
			}
			b.click("#hide")
			require.Empty(t, b.text("#hinted"))
			b.click("#all-hints")
			require.Contains(t, b.focused(), "Step ")
			b.click("button[name=undo]")
			b.click("button[name=undo]")
			b.until(savedAll+` && document.getElementById("all-hints").hidden && document.querySelector(".hint") === null`, "a hint of a step that is out again")
		})
	}
}

// What is mended is gone, and what comes then is the count of the others.
func TestAHintGoesWhenItIsMended(t *testing.T) {
	b := practising(t, phone, "check-stable")
	b.area("gloves-on")
	b.until(`document.getElementById("hinted").textContent.startsWith("Hint at step 2: ")`, "no hint")
	b.click("button[name=undo]")
	b.until(savedAll+` && document.getElementById("hinted").textContent === ""`, "the hint of a step that is out")
}

// A hint is read aloud once, and what was done once.
func TestAHintIsSaidOnce(t *testing.T) {
	b := practising(t, phone)
	eval[bool](b, `(() => { window.heard = [];
		for (const e of document.querySelectorAll("[role=status], [role=alert], [aria-live]")) new MutationObserver(() => { if (e.textContent) heard.push(e.textContent); }).observe(e, { childList: true, characterData: true, subtree: true });
		return true; })()`)
	b.area("gloves-on")
	b.until(savedAll+` && heard.some((s) => s.includes("Hint at step 1"))`, "the hint is not read aloud")
	b.area("eyes-on")
	b.says("Put on eye protection is now step 2 of 2.")
	b.until(savedAll, "not saved")
	heard := eval[[]string](b, "heard")
	once := map[string]int{}
	for _, s := range heard {
		once[s]++
		require.Equal(t, 1, once[s], "%q is read aloud again: %q", s, heard)
		require.LessOrEqual(t, len(s), 400, "the whole list")
		if strings.Contains(s, "Put on fresh gloves is now step 1") {
			once["added"]++
		}
	}
	require.Equal(t, 1, once["added"], "what was done is read aloud with its hint again: %q", heard)
	require.Contains(t, heard[0], "Put on fresh gloves is now step 1 of 1.")
	require.NotContains(t, heard[0], "Hint")
}

func TestToolsOfARowHaveWordsAndCoverNothing(t *testing.T) {
	for _, s := range []size{phone, desktop} {
		t.Run(fmt.Sprint(s.width), func(t *testing.T) {
			b := practising(t, s, "gloves-on", "rub-hands", "gloves-on")
			at := b.pickRow(1)
			require.Equal(t, []string{"Up", "Down", "Remove", "Insert after this", "Move"}, b.texts(at+":is(.tools button, .tools label)"))
			require.Contains(t, b.text(at+".place"), "Move to place")
			require.Empty(t, eval[[]string](b, fmt.Sprintf(`[...document.querySelectorAll(%q)].filter((e) => { const r = e.getBoundingClientRect(); return r.width < 44 || r.height < 44; }).map((e) => e.textContent)`, at+".tools :is(button, label, .to)")), "smaller than a finger")
			b.until(fmt.Sprintf(`document.querySelector(%q) !== null`, at+".hint[open]"), "no hint to be covered")
			require.Empty(t, eval[[]string](b, wordsOverWords), "words over words")
			require.Greater(t, eval[float64](b, fmt.Sprintf(`document.querySelector(%q).getBoundingClientRect().top - document.querySelector(%q).getBoundingClientRect().bottom`, at+".hint", at+".tools")), -1.0)
			b.click(at + "button[name=remove]")
			b.says("Put on fresh gloves is gone. 2 left.")
			require.Zero(t, eval[int](b, `[...document.querySelectorAll(".tools")].filter((e) => e.offsetParent).length`), "the next row's tools stand where the last ones were")
		})
	}
}

// Rows go down the first column and then the next, and hints in one move nothing in another.
func TestColumnsOfAnOrderAreIndependent(t *testing.T) {
	long := []string{"gloves-on", "wipe-pole", "wipe-top"}
	for range 15 {
		long = append(long, "rub-hands", "gloves-on", "gloves-off")
	}
	b := practising(t, desktop, long...)
	type box struct {
		X, Y, High float64
		Plain      bool // without a hint
	}
	rows := eval[[]box](b, `document.fonts.ready.then(() => [...document.querySelectorAll("#steps > li")].map((e) => { const r = e.getBoundingClientRect(); return {X: r.x, Y: r.y, High: r.height, Plain: !e.querySelector(".hint")}; }))`)
	columns := 1
	for i, r := range rows[1:] {
		last := rows[i]
		if r.X > last.X+100 {
			columns++
			require.InDelta(t, rows[0].Y, r.Y, 2, "a column begins at the top")
			continue
		}
		require.InDelta(t, last.X, r.X, 1, "row %d goes back", i+2)
		require.InDelta(t, last.Y+last.High, r.Y, 1, "row %d has room left above it by a neighbour", i+2)
	}
	require.GreaterOrEqual(t, columns, 2)
	for _, r := range rows {
		require.False(t, r.Plain && r.High > 45, "a row without a hint is as high as a neighbour's hints")
	}
	require.Greater(t, rows[0].High, 50.0, "the first row has a hint")
}

func TestAnOrderOfFortyNineIsNearlyAllInSight(t *testing.T) {
	c := staffed(t)
	tess := c.In("tess")
	d, err := c.OpenDraft(t.Context(), tess, "ordinary-turnover", false)
	require.NoError(t, err)
	sc, _ := c.Library.Scenario("ordinary-turnover")
	_, err = c.SaveSteps(t.Context(), tess, d.ID, d.Revision, sc.Answer()[:49])
	require.NoError(t, err)
	b := c.signedIn("tess", desktop)
	b.open("/practice/ordinary-turnover")
	b.until(`document.querySelector("#build.quick") !== null`, "no script")
	require.GreaterOrEqual(t, eval[int](b, `document.fonts.ready.then(() => { const box = document.getElementById("roll").getBoundingClientRect();
		return [...document.querySelectorAll("#steps > li")].filter((e) => { const r = e.getBoundingClientRect(); return r.top >= box.top && r.bottom <= Math.min(box.bottom, innerHeight) + 1; }).length; })`), 46)
	require.GreaterOrEqual(t, eval[int](b, `[...document.querySelectorAll(".areas h3")].filter((e) => e.getBoundingClientRect().bottom < document.getElementById("areas").getBoundingClientRect().top + innerHeight).length`), 5, "areas in a screen of the palette")
}

// With keys alone: a row opens with Enter, each of its tools is a stop, and Escape closes it.
func TestToolsOfARowByKeys(t *testing.T) {
	b := practising(t, desktop, "rub-hands", "gloves-on", "eyes-on")
	eval[bool](b, `(document.querySelector("#steps > li:nth-child(2) .label").focus(), true)`)
	b.do(chromedp.KeyEvent(kb.Enter))
	require.Equal(t, "true", eval[string](b, `document.activeElement.getAttribute("aria-expanded")`))
	var stops []string
	for range 6 {
		b.do(chromedp.KeyEvent(kb.Tab))
		stops = append(stops, strings.Fields(b.focused())[0])
	}
	require.Equal(t, []string{"Move", "Move", "Remove", "Insert", "Move", "Move"}, stops)
	b.do(chromedp.KeyEvent(kb.Escape))
	require.Equal(t, "Step 2, Put on fresh gloves", b.focused())
	require.Equal(t, "false", eval[string](b, `document.activeElement.getAttribute("aria-expanded")`))
	b.do(chromedp.KeyEvent(kb.Tab))
	require.Equal(t, "Step 3, Put on eye protection", b.focused(), "what is closed is no stop")
}

func TestTheBenchIsAccessibleWithAHintAndTools(t *testing.T) {
	checker := axe(t)
	for _, s := range []size{phone, desktop} {
		b := practising(t, s, "check-stable")
		b.area("gloves-on")
		b.until(`document.getElementById("hinted").textContent !== ""`, "no hint")
		b.click("#see")
		b.accessible(checker, page{name: fmt.Sprint("bench ", s.width)})
		if s == phone {
			large(b, page{name: "bench"})
		}
	}
}
