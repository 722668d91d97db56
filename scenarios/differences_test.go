package scenarios_test

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/scenarios"
)

// told is a difference as a person would read it.
func told(d scenarios.Difference) string {
	return fmt.Sprintf("%s: %s -> %s (%s)", d.What, d.Was, d.Is, strings.Join(d.Procedures, " "))
}

func TestDifferencesAreToldInWords(t *testing.T) {
	was, err := scenarios.Load()
	require.NoError(t, err)
	require.Empty(t, scenarios.Differences(was, was))
	_, is := edited(t,
		scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"label_s": "180"}},
		scenarios.Edit{Do: "put", List: "surfaces", Row: "counter", Fields: fields{"title": "Shelf at the wall"}},
		scenarios.Edit{Do: "hide", List: "surfaces", Row: "call-light"},
		scenarios.Edit{Do: "put", List: "surfaces", Row: "handle", Fields: fields{"title": "Handle", "face": "machine left", "thing": "machine", "wipe_s": "6", "must_see": "true"}},
		scenarios.Edit{Do: "put", List: "products", Row: "foam", Fields: fields{"title": "Foam", "level": "low", "label_s": "300", "dries_s": "360", "not_on": "chair"}},
		scenarios.Edit{Do: "put", List: "order", Row: "wipe-side-table wipe-chair", Fields: fields{"why": "Our own custom.", "critical": "true"}},
		scenarios.Edit{Do: "confirm", List: "order", Row: "wipe-side-table wipe-chair", Fields: fields{"by": "Mara Voss", "on": "2027-01-02"}},
		scenarios.Edit{Do: "confirm", List: "order", Row: "wipe-top wipe-front", Fields: fields{"by": "Mara Voss", "on": "2027-01-02"}},
		scenarios.Edit{Do: "set", List: "settings", Procedure: endOfDay, Fields: fields{"cut_percent": "85"}},
		scenarios.Edit{Do: "put", List: "marks", Row: "order", Fields: fields{"critical": "true"}},
		scenarios.Edit{Do: "hide", List: "scenarios", Row: "called-away"},
		scenarios.Edit{Do: "put", List: "items", Row: "reusables", Fields: fields{"goes": "waste-bin"}},
	)
	var all []string
	for _, d := range scenarios.Differences(was, is) {
		all = append(all, told(d))
	}
	w := "between-patients end-of-day isolation-station"
	four := "after-visible-blood " + w
	for _, want := range []string{
		"Product “Station wipe, 2-minute label”: contact time: 2:00 -> 3:00 (" + four + ")",
		"Surface “Shelf at the wall”: title: Counter -> Shelf at the wall (" + w + ")",
		"Surface “Call light”: there ->  (" + w + ")",
		"Surface “Handle”:  -> new: of the thing “machine”, a watcher must see it wet (" + w + ")",
		"Product “Foam”:  -> new: contact time 5:00, low level, not allowed on Chair with arms and gaps (" + four + ")",
		"Order “Wipe the side table” before “Wipe the chair, arms and gaps”:  -> new: Our own custom, critical (" + four + ")",
		"Order “Wipe the machine top” before “Wipe the machine front panel”: asked for: as advice -> as a demand (" + w + ")",
		"Order “Wipe the machine top” before “Wipe the machine front panel”: standing: common practice -> common practice, confirmed by Mara Voss on 2 Jan 2027 (" + w + ")",
		"Procedure “End of the day at the station”: lowest score that passes: 90 % -> 85 % (end-of-day)",
		"Mark “The clinic's declared order kept”: one miss fails the whole: no -> yes (" + four + ")",
		"Scenario “A neighbour calls”: there ->  ()",
	} {
		if strings.HasPrefix(want, "Scenario") {
			require.True(t, slices.ContainsFunc(all, func(s string) bool {
				return strings.HasPrefix(s, "Scenario “") && strings.HasSuffix(s, ": there ->  ()")
			}), "%v", all)
			continue
		}
		require.Contains(t, all, want)
	}
	back := scenarios.Differences(is, was)
	require.Len(t, back, len(all), "the way back is as long")
	for _, d := range back {
		require.NotEqual(t, d.Was, d.Is)
	}
}

