package procedure

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"unicode/utf8"
)

// Picture is the drawing of the station on result pages, in units of its width
// and height. A procedure without one shows its findings as a list only.
type Picture struct {
	Width, Height int
	Floor         string  // a line to stand on, as an SVG path; may be empty
	Shapes        []Shape // what stands later lies on top
	Labels        []Label
	Hands         Point // where findings on no surface stand: hands, gloves, order
}

// Shape is the outline of one surface, or of something that is only scenery
// (Surface is empty).
type Shape struct {
	Surface string
	Path    string // an SVG path
	At      Point  // where the numbers of the surface's findings stand

	Name string `json:",omitzero"` // the surface's short name in the picture; its title when empty
	Pair string `json:",omitzero"` // what it is one side of: two shapes say the same. Left stays left in a mirrored picture
}

// Label is a word in the picture.
type Label struct {
	Text string
	At   Point
}

// Point is a place in the picture.
type Point struct{ X, Y int }

// ShapeOf is the outline of a surface, false when it is not drawn.
func (p *Procedure) ShapeOf(surface string) (Shape, bool) {
	i := slices.IndexFunc(p.Picture.Shapes, func(s Shape) bool { return s.Surface == surface && surface != "" })
	if i < 0 {
		return Shape{}, false
	}
	return p.Picture.Shapes[i], true
}

// NameOf is what a surface is called in the picture.
func (p *Procedure) NameOf(surface string) string {
	s, _ := p.ShapeOf(surface)
	return cmp.Or(s.Name, p.Title(surface))
}

// Drawn reports whether there is a picture.
func (p *Procedure) Drawn() bool { return len(p.Picture.Shapes) > 0 }

const (
	maxPath   = 1000
	maxLabels = 24
	maxName   = 24 // letters
)

// pathPattern lets through what draws and nothing else.
var pathPattern = regexp.MustCompile(`^[MmLlHhVvCcSsQqTtAaZz0-9 ,.-]+$`)

func (c *checker) picture(p *Procedure) {
	pic := &c.d.Picture
	if len(pic.Shapes) == 0 {
		return
	}
	if pic.Width < 100 || pic.Width > 2000 || pic.Height < 100 || pic.Height > 2000 {
		c.fault("picture.width", "%d by %d is not between 100 and 2000 each way", pic.Width, pic.Height)
	}
	if pic.Floor != "" {
		c.path("picture.floor", pic.Floor)
	}
	c.inside("picture.hands", pic.Hands)
	if len(pic.Labels) > maxLabels {
		c.fault("picture.labels", "%d are too many; the limit is %d", len(pic.Labels), maxLabels)
	}
	for i, l := range pic.Labels {
		c.inside(fmt.Sprintf("picture.labels.%d.at", i), l.At)
	}
	if len(pic.Shapes) > 2*MaxSurfaces {
		c.fault("picture.shapes", "%d are too many; the limit is %d", len(pic.Shapes), 2*MaxSurfaces)
	}
	c.shapes(p)
}

func (c *checker) shapes(p *Procedure) {
	c.pairs()
	seen := map[string]bool{}
	for i, s := range c.d.Picture.Shapes {
		at := func(field string) string { return fmt.Sprintf("picture.shapes.%d.%s", i, field) }
		c.path(at("path"), s.Path)
		c.inside(at("at"), s.At)
		if n := utf8.RuneCountInString(s.Name); n > maxName {
			c.fault(at("name"), "%d letters are too many for a picture; the limit is %d", n, maxName)
		}
		if s.Surface == "" {
			continue
		}
		if p.SurfaceIndex(s.Surface) < 0 {
			c.unknown(at("surface"), "surface", s.Surface, p.surfaceIDs())
		}
		if seen[s.Surface] {
			c.fault(at("surface"), "%q is drawn twice", s.Surface)
		}
		seen[s.Surface] = true
	}
}

// pairs: what has a left and a right side has two.
func (c *checker) pairs() {
	sides := map[string]int{}
	for _, s := range c.d.Picture.Shapes {
		sides[s.Pair]++
	}
	for i, s := range c.d.Picture.Shapes {
		if n := sides[s.Pair]; s.Pair != "" && n != 2 {
			c.fault(fmt.Sprintf("picture.shapes.%d.pair", i), "%q is said of %d; a pair is a left and a right shape", s.Pair, n)
		}
	}
}

func (c *checker) path(path, text string) {
	if len(text) > maxPath || !pathPattern.MatchString(text) {
		c.fault(path, "this is no outline: up to %d letters of an SVG path, digits, blanks, commas, points and hyphens", maxPath)
	}
}

func (c *checker) inside(path string, at Point) {
	pic := &c.d.Picture
	if at.X < 0 || at.Y < 0 || at.X > pic.Width || at.Y > pic.Height {
		c.fault(path, "%d, %d is outside the picture of %d by %d", at.X, at.Y, pic.Width, pic.Height)
	}
}
