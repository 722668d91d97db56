package views

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// usualWidth is that of a picture that fills its card; a smaller one stands in
// the middle of it rather than being blown up.
const usualWidth = 810

func pictureBox(p *procedure.Procedure) string {
	w := max(p.Picture.Width, usualWidth)
	return fmt.Sprintf("%d 0 %d %d", (p.Picture.Width-w)/2, w, p.Picture.Height)
}

// pinText lists the numbers of a place; a long list would cover the picture.
func pinText(nos []string) string {
	const most = 5
	if len(nos) > most {
		return strings.Join(nos[:most-1], ", ") + fmt.Sprintf(" and %d more", len(nos)-most+1)
	}
	return strings.Join(nos, ", ")
}

// pinHeight is that of the numbers of a place.
const pinHeight = 26

func pinWidth(nos []string) int { return 16 + 8*len(pinText(nos)) }

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

func stationCaption(r Result, list []numbered) string {
	if len(list) == 0 {
		return "Nothing to mark."
	}
	var elsewhere []string
	for _, f := range list {
		for _, id := range f.Surfaces {
			if _, drawn := r.Procedure.ShapeOf(id); !drawn {
				elsewhere = append(elsewhere, f.No+" is at "+r.Procedure.Title(id))
			}
		}
	}
	text := "The numbers are those of the list above. A thick edge marks a surface that has one."
	if len(arrows(r, list)) > 0 {
		text += " An arrow shows how a contamination travelled, its steps lettered in their order."
	}
	if len(elsewhere) > 0 {
		text += " Not in the picture: " + strings.Join(elsewhere, "; ") + "."
	}
	return text
}

// wayLine is one step of a way on the picture.
type wayLine struct {
	Path string
	X, Y int // where its number stands
	No   string

	curve curve
}

// width of the place of its number.
func (w wayLine) width() int { return 14 + 7*len(w.No) }

// mostArrowed is how many ways are drawn: more would cover the picture. All are
// told in the list below it.
const mostArrowed = 3

// arrows draws how contaminations travelled: each step that joins two places of the
// picture, numbered in the order of the way. Ways that share a step share its arrow.
func arrows(r Result, list []numbered) (all []wayLine) {
	for i, w := range r.ways(list) {
		if i == mostArrowed {
			break
		}
		for _, h := range w.Hops {
			if h.FromOutside() {
				continue // it stands nowhere in the picture
			}
			from, to := r.spot(list, h.From), r.spot(list, h.To)
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
	taken := r.pinned(list)
	for i := range all {
		all[i].place(taken)
		taken = append(taken, box{procedure.Point{X: all[i].X, Y: all[i].Y}, all[i].width(), wayHeight})
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

// spot is a place of the picture with the size of the numbers that stand on it.
type spot struct {
	at    procedure.Point
	width int // 0 for none
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

// place puts the arrow's number where the fewest other numbers are: in the middle of
// its way when it is free there.
func (w *wayLine) place(taken []box) {
	fewest := len(taken) + 1
	for _, t := range []float64{.5, .4, .6, .3, .7, .2, .8} {
		at := w.curve.at(t)
		if n := (box{at, w.width(), wayHeight}).over(taken); n < fewest {
			w.X, w.Y, fewest = at.X, at.Y, n
		}
	}
}

// wayHeight is how high the place of an arrow's number is.
const wayHeight = 22

// box is a place of numbers, by its middle.
type box struct {
	at         procedure.Point
	wide, high int
}

// over counts the boxes it lies over.
func (b box) over(taken []box) (n int) {
	for _, t := range taken {
		dx, dy := b.at.X-t.at.X, b.at.Y-t.at.Y
		if max(dx, -dx)*2 < b.wide+t.wide && max(dy, -dy)*2 < b.high+t.high {
			n++
		}
	}
	return n
}

// pinned are the places of the numbers of findings.
func (r Result) pinned(list []numbered) (all []box) {
	if nos := at(list, ""); len(nos) > 0 {
		all = append(all, box{r.Procedure.Picture.Hands, pinWidth(nos), pinHeight})
	}
	for _, x := range r.Procedure.Surfaces {
		shape, drawn := r.Procedure.ShapeOf(x.ID)
		if nos := at(list, x.ID); drawn && len(nos) > 0 {
			all = append(all, box{shape.At, pinWidth(nos), pinHeight})
		}
	}
	return all
}

// edge is where the way to another place leaves the numbers of this one, so far from
// them.
func (s spot) edge(to procedure.Point, by float64) procedure.Point {
	dx, dy := float64(to.X-s.at.X), float64(to.Y-s.at.Y)
	wide, high := by, by
	if s.width > 0 {
		wide, high = float64(s.width)/2+by, pinHeight/2+by
	}
	share := min(.5, wide/max(1, math.Abs(dx)), high/max(1, math.Abs(dy)))
	return procedure.Point{X: s.at.X + int(dx*share), Y: s.at.Y + int(dy*share)}
}

// spot is where something is in the picture: a surface, the bucket by its own
// surfaces, and everything that hands carry at the hands.
func (r Result) spot(list []numbered, id string) spot {
	if i := r.Procedure.ItemIndex(id); i >= 0 && r.Procedure.Items[i].Kind == procedure.BucketItem {
		for _, x := range r.Procedure.Surfaces {
			if _, drawn := r.Procedure.ShapeOf(x.ID); drawn && x.Role == procedure.BucketSurface {
				id = x.ID
				break
			}
		}
	}
	place, nos := r.Procedure.Picture.Hands, at(list, "")
	if shape, drawn := r.Procedure.ShapeOf(id); drawn {
		place, nos = shape.At, at(list, id)
	}
	if len(nos) == 0 {
		return spot{at: place}
	}
	return spot{place, pinWidth(nos)}
}
