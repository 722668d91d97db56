package views

import (
	"cmp"
	"slices"
	"strings"

	"stillwet/internal/procedure"
)

// What stands over a drawing, words, numbers and signs, has the page's own size and does
// not grow with it. Where each stands is found for the narrowest picture there is; a name
// that has room only in a wider one shows from there on.
var pictureWidths = []float64{576, 700, 840} // pixels: those of .pic and .fits-N in 9-surface.css

const (
	nameHigh  = 18
	nameWide  = 8.3 // of a letter at 15 pixels, generously
	pinHeight = 26
	signWide  = 16
	picFoot   = 6 // pixels below the drawing, for words that stand at its foot
)

// pinText lists the numbers of a place; a long list would cover the picture.
func pinText(nos []string) string {
	const most = 5
	if len(nos) > most {
		return strings.Join(nos[:most-1], ", ") + " and " + count(len(nos)-most+1, "more", "more")
	}
	return strings.Join(nos, ", ")
}

func pinWidth(nos []string) int { return 16 + 8*len(pinText(nos)) }

// label is something of the page's size over a drawing: at a place of the drawing, moved
// by some pixels.
type label struct {
	At     procedure.Point
	Moved  procedure.Point // by pixels
	Text   string
	Nos    []string // of a pin
	Sign   surfaceLook
	Lesser bool
	Upward bool // it is read from below
	Of     string
	Fits   int // from which of the widths on, 1 the narrowest
	Until  int // and up to which it is shown, 0 for all
	Way    bool

	wide, high float64
	within     *outline // of a name that must not leave its shape
}

// place is the box that it takes in a picture of some scale.
func (l label) place(scale float64) rect {
	x, y := float64(l.At.X)*scale+float64(l.Moved.X), float64(l.At.Y)*scale+float64(l.Moved.Y)
	w, h := l.wide/2, l.high/2
	if l.Upward {
		w, h = h, w
	}
	return rect{x - w, y - h, x + w, y + h}
}

// class says from which width on a label is shown, and up to which.
func (l label) class() string {
	return strings.TrimSpace([]string{"", "", "fits-2", "fits-3"}[l.Fits] + " " + untilClass(l.Until))
}

func untilClass(width int) string { return []string{"", "", "until-2", "until-3", ""}[width] }

// shown reports whether a label stands in a picture of one of the widths.
func (l label) shown(width int) bool { return width >= l.Fits && (l.Until == 0 || width < l.Until) }

// labels are all that stand over the drawing, and the surfaces whose names have no room.
func (d Drawing) labels() (placed, unnamed []label) {
	p := placing{Drawing: d, all: d.outlines()}
	p.pins()
	p.given()
	p.numbersOfWays()
	for fits := 1; fits <= len(pictureWidths); fits++ {
		p.names(fits)
		if fits == 1 {
			p.signs()
		}
	}
	for _, o := range p.all {
		s, told := d.of(o)
		if !told || p.named(s) {
			continue
		}
		unnamed = append(unnamed, label{Text: s.numbered(), Of: s.ID, Fits: len(pictureWidths) + 1})
	}
	for _, l := range p.placed {
		if l.Of != "" && l.Text != "" && l.Fits > 1 {
			unnamed = append(unnamed, label{Text: d.numberedOf(l.Of), Of: l.Of, Fits: l.Fits})
		}
	}
	return p.placed, unnamed
}

func (d Drawing) numberedOf(id string) string {
	for _, s := range d.Shapes {
		if s.ID == id {
			return s.numbered()
		}
	}
	return id
}

// placing finds places one after another; what has one keeps it.
type placing struct {
	Drawing
	all    []outline
	placed []label
}

func (p *placing) scale(fits int) float64 { return pictureWidths[fits-1] / float64(p.width()) }

// faults counts what a label lies over or sticks out of, in every width in which it shows.
func (p *placing) faults(l label) (n int) {
	for fits := max(1, l.Fits); fits <= len(pictureWidths); fits++ {
		scale := p.scale(fits)
		box, margin := l.place(scale), float64(p.width()-p.Picture.Width)/2*scale
		if !(rect{-margin, 0, float64(p.Picture.Width)*scale + margin, float64(p.Picture.Height)*scale + picFoot}).contains(box) {
			n++
		}
		for _, o := range p.placed {
			alone := o.Of != "" && o.Of == l.Of // its sign, which then goes
			if o.shown(fits) && !alone && o.place(scale).overlaps(box) {
				n++
			}
		}
		if l.within != nil && p.strays(l, box, scale) {
			n++
		}
		if !l.Way && len(l.Nos) == 0 && p.onWay(box.times(1/scale)) {
			n++
		}
	}
	return n
}

