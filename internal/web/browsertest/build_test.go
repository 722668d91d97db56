package browsertest

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

func (b *tab) openBuild() {
	b.open("/practice/ordinary-turnover")
	b.click("main form .btn.big")
	b.until(`document.getElementById("build") !== null && document.readyState === "complete"`, "no build page")
}

// says waits for a sentence in the page's one status region.
func (b *tab) says(text string) {
	b.t.Helper()
	b.until(`document.getElementById("said").textContent === `+quote(text), "the page does not say: "+text)
}

// pickRow presses a row that is not chosen yet.
func (b *tab) pickRow(row int) string {
	b.t.Helper()
	at := fmt.Sprintf("#steps > li:nth-child(%d)", row)
	if !eval[bool](b, fmt.Sprintf(`document.querySelector(%q).classList.contains("chosen")`, at)) {
		b.click(at + " .label")
	}
	return at + " "
}

// tool presses a tool of a row, which shows once the row is pressed.
func (b *tab) tool(row int, tool string) {
	b.t.Helper()
	b.click(b.pickRow(row) + tool)
}

func quote(s string) string { return "`" + s + "`" }

func (b *tab) focused() string {
	return eval[string](b, `document.activeElement.getAttribute("aria-label") ?? document.activeElement.textContent.trim()`)
}

func TestBuildingByPressing(t *testing.T) {
	b := staffed(t).signedIn("tess", tablet)
	b.openBuild()
	b.click("button[value=gloves-on]")
	b.says("Put on fresh gloves is now step 1 of 1.")
	b.click("button[value=rub-hands]")
	b.click("button[value=eyes-on]")
	b.says("Put on eye protection is now step 3 of 3.")
	b.tool(2, "button[name=up]")
	b.says("Rub hands with hand rub is now step 1 of 3.")
	require.Equal(t, "Move down step 1, Rub hands with hand rub", b.focused(), "at the top the focus goes to the first button that can be pressed")
	b.tool(1, "input[name=after]")
	b.click("button[value=wash-hands]")
	b.says("Wash hands with soap and water is now step 2 of 4.")
	want := []string{"Rub hands with hand rub", "Wash hands with soap and water", "Put on fresh gloves", "Put on eye protection"}
	require.Equal(t, want, b.texts("#steps .label"))
	b.tool(2, "button[name=remove]")
	b.says("Wash hands with soap and water is gone. 3 left.")
	require.Equal(t, "Step 2, Put on fresh gloves", b.focused())
	require.Zero(t, eval[int](b, `document.querySelectorAll("#steps > .chosen").length`), "a second press would remove another row")
	b.click("button[name=undo]")
	require.Equal(t, want, b.texts("#steps .label"))
	b.click("#clear summary")
	b.click("button[name=clear]")
	b.says("The list is empty. Undo brings it back.")
	require.Equal(t, "Your order", b.focused())
	b.click("button[name=undo]")
	b.click("button[name=undo]")
	b.click("button[name=redo]")
	require.Equal(t, want, b.texts("#steps .label"))
	b.until(`document.getElementById("saved").textContent === "Saved"`, "not saved")
	b.open("/practice/ordinary-turnover")
	require.Equal(t, want, b.texts("#steps .label"), "the draft is back after a reload")
}

func TestBuildingByKeys(t *testing.T) {
	b := staffed(t).signedIn("tess", desktop)
	b.openBuild()
	for _, step := range []string{"rub-hands", "gloves-on", "eyes-on"} {
		b.click("button[value=" + step + "]")
	}
	b.click("#steps li:nth-child(3) .label")
	eval[bool](b, `(document.querySelector("#steps li:nth-child(3) button[name=remove]").focus(), true)`)
	b.do(chromedp.KeyEvent(kb.ArrowUp, chromedp.KeyModifiers(chromedp.ModifierAlt)))
	b.says("Put on eye protection is now step 2 of 3.")
	require.Equal(t, "Remove step 2, Put on eye protection", b.focused(), "the focus stays on the same button of the moved row")
	b.do(chromedp.KeyEvent(kb.ArrowUp, chromedp.KeyModifiers(chromedp.ModifierAlt)))
	b.do(chromedp.KeyEvent(kb.ArrowUp, chromedp.KeyModifiers(chromedp.ModifierAlt)))
	require.Equal(t, []string{"Put on eye protection", "Rub hands with hand rub", "Put on fresh gloves"}, b.texts("#steps .label"))
	b.do(chromedp.KeyEvent(kb.ArrowDown, chromedp.KeyModifiers(chromedp.ModifierAlt)))
	b.says("Put on eye protection is now step 2 of 3.")
	names := eval[[]string](b, `[...document.querySelectorAll("#steps button, #steps input")].map((e) => e.getAttribute("aria-label"))`)
	require.Len(t, names, 21, "the label, five tools and a place to type, of each row")
	seen := map[string]bool{}
	for _, n := range names {
		require.False(t, seen[n], "two controls are called %q", n)
		seen[n] = true
	}
}

