package scenarios_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
	"stillwet/scenarios"
)

// What a change asks of people is written down once more, by hand.
func TestWhatAChangeWeighs(t *testing.T) {
	was, err := scenarios.Load()
	require.NoError(t, err)
	by := fields{"by": "Mara Voss", "on": "2027-01-02"}
	for name, c := range map[string]struct {
		edit  scenarios.Edit
		kind  string
		id    string
		heavy training.Weight // the heaviest of the row's changes
	}{
		"a longer contact time":        {scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"label_s": "130"}}, "product", "station-wipe", training.Longer},
		"a shorter contact time":       {scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"label_s": "90"}}, "product", "station-wipe", training.Retimed},
		"a product that is new":        {scenarios.Edit{Do: "put", List: "products", Row: "foam", Fields: fields{"title": "Foam", "level": "low", "label_s": "5:00", "dries_s": "6:00"}}, "product", "foam", training.Retimed},
		"a product's name":             {scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"title": "Wipe"}}, "product", "station-wipe", training.Told},
		"a surface's name":             {scenarios.Edit{Do: "put", List: "surfaces", Row: "counter", Fields: fields{"title": "Shelf"}}, "surface", "counter", training.Told},
		"a surface less":               {scenarios.Edit{Do: "hide", List: "surfaces", Row: "call-light"}, "surface", "call-light", training.Told},
		"how long a wipe is to take":   {scenarios.Edit{Do: "put", List: "surfaces", Row: "counter", Fields: fields{"wipe_s": "17"}}, "surface", "counter", training.NoWeight},
		"a surface confirmed":          {scenarios.Edit{Do: "confirm", List: "surfaces", Row: "screen", Fields: by}, "surface", "screen", training.NoWeight},
		"a pair that becomes a demand": {scenarios.Edit{Do: "confirm", List: "order", Row: "wipe-top wipe-front", Fields: by}, "pair", "wipe-top wipe-front", training.Demanded},
		"a pair that fails the whole":  {scenarios.Edit{Do: "put", List: "order", Row: "bucket-empty wipe-bucket-inside", Fields: fields{"critical": "true"}}, "pair", "bucket-empty wipe-bucket-inside", training.Failing},
		"a pair less":                  {scenarios.Edit{Do: "drop", List: "order", Row: "wipe-top wipe-front"}, "pair", "wipe-top wipe-front", training.Told},
		"a mark that fails the whole":  {scenarios.Edit{Do: "put", List: "marks", Row: "order", Fields: fields{"critical": "true"}}, "mark", "order", training.Failing},
		"a mark's worth":               {scenarios.Edit{Do: "put", List: "marks", Row: "order", Fields: fields{"worth": "7"}}, "mark", "order", training.Told},
		"the lowest score":             {scenarios.Edit{Do: "set", List: "settings", Procedure: endOfDay, Fields: fields{"cut_percent": "95"}}, "setting", endOfDay, training.Told},
		"the day of the review":        {scenarios.Edit{Do: "set", List: "settings", Procedure: endOfDay, Fields: fields{"review_by": "2028-01-01"}}, "setting", endOfDay, training.NoWeight},
	} {
		t.Run(name, func(t *testing.T) {
			_, is := edited(t, c.edit)
			var heaviest training.Weight
			for _, id := range []string{"between-patients", endOfDay} {
				before, _ := was.Procedure(id)
				now, _ := is.Procedure(id)
				for _, x := range scenarios.Changes(before, now) {
					if x.Kind == c.kind && x.ID == c.id {
						if place(x.Weight) > place(heaviest) {
							heaviest = x.Weight
						}
					}
				}
			}
			require.Equal(t, c.heavy, heaviest)
		})
	}
}

// place is how heavy a weight is.
func place(w training.Weight) int {
	return slices.Index([]training.Weight{training.NoWeight, training.Told, training.Retimed, training.Longer, training.Demanded, training.Failing}, w)
}

// A row that stops being a demand, or is none any more, is only told.
func TestTheWayBackWeighsLess(t *testing.T) {
	was, err := scenarios.Load()
	require.NoError(t, err)
	_, is := edited(t, scenarios.Edit{Do: "put", List: "marks", Row: "order", Fields: fields{"critical": "true"}},
		scenarios.Edit{Do: "put", List: "order", Row: "bucket-empty wipe-bucket-inside", Fields: fields{"critical": "true"}},
		scenarios.Edit{Do: "confirm", List: "order", Row: "wipe-top wipe-front", Fields: fields{"by": "Mara Voss", "on": "2027-01-02"}})
	before, _ := was.Procedure("between-patients")
	now, _ := is.Procedure("between-patients")
	for _, c := range scenarios.Changes(now, before) {
		require.Contains(t, []training.Weight{training.NoWeight, training.Told}, c.Weight, c.Text)
	}
	new := scenarios.Changes(nil, now)
	require.Len(t, new, 1)
	require.Equal(t, training.Told, new[0].Weight)
	require.Empty(t, scenarios.Changes(now, now))
}
