package views

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// sides is a picture of a box with a left and a right side, a lamp at its left and a cup
// without a name of its own.
func sides(shapes ...Shape) Drawing {
	at := func(x, y int) procedure.Point { return procedure.Point{X: x, Y: y} }
	return Drawing{Title: "T", Picture: procedure.Picture{Width: 810, Height: 400, Hands: at(400, 90),
		Labels: []procedure.Label{{Text: "Box", At: at(300, 390)}},
		Shapes: []procedure.Shape{
			{Surface: "left", Path: "M200 100h40v200h-40z", At: at(220, 200), Pair: "box"},
			{Surface: "right", Path: "M360 100h40v200h-40z", At: at(380, 200), Pair: "box"},
			{Surface: "lamp", Path: "M40 100h80v60h-80z", At: at(80, 130)},
			{Path: "M600 200h20v20h-20z", At: at(610, 210)},
		}}, Shapes: shapes}
}

func shapeOf(id string) Shape { return Shape{ID: id, Title: "The " + id, Name: id} }

// Everything changes sides but the sides of one thing: what is left of somebody who faces
// it is left in both pictures.
func TestAMirroredPictureKeepsLeftLeft(t *testing.T) {
	d := sides()
	boxes := func() map[string]rect {
		all := map[string]rect{}
		for _, o := range d.outlines() {
			all[o.Surface] = o.Box
		}
		return all
	}
	require.Equal(t, rect{200, 100, 240, 300}, boxes()["left"])
	d.Mirrored = true
	got := boxes()
	require.Equal(t, rect{410, 100, 450, 300}, got["left"], "where the right side's mirror image is")
	require.Equal(t, rect{570, 100, 610, 300}, got["right"])
	require.Equal(t, rect{690, 100, 770, 160}, got["lamp"])
	require.Less(t, got["left"].right, got["right"].left)
	for _, o := range d.outlines() {
		require.True(t, o.Box.contains(rect{float64(o.At.X), float64(o.At.Y), float64(o.At.X), float64(o.At.Y)}), "the place of numbers goes with the shape: %s", o.Surface)
	}
	page := rendered(t, Picture(d))
	require.Equal(t, 4, strings.Count(page, "matrix(-1 0 0 1 810 0)"), "every outline is turned")
	require.NotContains(t, page[strings.Index(page, `class="over"`):], "matrix", "words are not")
}

func TestAPictureThatDoesNotTellItsSidesStays(t *testing.T) {
	r := onDrawn(t, assess.Finding{Rule: "a", Act: 1, Surface: "chair"})
	require.False(t, r.drawing(r.findings(), true).Mirrored)
	require.NotContains(t, rendered(t, StationPicture(Frame{}, r, r.findings())), "as you face")
	r.Procedure.Picture.Shapes[0].Pair, r.Procedure.Picture.Shapes[1].Pair = "desk", "desk"
	require.True(t, r.drawing(r.findings(), true).Mirrored)
	require.Contains(t, rendered(t, StationPicture(Frame{}, r, r.findings())), "Left and right as you face the desk.")
}

// A shape says its surface, its state and its numbers; it leads to the first of them.
func TestShapesOfAResultLeadToTheirFindings(t *testing.T) {
	r := onDrawn(t, assess.Finding{Rule: "a", Act: 1, Surface: "chair", Critical: true}, assess.Finding{Rule: "b", Act: 3, Surface: "chair"}, assess.Finding{Rule: "c", Act: 3})
	r.Spells = []assess.SurfaceSpells{{Surface: "chair", NeedMs: 60_000, Spells: []assess.Spell{{From: 0, To: 30_000}}}}
	page := rendered(t, Picture(r.drawing(r.findings(), false)))
	require.Contains(t, page, `<a class="tappable" href="#finding-1" data-surface="chair" aria-label="Chair, too short, numbers 1, 2">`)
	require.Contains(t, page, `<g role="img" data-surface="screen" aria-label="Screen, not wiped">`)
	require.Contains(t, page, `<a class="tappable" href="#finding-3" aria-label="Hands, gloves, order, number 3">`)
	require.Contains(t, page, `class="pin lesser"`, "the hands' finding is not critical where others are")
	require.Equal(t, 1, strings.Count(page, `class="pin"`))
}

// The accents never meet on one part: a surface that held, and has a finding, has that of
// the finding.
func TestAFindingsAccentStandsAlone(t *testing.T) {
	held := Shape{ID: "lamp", Title: "Lamp", Name: "lamp", State: StateDry, Numbers: []string{"4"}}
	page := rendered(t, Picture(sides(held)))
	require.Contains(t, page, `class="part found"`)
	require.NotContains(t, page, `data-state="dry"`)
	require.Contains(t, page, "Lamp, reached, dry, number 4", "its state is said")
}