func TestABuildChangedOnAnotherPageIsNotOverwritten(t *testing.T) {
	c := staffed(t)
	b := c.signedIn("tess", desktop)
	b.openBuild()
	tess := c.In("tess")
	d, err := c.OpenDraft(t.Context(), tess, "ordinary-turnover", false)
	require.NoError(t, err)
	_, err = c.SaveSteps(t.Context(), tess, d.ID, d.Revision, []string{"look", "wait"})
	require.NoError(t, err)
	b.click("button[value=gloves-on]")
	b.until(`document.getElementById("said").textContent.includes("changed")`, "a stale page must say so")
	require.True(t, eval[bool](b, `document.getElementById("judge").disabled`), "what was refused is not judged")
	b.click("#reload a")
	b.until(`document.getElementById("said")?.textContent === "" && document.readyState === "complete"`, "not loaded again")
	b.open("/practice/ordinary-turnover")
	require.Len(t, b.texts("#steps li"), 2)
}

func TestUndoBringsTheMarkBack(t *testing.T) {
	b := staffed(t).signedIn("tess", desktop)
	b.openBuild()
	for _, step := range []string{"rub-hands", "gloves-on", "eyes-on"} {
		b.click("button[value=" + step + "]")
	}
	b.tool(1, "input[name=after]")
	b.click("button[value=wash-hands]")
	marked := func() string { return eval[string](b, `document.querySelector("input[name=after]:checked").value`) }
	require.Equal(t, "2", marked(), "behind the step just added")
	b.click("button[name=undo]")
	require.Equal(t, "1", marked())
	b.click("button[name=redo]")
	require.Equal(t, "2", marked())
	b.tool(1, "button[name=remove]")
	require.Equal(t, "1", marked(), "the mark stays behind its row")
}

func TestALongOrderStaysInSight(t *testing.T) {
	b := staffed(t).signedIn("tess", tablet)
	b.openBuild()
	for range 12 {
		b.click("button[value=rub-hands]")
		b.click("button[value=gloves-on]") // the same one at once would be a double click
	}
	require.GreaterOrEqual(t, eval[int](b, `(() => { const box = document.getElementById("roll").getBoundingClientRect();
		return [...document.querySelectorAll("#steps > li")].filter((e) => { const r = e.getBoundingClientRect(); return r.top >= box.top && r.bottom <= Math.min(box.bottom, innerHeight); }).length; })()`), 20, "rows in sight")
	b.until(`(() => { const r = document.querySelector("#steps li:last-child").getBoundingClientRect(), box = document.getElementById("roll").getBoundingClientRect();
		return r.top >= box.top && r.bottom <= box.bottom; })()`, "the step just added is out of sight")
	for _, e := range []string{"button[name=undo]", "#judge"} {
		require.True(t, eval[bool](b, `(() => { const r = document.querySelector(`+quote(e)+`).getBoundingClientRect(); return r.top >= 0 && r.bottom <= innerHeight; })()`), "%s is out of sight", e)
	}
	b.resize(phone)
	require.Less(t, eval[float64](b, `document.getElementById("order").getBoundingClientRect().top - document.getElementById("choose").getBoundingClientRect().top`), 844.0, "the order is further than a screen away")
	require.Empty(t, eval[[]string](b, `[...document.querySelectorAll("main *")].filter((e) => e.offsetParent && e.scrollHeight > e.clientHeight + 1 && /auto|scroll/.test(getComputedStyle(e).overflowY)).map((e) => e.className)`), "a box scrolls inside the scrolling page")
	const shown = `[...document.querySelectorAll(".areas .group")].filter((e) => e.querySelector(".chip").offsetParent).map((e) => e.getAttribute("aria-label"))`
	require.Len(t, eval[[]string](b, shown), 1)
	b.click(".areas .group:nth-child(2) .area input")
	require.Equal(t, eval[string](b, `document.querySelector(".areas .group:nth-child(2)").getAttribute("aria-label")`), eval[[]string](b, shown)[0])
}

