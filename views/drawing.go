package views

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/procedure"
)

// Drawing is a picture of a station with what is said of its surfaces: on result pages
// where the findings are, on a board how wet each surface is.
type Drawing struct {
	Name     string // for ids, where a page has several
	Picture  procedure.Picture
	Title    string // its name for who does not see it
	Desc     string // and what it says, in words
	Mirrored bool
	Shapes   []Shape // of surfaces; what is drawn without one is scenery
	Hands    Shape   // what is on no surface; its ID is empty
	// Played: a script shows one state after another (js/player.js), so that what has a
	// sign says whose it is.
	Played bool

	ways []wayLine
}

// Shape is what a picture says of a surface.
type Shape struct {
	ID      string
	Title   string       // its whole name
	Name    string       // its name in the picture
	State   SurfaceState // "" where nobody can tell
	Level   float64      // share of the label time that is over, 0 to 1
	Numbers []string     // of findings
	Lesser  bool         // none of them is critical where others are
	Href    string       // where it leads; "" nowhere
	Button  bool         // it can be tapped
	Lit     bool         // it is the one that is meant
}

// words are a shape's name for who does not see it: surface, state, numbers.
func (s Shape) words() string {
	text := s.Title
	if s.State != "" {
		text += ", " + procedure.Within(lookOf(s.State).Word)
	}
	switch len(s.Numbers) {
	case 0:
	case 1:
		text += ", number " + s.Numbers[0]
	default:
		text += ", numbers " + strings.Join(s.Numbers, ", ")
	}
	return text
}

// numbered is a surface's name with the numbers of what was found there, for the list of
// those that the picture has no room to name.
func (s Shape) numbered() string {
	if len(s.Numbers) == 0 {
		return s.Title
	}
	return s.Title + " (" + pinText(s.Numbers) + ")"
}

// found reports whether a shape is drawn as one with findings: their accent stands on it,
// so that of its state does not.
func (s Shape) found() bool { return len(s.Numbers) > 0 && lookOf(s.State).Signal != signalLook }

// stated reports whether its state is drawn.
func (s Shape) stated() bool { return s.State != "" && !s.found() }

// usualWidth is that of a picture that fills its card; a smaller one stands in
// the middle of it rather than being blown up.
const usualWidth = 810

// width is that of the drawing with its margins.
func (d Drawing) width() int { return max(d.Picture.Width, usualWidth) }

func (d Drawing) box() string {
	return fmt.Sprintf("%d 0 %d %d", (d.Picture.Width-d.width())/2, d.width(), d.Picture.Height)
}

// outline is a shape as it stands in the drawing.
type outline struct {
	procedure.Shape
	Turned string // the transform of its path
	Box    rect
	lines  []stroke
}

// outlines are all shapes in their order. In a mirrored picture everything changes
// sides, but of a pair each takes the other's place: left stays left.
func (d Drawing) outlines() (all []outline) {
	for i, s := range d.Picture.Shapes {
		from := s
		if d.Mirrored {
			from = d.Picture.Shapes[d.other(i)]
		}
		t := trace(from.Path)
		o := outline{Shape: s, Box: t.box, lines: t.lines}
		o.Path, o.At = from.Path, d.turned(from.At)
		if d.Mirrored {
			o.Turned = d.turn()
			w := float64(d.Picture.Width)
			o.Box.left, o.Box.right = w-o.Box.right, w-o.Box.left
			for i := range o.lines {
				o.lines[i].fromX, o.lines[i].toX = w-o.lines[i].fromX, w-o.lines[i].toX
			}
		}
		all = append(all, o)
	}
	return all
}

// other is the other shape of a pair, or the shape itself.
func (d Drawing) other(i int) int {
	for j, s := range d.Picture.Shapes {
		if j != i && s.Pair != "" && s.Pair == d.Picture.Shapes[i].Pair {
			return j
		}
	}
	return i
}

// turned is where a place stands.
func (d Drawing) turned(p procedure.Point) procedure.Point {
	if d.Mirrored {
		p.X = d.Picture.Width - p.X
	}
	return p
}

// of is what is said of an outline's surface.
func (d Drawing) of(o outline) (Shape, bool) {
	i := slices.IndexFunc(d.Shapes, func(s Shape) bool { return s.ID == o.Surface && o.Surface != "" })
	if i < 0 {
		return Shape{}, false
	}
	return d.Shapes[i], true
}

// across and down are places as shares of the picture, for what has a size of its own.
func (d Drawing) across(x float64) string {
	return shareText((x - float64(d.Picture.Width-d.width())/2) / float64(d.width()))
}

func (d Drawing) down(y float64) string { return shareText(y / float64(d.Picture.Height)) }

// rises is the part of a shape that is under water: as much of its height as of its time
// is over.
func (o outline) rises(level float64) rect {
	r := o.Box
	r.top = r.bottom - r.high()*min(1, max(0, level))
	return r
}

// watery reports whether a shape is drawn with water in it.
func (s Shape) watery() bool {
	f := lookOf(s.State).Fill
	return s.stated() && (f == fillRising || f == fillFull)
}

// depth is how far it is filled.
func (s Shape) depth() float64 {
	if lookOf(s.State).Fill == fillFull {
		return 1
	}
	return s.Level
}

// mirrors reports whether a picture can be mirrored: it must say what its left and right
// sides are, or they would change places.
func mirrors(p *procedure.Procedure) bool { return sided(p) != "" }

// sided is what has a left and a right side in the picture, "" when nothing has.
func sided(p *procedure.Procedure) string {
	for _, s := range p.Picture.Shapes {
		if s.Pair != "" {
			return s.Pair
		}
	}
	return ""
}

// turn is the transform of what has no other side.
func (d Drawing) turn() string {
	if !d.Mirrored {
		return ""
	}
	return fmt.Sprintf("matrix(-1 0 0 1 %d 0)", d.Picture.Width)
}

// id is one of a page: a picture's own, however many there are.
func (d Drawing) id(of string) string { return cmp.Or(d.Name, "picture") + "-" + of }

// unit writes a length of a drawing.
func unit(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }
