package browsertest

import (
	"context"
	"fmt"
	"strconv"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"stillwet/internal/assess/rules"
	"stillwet/internal/training"
)

const toFindIn = "a-colleagues-hands"

// keyOf are the rows at which the engine finds something in the open search of somebody.
func (c *clinic) keyOf(d training.Draft) (rows []int) {
	log, _, err := c.Shown(d)
	require.NoError(c.T, err)
	_, p := c.Scenario(d.ScenarioID)
	whole, err := rules.Assess(p, log, d.ScenarioID)
	require.NoError(c.T, err)
	at := map[int]bool{}
	for _, f := range whole.Breaches() {
		at[f.Act] = true
	}
	for n := range len(log.Acts) {
		if at[n+1] {
			rows = append(rows, n+1)
		}
	}
	require.Greater(c.T, len(rows), 1)
	return rows
}

func (c *clinic) openFind(b *tab, guided bool) training.Draft {
	d, err := c.OpenDraft(context.Background(), c.In("tess"), toFindIn, guided)
	require.NoError(c.T, err)
	word := map[bool]string{true: "yes", false: "no"}[guided]
	b.open("/practice/" + toFindIn + "?guided=" + word)
	b.until(`!document.getElementById("player").hidden`, "no player")
	return d
}

const kept = `document.getElementById("saved").textContent === "Saved" && !document.getElementById("judge").disabled`

// On a phone: rows are marked by touch in the list and beside the player, a reload keeps
// them, and the search is judged.
func TestFindingOnAPhone(t *testing.T) {
	c := living(t)
	b := c.signedIn("tess", phone)
	d := c.openFind(b, false)
	rows := c.keyOf(d)
	require.LessOrEqual(t, eval[int64](b, "document.documentElement.scrollWidth"), phone.width)
	require.True(t, eval[bool](b, `document.getElementById("judge").disabled`), "nothing is marked yet")
	for _, n := range rows[1:] {
		b.click(fmt.Sprintf(`label:has([name="row-%d"])`, n))
	}
	require.Equal(t, strconv.Itoa(len(rows)-1)+" marked", b.text("#marked-title"))
	require.Equal(t, rows[len(rows)-1], b.played(), "the player shows the row that was marked")

	at := eval[int](b, `(document.getElementById("act-at").value = `+strconv.Itoa(rows[0])+`, document.getElementById("act-at").dispatchEvent(new Event("input")), document.getElementById("act-at").valueAsNumber)`)
	require.Equal(t, rows[0], at)
	require.Equal(t, "false", eval[string](b, `document.getElementById("act-mark").getAttribute("aria-pressed")`))
	b.click("#act-mark")
	require.Equal(t, "true", eval[string](b, `document.getElementById("act-mark").getAttribute("aria-pressed")`))
	b.until(kept, "not saved")

	b.open("/practice/" + toFindIn + "?guided=no")
	require.Equal(t, strconv.Itoa(len(rows))+" marked", b.text("#marked-title"), "a reload keeps them")
	require.Empty(t, b.texts(".told > *"), "a test says nothing")
	b.accessible(axe(t), page{name: "find, phone"})
	b.click("#judge")
	b.until(`location.pathname.startsWith("/attempts/")`, "not judged")
	require.Contains(t, b.text("h1"), "You found ")
	require.NotContains(t, b.text("h1"), "nothing was wrong")
	require.Contains(t, b.text(".title .lead"), "Passed.")
	require.LessOrEqual(t, eval[int64](b, "document.documentElement.scrollWidth"), phone.width)
	b.accessible(axe(t), page{name: "what was found, phone"})
}

// By keys alone, in practice: a marked row is told at once what is wrong there, or that
// nothing is; unmarked it is told no more.
func TestFindingByKeysInPractice(t *testing.T) {
	c := living(t)
	b := c.signedIn("tess", desktop)
	d := c.openFind(b, true)
	row := c.keyOf(d)[0]
	for b.played() < row {
		b.key(kb.ArrowRight)
	}
	b.do(chromedp.Focus("#act-mark"))
	b.key(" ")
	b.until(`document.querySelectorAll(".told .hint").length > 0`, "nothing is told")
	require.True(t, eval[bool](b, fmt.Sprintf(`document.querySelector('[name="row-%d"]').checked`, row)))
	require.Contains(t, b.text(fmt.Sprintf(`#rows > li:nth-child(%d) .told`, row)), "Why it matters")

	fine := 1
	for row == fine || fine == 2 { // no mistake is planted at the third row
		fine++
	}
	b.do(chromedp.Focus(fmt.Sprintf(`[name="row-%d"]`, fine)))
	if !eval[bool](b, fmt.Sprintf(`document.querySelector('[name="row-%d"]').checked`, fine)) {
		b.key(" ")
	}
	b.until(kept, "not saved")
	b.accessible(axe(t), page{name: "find, practice"})
	b.do(chromedp.Focus("#act-mark"))
	require.Equal(t, fine, b.played())
	b.key(" ")
	b.until(fmt.Sprintf(`document.querySelector('#rows > li:nth-child(%d) .told').children.length === 0`, fine), "it is still told")
}

// Marks that another window has changed are not written over.
func TestMarksChangedInAnotherWindowAreNotOverwritten(t *testing.T) {
	c := living(t)
	b := c.signedIn("tess", desktop)
	d := c.openFind(b, false)
	_, err := c.SaveSteps(context.Background(), c.In("tess"), d.ID, 0, []string{"5"})
	require.NoError(t, err)
	b.click(`label:has([name="row-9"])`)
	b.until(`document.getElementById("saved").textContent === "Not saved"`, "it was written over")
	b.until(`document.getElementById("said").textContent.includes("changed in another window")`, "it is not told")
	require.True(t, eval[bool](b, `document.getElementById("judge").disabled && !document.getElementById("reload").hidden`))
	b.follow("#reload a", "/practice/"+toFindIn)
	require.Equal(t, "1 marked", b.text("#marked-title"))
}