// strays: a name stands in its shape or beside it, on nothing but what its shape is drawn
// on, and no line goes through it.
func (p *placing) strays(l label, box rect, scale float64) bool {
	own := l.within.Box
	box = box.times(1 / scale) // in the drawing's own size
	inside := own.contains(box)
	for i := range p.all {
		o := &p.all[i]
		switch {
		case !o.Box.overlaps(box):
		case o.Surface == l.within.Surface && !inside, o.Surface != l.within.Surface && !o.Box.contains(own):
			return true
		case slices.ContainsFunc(o.lines, func(s stroke) bool { return s.crosses(box) }):
			return true
		}
	}
	return false
}

// onWay reports whether an arrow goes through a box.
func (p *placing) onWay(box rect) bool {
	return slices.ContainsFunc(p.ways, func(w wayLine) bool {
		return slices.ContainsFunc(w.curve.strokes(), func(s stroke) bool { return s.crosses(box) })
	})
}

// put places a label at the first of some ways to move it that has no fault, or else where
// there are fewest; only a name may stay away.
func (p *placing) put(l label, must bool, moves ...label) bool {
	best, fewest := -1, 0
	for i, m := range moves {
		m.Fits = l.Fits
		if n := p.faults(m); best < 0 || n < fewest {
			best, fewest = i, n
		}
		if fewest == 0 {
			break
		}
	}
	if fewest > 0 && !must {
		return false
	}
	m := moves[best]
	m.Fits = l.Fits
	p.placed = append(p.placed, m)
	return true
}

// moved gives a label at each of some distances.
func (l label) moved(by ...procedure.Point) (all []label) {
	for _, b := range by {
		m := l
		m.Moved = b
		all = append(all, m)
	}
	return all
}

// pins are the numbers of findings: at their place, or beside it where others stand.
func (p *placing) pins() {
	pin := func(s Shape, at procedure.Point) {
		if len(s.Numbers) == 0 {
			return
		}
		l := label{At: at, Nos: s.Numbers, Lesser: s.Lesser, Fits: 1, wide: float64(pinWidth(s.Numbers)), high: pinHeight}
		w := pinWidth(s.Numbers)
		p.put(l, true, l.moved(procedure.Point{}, procedure.Point{Y: -pinHeight}, procedure.Point{Y: pinHeight}, procedure.Point{X: w}, procedure.Point{X: -w})...)
	}
	pin(p.Hands, p.turned(p.Picture.Hands))
	for _, o := range p.all {
		if s, told := p.of(o); told {
			pin(s, o.At)
		}
	}
}

// given are the words of the procedure's own picture, and that of the hands.
func (p *placing) given() {
	for _, g := range p.Picture.Labels {
		l := label{At: p.turned(g.At), Text: g.Text, Fits: 1, wide: nameWide * float64(len(g.Text)), high: nameHigh}
		up := procedure.Point{Y: -4} // a word stands on its place
		p.put(l, true, l.moved(up, procedure.Point{Y: -12}, procedure.Point{Y: 6}, procedure.Point{X: 24, Y: -4}, procedure.Point{X: -24, Y: -4})...)
	}
	if p.Hands.Title == "" {
		return
	}
	l := label{At: p.turned(p.Picture.Hands), Text: p.Hands.Title, Fits: 1, wide: nameWide * float64(len(p.Hands.Title)), high: nameHigh}
	side := 34 + int(l.wide/2)
	beside := []procedure.Point{{X: side, Y: -30}, {X: -side, Y: -30}, {X: side, Y: -10}, {X: -side, Y: -10}, {Y: -74}, {Y: 30}}
	for _, x := range []int{20, 40, 60} { // at the edge of a small picture
		beside = append(beside, procedure.Point{X: -x, Y: -74}, procedure.Point{X: x, Y: -74}, procedure.Point{X: -x, Y: 30}, procedure.Point{X: x, Y: 30})
	}
	p.put(l, true, l.moved(beside...)...)
}

// numbersOfWays stand on their arrows, where there is most room.
func (p *placing) numbersOfWays() {
	for _, w := range p.ways {
		var at []label
		for _, share := range []float64{.5, .4, .6, .3, .7, .2, .8} {
			at = append(at, label{At: w.curve.at(share), Text: w.No, Way: true, wide: float64(14 + 7*len(w.No)), high: wayHeight})
		}
		p.put(label{Fits: 1}, true, at...)
	}
}

// sign is that of a shape's state; where numbers stand, they tell more.
func (s Shape) sign() (l surfaceLook) {
	if s.State != "" && len(s.Numbers) == 0 {
		l = lookOf(s.State)
	}
	return l
}

