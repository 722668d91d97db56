package web

import (
	"crypto/rand"
	"encoding/json"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every field that a form has and that can be wrong says so at itself, as it is typed and
// when it is sent, and nothing is kept: a wrong value in each list, one after the other.
func TestEveryFaultOfAFormIsShownAtItsField(t *testing.T) {
	c := withSet(t)
	e := c.educator
	const wipe, clinics = "station-wipe", "clinic to confirm"
	for name, x := range map[string]struct {
		list, row, procedure string
		form                 url.Values
		at                   string // the field
		text                 string
	}{
		"no name of a product":        {"products", wipe, "", url.Values{"f-title": {""}}, "title", "must not be empty"},
		"no time":                     {"products", wipe, "", url.Values{"f-label_s": {"soon"}}, "label_s", "is no time"},
		"a time of nothing":           {"products", wipe, "", url.Values{"f-label_s": {"0:00"}}, "label_s", "between"},
		"a bare number":               {"products", wipe, "", url.Values{"f-dries_s": {"3"}}, "dries_s", "of what"},
		"a level of no kind":          {"products", wipe, "", url.Values{"f-level": {"strong"}}, "level", "none of"},
		"a claim without its time":    {"products", wipe, "", url.Values{"f-claims-0-for": {"HIV"}, "f-claims-0-time": {""}, "f-claims-0-used": {"yes"}}, "claims-0-time", ""},
		"a claim against nothing":     {"products", wipe, "", url.Values{"f-claims-0-for": {""}, "f-claims-0-time": {"2:00"}, "f-claims-0-used": {"yes"}}, "claims-0", ""},
		"no claim is claimed":         {"products", wipe, "", url.Values{"f-claims-0-for": {"HIV"}, "f-claims-0-time": {"2:00"}}, "claims", "claimed"},
		"treatment time in no words":  {"products", wipe, "", url.Values{"f-reading": {"treatment"}, "f-reading_words": {""}}, "reading_words", "type in what it says"},
		"good until some day":         {"products", wipe, "", url.Values{"f-good_until": {"soon"}}, "good_until", "is no day"},
		"good for hours, not diluted": {"products", wipe, "", url.Values{"f-good_h": {"8"}}, "good_h", "only a dilution"},
		"published nowhere":           {"products", wipe, "", url.Values{"f-basis-kind": {"published"}, "f-basis-source": {" "}}, "basis", "source"},
		"no name of a surface":        {"surfaces", "screen", "", url.Values{"f-title": {" "}}, "title", ""},
		"a wipe of no time":           {"surfaces", "screen", "", url.Values{"f-wipe_s": {"0"}}, "wipe_s", "between"},
		"a wipe that takes long":      {"surfaces", "screen", "", url.Values{"f-wipe_s": {"long"}}, "wipe_s", "whole number"},
		"dry before it is wet":        {"surfaces", "screen", "", url.Values{"f-dries_s": {"-5"}}, "dries_s", "between"},
		"a pair without a reason":     {"order", "", "", url.Values{"f-earlier": {"bucket-empty"}, "f-later": {"wipe-chair"}, "f-why": {""}, "f-basis-kind": {clinics}}, "why", "must not be empty"},
		"custom that is critical":     {"order", "", "", url.Values{"f-earlier": {"bucket-empty"}, "f-later": {"wipe-chair"}, "f-why": {"x"}, "f-critical": {"true"}, "f-basis-kind": {clinics}}, "critical", "confirm it first"},
		"a pair of nothing":           {"order", "", "", url.Values{"f-earlier": {"no-such"}, "f-later": {"wipe-chair"}, "f-why": {"x"}, "f-basis-kind": {clinics}}, "earlier", "unknown step"},
		"a score of more than all":    {"settings", "between-patients", "between-patients", url.Values{"f-cut_percent": {"190"}}, "cut_percent", "between"},
		"a review on no day":          {"settings", "between-patients", "between-patients", url.Values{"f-review_by": {"soon"}}, "review_by", ""},
		"a review that is over":       {"settings", "between-patients", "between-patients", url.Values{"f-review_by": {string(c.Today().AddDays(-1))}}, "review_by", "is over"},
		"two of one name":             {"products", wipe, "", url.Values{"f-title": {"blood-claim wipe, 3-minute label"}}, "title", "already"},
		"dry at no time":              {"products", wipe, "", url.Values{"f-dries_s": {""}}, "dries_s", "is missing"},
		"a new one without times":     {"products", "", "", url.Values{"f-title": {"Foam"}, "f-level": {"low"}, "f-dries_s": {"3:00"}}, "label_s", "is missing"},
		"hands as nobody says":        {"settings", "between-patients", "between-patients", url.Values{"f-hands": {"mine"}}, "hands", "none of"},
		"a mark worth nothing":        {"marks", "order", "", url.Values{"f-worth": {"-1"}}, "worth", "between"},
		"a thing that goes nowhere":   {"items", "lines", "", url.Values{"f-goes-there": {"yes"}}, "goes", ""},
		"a thing of no kind":          {"items", "lines", "", url.Values{"f-kind": {"thing"}}, "kind", "none of"},
		"a new thing without a name":  {"items", "", "", url.Values{"f-title": {""}, "f-kind": {"single-use"}, "f-goes-there": {"yes"}, "f-goes-waste-bin": {"yes"}}, "title", "must not be empty"},
		"a place for nothing":         {"places", "", "", url.Values{"f-title": {"Hole"}, "f-kind": {"hole"}}, "kind", "none of"},
		"a button without a word":     {"steps", "rub-hands", "", url.Values{"f-label": {""}}, "label", ""},
		"a step before time":          {"steps", "rub-hands", "", url.Values{"f-seconds": {"-1"}}, "seconds", ""},
		"a place without a name":      {"places", "drain", "", url.Values{"f-title": {""}}, "title", ""},
		"a story of nowhere":          {"scenarios", "against-the-clock", "", url.Values{"f-story": {"In {nowhere}."}}, "story", "no fact that varies"},
		"a scenario without a title":  {"scenarios", "against-the-clock", "", url.Values{"f-title": {""}}, "title", "must not be empty"},
		"another product":             {"scenarios", "against-the-clock", "", url.Values{"f-product": {"soap"}}, "product", "unknown product"},
	} {
		t.Run(name, func(t *testing.T) {
			form := url.Values{"key": {rand.Text()}, "list": {x.list}, "row": {x.row}, "do": {"put"}, "procedure": {x.procedure}, "revision": {"0"}}
			for field, value := range x.form {
				form[field] = value
			}
			var answer struct {
				Wrong   map[string]string
				Problem string
			}
			tried := e.post("/set/try", form)
			require.NoError(t, json.Unmarshal([]byte(tried.body), &answer), tried.body)
			require.Contains(t, answer.Wrong, x.at, tried.body)
			require.Contains(t, answer.Wrong[x.at], x.text)
			sent := e.post("/set/edit", form)
			require.Equal(t, 422, sent.StatusCode)
			require.Contains(t, strings.ReplaceAll(sent.body, "&#34;", `"`), answer.Wrong[x.at])
		})
	}
	require.NotContains(t, e.get("/set").body, "The draft")
}
