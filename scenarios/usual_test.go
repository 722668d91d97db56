package scenarios_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/scenarios"
)

// A product that alone is allowed on a surface is taken in every turnover; one that could
// be used there too is not.
func TestWhatASurfaceNeedsIsTakenAsUsual(t *testing.T) {
	foam := scenarios.Edit{Do: "put", List: "products", Row: "foam", Fields: fields{"title": "Foam", "level": "low", "label_s": "5:00", "dries_s": "6:00"}}
	off := scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"not_on": "screen"}}
	offToo := scenarios.Edit{Do: "put", List: "products", Row: "blood-wipe", Fields: fields{"not_on": "screen"}}
	seldom := func(edits ...scenarios.Edit) bool {
		_, lib := edited(t, edits...)
		p := proced(t, lib, "between-patients")
		return p.Steps[p.StepIndex("take-foam")].Seldom
	}
	require.True(t, seldom(foam))
	require.True(t, seldom(foam, off), "the blood wipe is allowed there")
	require.False(t, seldom(foam, off, offToo))
	require.False(t, seldom(foam, off, scenarios.Edit{Do: "hide", List: "products", Row: "blood-wipe"}))
}

// A product's name is its maker's: it is written as it is, also when it changes.
func TestTheStepOfAProductSaysItsName(t *testing.T) {
	_, lib := edited(t, scenarios.Edit{Do: "put", List: "products", Row: "foam", Fields: fields{"title": "Belling foam", "level": "low", "label_s": "5:00", "dries_s": "6:00"}})
	require.Equal(t, "Take a wipe of Belling foam", proced(t, lib, "between-patients").Title("take-foam"))
	_, lib = edited(t, scenarios.Edit{Do: "put", List: "products", Row: "foam", Fields: fields{"title": "Foam", "level": "low", "label_s": "5:00", "dries_s": "6:00"}},
		scenarios.Edit{Do: "put", List: "products", Row: "foam", Fields: fields{"title": "Belling foam"}})
	require.Equal(t, "Take a wipe of Belling foam", proced(t, lib, "between-patients").Title("take-foam"))
}
