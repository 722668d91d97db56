package web

import (
	"crypto/rand"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
	"stillwet/views"
)

func (b *browser) product(more url.Values) answer {
	return b.edit("products", "station-wipe", "put", more)
}

// Claims are typed as on the label, one a line; the longest that is ticked rules. What is
// wrong stands at its line, and nothing that was typed is lost.
func TestClaimsOfALabel(t *testing.T) {
	e := withSet(t).educator
	row := views.EditURL("products", "", "station-wipe")
	claims := url.Values{"f-claims-0-for": {"bacteria"}, "f-claims-0-time": {"1 min"}, "f-claims-0-used": {"yes"}, "f-claims-1-for": {"hepatitis B and HIV"}, "f-claims-1-time": {"long"}, "f-claims-1-used": {"yes"},
		"f-claims-2-for": {"spores"}, "f-claims-2-time": {"10:00"}, "f-claims-3-for": {""}, "f-claims-3-time": {""}}
	r := e.product(claims)
	require.Equal(t, 422, r.StatusCode)
	require.Regexp(t, `<p class="wrong"[^>]*>[^<]*3:00, 3 min, 2 min 40 s or 180 s[^<]*</p>\s*<input type="text" id="f-claims-1-time"`, r.body)
	require.Contains(t, r.body, `value="long"`)
	claims["f-claims-1-time"] = []string{"3 min"}
	require.Equal(t, 303, e.product(claims).StatusCode)
	list := e.get(views.EditURL("products", "", "")).body
	require.Contains(t, list, "Contact time 3:00")
	require.Contains(t, list, "1:00 for bacteria, 3:00 for hepatitis B and HIV; on the label too, and not claimed here: 10:00 for spores")
	require.Regexp(t, `name="f-claims-2-used" value="yes">`, e.get(row).body, "spores are not ticked")
	require.Regexp(t, `name="f-claims-1-used" value="yes" checked`, e.get(row).body)
}

// Whoever confirms a product says to have its label at hand, and is named with the day.
func TestALabelIsChecked(t *testing.T) {
	c := withSet(t)
	e := c.educator
	row := views.EditURL("products", "", "station-wipe")
	require.Contains(t, e.get(row).body, "I have read the label: 2:00.")
	const again = "The label was read again, or on another day"
	require.NotContains(t, e.get(row).body, again)
	for _, refused := range []answer{e.edit("products", "station-wipe", "confirm", nil), e.edit("products", "", "confirm", nil), e.edit("products", "", "confirm", url.Values{"label": {"yes"}})} {
		require.Equal(t, 422, refused.StatusCode)
		require.Contains(t, refused.body, "Labels are confirmed one by one")
	}
	require.Equal(t, 303, e.edit("products", "station-wipe", "confirm", url.Values{"label": {"yes"}}).StatusCode)
	page := e.get(row).body
	require.Contains(t, page, "label checked by Edda Invented, ")
	require.Contains(t, page, again)
	require.Equal(t, 303, e.product(url.Values{"f-label_s": {"2:30"}}).StatusCode)
	require.Contains(t, e.get(row).body, "I have read the label: 2:30.", "what is changed has to be checked anew")
}

// Treatment time stands only with the label's words, under the name of who typed them.
func TestTreatmentTimeNeedsTheLabelsWords(t *testing.T) {
	e := withSet(t).educator
	row := views.EditURL("products", "", "station-wipe")
	r := e.product(url.Values{"f-reading": {"treatment"}, "f-reading_words": {""}})
	require.Equal(t, 422, r.StatusCode)
	require.Contains(t, r.body, "type in what it says")
	require.Contains(t, r.body, `<option value="treatment" selected`)
	r = e.product(url.Values{"f-reading": {""}, "f-reading_words": {"Leave it alone."}})
	require.Equal(t, 422, r.StatusCode)
	require.Contains(t, r.body, "Leave it alone.", "nothing that was typed is lost")
	require.Equal(t, 303, e.product(url.Values{"f-reading": {"treatment"}, "f-reading_words": {"Allow to remain undisturbed for 2 minutes."}}).StatusCode)
	require.Contains(t, e.get(row).body, "Typed in by Edda Invented, ")
	require.Contains(t, e.get(views.EditURL("products", "", "")).body, "the label says: “Allow to remain undisturbed for 2 minutes.”")
	require.Equal(t, 303, e.product(url.Values{"f-reading": {""}, "f-reading_words": {"Allow to remain undisturbed for 2 minutes."}}).StatusCode)
	require.NotContains(t, e.get(row).body, "Typed in by")
}

