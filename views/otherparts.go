package views

import (
	"fmt"
	"slices"

	"stillwet/internal/procedure"
)

// A surface that nobody has drawn stands under the picture as a box with its name, so that
// whatever is wiped can be seen and tapped wherever the picture is shown.
const (
	boxWide, boxHigh = 190, 44
	boxGap           = 10
	stripHead        = 34 // of the words over the boxes
)

// pictureOf is the picture of a procedure with its other parts in a strip under it.
func pictureOf(p *procedure.Procedure) procedure.Picture {
	pic := p.Picture
	others := undrawn(p)
	if !p.Drawn() || len(others) == 0 {
		return pic
	}
	pic.Shapes, pic.Labels = slices.Clone(pic.Shapes), slices.Clone(pic.Labels)
	pic.Labels = append(pic.Labels, procedure.Label{Text: "Other parts", At: procedure.Point{X: boxGap + boxWide/2, Y: pic.Height + stripHead - 10}})
	across := max(1, (pic.Width-boxGap)/(boxWide+boxGap))
	top := pic.Height + stripHead
	for i, s := range others {
		x, y := boxGap+i%across*(boxWide+boxGap), top+i/across*(boxHigh+boxGap)
		pic.Shapes = append(pic.Shapes, procedure.Shape{Surface: s.ID, At: procedure.Point{X: x + boxWide/2, Y: y + boxHigh/2 + 5}, Path: fmt.Sprintf("M%d %dh%dv%dh-%dz", x, y, boxWide, boxHigh, boxWide)})
	}
	pic.Height = top + (len(others)+across-1)/across*(boxHigh+boxGap)
	return pic
}

// undrawn are the surfaces that have no shape, those of one thing beside each other.
func undrawn(p *procedure.Procedure) (others []procedure.Surface) {
	for _, s := range p.Surfaces {
		if _, drawn := p.ShapeOf(s.ID); drawn {
			continue
		}
		at := len(others)
		for i := range others {
			if others[i].ThingOf() == s.ThingOf() {
				at = i + 1
			}
		}
		others = slices.Insert(others, at, s)
	}
	return others
}

// stationLinks is the picture of a station where each surface leads to its form; one of
// them is lit, or none.
func stationLinks(p *procedure.Procedure, lit string, mirrored bool) Drawing {
	d := stationNames(p, mirrored)
	d.Name, d.Desc = p.ID, "Each surface leads to where it is changed."
	for i := range d.Shapes {
		s := &d.Shapes[i]
		s.Href, s.Lit = EditURL("surfaces", "", s.ID), s.ID == lit
	}
	return d
}

// Pictured are the procedures whose pictures show every surface that can be changed: the
// first with a picture, and each variant of a station.
func Pictured(all []*procedure.Procedure) (shown []*procedure.Procedure) {
	for _, p := range all {
		if p.Drawn() && (len(shown) == 0 || p.VariantOf != "") {
			shown = append(shown, p)
		}
	}
	return shown
}

// PictureWith is the first procedure in whose picture a surface stands, nil for none.
func PictureWith(all []*procedure.Procedure, surface string) *procedure.Procedure {
	for _, p := range all {
		if p.Drawn() && p.SurfaceIndex(surface) >= 0 {
			return p
		}
	}
	return nil
}