func TestALostAnswerIsNotSomebodyElsesChange(t *testing.T) {
	b := staffed(t).signedIn("tess", tablet)
	b.openBuild()
	eval[bool](b, `(() => {
		const send = fetch;
		window.fetch = async (...request) => {
			window.fetch = send;
			await send(...request);
			document.getElementById("build").querySelector("button[value=rub-hands]").click();
			throw new TypeError("the answer was lost");
		};
		return true;
	})()`)
	b.click("button[value=gloves-on]")
	b.until(`document.getElementById("saved").textContent === "Saved" && !document.getElementById("judge").disabled`, "not saved")
	require.Equal(t, "2", eval[string](b, `document.getElementById("build").elements.revision.value`), "the first save once, the second after it")
	b.open("/practice/ordinary-turnover")
	require.Equal(t, []string{"Put on fresh gloves", "Rub hands with hand rub"}, b.texts("#steps .label"))
}

func TestADoubleClickAddsOnce(t *testing.T) {
	b := staffed(t).signedIn("tess", desktop)
	b.openBuild()
	press := func(times int) {
		eval[bool](b, fmt.Sprintf(`(() => { for (let i = 0; i < %d; i++) document.querySelector("button[value=rub-hands]").click(); return true; })()`, times))
	}
	press(2)
	b.says("Rub hands with hand rub was pressed twice at once, and is added once. Press it again to have it twice.")
	require.Len(t, b.texts("#steps .label"), 1)
	b.click("button[value=gloves-on]")
	press(1)
	require.Len(t, b.texts("#steps .label"), 3)
}

func TestAStepGoesToAPlaceInOneAct(t *testing.T) {
	b := staffed(t).signedIn("tess", desktop)
	b.openBuild()
	for _, step := range []string{"rub-hands", "gloves-on", "eyes-on"} {
		b.click("button[value=" + step + "]")
	}
	b.click("#steps > li:nth-child(3) .label")
	b.fill("#steps > li:nth-child(3) .to", "1")
	b.do(chromedp.KeyEvent(kb.Enter))
	b.says("Put on eye protection is now step 1 of 3.")
	b.tool(1, "button[name=move]")
	b.says("To which place? Type its number, then press Move.")
	eval[bool](b, `(() => {
		const rows = document.querySelectorAll("#steps > li"), data = new DataTransfer();
		const send = (e, type, at) => e.dispatchEvent(new DragEvent(type, { bubbles: true, cancelable: true, dataTransfer: data, clientY: at }));
		send(rows[0], "dragstart", 0);
		const r = rows[2].getBoundingClientRect();
		send(rows[2], "dragover", r.bottom - 2);
		send(rows[2], "drop", r.bottom - 2);
		return true;
	})()`)
	b.says("Put on eye protection is now step 3 of 3.")
	require.Equal(t, []string{"Rub hands with hand rub", "Put on fresh gloves", "Put on eye protection"}, b.texts("#steps .label"))
}

func TestHintsComeAndGoWithTheStepsTheyAreOf(t *testing.T) {
	c := staffed(t)
	_, err := c.OpenDraft(t.Context(), c.In("tess"), "ordinary-turnover", true)
	require.NoError(t, err)
	b := c.signedIn("tess", desktop)
	b.open("/practice/ordinary-turnover?guided=yes")
	b.click("button[value=gloves-on]")
	b.until(`document.querySelectorAll("#steps > li:nth-child(1) .hint[open] dd").length === 2`, "gloves over hands that were not cleaned are no hint")
	b.click(`[name=hints][value=end]`)
	b.until(`document.querySelector(".hint").offsetParent === null`, "hints at the end are in sight before it")
	b.open("/practice/ordinary-turnover?guided=yes")
	require.True(t, eval[bool](b, `document.querySelector("[name=hints][value=end]").checked`), "what was chosen is kept")
	b.click(`[name=hints][value=now]`)
	b.click("button[value=rub-hands]")
	b.until(`document.querySelectorAll("#steps > li").length === 2`, "the step is not added")
	b.tool(2, "button[name=up]")
	b.until(`document.querySelector(".hint") === null && document.getElementById("saved").textContent === "Saved"`, "the hint stays when the order is right")
}
