package browsertest

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/base64"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"stillwet/internal/action"
	"stillwet/internal/training"
)

// TestTheWholeChain is the job from the first link to the workbook, done by
// three people in three browsers.
func TestTheWholeChain(t *testing.T) {
	c := newClinic(t)
	educator := c.firstEducator()
	pia := c.newcomer(educator, "Pia Invented", "pia", training.Preceptor, tablet)
	tess := c.newcomer(educator, "Tess Invented", "tess", training.Trainee, desktop)
	c.entitle(educator, "Pia Invented")

	require.Contains(t, tess.build("ordinary-turnover", c.Steps("ordinary-turnover")), "Passed, with nothing to change")
	require.Contains(t, tess.build("blood-on-the-machine", c.Steps("blood-on-the-machine")), "Passed, with nothing to change")
	require.Contains(t, c.run(tess), "Passed, with nothing to change")

	c.demonstrate(pia)
	c.signHandedOver(pia)
	c.Pass(24 * time.Hour)
	pia.signIn("pia")
	c.demonstrate(pia)
	c.signApart(pia, tess)
	c.signOff(pia)

	educator.signIn("edda")
	educator.open("/people?standing=current")
	require.Len(t, educator.texts(".stacks tbody tr"), 1)
	require.Contains(t, educator.text(".stacks tbody tr"), "Tess Invented")
	book := educator.workbook(2026)
	report, err := c.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, report.Faults)
	signed := map[training.LeafKind]int{}
	for l, err := range c.Store.LedgerLeaves(t.Context()) {
		require.NoError(t, err)
		signed[l.Kind]++
	}
	require.Equal(t, 4, signed[training.SignatureLeaf], "two signatures on each demonstration")
	require.Equal(t, 1, signed[training.SignOffLeaf])
	checkWorkbook(t, book, report.Head.Root)
}

// firstEducator opens the one-time link and makes the first account.
func (c *clinic) firstEducator() *tab {
	token, open, err := c.FirstRunToken(context.Background())
	require.NoError(c.T, err)
	require.True(c.T, open)
	b := c.tab(desktop)
	b.open("/first/" + token)
	b.fill("#name", "Edda Invented")
	b.fill("#username", "edda")
	b.fill("#password", password)
	b.follow("main form button", "/people")
	return b
}

// newcomer is added by the educator, comes in with the first password and
// chooses an own one.
func (c *clinic) newcomer(educator *tab, name, username string, role training.Role, s size) *tab {
	educator.open("/people/new")
	educator.fill("#name", name)
	educator.fill("#staff-no", "000"+username)
	educator.fill("#new-username", username)
	educator.click(fmt.Sprintf(`#add-person input[name="role-%s"]`, role))
	educator.set("#hired", "2026-01-05")
	educator.click("#add-person button")
	educator.until(`document.querySelector("main [role=status] dd") !== null`, "the first password is not shown")
	first := educator.texts("main [role=status] dd")[1]

	b := c.tab(s)
	b.open("/sign-in")
	b.fill("#username", username)
	b.fill("#password", first)
	b.follow(`form[action="/sign-in"] button`, "/password")
	b.fill("#old", first)
	b.fill("#password", password)
	b.click("main form button")
	b.until(`["/practice", "/watch"].includes(location.pathname)`, "no way on after the own password")
	return b
}

// set gives a field a value as a picker does.
func (b *tab) set(selector, value string) {
	b.t.Helper()
	eval[bool](b, fmt.Sprintf(`(() => { const e = document.querySelector(%q); e.value = %q; for (const kind of ["input", "change"]) e.dispatchEvent(new Event(kind, {bubbles: true})); return true; })()`, selector, value))
}

func (c *clinic) entitle(educator *tab, name string) {
	educator.open("/people?search=" + strings.Fields(name)[0])
	educator.follow(".stacks tbody a", "/people/")
	educator.click("[aria-labelledby=entitled] summary")
	educator.set("#from", "2026-01-01")
	educator.set("#until", "2026-12-31")
	educator.click(`[name="watch"]`)
	educator.click(`[name="sign-off"]`)
	educator.set("#credential", "RN")
	educator.set("#founding", "The clinic begins with this programme.")
	educator.click(`[name="approval"][value="paper"]`)
	educator.set("#approver", "Marek Invented")
	educator.set("#approver-role", "medical director")
	educator.set("#approved-on", "2026-01-01")
	educator.set("#paper", "red folder, page 3")
	educator.click(`form[action*="/entitle"] button`)
	educator.until(`document.querySelector("[aria-labelledby=entitled] .list li") !== null`, "no entitlement on the page")
}

// build brings the steps into order by pressing them and has them judged.
func (b *tab) build(scenario string, steps []string) string {
	b.t.Helper()
	b.open("/practice/" + scenario)
	b.click("main form .btn.big")
	b.until(`document.getElementById("build") !== null && document.readyState === "complete"`, "no build page")
	for _, s := range steps {
		b.click(fmt.Sprintf("button[name=add][value=%q]", s))
	}
	require.Len(b.t, b.texts("#steps li"), len(steps))
	b.until(`!document.getElementById("judge").disabled`, "not saved")
	b.follow("#judge", "/attempts/")
	return b.text("h1")
}

