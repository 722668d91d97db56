package station

import (
	"fmt"
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Hop is one step on the way of a contamination: what an act brought from one
// thing to another. From and To are ids of surfaces and items, or one of the words
// below.
type Hop struct {
	Act      int
	From, To string
}

// What contamination travels by, besides surfaces and items.
const (
	ByGloves  = "gloves"
	ByHands   = "hands"
	ByWipe    = "wipe"
	OfBlood   = "blood"
	OfPerson  = "patient"
	OfOutside = "outside"
)

// carrier is a thing that can carry something on.
type carrier int

const (
	glovesCarrier carrier = iota
	handsCarrier
	wipeCarrier
	firstSurface
	firstItem = firstSurface + procedure.MaxSurfaces
	carriers  = firstItem + procedure.MaxItems
)

func onSurface(i int) carrier { return firstSurface + carrier(i) }
func onItem(i int) carrier    { return firstItem + carrier(i) }

// origin is a hop and the one before it, -1 for none.
type origin struct {
	hop  Hop
	from int
}

// maxOrigins bounds what a hostile log can make it keep.
const maxOrigins = 4 * action.MaxActs

// Trace tells where contaminations came from. It lies beside the state because
// it grows. A nil Trace records nothing and tells nothing.
type Trace struct {
	origins []origin
	last    [carriers]int
	wipes   [procedure.MaxSurfaces]struct {
		act int
		at  action.Millis
	}
}

// NewTrace makes an empty trace.
func NewTrace() *Trace {
	t := &Trace{origins: make([]origin, 0, 16)}
	for i := range t.last {
		t.last[i] = -1
	}
	return t
}

// noCarrier is where something comes from that no trace is kept of.
const noCarrier carrier = -1

// begin notes that a source outside the carriers, or a used thing, dirtied to.
func (t *Trace) begin(act int, from, name string, to carrier) {
	t.add(Hop{act, from, name}, -1, to)
}

// beginNew is begin where nothing is known of to yet.
func (t *Trace) beginNew(act int, from, name string, to carrier) {
	if t != nil && t.last[to] < 0 {
		t.begin(act, from, name, to)
	}
}

// carry notes that from dirtied to.
func (t *Trace) carry(act int, from carrier, fromName string, to carrier, toName string) {
	if t == nil {
		return
	}
	before := -1
	if from != noCarrier {
		before = t.last[from]
	}
	t.add(Hop{act, fromName, toName}, before, to)
}

func (t *Trace) add(h Hop, before int, to carrier) {
	if t == nil || len(t.origins) == maxOrigins {
		return
	}
	t.origins = append(t.origins, origin{h, before})
	t.last[to] = len(t.origins) - 1
}

func (t *Trace) clear(c carrier) {
	if t != nil {
		t.last[c] = -1
	}
}

// GlovesWay tells how the gloves became dirty, oldest first.
func (t *Trace) GlovesWay() []Hop { return t.way(glovesCarrier) }

// SurfaceWay tells how a surface was dirtied again, oldest first.
func (t *Trace) SurfaceWay(surface int) []Hop { return t.way(onSurface(surface)) }

// ItemWay tells how an item was dirtied, oldest first.
func (t *Trace) ItemWay(item int) []Hop { return t.way(onItem(item)) }

func (t *Trace) way(c carrier) []Hop {
	if t == nil {
		return nil
	}
	var hops []Hop
	for i := t.last[c]; i >= 0; i = t.origins[i].from {
		hops = append(hops, t.origins[i].hop)
	}
	slices.Reverse(hops)
	return hops
}

// Lines is a way as short lines, for a result's text: "Screen (act 4)".
func Lines(p *procedure.Procedure, way []Hop) (lines []string) {
	for _, h := range way {
		lines = append(lines, fmt.Sprintf("%s (act %d)", p.Title(h.From), h.Act))
	}
	return lines
}

// wiped notes the act that wiped a surface last.
func (t *Trace) wiped(a *Act, surface int) {
	if t != nil {
		t.wipes[surface].act, t.wipes[surface].at = a.Number, a.At
	}
}

// WipedAt is the act that wiped a surface last, and its time; 0 when nothing tells.
func (t *Trace) WipedAt(surface int) (act int, at action.Millis) {
	if t == nil {
		return 0, 0
	}
	return t.wipes[surface].act, t.wipes[surface].at
}
