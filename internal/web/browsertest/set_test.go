package browsertest

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// kept waits for the list after a form was taken into the draft.
func (b *tab) kept(list string) {
	b.until(fmt.Sprintf(`location.pathname === "/set/edit" && location.search === "?list=%s" && document.readyState === "complete"`, list), "the form was not taken: "+list)
}

// An educator starts from the starting point, renames a surface, adds a product with a
// label of 5 minutes, makes a pair critical, hides a scenario, sees the effect, has it
// approved, and a new hire then meets it.
func TestAnEducatorMakesTheProcedureHerClinics(t *testing.T) {
	c := withSet(t)
	checker := axe(t)
	edda := c.signedIn("edda", desktop)
	edda.open("/set")
	edda.isWell(checker, "the set")
	edda.follow(`a[href="/set/edit?list=surfaces"]`, "/set/edit")
	edda.isWell(checker, "surfaces")
	edda.follow(`a[href="/set/edit?list=surfaces&row=screen"]`, "/set/edit")
	edda.set(`[name="f-title"]`, "Display")
	edda.isWell(checker, "a surface")
	edda.click(`form[data-try] .btn.big`)
	edda.kept("surfaces")
	require.Contains(t, edda.text("main"), "Display")

	edda.open("/set/edit?list=products")
	edda.isWell(checker, "products")
	edda.follow(`a[href$="new=yes"]`, "/set/edit")
	edda.set(`[name="f-title"]`, "Five minute wipe")
	edda.set(`[name="f-claims-0-for"]`, "bacteria")
	edda.set(`[name="f-claims-0-time"]`, "5")
	edda.click(`[name="f-claims-0-used"]`)
	edda.until(`document.getElementById("field-claims-0-time-wrong")?.textContent.includes("5 of what?")`, "a wrong time is not told as it is typed")
	edda.isWell(checker, "a new product, with a time that cannot be read")
	edda.set(`[name="f-claims-0-time"]`, "5:00")
	edda.until(`document.getElementById("field-claims-0-time-wrong") === null`, "a right time is told as wrong")
	edda.open("/set/edit?list=products&new=yes") // as if she had reloaded it
	edda.until(`document.querySelector("[name='f-claims-0-time']").value === "5:00" && document.querySelector("[name='f-claims-0-used']").checked`, "what was typed is lost with a reload")
	edda.set(`[name="f-dries_s"]`, "5:30")
	edda.click(`form[data-try] .btn.big`)
	edda.kept("products")
	edda.open("/set/edit?list=products&new=yes")
	require.Empty(t, eval[string](edda, `document.querySelector("[name='f-title']").value`), "what was taken is not offered again")

	edda.open("/set/edit?list=order")
	edda.isWell(checker, "the order")
	edda.open("/set/edit?list=order&row=bucket-empty+wipe-bucket-inside")
	edda.set(`[name="f-critical"]`, "true")
	edda.click(`form[data-try] .btn.big`)
	edda.kept("order")
	edda.open("/set/edit?list=scenarios&row=a-blood-leak-alarm")
	edda.click(`form:has([value="hide"]) button`)
	edda.kept("scenarios")

	edda.open("/set")
	for _, said := range []string{"Display", "Five minute wipe", "one miss fails the whole", "Your clinic does not offer it."} {
		require.Contains(t, edda.text("main"), said)
	}
	edda.isWell(checker, "the draft")
	edda.open("/set/edit?list=surfaces&row=chair")
	edda.set(`[name="f-title"]`, "Recliner")
	edda.click(`form[data-try] .btn.big`)
	edda.kept("surfaces")
	edda.open("/set")
	require.Contains(t, edda.text("#draft"), "Recliner")
	edda.click(`form[action="/set/undo"] button`)
	edda.until(`!document.getElementById("draft").textContent.includes("Recliner")`, "the last change is not taken back")
	edda.fill("#why", "Our policy of this year.")
	edda.follow(`form[action="/set/propose"] button`, "/set/versions/2")
	require.Contains(t, edda.text("[aria-labelledby=effect], main"), "would be judged differently")
	edda.isWell(checker, "a version that waits")
	edda.click(`[name="approval"][value="paper"]`)
	edda.set("#approver", "Marek Invented")
	edda.set("#approver-role", "medical director")
	edda.set("#approved-on", string(c.Today()))
	edda.set("#paper", "Binder 3")
	edda.fill("#password", password)
	edda.click(`form[action$="/approve"] button`)
	edda.until(`document.getElementById("follow") !== null`, "it is not approved")
	edda.isWell(checker, "a version in force")

	tess := c.signedIn("tess", phone)
	tess.open("/procedures/between-patients")
	for _, said := range []string{"Display", "Five minute wipe", "Critical. A bucket that is not empty"} {
		require.Contains(t, tess.text("main"), said)
	}
	tess.open("/practice")
	require.NotContains(t, tess.text("main"), "A blood leak alarm")
	tess.open("/practice/ordinary-turnover")
	tess.click(`form[action$="/start"] .btn.big`)
	tess.until(`document.querySelector("main").textContent.includes("Wipe display, buttons and knobs")`, "the steps do not say the display")
	report, err := c.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}