// run starts a run and presses its first step; the minutes that follow are
// tapped at the service, and the page goes on from there.
func (c *clinic) run(b *tab) string {
	b.startRun()
	model, _ := c.Taps("against-the-clock")
	b.click(tapOf(model[0].Step))
	b.until(`document.querySelectorAll("#trail li").length === 1`, "the step is not shown")
	tess := c.In("tess")
	d := c.openRun(tess, 1)
	late := d.Taps[0].At // the server counts from when the run was opened, its clock from the first step
	for _, s := range model[1:] {
		at := s.At + late
		c.until(d.StartedAt, time.Duration(at)*time.Millisecond/time.Duration(d.Pace))
		_, err := c.Tap(context.Background(), tess, d.ID, rand.Text(), s.Step, at)
		require.NoError(c.T, err)
	}
	c.Pass(5 * time.Second)
	b.open("/practice/against-the-clock")
	require.Len(c.T, b.texts("#trail li"), 7, "the newest steps are shown again")
	b.until(`document.getElementById("doing").textContent === "Your hands are free."`, "still busy")
	b.click("#finish")
	b.follow("#ask-yes", "/attempts/")
	return b.text("h1")
}

// openRun waits until the server has a number of taps.
func (c *clinic) openRun(who training.Actor, taps int) training.Draft {
	for end := time.Now().Add(stepTime); ; time.Sleep(20 * time.Millisecond) {
		d, err := c.Unfinished(context.Background(), who, "against-the-clock", false)
		require.NoError(c.T, err)
		if d != nil && len(d.Taps) == taps {
			return *d
		}
		require.True(c.T, time.Now().Before(end), "the server does not have the tap")
	}
}

// until sets the clock to a time after a moment, never back.
func (c *clinic) until(start training.Instant, after time.Duration) {
	if wait := start.Time().Add(after).Sub(c.Now()); wait > 0 {
		c.Pass(wait)
	}
}

// demonstrate records a good turnover, and its preceptor chooses that it met the standard.
func (c *clinic) demonstrate(b *tab) {
	b.open("/watch/new")
	b.set("#person", c.In("tess").Person.ID)
	for _, said := range []string{"announced", "clean", "covered"} {
		b.click(fmt.Sprintf(`input[name=%q][value=yes]`, said))
	}
	require.Equal(c.T, "use "+turnover+" station-wipe", eval[string](b, `[...document.querySelectorAll('.in-use input:checked')].find((x) => x.checkVisibility()).name`), "the usual product is ticked")
	b.follow("main form button", "/demonstrations/")
	id := strings.Split(eval[string](b, "location.pathname"), "/")[2]
	lines := c.goodTurnover()
	require.Equal(c.T, "rub hands 20s", lines[0].text)
	b.watchFrom("connected")
	b.click(tapOf("rub-hands"))
	b.saved(1)
	c.observe(id, lines[1:])
	b.open("/demonstrations/" + id + "/record")
	b.saved(len(lines))
	b.click("#end")
	b.click(`input[data-mark=friction][value=met]`)
	b.fill("#comment", "Calm and complete.")
	b.click("#finish-yes")
	b.until(`document.getElementById("signing") !== null`, "no review")
	require.Contains(c.T, b.text("h1"), "Passed, with nothing to change")

	require.Zero(c.T, eval[int](b, `document.querySelectorAll("input[name=meaning]:checked").length`), "nothing is chosen beforehand")
	b.click(fmt.Sprintf("input[value=%q]", training.WatchedMet))
	b.click(`form[action*="/outcome"] button`)
	b.until(`document.querySelector('form[action*="/hand-over"]') !== null`, "the learner does not come next")
}

// signHandedOver lets both sign on the preceptor's tablet: in the learner's hands it shows
// that page and nothing else.
func (c *clinic) signHandedOver(b *tab) {
	b.click(`form[action*="/hand-over"] button`)
	b.until(`document.querySelector('form[action*="/sign/learner"]') !== null`, "not handed over")
	for _, elsewhere := range []string{"/", "/people", "/watch", "/help", "/password"} {
		b.open(elsewhere)
		require.Contains(c.T, eval[string](b, "location.pathname"), "/demonstrations/", elsewhere)
	}
	require.Zero(c.T, eval[int](b, `document.querySelectorAll("header a, footer a").length`), "nowhere to go")
	require.Contains(c.T, b.texts(".sentence"), training.LearnerDid.Words(), "the learner sees the words")
	b.fill("#said", "The light was poor.")
	b.fill("#username", "tess")
	b.fill("#password", "not her password")
	b.click(`form[action*="/sign/learner"] button`)
	b.until(`document.querySelector("#sign [role=alert]") !== null`, "a wrong password is not told")
	require.Equal(c.T, "The light was poor.", eval[string](b, `document.getElementById("said").value`), "what was typed stays")
	b.fill("#password", password)
	b.click(`form[action*="/sign/learner"] button`)
	b.until(`document.querySelector('form[action*="/sign/preceptor"]') !== null`, "the preceptor is not asked")
	b.open("/people")
	require.Contains(c.T, eval[string](b, "location.pathname"), "/demonstrations/", "still in the learner's hands")
	c.preceptorSigns(b)
	require.Contains(c.T, b.text(".signed"), "The light was poor.")
	b.open("/people")
	require.Equal(c.T, "/people", eval[string](b, "location.pathname"))
}

