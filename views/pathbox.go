package views

import (
	"math"
	"regexp"
	"strconv"
)

// rect is a box, by its edges.
type rect struct{ left, top, right, bottom float64 }

func (r rect) wide() float64 { return r.right - r.left }
func (r rect) high() float64 { return r.bottom - r.top }

func (r rect) overlaps(o rect) bool {
	return r.left < o.right && o.left < r.right && r.top < o.bottom && o.top < r.bottom
}

func (r rect) contains(o rect) bool {
	return r.left <= o.left && r.right >= o.right && r.top <= o.top && r.bottom >= o.bottom
}

// times is the box in another size.
func (r rect) times(by float64) rect {
	return rect{r.left * by, r.top * by, r.right * by, r.bottom * by}
}

var pathWords = regexp.MustCompile(`[A-Za-z]|-?[0-9]*\.?[0-9]+`)

// pathTakes is how many numbers each command of a path takes.
var pathTakes = map[byte]int{'M': 2, 'L': 2, 'H': 1, 'V': 1, 'C': 6, 'S': 4, 'Q': 4, 'T': 2, 'A': 7, 'Z': 0}

// stroke is a piece of an outline; of a curve, what joins its ends.
type stroke struct{ fromX, fromY, toX, toY float64 }

// crosses reports whether a piece of a line goes through a box.
func (l stroke) crosses(r rect) bool {
	from, to := 0.0, 1.0 // the share of the piece that is inside, as Liang and Barsky clip it
	dx, dy := l.toX-l.fromX, l.toY-l.fromY
	for _, side := range [][2]float64{{-dx, l.fromX - r.left}, {dx, r.right - l.fromX}, {-dy, l.fromY - r.top}, {dy, r.bottom - l.fromY}} {
		by, room := side[0], side[1]
		switch {
		case by == 0 && room < 0:
			return false
		case by < 0:
			from = max(from, room/by)
		case by > 0:
			to = min(to, room/by)
		}
	}
	return from < to
}

// trace follows a path. Of curves its box takes the points that hold them; of arcs it knows
// half circles, which stick out by their radius, and the corners of rounded boxes, which do
// not.
func trace(path string) tracer {
	t := tracer{box: rect{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}}
	words := pathWords.FindAllString(path, -1)
	command := byte('M')
	for i := 0; i < len(words); {
		if c := words[i][0]; c >= 'A' {
			command, i = c, i+1
		}
		n, known := pathTakes[command&^0x20]
		var numbers []float64
		for ; len(numbers) < n && i < len(words) && words[i][0] < 'A'; i++ {
			x, err := strconv.ParseFloat(words[i], 64)
			if err != nil {
				break
			}
			numbers = append(numbers, x)
		}
		if !known || len(numbers) < n || n == 0 && i < len(words) && words[i][0] < 'A' {
			break // not a path that draws any further
		}
		t.draw(command, numbers)
	}
	return t
}

// tracer follows a pen.
type tracer struct {
	box          rect
	lines        []stroke
	x, y         float64
	fromX, fromY float64 // where the outline began
}

// draw follows one command; those with small letters count from where the pen is.
func (t *tracer) draw(command byte, n []float64) {
	x, y := 0.0, 0.0
	if command >= 'a' {
		x, y = t.x, t.y
	}
	switch command &^ 0x20 {
	case 'Z':
		t.to(t.fromX, t.fromY)
	case 'H':
		t.to(x+n[0], t.y)
	case 'V':
		t.to(t.x, y+n[0])
	case 'A':
		was := *t
		t.to(x+n[5], y+n[6])
		if t.x == was.x {
			t.see(t.x-n[0], t.y)
			t.see(t.x+n[0], t.y)
		} else if t.y == was.y {
			t.see(t.x, t.y-n[1])
			t.see(t.x, t.y+n[1])
		}
	default:
		for i := 0; i+1 < len(n); i += 2 {
			t.see(x+n[i], y+n[i+1])
		}
		if command&^0x20 == 'M' {
			t.x, t.y = x+n[0], y+n[1]
			t.fromX, t.fromY = t.x, t.y
			return
		}
		t.to(x+n[len(n)-2], y+n[len(n)-1])
	}
}

func (t *tracer) see(x, y float64) {
	t.box = rect{min(t.box.left, x), min(t.box.top, y), max(t.box.right, x), max(t.box.bottom, y)}
}

func (t *tracer) to(x, y float64) {
	t.lines = append(t.lines, stroke{t.x, t.y, x, y})
	t.x, t.y = x, y
	t.see(x, y)
}
