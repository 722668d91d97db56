package web

import (
	"bytes"
	"crypto/rand"
	"mime/multipart"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// revision is the draft's, as a page would have it.
func (b *browser) revision() string {
	sets, err := b.c.Sets(b.c.T.Context(), b.actor)
	require.NoError(b.c.T, err)
	return strconv.Itoa(sets.Draft.Revision)
}

// bring sends a zip as the page's form does.
func (b *browser) bring(zip []byte, token, revision string) answer {
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for _, field := range [][2]string{{"token", token}, {"key", rand.Text()}, {"revision", revision}} {
		require.NoError(b.c.T, w.WriteField(field[0], field[1]))
	}
	f, err := w.CreateFormFile("zip", "set.zip")
	require.NoError(b.c.T, err)
	_, err = f.Write(zip)
	require.NoError(b.c.T, err)
	require.NoError(b.c.T, w.Close())
	r := httptest.NewRequest("POST", "/set/bring", &body)
	r.Header.Set("Content-Type", w.FormDataContentType())
	return b.do(r)
}

// A set that comes as a zip becomes the draft as it is; one with faults is told with file
// and line, and nothing of it is kept.
func TestASetIsBroughtInAsAZip(t *testing.T) {
	c := withSet(t)
	e := c.educator
	edited, err := scenarios.BuiltIn().With(scenarios.Edit{Do: "put", List: "surfaces", Row: "screen", Fields: map[string]string{"title": "Display"}})
	require.NoError(t, err)
	require.Equal(t, 403, e.bring(edited.Zip(), "no token of this session", "0").StatusCode)

	files := edited.Map()
	files["products.parts.yaml"] = append(bytes.Clone(files["products.parts.yaml"]), "\nnonsense: true\n"...)
	broken, err := scenarios.SetOf(files)
	require.NoError(t, err)
	r := e.bring(broken.Zip(), e.token, e.revision())
	require.Equal(t, 422, r.StatusCode)
	line := strconv.Itoa(1 + strings.Count(string(files["products.parts.yaml"][:bytes.Index(files["products.parts.yaml"], []byte("nonsense"))]), "\n"))
	require.Contains(t, r.body, "products.parts.yaml:"+line)
	for _, bad := range [][]byte{nil, []byte("PK no zip"), bytes.Repeat([]byte("x"), 1000)} {
		require.Equal(t, 422, e.bring(bad, e.token, e.revision()).StatusCode)
	}
	large := e.bring(append(edited.Zip(), make([]byte, aSet+1-len(edited.Zip()))...), e.token, e.revision())
	require.Equal(t, 413, large.StatusCode, "it is not cut off in silence")
	require.NotContains(t, e.get("/set").body, "The draft")

	require.Equal(t, 303, e.bring(edited.Zip(), e.token, e.revision()).StatusCode)
	draft, err := c.SetDraft(t.Context(), e.actor)
	require.NoError(t, err)
	require.Equal(t, edited.Hash(), training.SetHash(draft.Files))
	require.Equal(t, training.ImportedSet, draft.Origin)
	page := e.get("/set").body
	require.Contains(t, page, "Display")
	require.NotContains(t, page, "Take the last change back", "it came as a whole")
	require.Contains(t, e.get("/procedures/between-patients?in=draft").body, "Display")
	require.Equal(t, 404, c.trainee.get("/procedures/between-patients?in=draft").StatusCode)
	require.NotContains(t, e.get("/procedures/between-patients?in=1").body, "Display")
}

// Changes are taken back one after the other, the last one first, until there is no draft.
func TestTheLastChangeIsTakenBack(t *testing.T) {
	c := withSet(t)
	e := c.educator
	undo := func() int {
		return e.post("/set/undo", url.Values{"key": {rand.Text()}, "revision": {e.revision()}}).StatusCode
	}
	require.Equal(t, 409, undo(), "there is none")
	e.edit("surfaces", "screen", "put", url.Values{"f-title": {"Display"}})
	e.edit("surfaces", "chair", "put", url.Values{"f-title": {"Recliner"}})
	require.Contains(t, e.get("/set").body, "Take the last change back: “Recliner”")
	require.Equal(t, 303, undo())
	page := e.get("/set").body
	require.Contains(t, page, "Display")
	require.NotContains(t, page, "Recliner")
	require.Equal(t, 409, e.post("/set/undo", url.Values{"key": {rand.Text()}, "revision": {"1"}}).StatusCode, "of a draft that has changed since")
	require.Equal(t, 303, undo())
	require.NotContains(t, e.get("/set").body, "The draft")
}

// A version of before becomes the draft, and when it is approved it holds again.
func TestBackToAVersionOfBefore(t *testing.T) {
	c := withSet(t)
	e := c.educator
	approve := func() {
		v, err := c.ProposeSet(t.Context(), e.actor, rand.Text(), whole(t, e.revision()), "As it has to be.")
		require.NoError(t, err)
		_, err = c.ApproveSet(t.Context(), e.actor, rand.Text(), training.SetApproving{Version: v.Number, Hash: v.Hash, From: c.Today(), Approval: training.Approval{How: training.ApprovedHere}}, clinictest.Password, training.SecondPerson{})
		require.NoError(t, err)
	}
	e.edit("surfaces", "screen", "put", url.Values{"f-title": {"Display"}})
	approve()
	require.Contains(t, c.trainee.get("/procedures/between-patients").body, "Display")
	require.NotContains(t, e.get("/set/versions/2").body, "Make a draft of this version", "it holds")
	require.Contains(t, e.get("/set/versions/1").body, "Make a draft of this version")
	r := e.post("/set/versions/1/draft", url.Values{"key": {rand.Text()}, "revision": {e.revision()}})
	require.Equal(t, "/set", r.Header.Get("Location"), r.body)
	require.Equal(t, 404, e.post("/set/versions/9/draft", url.Values{"key": {rand.Text()}, "revision": {e.revision()}}).StatusCode)
	approve()
	require.NotContains(t, c.trainee.get("/procedures/between-patients").body, "Display")
	require.Contains(t, c.preceptor.get("/procedures/between-patients?in=2").body, "Display", "each version can still be read")
	require.Contains(t, c.preceptor.get("/procedures/between-patients?in=2").body, "version 2 of the clinic")
	require.Equal(t, 404, c.trainee.get("/procedures/between-patients?in=7").StatusCode)
}

func whole(t *testing.T, text string) int {
	n, err := strconv.Atoi(text)
	require.NoError(t, err)
	return n
}

// Where two are asked for, who proposed a version does not approve it, and one alone does
// not change that.
func TestTwoApproveWhereTheClinicAsksForIt(t *testing.T) {
	c := withSet(t)
	e := c.educator
	second := c.Hire(e.actor, "Nora Invented", "nora", training.Educator)
	ask := func(two, password string, more url.Values) answer {
		form := url.Values{"key": {rand.Text()}, "two": {two}, "password": {password}}
		for name, value := range more {
			form[name] = value
		}
		return e.post("/set/approvers", form)
	}
	require.Equal(t, 422, ask("yes", "a wrong one", nil).StatusCode)
	require.Equal(t, 303, ask("yes", clinictest.Password, nil).StatusCode)
	require.Contains(t, e.get("/set").body, "approved by somebody who did not propose it")

	e.edit("surfaces", "screen", "put", url.Values{"f-title": {"Display"}})
	v, err := c.ProposeSet(t.Context(), e.actor, rand.Text(), whole(t, e.revision()), "As it has to be.")
	require.NoError(t, err)
	approve := func(more url.Values) answer {
		form := url.Values{"key": {rand.Text()}, "hash": {v.Hash}, "from": {string(c.Today())}, "approval": {"here"}, "password": {clinictest.Password}}
		for name, value := range more {
			form[name] = value
		}
		return e.post("/set/versions/2/approve", form)
	}
	require.Contains(t, approve(nil).body, "Two people are asked for here")
	require.Equal(t, 303, approve(url.Values{"second-name": {"nora"}, "second-password": {clinictest.Password}}).StatusCode)
	require.Contains(t, e.get("/set/versions/2").body, "the word of "+second.Person.Name)

	require.Equal(t, 422, ask("no", clinictest.Password, url.Values{"approval": {"here"}}).StatusCode, "alone")
	require.Equal(t, 303, ask("no", clinictest.Password, url.Values{"approval": {"here"}, "second-name": {"nora"}, "second-password": {clinictest.Password}}).StatusCode)
	require.Contains(t, e.get("/set").body, "One person is asked for")
}

// What the loader has against a form is said as it is typed, at its field, and nothing is
// kept of it.
func TestAFormIsTriedAsItIsTyped(t *testing.T) {
	c := withSet(t)
	e := c.educator
	try := func(list, row string, more url.Values) answer {
		form := url.Values{"key": {rand.Text()}, "list": {list}, "row": {row}, "do": {"put"}, "procedure": {""}, "revision": {"0"}}
		for name, value := range more {
			form[name] = value
		}
		return e.post("/set/try", form)
	}
	require.JSONEq(t, `{"wrong": {}, "problem": ""}`, try("surfaces", "screen", url.Values{"f-title": {"Display"}}).body)
	require.JSONEq(t, `{"wrong": {"dries_s": "\"soon\" is no time; write it as 3:00, 3 min, 2 min 40 s or 180 s"}, "problem": ""}`, try("products", "station-wipe", url.Values{"f-dries_s": {"soon"}}).body)
	require.Contains(t, try("order", "", url.Values{"f-earlier": {"rub-hands"}, "f-later": {"rub-hands"}, "f-why": {"x"}, "f-basis": {"rumour"}}).body, `"wrong":{`)
	pair := url.Values{"f-earlier": {"bucket-empty"}, "f-later": {"wipe-chair"}, "f-why": {"We do."}, "f-basis-kind": {"published"}, "f-basis-source": {""}}
	require.Contains(t, try("order", "", pair).body, `"basis":`, "a published source says where")
	custom := url.Values{"f-earlier": {"bucket-empty"}, "f-later": {"wipe-chair"}, "f-why": {"We do."}, "f-critical": {"true"}, "f-basis-kind": {"clinic to confirm"}}
	require.Contains(t, try("order", "", custom).body, `"critical":"nobody of the clinic has confirmed this pair`)
	pair.Set("f-basis-source", "Our manual, page 3")
	require.JSONEq(t, `{"wrong": {}, "problem": ""}`, try("order", "", pair).body)
	require.Contains(t, try("products", "station-wipe", url.Values{"f-claims-0-for": {"bacteria"}, "f-claims-0-time": {"3"}, "f-claims-0-used": {"yes"}}).body, `"claims-0-time":`)
	require.NotContains(t, e.get("/set").body, "The draft")
}

// What cannot follow a change is told where the change was made, and a new row never
// writes over one that there is.
func TestWhatRestsIsToldWhereItIsChanged(t *testing.T) {
	c := withSet(t)
	e := c.educator
	require.NotContains(t, e.get("/set/edit?list=products").body, "not shown to learners")
	require.Equal(t, 303, e.edit("products", "station-wipe", "hide", nil).StatusCode)
	resting := func() int {
		page := e.get("/set/edit?list=products").body
		require.Contains(t, page, "which the procedure does not have any more")
		return whole(t, regexp.MustCompile(`(\d+) more things are not shown to learners`).FindStringSubmatch(page)[1])
	}
	all := resting()
	form := e.get("/set/edit?list=scenarios&row=ordinary-turnover").body
	require.Contains(t, form, "which your stations do not have", "and its form mends it")
	require.Contains(t, form, "It is not shown to learners:")
	require.NotContains(t, form, "A right answer, as it is now")
	require.Equal(t, 303, e.edit("scenarios", "ordinary-turnover", "put", url.Values{"f-product": {"blood-wipe"}}).StatusCode)
	require.Less(t, resting(), all)
	require.Contains(t, e.get("/set/edit?list=scenarios&row=ordinary-turnover").body, "A right answer, as it is now")

	require.Equal(t, 303, e.post("/set/undo", url.Values{"key": {rand.Text()}, "revision": {e.revision()}}).StatusCode)
	require.Equal(t, 303, e.post("/set/undo", url.Values{"key": {rand.Text()}, "revision": {e.revision()}}).StatusCode)
	require.Contains(t, e.get("/set/edit?list=products&row=station-wipe").body, "Our stations use another one instead")
	require.Equal(t, 303, e.edit("products", "station-wipe", "replace", url.Values{"by": {"blood-wipe"}}).StatusCode)
	require.NotContains(t, e.get("/set/edit?list=products").body, "more things are not shown")

	before := e.get("/set/edit?list=surfaces").body
	require.Equal(t, 303, e.edit("surfaces", "", "put", url.Values{"f-title": {"Screen"}, "f-face": {"a side of its own"}, "f-wipe_s": {"9"}}).StatusCode)
	after := e.get("/set/edit?list=surfaces").body
	require.Equal(t, strings.Count(before, ">Change<")+1, strings.Count(after, ">Change<"), "there are two screens now")
	require.Contains(t, after, "row=screen-2")
	require.Equal(t, 422, e.edit("products", "", "put", url.Values{"f-title": {""}, "f-label_s": {"3:00"}, "f-dries_s": {"4:00"}}).StatusCode)
	require.Contains(t, e.get("/set/edit?list=products").body, "Blood-claim wipe, 3-minute label")
}

// A label was read on the day that is given, today where none is; a day to come, or no day,
// is refused at its field and kept as it was typed.
func TestALabelWasReadOnADay(t *testing.T) {
	c := withSet(t)
	e := c.educator
	for given, kept := range map[string]training.Day{string(c.Today().AddDays(-9)): c.Today().AddDays(-9), string(c.Today()): c.Today(), "": c.Today()} {
		r := e.edit("products", "station-wipe", "confirm", url.Values{"label": {"yes"}, "read-on": {given}})
		require.Equal(t, 303, r.StatusCode, r.body)
		draft, err := c.SetDraft(t.Context(), e.actor)
		require.NoError(t, err)
		set, err := scenarios.SetOf(draft.Files)
		require.NoError(t, err)
		lib, err := set.Outline()
		require.NoError(t, err)
		p, _ := lib.Procedure("between-patients")
		require.Equal(t, string(kept), p.Products[p.ProductIndex("station-wipe")].CheckedOn, given)
	}
	for given, says := range map[string]string{string(c.Today().AddDays(9)): "this day is still to come", "soon": "is no day"} {
		r := e.edit("products", "station-wipe", "confirm", url.Values{"label": {"yes"}, "read-on": {given}})
		require.Equal(t, 422, r.StatusCode)
		require.Regexp(t, `id="read-on-wrong"[^>]*><b>Read on:</b> [^<]*`+says, r.body)
		require.Regexp(t, `id="read-on"[^>]*value="`+given, r.body)
	}
}

// The page of the draft names what lessons and stories still speak of; it is no fault.
func TestWordsOfWhatIsGoneAreOnTheDraftsPage(t *testing.T) {
	c := withSet(t)
	e := c.educator
	require.NotContains(t, e.get("/set").body, "Words to look at")
	require.Equal(t, 303, e.edit("surfaces", "pole", "hide", nil).StatusCode)
	require.Equal(t, 303, e.edit("scenarios", "ordinary-turnover", "put", url.Values{"f-story": {"The bag hangs on the pole."}}).StatusCode)
	page := e.get("/set").body
	require.Regexp(t, `<a href="/set/edit\?list=scenarios&amp;row=ordinary-turnover">Scenario “[^”]+” speaks of “Pole”`, page)
	_, err := c.ProposeSet(t.Context(), e.actor, rand.Text(), whole(t, e.revision()), "We have none.")
	require.NoError(t, err)
}

// A station of another kind can be read whole while it is a draft, and its page leads to the
// order of the one that it is of.
func TestAStationOfAnotherKindIsReadBeforeItIsProposed(t *testing.T) {
	c := withSet(t)
	e := c.educator
	require.Equal(t, 303, e.edit("variants", "", "put", url.Values{"f-of": {"between-patients"}, "f-title": {"Bed"}, "f-without-there": {"yes"}, "f-without-chair": {"yes"}}).StatusCode)
	found := regexp.MustCompile(`href="(/procedures/[^"?]*\?in=draft)">Read the draft: [^<]*Bed`).FindStringSubmatch(e.get("/set").body)
	require.Len(t, found, 2)
	page := e.get(found[1])
	require.Equal(t, 200, page.StatusCode)
	require.Contains(t, page.body, `No scenario is of this station, so that no order of its own is proved here. It is the work of <a href="/procedures/between-patients?in=draft">`)
}
