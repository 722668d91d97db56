package scenarios_test

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/scenarios"
)

// binder are the edits that bring a clinic's own binder into the set: twelve surfaces, two
// products of which one is not allowed on the screen, an order of its own, and the marks.
func binder() (edits []scenarios.Edit) {
	put := func(list, row string, with fields) {
		edits = append(edits, scenarios.Edit{Do: "put", List: list, Row: row, Fields: with})
	}
	hide := func(list string, rows ...string) {
		for _, row := range rows {
			edits = append(edits, scenarios.Edit{Do: "hide", List: list, Row: row})
		}
	}
	put("products", "corvane-wipes", fields{"title": "Corvane wipes", "level": "intermediate", "dries_s": "2:40", "not_on": "screen", "registration": "88-1107",
		"claims": "used\t1:00\thepatitis B, HIV 1\nused\t2:00\tbacteria\n-\t4:00\tC. difficile spores", "checked_by": "Ruth Calloway", "checked_on": "2026-11-02"})
	put("products", "belling-foam", fields{"title": "Belling foam", "level": "low", "dries_s": "6:00", "label_s": "5:00"})
	hide("items", "supplies", "next-set")
	hide("surfaces", "keyboard", "latches", "cuff", "attachments", "counter", "staging", "bucket-sides", "bucket-outside")
	edits = append(edits, scenarios.Edit{Do: "hide", List: "surfaces", Row: "floor", Procedure: spill})
	put("surfaces", "footrest", fields{"title": "Footrest of the chair", "face": "footrest", "thing": "chair", "must_see": "true", "wipe_s": "10", "chair_side": "true"})
	put("surfaces", "side-table", fields{"title": "Overbed table"})
	put("surfaces", "call-light", fields{"title": "Call bell"})
	put("surfaces", "pole", fields{"title": "Pole with holder"})
	put("order", "wipe-side-table wipe-chair", fields{"why": "Our own custom."})
	put("order", "check-gone lines-off", fields{"why": "The patient has left before anything is taken down.", "critical": "true"})
	for _, pair := range []string{"wipe-side-table wipe-chair", "check-gone lines-off", "bucket-empty wipe-bucket-inside"} {
		edits = append(edits, confirmOf("order", pair, fields{"by": "Ruth Calloway", "on": "2026-11-03"}))
	}
	edits = append(edits, scenarios.Edit{Do: "set", List: "settings", Fields: fields{"cut_percent": "85", "wet": "restart", "hands": "who", "clear_alone": "true"}})
	put("marks", "wet", fields{"critical": "true"})
	for _, s := range []string{"a-blood-leak-alarm", "a-helper-with-bare-hands", "a-leak-at-the-end-of-the-day", "against-the-clock", "an-alarm-against-the-clock", "back-for-a-coat", "blood-on-the-floor",
		"blood-on-the-machine", "blood-on-the-screen", "called-away", "clamps-and-a-cuff", "end-of-day-by-the-clock", "end-of-day-in-order", "isolation-turnover", "needles-at-the-chair",
		"not-yet-able-to-leave", "ordinary-turnover", "own-things-of-the-isolation-room", "spill-on-the-side-table", "supplies-left-over", "the-bucket-goes-back-last", "the-coat-against-the-clock", "three-minutes-wet"} {
		put("scenarios", s, fields{"product": "corvane-wipes"})
	}
	edits = append(edits, scenarios.Edit{Do: "put", List: "variants", Row: "bed-room", Procedure: "between-patients", Fields: fields{"title": "Bed", "without": "chair, footrest, side-table"}},
		scenarios.Edit{Do: "put", List: "surfaces", Row: "bed", Procedure: "bed-room", Fields: fields{"title": "Bed with rails", "face": "bed", "must_see": "true", "wipe_s": "30", "chair_side": "true"}})
	hide("products", "station-wipe", "blood-wipe", "bleach-dilution")
	return edits
}

// Nothing of it may rest but what is about something that the clinic does not have.
func TestABinder(t *testing.T) {
	_, lib := edited(t, binder()...)
	why := map[string]string{
		"scenario blood-on-the-floor":        "its story needs “Floor at the station”",
		"scenario blood-on-the-screen":       "“Corvane wipes”, which is not allowed on it: the screen", // and the foam is too weak: the clinic has none
		"scenario the-bucket-goes-back-last": "its story needs “Staging surface for supplies”",
		"question wet-time/staging":          "it asks about “Wipe the staging surface”",
		"question wet-time/not-dry":          "it asks about “Wipe the staging surface”",
		"question dries-early/one-wipe":      "it asks about “Wipe line holders, latches, small parts”",
	}
	rests := map[string]string{}
	for _, r := range lib.Resting() {
		rests[r.Of+" "+r.ID] = r.Why
		require.Contains(t, r.Why, why[r.Of+" "+r.ID], "%s %s", r.Of, r.ID)
	}
	require.ElementsMatch(t, slices.Collect(maps.Keys(why)), slices.Collect(maps.Keys(rests)))

	for _, id := range whole {
		require.Len(t, proced(t, lib, id).Surfaces, 12, id)
		require.Len(t, proced(t, lib, id).Products, 2, id)
	}
	model := modelOf(t, lib, "ordinary-turnover")
	require.Contains(t, model, "of belling-foam\nwipe screen\nwipe buttons\n")
	require.Less(t, strings.Index(model, "wipe side-table"), strings.Index(model, "wipe chair"))
	require.Regexp(t, "take wipe w[0-9]+ of corvane-wipes\nwipe footrest\n", model)
	bed := proced(t, lib, "bed-room")
	require.Negative(t, bed.SurfaceIndex("side-table"))
	require.Positive(t, bed.SurfaceIndex("bed"))
}
