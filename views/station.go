package views

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// drawing is the picture of a result: where its findings are, and what became of each
// surface, as far as the log tells.
func (r Result) drawing(list []numbered, mirrored bool) Drawing {
	d := Drawing{Picture: pictureOf(r.Procedure), Title: "Picture with the numbers of " + kindsOf(list), Desc: stationDesc(r, list), Mirrored: mirrored && mirrors(r.Procedure)}
	mixed := distinguishes(list)
	shape := func(id string) Shape {
		s := Shape{ID: id, Numbers: at(list, id), Lesser: mixed}
		for _, f := range list {
			if f.Critical && slices.Contains(s.Numbers, f.No) {
				s.Lesser = false
			}
		}
		if len(s.Numbers) > 0 {
			s.Href = "#finding-" + s.Numbers[0]
		}
		return s
	}
	for _, x := range r.Procedure.Surfaces {
		s := shape(x.ID)
		s.Title, s.Name, s.State = x.Title, r.Procedure.NameOf(x.ID), r.cameTo(x.ID)
		d.Shapes = append(d.Shapes, s)
	}
	d.Hands = shape("")
	d.Hands.Title = "Hands, gloves, order"
	d.ways = arrows(r, d, list)
	return d
}

// cameTo is the state in which a log with a clock leaves a surface: that of its last
// spell; "" where it does not tell.
func (r Result) cameTo(surface string) SurfaceState {
	if !r.clocked() || len(r.Spells) == 0 {
		return ""
	}
	for _, x := range r.Spells {
		if x.Surface == surface && len(x.Spells) > 0 {
			return r.stateOf(x, x.Spells[len(x.Spells)-1])
		}
	}
	return StateUnwiped
}

func stationDesc(r Result, list []numbered) string {
	var parts []string
	for _, f := range list {
		where := []string{"hands, gloves or order"}
		if len(f.Surfaces) > 0 {
			where = nil
		}
		for _, id := range f.Surfaces {
			where = append(where, r.Procedure.Title(id))
		}
		parts = append(parts, fmt.Sprintf("%s %s: %s.", kindOf(f.Finding), f.No, strings.Join(where, ", ")))
	}
	if len(parts) == 0 {
		return "Nothing to mark."
	}
	return strings.Join(parts, " ")
}

// kindsOf names what is numbered.
func kindsOf(list []numbered) string {
	switch breaches := only(list, false); {
	case len(breaches) == len(list):
		return "the breaches"
	case len(breaches) == 0:
		return "the advice"
	}
	return "the breaches and the advice"
}

func stationCaption(r Result, list []numbered) string {
	if len(list) == 0 {
		return "Nothing to mark."
	}
	text := "The numbers are those of " + kindsOf(list) + ". A thick edge marks a surface that has one; press it to read."
	if distinguishes(list) {
		text += " Filled numbers are critical."
	}
	if slices.ContainsFunc(list, func(f numbered) bool { return len(f.Way) > 0 }) {
		text += " An arrow shows how a contamination travelled, its steps lettered in their order."
	}
	return text
}

// wayLine is one step of a way on the picture.
type wayLine struct {
	Path string
	No   string

	curve curve
}

// strokes are the curve in pieces.
func (c curve) strokes() (all []stroke) {
	const pieces = 16
	for i := range pieces {
		from, to := c.at(float64(i)/pieces), c.at(float64(i+1)/pieces)
		all = append(all, stroke{float64(from.X), float64(from.Y), float64(to.X), float64(to.Y)})
	}
	return all
}

// wayHeight is how high the place of an arrow's number is.
const wayHeight = 22

// mostArrowed is how many ways are drawn: more would cover the picture. All are
// told in the list below it.
const mostArrowed = 3

// arrows draws how contaminations travelled: each step that joins two places of the
// picture, numbered in the order of the way. Ways that share a step share its arrow.
func arrows(r Result, d Drawing, list []numbered) (all []wayLine) {
	for i, w := range r.ways(list) {
		if i == mostArrowed {
			break
		}
		for _, h := range w.Hops {
			if h.FromOutside() {
				continue // it stands nowhere in the picture
			}
			from, to := d.spot(r.standing(h.From)), d.spot(r.standing(h.To))
			if from.at == to.at {
				continue
			}
			a := arrowOf(from, to, h.No)
			if same := slices.IndexFunc(all, func(b wayLine) bool { return b.Path == a.Path }); same >= 0 {
				all[same].No += ", " + h.No
				continue
			}
			all = append(all, a)
		}
	}
	return all
}

