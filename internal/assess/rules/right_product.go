package rules

import (
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// RightProduct: a surface that had blood on it takes the stronger product, and no
// product is used past its time or where it is not allowed.
var RightProduct = &assess.Rule{
	Name:       "right-product",
	Doc:        "Where blood was, an intermediate-level product is used; no product is used past its date, no dilution of bleach after 24 hours or the fewer that its label says, none on a surface that its label or the maker does not allow.",
	Why:        "A product that is too weak, too old or not made for the surface leaves it looking clean, and nobody can vouch for more.",
	Next:       "Read the label before you take the wipe: what it is allowed for, how strong it is, until when it is good.",
	Source:     notes + " (intermediate level for visible blood; the product as its own label says)",
	Needs:      action.Order,
	OfSurfaces: true,
	Critical:   true,
	Step: func(v *assess.View) {
		if v.Done() && v.Act.Wipes() {
			wrongOnBlood(v)
		}
	},
	Close: wrongAtEnd,
}

// wrongOnBlood says that a wiped-over stain calls for a judgement at the end.
func wrongOnBlood(v *assess.View) {
	x := &v.After.Surfaces[v.Act.Surface]
	if v.Before.Spot(v.Act.Surface) && x.Product < 0 {
		v.Unknown(v.Act.Surface, "The watcher could not see with which product the place where blood had been was disinfected: "+v.The(v.Act.Surface)+".")
	}
	if x.Wrong == station.RightProduct && x.Clean == station.Wiped {
		v.Kept(v.Act.Surface)
	}
}

// wrongAtEnd speaks of what holds at the end: a surface that was wiped again with
// the right product was put right.
func wrongAtEnd(v *assess.View) {
	for i := range v.P.Surfaces {
		x := &v.After.Surfaces[i]
		if x.Clean != station.Wiped || x.Wrong == station.RightProduct || x.Product < 0 {
			continue
		}
		product := v.P.Products[x.Product]
		b := assess.Breach{Surface: i, Message: fmt.Sprintf("Disinfected with “%s”, %s: %s.", product.Title, wrongText(x.Wrong, product), v.The(i))}
		if x.Wrong == station.TooWeak {
			b.Next = "Where blood was, use a product whose label allows it for blood (intermediate level), also when nothing can be seen any more."
		}
		b.Act, b.At = v.Trace.WipedAt(i)
		v.Breach(b)
	}
}

func wrongText(w station.Wrong, p procedure.Product) string {
	switch w {
	case station.TooWeak:
		return "which is of low level, where blood had been"
	case station.PastDate:
		return "whose date is over"
	case station.OldDilution:
		return fmt.Sprintf("a dilution made %d hours before (%d at the most)", p.MadeH, p.MostH())
	}
	return "which is not allowed on it"
}