// Every field of a definition is told: a change that nobody reads of would be approved
// unseen.
func TestEveryFieldOfAnEditIsTold(t *testing.T) {
	small, err := scenarios.ReadSet(bench(t))
	require.NoError(t, err)
	small, err = small.With(scenarios.Edit{Do: "put", List: "products", Row: "soap", Fields: fields{"made_h": "2", "checked_by": "M", "checked_on": "2027-01-01"}},
		scenarios.Edit{Do: "put", List: "closing", Row: "rag-away", Fields: fields{"why": "V", "basis": "clinic to confirm"}})
	require.NoError(t, err)
	for _, e := range []scenarios.Edit{
		{Do: "put", List: "surfaces", Row: "top", Fields: fields{"title": "T", "name": "T", "high_touch": "true", "chair_side": "true", "must_see": "true", "row": "7", "area_dm2": "8", "wipe_s": "9", "dries_s": "77", "basis": "common practice",
			"face": "desk", "thing": "desk"}},
		{Do: "put", List: "products", Row: "soap", Fields: fields{"title": "T", "level": "intermediate", "label_s": "61", "dries_s": "62", "not_on": "top", "made_h": "3", "past_date": "true", "area_dm2": "50", "basis": "common practice",
			"claims": "used\t3:00\tfungi", "registration": "R 1", "good_until": "2027-01-01", "checked_by": "Mara Voss", "checked_on": "2027-01-02"}},
		{Do: "put", List: "products", Row: "soap", Fields: fields{"good_h": "8"}},
		{Do: "put", List: "items", Row: "rag", Fields: fields{"title": "T", "kind": "reusable", "goes": "top", "when_named": "true", "isolation": "true", "basis": "common practice"}},
		{Do: "put", List: "places", Row: "bin", Fields: fields{"title": "T", "kind": "leak-proof", "basis": "common practice"}},
		{Do: "put", List: "steps", Row: "take", Fields: fields{"label": "L", "seconds": "33", "seldom": "true"}},
		{Do: "put", List: "order", Row: "gloves-on wipe-top", Fields: fields{"why": "W", "basis": "clinic to confirm"}},
		{Do: "put", List: "closing", Row: "rag-away", Fields: fields{"why": "W", "basis": "common practice"}},
		{Do: "put", List: "marks", Row: "order", Fields: fields{"title": "T", "worth": "8", "critical": "true"}},
		{Do: "set", List: "settings", Fields: fields{"wet": "add-up", "staging_with_patient": "true", "one_wipe": "thing", "hands": "who", "patient_free_s": "60", "clear_alone": "true", "isolation": "true",
			"see_one_face_of": "vice", "board": "list", "basis": "common practice", "cut_percent": "70", "title": "T", "owner": "O", "review_by": "2028-01-01", "version": "9"}},
	} {
		eachIsTold(t, small, e)
	}
	eachIsTold(t, scenarios.BuiltIn(), scenarios.Edit{Do: "put", List: "scenarios", Row: "ordinary-turnover", Fields: fields{"title": "T", "story": "S", "product": "blood-wipe", "level": "4", "teaches": "X"}})
}

func eachIsTold(t *testing.T, set *scenarios.Set, e scenarios.Edit) {
	was, err := set.Load()
	require.NoError(t, err)
	for field, value := range e.Fields {
		one := e
		one.Fields = fields{field: value}
		s, err := set.With(one)
		require.NoError(t, err, "%s %s", e.List, field)
		is, err := s.Load()
		require.NoError(t, err)
		require.NotEmpty(t, scenarios.Differences(was, is), "%s %s", e.List, field)
	}
}

func TestUnconfirmedValues(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	all := lib.Unconfirmed()
	has := func(all []scenarios.Value, list, row string) *scenarios.Value {
		i := slices.IndexFunc(all, func(v scenarios.Value) bool { return v.List == list && v.Row == row })
		if i < 0 {
			return nil
		}
		return &all[i]
	}
	require.Equal(t, procedure.ClinicToConfirm, has(all, "products", "station-wipe").Standing)
	require.Len(t, has(all, "products", "station-wipe").Procedures, 4)
	require.Equal(t, []string{endOfDay}, has(all, "closing", "waste-out").Procedures)
	require.Equal(t, procedure.CommonPractice, has(all, "order", "wipe-top wipe-front").Standing)
	require.NotNil(t, has(all, "settings", endOfDay))
	require.NotNil(t, has(all, "marks", "calm"))
	require.Nil(t, has(all, "surfaces", "top"), "it is published")
	require.Nil(t, has(all, "order", "bucket-empty wipe-bucket-inside"))

	as := fields{"by": "Mara Voss", "on": "2026-09-01"}
	_, one := edited(t, scenarios.Edit{Do: "confirm", List: "products", Row: "station-wipe", Fields: as})
	require.Len(t, one.Unconfirmed(), len(all)-1)
	s, err := scenarios.BuiltIn().With(confirmAll(as)...)
	require.NoError(t, err)
	done, err := s.Load()
	require.NoError(t, err)
	require.Empty(t, done.Unconfirmed())
	s, err = s.With(confirmOf("surfaces", "screen", fields{"by": ""}))
	require.NoError(t, err)
	undone, err := s.Load()
	require.NoError(t, err)
	require.Len(t, undone.Unconfirmed(), 1, "taken back")
}

func confirmOf(list, row string, as fields) scenarios.Edit {
	return scenarios.Edit{Do: "confirm", List: list, Row: row, Fields: as}
}

func confirmAll(as fields) (edits []scenarios.Edit) {
	for _, list := range []string{"surfaces", "items", "places", "products", "order", "closing", "marks", "settings"} {
		edits = append(edits, confirmOf(list, "", as))
	}
	return edits
}

// Whoever reads what differs reads names: no id of any row stands in a sentence.
func TestWhatDiffersNamesNoIDs(t *testing.T) {
	was, err := scenarios.Load()
	require.NoError(t, err)
	_, is := edited(t, binder()...)
	var ids []string
	for _, lib := range []*scenarios.Library{was, is} {
		for _, id := range every {
			p := proced(t, lib, id)
			ids = append(append(ids, p.ID), p.StepIDs()...)
			for _, slot := range []action.Slot{action.Surface, action.Product, action.Item, action.Place} {
				ids = append(ids, p.Words[slot]...)
			}
		}
		for _, s := range lib.Scenarios() {
			ids = append(ids, s.ID)
		}
	}
	var texts []string
	for _, d := range scenarios.Differences(was, is) {
		texts = append(texts, d.Text())
	}
	for _, r := range is.Resting() {
		texts = append(texts, r.Why)
	}
	for _, id := range ids {
		if strings.Contains(id, "-") {
			named := regexp.MustCompile(`(^|[^\w-])` + id + `($|[^\w-])`)
			for _, text := range texts {
				require.False(t, named.MatchString(text), "%s: %s", id, text)
			}
		}
	}
}