// Surfaces and places are ticked by their names; what is not sent stays as it is.
func TestSurfacesAndPlacesAreTicked(t *testing.T) {
	e := withSet(t).educator
	row := views.EditURL("products", "", "station-wipe")
	require.Equal(t, 303, e.product(url.Values{"f-not_on-there": {"yes"}, "f-not_on-screen": {"yes"}, "f-not_on-buttons": {"yes"}}).StatusCode)
	page := e.get(row).body
	require.Regexp(t, `name="f-not_on-screen" value="yes" checked`, page)
	require.Regexp(t, `name="f-not_on-front" value="yes">`, page)
	require.Equal(t, 303, e.product(url.Values{"f-title": {"Our wipe"}}).StatusCode)
	require.Regexp(t, `name="f-not_on-screen" value="yes" checked`, e.get(row).body)
	require.Equal(t, 303, e.product(url.Values{"f-not_on-there": {"yes"}}).StatusCode)
	require.NotRegexp(t, `name="f-not_on-screen" value="yes" checked`, e.get(row).body)
	require.Equal(t, 422, e.edit("items", "reusables", "put", url.Values{"f-goes-there": {"yes"}}).StatusCode, "a thing goes somewhere")
	require.Equal(t, 303, e.edit("items", "reusables", "put", url.Values{"f-goes-there": {"yes"}, "f-goes-waste-bin": {"yes"}}).StatusCode)
	require.Contains(t, e.get(views.EditURL("items", "", "")).body, "To: waste bin")
}

// A product whose day has gone by is told wherever somebody looks after it.
func TestAProductPastItsDay(t *testing.T) {
	c := withSet(t)
	e := c.educator
	told := "Station wipe, 2-minute label: good until"
	require.Equal(t, 303, e.product(url.Values{"f-good_until": {string(c.Today())}}).StatusCode)
	pages := []string{"/set", views.EditURL("products", "", ""), views.EditURL("products", "", "station-wipe")}
	for _, page := range pages {
		require.NotContains(t, e.get(page).body, told, "it is good to the end of its day")
	}
	require.Equal(t, 303, e.product(url.Values{"f-good_until": {"2020-02-01"}}).StatusCode)
	for _, page := range pages {
		require.Contains(t, e.get(page).body, told)
	}
	require.NotContains(t, e.get(views.EditURL("products", "", "blood-wipe")).body, told)
	c.approveDraft(e)
	require.Equal(t, 4, strings.Count(c.preceptor.get("/watch/new").body, "Its date is over: take another."), "with each of four procedures")
	require.Equal(t, 303, e.product(url.Values{"f-past_date": {"true"}}).StatusCode)
	require.NotContains(t, e.get("/set").body, told, "somebody has said so, and it is judged so")
}

// The list of surfaces begins with the picture, in which each leads to its form, also one
// that nobody drew; there it is lit. What no station has can be taken up.
func TestSurfacesAreFoundOnThePicture(t *testing.T) {
	e := withSet(t).educator
	list := views.EditURL("surfaces", "", "")
	link := func(id string) string {
		return `<a class="tappable" href="/set/edit\?list=surfaces&amp;row=` + id + `" data-surface="` + id + `"`
	}
	page := e.get(list).body
	require.Regexp(t, link("screen"), page)
	require.NotRegexp(t, link("hose"), page)
	require.Contains(t, page, `aria-label="Our stations have it: Dialysate hoses outside"`)
	require.Equal(t, 303, e.edit("surfaces", "hose", "show", nil).StatusCode)
	require.Equal(t, 303, e.edit("surfaces", "", "put", url.Values{"f-title": {"Foot switch"}, "f-face": {"foot switch"}, "f-wipe_s": {"5"}}).StatusCode)
	page = e.get(list).body
	require.Regexp(t, link("hose"), page)
	require.Regexp(t, link("foot-switch"), page)
	require.NotContains(t, page, "Our stations have it: Dialysate hoses outside")
	require.Contains(t, page, "Other parts")
	form := e.get(views.EditURL("surfaces", "", "foot-switch")).body
	require.Regexp(t, link("foot-switch")+`[^>]*><title>[^<]*</title> ?<path class="part lit"`, form)
	require.NotRegexp(t, link("screen")+`[^>]*><title>[^<]*</title> ?<path class="part lit"`, form)
	require.Equal(t, 303, e.edit("surfaces", "foot-switch", "hide", nil).StatusCode)
	require.Contains(t, e.get(list).body, "Our stations have it: Foot switch")
}

