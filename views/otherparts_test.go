package views

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/procedure"
)

// drawnStation is a procedure with so many surfaces of which the first is drawn.
func drawnStation(surfaces int) *procedure.Procedure {
	p := &procedure.Procedure{Definition: procedure.Definition{Picture: procedure.Picture{Width: 810, Height: 420, Shapes: []procedure.Shape{{Surface: "s0", Path: "M0 0h10v10h-10z"}}}}}
	for i := range surfaces {
		p.Surfaces = append(p.Surfaces, procedure.Surface{ID: fmt.Sprintf("s%d", i), Title: fmt.Sprintf("Surface %d", i), Face: fmt.Sprintf("thing %d", i%3)})
	}
	return p
}

// Every surface stands in the picture once, inside of it, and no box lies over another.
func TestWhatNobodyDrewStandsUnderThePicture(t *testing.T) {
	require.Equal(t, drawnStation(1).Picture, pictureOf(drawnStation(1)), "where all is drawn nothing is added")
	for n := range 48 {
		p := drawnStation(n + 1)
		pic := pictureOf(p)
		require.Len(t, pic.Shapes, n+1)
		require.Len(t, p.Picture.Shapes, 1, "the procedure's own picture stays")
		seen := map[string]bool{}
		places := map[procedure.Point]bool{}
		for i, s := range pic.Shapes {
			require.False(t, seen[s.Surface])
			seen[s.Surface] = true
			if i == 0 {
				continue
			}
			require.Greater(t, s.At.Y-boxHigh/2, 420, "under the drawing")
			require.LessOrEqual(t, s.At.X+boxWide/2, pic.Width)
			require.LessOrEqual(t, s.At.Y+boxHigh/2-5, pic.Height)
			for at := range places {
				require.True(t, max(at.X-s.At.X, s.At.X-at.X) >= boxWide || max(at.Y-s.At.Y, s.At.Y-at.Y) >= boxHigh)
			}
			places[s.At] = true
		}
	}
	things := undrawn(drawnStation(10))
	for i := 1; i < len(things); i++ {
		if things[i].ThingOf() != things[i-1].ThingOf() {
			for _, later := range things[i+1:] {
				require.NotEqual(t, things[i-1].ThingOf(), later.ThingOf(), "what is of one thing stands together")
			}
		}
	}
	bare := drawnStation(3)
	bare.Picture = procedure.Picture{}
	require.Empty(t, pictureOf(bare).Shapes, "a list needs no strip")
}
