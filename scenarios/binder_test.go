package scenarios_test

import (
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
	edits = append(edits, scenarios.Edit{Do: "confirm", List: "order", Row: "wipe-side-table wipe-chair", Fields: fields{"by": "Ruth Calloway", "on": "2026-11-03"}},
		scenarios.Edit{Do: "set", List: "settings", Fields: fields{"cut_percent": "85", "wet": "restart", "hands": "who"}})
	put("marks", "wet", fields{"critical": "true"})
	for _, s := range []string{"a-blood-leak-alarm", "a-helper-with-bare-hands", "a-leak-at-the-end-of-the-day", "against-the-clock", "an-alarm-against-the-clock", "back-for-a-coat", "blood-on-the-floor",
		"blood-on-the-machine", "blood-on-the-screen", "called-away", "clamps-and-a-cuff", "end-of-day-by-the-clock", "end-of-day-in-order", "isolation-turnover", "needles-at-the-chair",
		"not-yet-able-to-leave", "ordinary-turnover", "own-things-of-the-isolation-room", "spill-on-the-side-table", "supplies-left-over", "the-bucket-goes-back-last", "the-coat-against-the-clock", "three-minutes-wet"} {
		put("scenarios", s, fields{"product": "corvane-wipes"})
	}
	hide("products", "station-wipe", "blood-wipe", "bleach-dilution")
	return edits
}

func TestABinder(t *testing.T) {
	_, lib := edited(t, binder()...)
	for _, of := range []string{"scenario", "lesson", "question", "part", "module", "competency"} {
		resting(t, lib, of)
	}
	require.Len(t, proced(t, lib, "between-patients").Surfaces, 12)
}