// signs of states stand alone where there is no room for a name beside them.
func (p *placing) signs() {
	for _, o := range p.all {
		s, told := p.of(o)
		if own := slices.ContainsFunc(p.placed, func(l label) bool { return l.Of == s.ID }); !told || own || s.sign().Mark == "" {
			continue
		}
		l := label{At: o.At, Sign: s.sign(), Of: s.ID, Fits: 1, wide: signWide, high: signWide}
		p.put(l, false, l.moved(upDown[:3]...)...) // no farther: it must be seen whose it is
	}
}

// named reports whether a surface's name stands in the picture, as its own or as a word
// of the procedure's.
func (p *placing) named(s Shape) bool {
	return slices.ContainsFunc(p.placed, func(l label) bool {
		return l.Of == s.ID && l.Text != "" || l.Of == "" && len(l.Nos) == 0 && !l.Way && strings.EqualFold(l.Text, s.Name)
	})
}

// names puts those names that have room from some width on: first those of small shapes,
// which have the fewest places.
func (p *placing) names(fits int) {
	for _, o := range p.bySize() {
		s, told := p.of(*o)
		if !told || p.named(s) {
			continue
		}
		l := label{Text: s.Name, Of: s.ID, Fits: fits, wide: nameWide * float64(len([]rune(s.Name))), high: nameHigh, within: o}
		signed := l
		if signed.Sign = s.sign(); signed.Sign.Mark != "" {
			signed.wide += signWide + 2
		}
		alone := slices.IndexFunc(p.placed, func(o label) bool { return o.Of == s.ID })
		if (p.put(signed, false, signed.about(o)...) || p.put(l, false, l.about(o)...)) && alone >= 0 {
			p.placed[alone].Until = fits
		}
	}
}

func (p *placing) bySize() (all []*outline) {
	for i := range p.all {
		all = append(all, &p.all[i])
	}
	slices.SortStableFunc(all, func(a, b *outline) int {
		return cmp.Compare(a.Box.wide()*a.Box.high(), b.Box.wide()*b.Box.high())
	})
	return all
}

// upDown are the distances at which a name or a sign is tried.
var upDown = []procedure.Point{{}, {Y: -8}, {Y: 8}, {Y: -14}, {Y: 14}, {Y: -22}, {Y: 22}}

// about are the places for a name, best first: in its shape at its place, above or below
// what stands there, along a high and narrow shape, and then round it.
func (l label) about(o *outline) (all []label) {
	middle := procedure.Point{X: int(o.Box.left+o.Box.right) / 2, Y: int(o.Box.top+o.Box.bottom) / 2}
	l.At = o.At
	all = l.moved(upDown...)
	l.At = middle
	all = append(all, l.moved(upDown...)...)
	for _, share := range []float64{.5, .3, .7, .2, .8} {
		up := l
		up.Upward, up.At.Y = true, int(o.Box.top+share*o.Box.high())
		all = append(all, up)
	}
	side := int(l.wide/2) + 5
	for _, at := range []struct {
		x, y float64
		by   procedure.Point
	}{
		{float64(middle.X), o.Box.top, procedure.Point{Y: -10}}, {float64(middle.X), o.Box.bottom, procedure.Point{Y: 11}},
		{o.Box.right, float64(o.At.Y), procedure.Point{X: side}}, {o.Box.left, float64(o.At.Y), procedure.Point{X: -side}},
		{o.Box.right, o.Box.top + 10, procedure.Point{X: side}}, {o.Box.left, o.Box.top + 10, procedure.Point{X: -side}},
	} {
		l.At, l.Moved = procedure.Point{X: int(at.x), Y: int(at.y)}, at.by
		all = append(all, l)
	}
	return all
}

// until says up to which width a name stands in the list below the picture.
func (l label) until() string { return untilClass(l.Fits) }

// listUntil says up to which width the list has anything in it.
func listUntil(unnamed []label) string {
	return slices.MaxFunc(unnamed, func(a, b label) int { return a.Fits - b.Fits }).until()
}

// nameAt is where a name begins: after its sign, or in the middle where there is none.
func (l label) nameAt() (x float64, anchor string) {
	if l.Sign.Mark == "" {
		return float64(l.Moved.X), "middle"
	}
	return float64(l.Moved.X) - l.wide/2 + signWide + 2, "start"
}

// signAt is the upper left corner of the sign.
func (l label) signAt() (x, y float64) {
	const half = signWide / 2
	if l.Upward { // below its first letter
		return -half, l.wide/2 - signWide
	}
	return float64(l.Moved.X) - l.wide/2, float64(l.Moved.Y) - half
}
