package scenarios_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/procedure"
	"stillwet/scenarios"
)

func TestTimesOfALabelAreReadAsPeopleWriteThem(t *testing.T) {
	times := map[string]int{"3:00": 180, "0:45": 45, "10:05": 605, "3 min": 180, "3min": 180, "10 minutes": 600, "1 m": 60, "180 s": 180, "30s": 30, "90 seconds": 90, "120": 120, " 3:00 ": 180, "4 MIN": 240, "2 minutes 40": 160, "2 min 40 s": 160, "2 min and 5 seconds": 125, "one minute": 60, "Ten minutes": 600, "5 min.": 300, "0": 0}
	for text, want := range times {
		got, err := scenarios.ParseTime(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "soon", "3:5", "3:60", "3", "29", "-3 min", "3.5 min", "1:00:00", "3 h", "min", "999999", "5 min 2:40", "2 min 75", "one"} {
		_, err := scenarios.ParseTime(text)
		require.Error(t, err, text)
	}
}

// The longest of the times that the clinic claims rules, whatever else the label claims.
func TestTheLongestClaimRules(t *testing.T) {
	put := func(f fields) scenarios.Edit {
		return scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: f}
	}
	wipe := func(edits ...scenarios.Edit) procedure.Product {
		_, lib := edited(t, edits...)
		p := proced(t, lib, "between-patients")
		return p.Products[p.ProductIndex("station-wipe")]
	}
	claims := put(fields{"claims": "used\t1 min\tbacteria\nused\t3:00\thepatitis B and HIV\n-\t10 min\tspores"})
	w := wipe(claims)
	require.Equal(t, 180, w.LabelS)
	require.Equal(t, []procedure.Claim{{For: "bacteria", LabelS: 60, Used: true}, {For: "hepatitis B and HIV", LabelS: 180, Used: true}, {For: "spores", LabelS: 600}}, w.Claims)
	w = wipe(claims, put(fields{"claims": "used\t1 min\tbacteria\n-\t3:00\thepatitis B and HIV"}))
	require.Equal(t, 60, w.LabelS)
	w = wipe(claims, put(fields{"claims": ""}))
	require.Equal(t, 180, w.LabelS, "without claims the time that ruled stands alone")
	require.Empty(t, w.Claims)
}

// A label is checked by somebody on a day, and what is changed afterwards is not checked.
func TestWhoCheckedALabel(t *testing.T) {
	as := fields{"by": "Mara Voss", "on": "2027-01-02"}
	is := func(edits ...scenarios.Edit) (procedure.Product, int) {
		_, lib := edited(t, append([]scenarios.Edit{confirmOf("products", "", as)}, edits...)...)
		p := proced(t, lib, "between-patients")
		return p.Products[p.ProductIndex("blood-wipe")], len(lib.Unconfirmed())
	}
	w, open := is()
	require.Equal(t, "Mara Voss 2027-01-02", w.CheckedBy+" "+w.CheckedOn)
	_, named := is(scenarios.Edit{Do: "put", List: "products", Row: "blood-wipe", Fields: fields{"title": "Blood wipe", "dries_s": "2:00"}})
	require.Equal(t, open, named, "its name and how long it stays wet stand on no label")
	changes := fields{"label_s": "4 min", "claims": "used\t4:00\tHIV", "level": "low", "registration": "R 2", "not_on": "screen"}
	for field, value := range changes {
		w, now := is(scenarios.Edit{Do: "put", List: "products", Row: "blood-wipe", Fields: fields{field: value}})
		require.Empty(t, w.CheckedBy+w.CheckedOn+w.Confirmed.By, field)
		require.Equal(t, open+1, now, field)
	}
	w, now := is(confirmOf("products", "blood-wipe", fields{"by": ""}))
	require.Empty(t, w.CheckedBy)
	require.Equal(t, open+1, now)
}

func TestALabelIsReadAsTreatmentTimeWithItsWords(t *testing.T) {
	_, lib := edited(t, scenarios.Edit{Do: "put", List: "products", Row: "station-wipe",
		Fields: fields{"reading": "treatment", "reading_words": "Leave undisturbed for 2 minutes, wet or dry.", "reading_by": "Mara Voss", "reading_on": "2027-01-02"}})
	p := proced(t, lib, "between-patients")
	w := p.Products[p.ProductIndex("station-wipe")]
	require.True(t, w.CountsDry())
	require.Equal(t, "Leave undisturbed for 2 minutes, wet or dry.", w.ReadingWords)
	_, lib = edited(t, scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"reading": "wet"}})
	p = proced(t, lib, "between-patients")
	require.False(t, p.Products[p.ProductIndex("station-wipe")].CountsDry())
}

// Where the label counts the time that a surface is left alone, nothing is wiped again to
// keep it wet, and the models still get full marks.
func TestModelsFollowTreatmentTime(t *testing.T) {
	tenMinutes := scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"label_s": "10 min"}}
	reading := scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"reading": "treatment", "reading_words": "Leave it alone.", "reading_by": "Mara Voss", "reading_on": "2027-01-02"}}
	wipes := func(edits ...scenarios.Edit) int {
		_, lib := edited(t, edits...)
		require.Subset(t, []string{"a-colleagues-wet-times"}, resting(t, lib, "scenario"), "one plants a dry pole, which is no mistake then")
		s, ok := lib.Scenario("against-the-clock")
		require.True(t, ok)
		return strings.Count(s.Model, " wipe screen\n")
	}
	require.Equal(t, 1, wipes(tenMinutes, reading))
	require.Greater(t, wipes(tenMinutes), 1, "kept visibly wet it is wiped again and again")

	was, err := scenarios.Load()
	require.NoError(t, err)
	_, is := edited(t, reading)
	var all []string
	for _, d := range scenarios.Differences(was, is) {
		all = append(all, d.What+": "+d.Was+" -> "+d.Is)
	}
	require.Contains(t, all, "Product “Station wipe, 2-minute label”: how its time is read: visibly wet for its whole time -> left alone for its time, wet or dry")
	require.Contains(t, all, "Product “Station wipe, 2-minute label”: the label's words for it:  -> “Leave it alone.”, typed in by Mara Voss on 2 Jan 2027")
}
