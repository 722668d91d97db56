package browsertest

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// messyList is a roster as a clinic keeps it: semicolons, columns of no use, an empty row at
// the end, roles in any case, days in words, one row that is wrong.
const messyList = "\ufeffBadge Number;Last name;First name;Training role;Hire date;Job title;Shift;Locker\r\n" +
	"0042;Okonjo;Ada;STAFF;14 May 2019;Technician;Early;12\r\n" +
	"0043;Lindqvist;Bo;Preceptor;2018-02-01;Registered nurse;Late;\r\n" +
	"0044;Marek;Cyra;new hire;%s;Technician;Late;7\r\n" +
	";;;;;;;\r\n"

// A new educator moves in: from the first link on an empty folder to a clinic with its people
// from a spreadsheet, slips for them, a sign-off from paper that was entered wrongly and put right, the printed list
// of who is due, requirements of its own, and a module that is asked of many at once.
func TestAnEducatorMovesIn(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	c := newClinicWith(t, clinictest.Options{Library: lib, Files: scenarios.BuiltIn().Map()})
	checker := axe(t)
	token, open, err := c.FirstRunToken(t.Context())
	require.NoError(t, err)
	require.True(t, open)
	edda := c.tab(desktop)
	edda.open("/first/" + token)
	edda.fill("#name", "Edda Invented")
	edda.fill("#username", "edda")
	edda.fill("#password", password)
	edda.click(".reveal input")
	require.Equal(t, "text", eval[string](edda, `document.getElementById("password").type`), "she may look at what she types")
	edda.follow(`form .btn`, "/people")
	edda.isWell(checker, "an empty clinic")

	edda.movesIn(t, checker, "2031-13-45", "2026-02-23")
	edda.letsIn(c, checker, 3)
	edda.carriesOver(t, checker, c.Today())
	edda.asksForMore(t, checker)
	edda.asksAModule(t, checker)

	edda.open("/changes")
	for _, done := range []string{"Person: added", "Account: opened by a link", "Requirements", "Sign-off from paper confirmed", "Asked of people", "Pass “Orientation 1"} {
		require.Contains(t, edda.text("main"), done)
	}
	report, err := c.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}

// movesIn brings the list in, first with a day that is none.
func (b *tab) movesIn(t *testing.T, checker, wrong, right string) {
	list := filepath.Join(t.TempDir(), "staff.csv")
	for _, day := range []string{wrong, right} {
		require.NoError(t, os.WriteFile(list, fmt.Appendf(nil, messyList, day), 0o600))
		b.open("/people/import")
		b.do(chromedp.SetUploadFiles(chromedp.CSS("#file"), []string{list}))
		b.click(`form[enctype] .btn`)
		b.until(`document.getElementById("found") !== null`, "the list was not looked through")
		if day == wrong {
			require.Contains(t, b.text("main"), "Row\u00a04")
			require.Contains(t, b.text("main"), wrong)
			require.Empty(t, b.texts(`[formaction="/people/import/confirm"]`), "nothing is imported by halves")
			b.isWell(checker, "a list with a fault")
		}
	}
	b.isWell(checker, "a list without faults")
	b.click(`[formaction="/people/import/confirm"]`)
	b.until(`document.getElementById("imported") !== null`, "not imported")
	b.open("/people")
	for _, name := range []string{"Ada Okonjo", "Bo Lindqvist", "Cyra Marek"} {
		require.Contains(t, b.text("main"), name)
	}
}

// letsIn makes links for everybody who has no account, and one of them chooses a password.
func (b *tab) letsIn(c *clinic, checker string, people int) {
	t := b.t
	b.open("/people/links")
	b.isWell(checker, "links")
	b.click(`form[action="/people/links"] .btn.solid, form[action="/people/links"] .row .btn`)
	b.until(`document.querySelector(".slip") !== null`, "no slips")
	slips := b.texts(".slip .link")
	require.Len(t, slips, people)
	b.isWell(checker, "slips")
	ada := c.tab(phone)
	_, path, found := strings.Cut(slips[0], "/first/")
	require.True(t, found)
	ada.open("/first/" + path)
	ada.isWell(checker, "choosing a password by a link")
	ada.fill("#password", "a long enough sentence of hers")
	ada.click(`form .btn`)
	ada.until(`!location.pathname.startsWith("/first/") && document.readyState === "complete"`, "not let in")
	require.Contains(t, ada.text(".head"), "Ada Okonjo")
}