// An educator adds a bed; when it is approved a preceptor says at which station it is
// shown, and the record says so.
func TestAStationOfAnotherKind(t *testing.T) {
	c := withSet(t)
	e := c.educator
	r := e.edit("variants", "", "put", url.Values{"f-of": {"between-patients"}, "f-title": {""}, "f-without-there": {"yes"}, "f-without-chair": {"yes"}})
	require.Equal(t, 422, r.StatusCode)
	require.Regexp(t, `name="f-without-chair" value="yes" checked`, r.body)
	require.Contains(t, r.body, "is called in up to 40 letters")
	require.Equal(t, 303, e.edit("variants", "", "put", url.Values{"f-of": {"between-patients"}, "f-title": {"Bed"}, "f-without-there": {"yes"}, "f-without-chair": {"yes"}}).StatusCode)
	list := e.get(views.EditURL("variants", "", "")).body
	require.Contains(t, list, "Of “Station turnover between patients”, without: chair with arms and gaps")
	require.Contains(t, e.get(views.EditURL("settings", "between-patients", "between-patients")).body, "counts for that one: as many are asked at each")
	require.NotContains(t, e.get(views.EditURL("settings", "end-of-day", "end-of-day")).body, "counts for that one: as many are asked at each")
	require.Equal(t, 303, e.edit("settings", "between-patients", "put", url.Values{"procedure": {"between-patients"}, "f-variants": {"each"}}).StatusCode)

	require.Equal(t, 303, e.edit("surfaces", "", "put", url.Values{"f-title": {"Bed rails"}, "f-face": {"bed"}, "f-wipe_s": {"20"}, "f-of": {"bed"}}).StatusCode)

	require.NotContains(t, c.preceptor.get("/watch/new").body, "Station turnover between patients, bed<")
	c.approveDraft(e)
	page := c.preceptor.get("/watch/new").body
	require.Contains(t, page, "<b>Station turnover between patients, the usual station</b>")
	require.Contains(t, page, "<b>Station turnover between patients, bed</b>")
	require.Contains(t, page, `name="use turnover-between-patients bed station-wipe"`)
	start := func(what string) answer {
		return c.preceptor.post("/watch/new", startForm(c.trainee.id(), what, "station-wipe"))
	}
	require.Equal(t, 422, start("turnover-between-patients at-a-sofa").StatusCode)
	require.Equal(t, 422, start("turnover-between-patients end-of-day").StatusCode)
	require.Equal(t, 303, start("turnover-between-patients bed").StatusCode)
	record := c.preceptor.get("/people/" + c.trainee.id()).body
	require.Contains(t, record, "Station: Bed")
	require.Contains(t, record, "of 4 clean demonstrations")
	read := c.trainee.get("/procedures/bed").body
	require.Contains(t, read, "Station turnover between patients: Bed")
	require.Contains(t, read, "Bed rails")
	require.NotContains(t, c.trainee.get("/procedures/between-patients").body, "Bed rails")
	require.Contains(t, c.trainee.get("/help").body, "/procedures/bed")
}

// approveDraft proposes what is being worked on, and has it hold from today.
func (c *clinic) approveDraft(e *browser) {
	sets, err := c.Sets(c.T.Context(), e.actor)
	require.NoError(c.T, err)
	v, err := c.ProposeSet(c.T.Context(), e.actor, rand.Text(), sets.Draft.Revision, "A bed.")
	require.NoError(c.T, err)
	_, err = c.ApproveSet(c.T.Context(), e.actor, rand.Text(), training.SetApproving{Version: v.Number, Hash: v.Hash, From: c.Today(), Approval: training.Approval{How: training.ApprovedHere}}, clinictest.Password, training.SecondPerson{})
	require.NoError(c.T, err)
}