// The same picture as a board: buttons that tell how wet each surface is.
func TestABoardsShapesAreButtonsThatFill(t *testing.T) {
	wet, done := shapeOf("lamp"), shapeOf("left")
	wet.State, wet.Level, wet.Button = StateWet, .25, true
	done.State, done.Button = StateReached, true
	page := rendered(t, Picture(sides(wet, done)))
	require.Contains(t, page, `<g class="tappable" role="button" tabindex="0" data-surface="lamp" aria-label="The lamp, wet">`)
	require.Contains(t, page, `<rect class="water" x="40.0" y="145.0" width="80.0" height="15.0">`, "a quarter of 60, from below")
	require.Contains(t, page, `<rect class="water" x="200.0" y="100.0" width="40.0" height="200.0">`)
	require.Contains(t, page, lookOf(StateReached).points())
}

// crowd is a picture of many shapes of any size, some with numbers, some with states.
func crowd(r *rand.Rand) Drawing {
	d := Drawing{Title: "T", Mirrored: r.IntN(2) == 0, Picture: procedure.Picture{Width: 300 + r.IntN(900), Height: 200 + r.IntN(400)}}
	d.Picture.Hands, d.Hands.Title = procedure.Point{X: d.Picture.Width / 2, Y: 95}, "Hands"
	for i := range 5 + r.IntN(25) {
		w, h := 10+r.IntN(120), 10+r.IntN(90)
		x, y := r.IntN(d.Picture.Width-w), r.IntN(max(1, d.Picture.Height-h))
		id := fmt.Sprintf("s%d", i)
		d.Picture.Shapes = append(d.Picture.Shapes, procedure.Shape{Surface: id, Path: fmt.Sprintf("M%d %dh%dv%dh-%dz", x, y, w, h, w), At: procedure.Point{X: x + w/2, Y: y + h/2}})
		s := Shape{ID: id, Title: "Surface " + id, Name: strings.Repeat("n", 2+r.IntN(16)) + id}
		if r.IntN(3) == 0 {
			s.Numbers = []string{"1", "12"}[:1+r.IntN(2)]
		} else {
			s.State = surfaceLooks[r.IntN(len(surfaceLooks))].State
		}
		d.Shapes = append(d.Shapes, s)
	}
	return d
}

// In a picture of any width no name lies over anything else, none is cut off, no line goes
// through one, and each surface is named in the picture or in the list below it.
func TestNamesHaveRoomOrStandInTheList(t *testing.T) {
	names, listed := 0, 0
	for seed := range uint64(150) {
		d := crowd(rand.New(rand.NewPCG(seed, 5)))
		placed, unnamed := d.labels()
		for width := 1; width <= len(pictureWidths); width++ {
			scale := pictureWidths[width-1] / float64(d.width())
			in := map[string]int{}
			for i, l := range placed {
				if l.Of == "" || !l.shown(width) {
					continue
				}
				box := l.place(scale)
				if l.Text != "" {
					in[l.Of]++
					names++
				}
				for _, o := range d.outlines() {
					for _, line := range o.lines {
						require.False(t, l.Text != "" && line.crosses(box.times(1/scale)), "seed %d, width %d: a line of %s goes through %q", seed, width, o.Surface, l.Text)
					}
				}
				require.True(t, box.left >= -float64(d.width()-d.Picture.Width)/2*scale-1 && box.top >= 0 && box.bottom <= float64(d.Picture.Height)*scale+picFoot, "seed %d: %q is cut off", seed, l.Text)
				for j, o := range placed {
					require.False(t, i != j && o.shown(width) && o.place(scale).overlaps(box), "seed %d, width %d: %q lies over %q %v", seed, width, l.Text, o.Text, o.Nos)
				}
			}
			for _, l := range unnamed {
				if l.Fits > width {
					in[l.Of]++
					listed++
				}
			}
			require.Len(t, in, len(d.Shapes), "seed %d, width %d", seed, width)
			for id, n := range in {
				require.Equal(t, 1, n, "seed %d, width %d: %s is named %d times", seed, width, id, n)
			}
		}
	}
	require.Greater(t, names, 500)
	require.Greater(t, listed, 500)
}

// A word of the procedure's own picture names the surface that is called so.
func TestAWordOfThePictureIsASurfacesName(t *testing.T) {
	d := sides(Shape{ID: "lamp", Title: "The box", Name: "Box"})
	placed, unnamed := d.labels()
	require.Empty(t, unnamed)
	require.Len(t, placed, 1)
}

// The sheet shows a name from the width on for which it was placed.
func TestTheSheetKnowsTheWidthsOfThePicture(t *testing.T) {
	text, err := os.ReadFile("static/css/9-surface.css")
	require.NoError(t, err)
	all := string(text)
	require.Contains(t, all, fmt.Sprintf(".pic { position: relative; min-width: %.0fpx;", pictureWidths[0]))
	require.Contains(t, all, fmt.Sprintf("@container (min-width: %.0fpx) { .fits-2 { display: inline; } .until-2 { display: none; } }", pictureWidths[1]))
	require.Contains(t, all, fmt.Sprintf("@container (min-width: %.0fpx) { .fits-3 { display: inline; } .until-3 { display: none; } }", pictureWidths[2]))
}