func (c *clinic) preceptorSigns(b *tab) {
	b.fill("#password", password)
	b.click(`form[action*="/sign/preceptor"] button`)
	b.until(`document.querySelectorAll(".signed").length === 2`, "not signed by both")
	require.Contains(c.T, b.texts(".signed .sentence"), training.WatchedMet.Words())
}

// signApart lets each sign from their own sign-in, led there by their first page.
func (c *clinic) signApart(pia, tess *tab) {
	at := eval[string](pia, "location.pathname")
	tess.signIn("tess")
	tess.open("/practice")
	require.Contains(c.T, tess.text("#next"), "Read and sign your demonstration")
	tess.follow("#next a", at)
	tess.fill("#password", password)
	tess.click(`form[action*="/sign/learner"] button`)
	tess.until(`document.querySelectorAll(".signed").length === 1`, "not signed")
	pia.open("/watch")
	pia.follow(`a[href="`+at+`"]`, at)
	c.preceptorSigns(pia)
}

// observe taps the rest of a demonstration at the service, in its own time.
func (c *clinic) observe(id string, lines []seen) {
	pia := c.In("pia")
	d, before, err := c.Observations(context.Background(), pia, id)
	require.NoError(c.T, err)
	late := action.Millis(0) // of what was tapped on the page, whenever that was there
	if n := len(before); n > 0 {
		late = action.Millis(before[n-1].AtMs)
	}
	for _, s := range lines {
		at := s.at + late
		c.until(d.StartedAt, time.Duration(at)*time.Millisecond)
		_, err := c.Observe(context.Background(), pia, id, training.Observed{Key: rand.Text(), AtMs: int64(at), Text: s.text, Step: s.step})
		require.NoError(c.T, err, s.text)
	}
	c.Pass(time.Second)
}

func (c *clinic) signOff(b *tab) {
	b.open("/people?search=tess")
	b.follow(".stacks tbody a", "/people/")
	require.Contains(c.T, b.text(".panel h2"), "Station turnover between patients")
	require.Contains(c.T, b.texts(".sentence"), training.SignedOff.Words())
	b.fill(`form[action*="/sign-off"] input[type=password]`, password)
	b.click(`form[action*="/sign-off"] button`)
	b.until(`document.querySelector("[aria-labelledby=sign-offs] .signed") !== null`, "no sign-off on the record")
	require.Contains(c.T, b.text("[aria-labelledby=sign-offs] .signed"), "Due again 3 Mar 2027")
}

// workbook downloads a year's workbook with the session of the page.
func (b *tab) workbook(year int) []byte {
	require.NotEmpty(b.t, b.texts(fmt.Sprintf(`a[href="/annual/%d.xlsx"]`, year)))
	text := eval[string](b, fmt.Sprintf(`fetch("/annual/%d.xlsx").then((r) => r.arrayBuffer()).then((x) => btoa(String.fromCharCode(...new Uint8Array(x))))`, year))
	book, err := base64.StdEncoding.DecodeString(text)
	require.NoError(b.t, err)
	return book
}

// checkWorkbook finds the sign-off with its date, and the ledger's head.
func checkWorkbook(t *testing.T, text []byte, root string) {
	f, err := excelize.OpenReader(bytes.NewReader(text), excelize.Options{UnzipSizeLimit: 32 << 20})
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	rows, err := f.GetRows("Sign-offs", excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	var found []string
	for _, row := range rows {
		if slices.Contains(row, "Tess Invented") {
			found = append(found, strings.Join(row, " | "))
		}
	}
	require.Len(t, found, 1, "%v", rows)
	require.Contains(t, found[0], "Pia Invented")
	require.Contains(t, found[0], serial("2026-03-03"), "a real date, as a serial number of days")
	require.Contains(t, found[0], serial("2027-03-03"))
	keys, err := f.GetRows("Keys and heads")
	require.NoError(t, err)
	require.True(t, slices.ContainsFunc(keys, func(row []string) bool { return strings.Contains(strings.Join(row, " "), root) }),
		"the ledger's head %s is not in %v", root, keys)
}

// serial is a day as spreadsheets count it, from the last day of 1899.
func serial(day training.Day) string {
	return fmt.Sprint(int(day.Time().Sub(time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)).Hours()) / 24)
}