// carriesOver enters a sign-off from paper with a wrong day, puts it right, and prints who is due.
func (b *tab) carriesOver(t *testing.T, checker string, today training.Day) {
	b.open("/people")
	b.follow(`main td a[href^="/people/"]`, "/people/")
	require.Contains(t, b.text("h1"), "Ada Okonjo")
	record := eval[string](b, `location.pathname`)
	wrong, right := today.AddMonths(-12).AddDays(40), today.AddMonths(-12).AddDays(20)
	b.open(record + "/earlier")
	b.set(`[name="on"]`, string(wrong))
	b.fill(`#signed-by`, "Ulla Before, RN")
	b.fill(`#evidence`, "Red binder, page 7")
	b.fill(`#password`, password)
	b.isWell(checker, "a sign-off from paper")
	b.click(`main form .btn`)
	b.until(`document.querySelector("[aria-labelledby=sign-offs]") !== null`, "not entered")
	require.Contains(t, b.text("[aria-labelledby=sign-offs]"), "From paper: Ulla Before, RN, "+shown(wrong))

	b.follow(`[aria-labelledby=sign-offs] a[href^="/earlier-entries/"]`, "/earlier-entries/")
	b.click(`#correct summary`)
	b.set(`#correct [name="on"]`, string(right))
	b.fill(`#correct-why`, "The paper has another day.")
	b.fill(`#correct-password`, password)
	b.click(`#correct .btn`)
	b.until(`document.body.textContent.includes("Stands for") || document.body.textContent.includes("stands for")`, "not corrected")
	b.open(record)
	signed := b.text("[aria-labelledby=sign-offs]")
	require.Contains(t, signed, "From paper: Ulla Before, RN, "+shown(right))
	require.Contains(t, signed, "Corrected", "the wrong one stays to be read")

	b.open("/people?due=60")
	require.Len(t, b.texts("[aria-labelledby=rows] tbody tr"), 1, "who is due in 60 days")
	require.Contains(t, b.text("[aria-labelledby=rows]"), "Ada Okonjo")
	require.Contains(t, b.text("[aria-labelledby=rows]"), shown(right.AddMonths(12)))
	b.onPaper(func() {
		require.Contains(t, b.text(".sheet-head"), "printed "+shown(today)+" by Edda Invented")
		require.True(t, eval[bool](b, `document.querySelector("[aria-labelledby=rows] table").getBoundingClientRect().height > 0`))
		require.False(t, eval[bool](b, `[...document.querySelectorAll("main .btn, main form.filter, .head nav")].some((e) => e.getClientRects().length > 0)`), "no buttons on paper")
	})
}

// onPaper looks at the page as it is printed.
func (b *tab) onPaper(look func()) {
	b.t.Helper()
	for _, medium := range []string{"print", ""} {
		_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: medium})
		require.NoError(b.t, err)
		if medium != "" {
			look()
		}
	}
}

// shown is a day as pages show it.
func shown(d training.Day) string { return d.Time().Format("2 Jan 2006") }

// asksForMore changes what a first sign-off takes, after a look at what that does.
func (b *tab) asksForMore(t *testing.T, checker string) {
	b.open("/requirements/" + turnover)
	b.set(`[name="first-clean"]`, "3")
	b.set(`[name="first-days"]`, "3")
	b.set(`[name="why"]`, "Our policy asks for three.")
	b.click(`form[action$="/preview"] .btn`)
	b.until(`document.getElementById("confirm") !== null`, "no preview")
	b.isWell(checker, "what other requirements do")
	b.click(`#confirm form:not([action$="/preview"]) .btn`)
	b.until(`document.getElementById("confirm") === null && document.readyState === "complete"`, "not confirmed")
	require.Contains(t, b.text("main"), "Our policy asks for three.")
}

// asksAModule asks one of everybody under a filter, and looks at it before she confirms it.
func (b *tab) asksAModule(t *testing.T, checker string) {
	b.open("/people?role=trainee")
	b.click(`#chosen [formaction="/people/ask"]`)
	b.until(`location.pathname === "/people/ask" && document.readyState === "complete"`, "not asked of whom")
	require.Len(t, b.texts(`[aria-labelledby=people] tbody tr`), 2)
	require.Equal(t, 2, eval[int](b, `document.querySelectorAll("[aria-labelledby=people] input:checked").length`), "all who are under the filter are ticked")
	b.set(`#what`, "module:orientation-1")
	b.set(`#why`, "Before the first day at a station.")
	b.isWell(checker, "asking something of people")
	b.click(`#ask .btn.big`)
	b.until(`document.getElementById("confirm") !== null`, "no preview")
	require.Contains(t, b.text("#confirm"), "2 people are asked, 0 are left out")
	require.Contains(t, b.text("main"), "Cannot sign in yet", "one of them has no password yet")
	b.isWell(checker, "of whom it is asked")
	b.follow(`#confirm .btn.big`, "/assignments/")
	require.Contains(t, b.text("main"), "Undo it for all")
	b.isWell(checker, "what was asked")
}