// way is how one contamination travelled.
type way struct {
	No, Title string
	Hops      []hop
}

// hop is one step of a way: "2b" comes after "2a".
type hop struct {
	assess.Hop
	No, Text string
}

// ways are those of the list.
func (r Result) ways(list []numbered) (all []way) {
	for _, f := range list {
		if len(f.Way) == 0 {
			continue
		}
		w := way{No: f.No, Title: f.No + ": " + r.message(f)}
		for i, h := range f.Way {
			w.Hops = append(w.Hops, hop{h, fmt.Sprintf("%s%c", f.No, 'a'+rune(i%26)), r.sentenceOf(f.Way[i : i+1])})
		}
		all = append(all, w)
	}
	return all
}

// spot is a place of the picture with the size of the numbers that stand on it, in the
// narrowest picture: in a wider one they cover less.
type spot struct {
	at         procedure.Point
	wide, high int // 0 for none
}

// arrowOf bends a little to its left, so that there and back are two lines. It ends
// beside the numbers of a place, not under them.
func arrowOf(from, to spot, no string) wayLine {
	dx, dy := to.at.X-from.at.X, to.at.Y-from.at.Y
	bend := procedure.Point{X: from.at.X + dx/2 + dy/6, Y: from.at.Y + dy/2 - dx/6}
	c := curve{from.edge(bend, 2), bend, to.edge(bend, 7)}
	return wayLine{
		Path:  fmt.Sprintf("M%d %dQ%d %d %d %d", c.begin.X, c.begin.Y, c.bend.X, c.bend.Y, c.end.X, c.end.Y),
		curve: c, No: no,
	}
}

// curve is a quadratic one, as SVG draws it.
type curve struct{ begin, bend, end procedure.Point }

// at is the point of a share t of the way, 0 to 1.
func (c curve) at(t float64) procedure.Point {
	mix := func(a, b, e int) int {
		return int((1-t)*(1-t)*float64(a) + 2*t*(1-t)*float64(b) + t*t*float64(e))
	}
	return procedure.Point{X: mix(c.begin.X, c.bend.X, c.end.X), Y: mix(c.begin.Y, c.bend.Y, c.end.Y)}
}

// edge is where the way to another place leaves the numbers of this one, so far from
// them.
func (s spot) edge(to procedure.Point, by float64) procedure.Point {
	dx, dy := float64(to.X-s.at.X), float64(to.Y-s.at.Y)
	wide, high := by, by
	if s.wide > 0 {
		wide, high = float64(s.wide)/2+by, float64(s.high)/2+by
	}
	share := min(.5, wide/max(1, math.Abs(dx)), high/max(1, math.Abs(dy)))
	return procedure.Point{X: s.at.X + int(dx*share), Y: s.at.Y + int(dy*share)}
}

// standing is the surface at which something stands: the bucket at the first of its own
// that is drawn.
func (r Result) standing(id string) string {
	if i := r.Procedure.ItemIndex(id); i < 0 || r.Procedure.Items[i].Kind != procedure.BucketItem {
		return id
	}
	for _, x := range r.Procedure.Surfaces {
		if _, drawn := r.Procedure.ShapeOf(x.ID); drawn && x.Role == procedure.BucketSurface {
			return x.ID
		}
	}
	return id
}

// spot is where a surface is in the picture, and everything that hands carry at the
// hands.
func (d Drawing) spot(id string) spot {
	place, nos := d.turned(d.Picture.Hands), d.Hands.Numbers
	for _, o := range d.outlines() {
		if s, told := d.of(o); told && s.ID == id {
			place, nos = o.At, s.Numbers
		}
	}
	if len(nos) == 0 {
		return spot{at: place}
	}
	grown := float64(d.width()) / pictureWidths[0]
	return spot{place, int(grown * float64(pinWidth(nos))), int(grown * pinHeight)}
}
