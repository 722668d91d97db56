package views

import (
	"math"
	"slices"
	"strings"
)

// SurfaceState is what is known of a surface, as the attribute data-state says it of a
// tile, a bar of the timeline and a shape of the picture.
type SurfaceState string

// The states.
const (
	StateUnwiped SurfaceState = "unwiped"
	StateBlood   SurfaceState = "blood"
	StateWet     SurfaceState = "wet"
	StateAlone   SurfaceState = "alone"
	StateNeed    SurfaceState = "need"
	StateOpen    SurfaceState = "open"
	StateAsk     SurfaceState = "ask"
	StateReached SurfaceState = "reached"
	StateDry     SurfaceState = "dry"
	StateEarly   SurfaceState = "early"
	StateSpoilt  SurfaceState = "spoilt"
	StateUnseen  SurfaceState = "unseen"
	StateDried   SurfaceState = "dried"
)

// signal is which of the two accents a state has; never both.
type signal string

const (
	signalAct  signal = "act"  // it holds, or it goes on
	signalLook signal = "look" // it needs a look
	signalNone signal = ""
)

// fill is what stands inside.
type fill string

const (
	fillEmpty  fill = "empty"
	fillRising fill = "rising" // as high as the share of the label time, with a line on top
	fillFull   fill = "full"
	fillHatch  fill = "hatch"
	fillWash   fill = "wash" // a pale ground
)

// frame is how thick the edge is, on a scale of its own; see 9-surface.css.
type frame int

const (
	framePlain  frame = 2
	frameStrong frame = 4
	frameThick  frame = 6 // of one state only, which asks for something
)

// surfaceLook is one row of the table: what a state is called and how it is drawn,
// wherever it is drawn. Shape and word tell it, colour only repeats them.
type surfaceLook struct {
	State  SurfaceState
	Word   string
	Means  string // a sentence for the key, after the word; may be empty
	Signal signal
	Fill   fill
	Frame  frame
	Dashed bool
	Mark   string // corners of the sign in a box of 100 by 100; "" for none
}

// The signs. A dot belongs to its sign by a seam of no width.
const (
	dropMark     = "50 0, 72 34, 84 58, 80 80, 64 96, 36 96, 20 80, 16 58, 28 34"
	tickMark     = "0 56, 16 38, 38 60, 84 8, 100 24, 40 92"
	dryMark      = "0 42, 16 26, 38 46, 84 0, 100 16, 40 72, 40 84, 100 84, 100 100, 0 100, 0 84, 40 84, 40 72" // a tick on a dry line
	crossMark    = "16 0, 50 34, 84 0, 100 16, 66 50, 100 84, 84 100, 50 66, 16 100, 0 84, 34 50, 0 16"
	lineMark     = "0 84, 100 84, 100 100, 0 100" // the dry line without its tick
	barMark      = "4 40, 96 40, 96 60, 4 60"
	questionMark = "14 32, 14 18, 30 0, 70 0, 86 18, 86 38, 62 56, 62 68, 50 68, 50 78, 62 78, 62 100, 38 100, 38 78, 50 78, 50 68, 38 68, 38 46, 62 30, 62 22, 38 22, 38 32"
	spotMark     = "50 2, 98 50, 50 98, 2 50"
	bangMark     = "36 0, 64 0, 59 66, 50 66, 50 76, 62 76, 62 100, 38 100, 38 76, 50 76, 50 66, 41 66"
)

// surfaceLooks is the one table of the states of surfaces. Tiles, bars, shapes and keys
// are drawn by the rules of 9-surface.css, of which surfacestate_test.go asks that they
// say the same.
var surfaceLooks = []surfaceLook{
	{StateUnwiped, "Not wiped", "", signalNone, fillEmpty, framePlain, false, ""},
	{StateBlood, "Blood", "to be seen, and cleaned off first", signalLook, fillWash, frameStrong, false, spotMark},
	{StateWet, "Wet", "it fills with the time", signalAct, fillRising, framePlain, false, dropMark},
	{StateAlone, "Left alone", "its time runs on, wet or dry", signalAct, fillRising, framePlain, false, lineMark},
	{StateNeed, "Time asked for", "", signalNone, fillEmpty, framePlain, true, ""},
	{StateOpen, "Time over", "may be looked at", signalAct, fillFull, framePlain, false, questionMark},
	{StateAsk, "Still wet?", "", signalLook, fillWash, frameThick, false, questionMark},
	{StateReached, "Reached, wet", "", signalAct, fillFull, frameStrong, false, tickMark},
	{StateDry, "Reached, dry", "", signalAct, fillEmpty, frameStrong, false, dryMark},
	{StateEarly, "Too short", "", signalLook, fillHatch, framePlain, false, bangMark},
	{StateSpoilt, "Spoilt again", "", signalLook, fillWash, frameStrong, false, crossMark},
	{StateDried, "Dry again", "", signalNone, fillEmpty, framePlain, false, lineMark},
	{StateUnseen, "Not seen", "", signalNone, fillEmpty, framePlain, false, barMark},
}

// lookOf is a state's row; of one that is not in the table, that of a surface nobody
// wiped.
func lookOf(s SurfaceState) surfaceLook {
	for _, l := range surfaceLooks {
		if l.State == s {
			return l
		}
	}
	return surfaceLooks[0]
}

// meaning is the word of a key, with what there is to add.
func (l surfaceLook) meaning() string {
	if l.Means == "" {
		return l.Word
	}
	return l.Word + ": " + l.Means
}

// points are the corners of a mark as SVG writes them.
func (l surfaceLook) points() string { return strings.ReplaceAll(l.Mark, ", ", ",") }

// quarter is a level for the attribute data-level: pages have no style of their own, so
// that what the server draws knows quarters only.
func quarter(level float64) string {
	return []string{"0", "25", "50", "75", "100"}[int(math.Round(4*min(1, max(0, level))))]
}

// keyed reports whether a key tells a state: one of those named, any when none is.
func keyed(s SurfaceState, states []SurfaceState) bool {
	return len(states) == 0 || slices.Contains(states, s)
}
