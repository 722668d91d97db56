package views

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// A row of the timeline is a name and a track. Times are shares of the track, so that it
// may be of any width; marks and words have the size of the page's own. They are laid
// into lanes that keep them apart on the narrowest track there is.
const (
	trackLeast = 520 // pixels; .track of 9-surface.css is never narrower
	barLane    = 30  // height of the lane that has the bars
	markLane   = 30
	letterWide = 8 // of a word at 14 pixels, generously
)

// scale places times on a track.
type scale struct{ total action.Millis }

func newScale(r Result) scale {
	s := scale{total: 60_000}
	for _, a := range r.Log.Acts {
		s.total = max(s.total, a.At)
	}
	for _, x := range r.Spells {
		for _, spell := range x.Spells {
			s.total = max(s.total, spell.To)
		}
	}
	return s
}

// trackEdge is the share that is left free on both sides: half a mark.
const trackEdge = .03

// at is the share of the track at which a time stands.
func (s scale) at(t action.Millis) float64 {
	return trackEdge + (1-2*trackEdge)*float64(t)/float64(s.total)
}

// shareText writes a share for SVG.
func shareText(share float64) string { return strconv.FormatFloat(100*share, 'f', 2, 64) + "%" }

// ticks are round times, at most ten.
func (s scale) ticks() (ticks []action.Millis) {
	for _, step := range []action.Millis{15_000, 30_000, 60_000, 120_000, 300_000, 600_000, 1_800_000, 3_600_000} {
		if s.total/step <= 10 {
			for t := action.Millis(0); t <= s.total; t += step {
				ticks = append(ticks, t)
			}
			return ticks
		}
	}
	return []action.Millis{0, s.total}
}

// usedEarly reports whether a surface was used before the end of this spell's time: what
// was wiped again since has a later one.
func usedEarly(x assess.SurfaceSpells, s assess.Spell) bool {
	return x.Early && s == x.Spells[len(x.Spells)-1]
}

// stateOf is what a spell of wetness came to. An observer who did not look cannot say
// how long it was wet.
func (r Result) stateOf(x assess.SurfaceSpells, s assess.Spell) SurfaceState {
	end := newScale(r).total
	switch {
	case x.Unknown:
		return StateUnseen
	case s.To-s.From < x.NeedMs, usedEarly(x, s):
		return StateEarly
	case r.Log.Witness.Has(action.Drying) && s.To < end:
		return StateDry
	}
	return StateReached
}

// trackBar is a spell on its track, with the time that was asked for round it.
type trackBar struct {
	State          SurfaceState
	From, To, Need float64
	Word           string // behind it, "" where there is no room
}

// wordAt is where the word stands: behind the bar and behind what was asked for.
func (b trackBar) wordAt() float64 { return max(b.To, b.Need) }

func (b trackBar) box() (left, right float64) {
	left, right = b.From*trackLeast-2, b.wordAt()*trackLeast+2
	if b.Word != "" {
		right += 6 + float64(letterWide*len(b.Word))
	}
	return left, right
}

// marked reports whether the bar has room for its sign.
func (b trackBar) marked() bool { return lookOf(b.State).Mark != "" && (b.To-b.From)*trackLeast >= 22 }

// trackMark is a mark on a track: of findings when it has numbers, else of the hands.
type trackMark struct {
	At     float64
	Lane   int
	Nos    []string
	Letter string
	Lesser bool // a finding that is not critical where others are
	Text   string
}

const triangleHalf = 14 // of its width

// left reports whether the numbers of several findings stand before their mark.
func (m trackMark) left() bool { return m.At > .6 }

// word is what stands beside the mark.
func (m trackMark) word() string {
	if len(m.Nos) < 2 {
		return ""
	}
	return pinText(m.Nos)
}

func (m trackMark) box() (left, right float64) {
	half := float64(triangleHalf)
	if len(m.Nos) == 0 {
		half = 11
	}
	left, right = m.At*trackLeast-half, m.At*trackLeast+half
	if w := float64(letterWide * len(m.word())); w > 0 && m.left() {
		left -= w + 4
	} else if w > 0 {
		right += w + 4
	}
	return left, right
}

// y is the upper edge of the mark's lane.
func (m trackMark) y() int {
	if m.Lane == 0 {
		return 0
	}
	return barLane + (m.Lane-1)*markLane
}

// track is a row of the timeline.
type track struct {
	Name  string
	Bars  []trackBar
	Marks []trackMark
}

func (t track) height() int {
	lanes := 0
	for _, m := range t.Marks {
		lanes = max(lanes, m.Lane)
	}
	return barLane + lanes*markLane
}

// lay gives each mark the first lane in which nothing stands where it would: bars stand
// in the first one.
func (t *track) lay() {
	slices.SortStableFunc(t.Marks, func(a, b trackMark) int { return cmp.Compare(a.At, b.At) })
	type span struct{ left, right float64 }
	lanes := [][]span{nil}
	for _, b := range t.Bars {
		l, r := b.box()
		lanes[0] = append(lanes[0], span{l, r})
	}
	for i := range t.Marks {
		l, r := t.Marks[i].box()
		free := func(lane []span) bool {
			return !slices.ContainsFunc(lane, func(s span) bool { return l < s.right+1 && s.left < r+1 })
		}
		n := slices.IndexFunc(lanes, free)
		if n < 0 {
			n, lanes = len(lanes), append(lanes, nil)
		}
		t.Marks[i].Lane, lanes[n] = n, append(lanes[n], span{l, r})
	}
}

// timeline is the drawing: its scale and its rows.
type timeline struct {
	Scale  scale
	Tracks []track
}

// states are those that occur, for the key.
func (l timeline) states() (all []SurfaceState) {
	for _, t := range l.Tracks {
		for _, b := range t.Bars {
			all = append(all, b.State, StateNeed)
		}
	}
	return all
}

// timeline puts what was done and found on its tracks: what has no row of its own, the
// hands, then each surface.
func (r Result) timeline(list []numbered) timeline {
	l := timeline{Scale: newScale(r), Tracks: []track{{Name: "Order and other"}, {Name: "Hands and gloves"}}}
	for _, a := range r.hands() {
		l.Tracks[handsRow].Marks = append(l.Tracks[handsRow].Marks, trackMark{At: l.Scale.at(a.At), Letter: handLetter(a), Text: roundClock(a.At) + " " + ActWords(r.Procedure, a)})
	}
	for _, x := range r.Spells {
		l.Tracks = append(l.Tracks, track{Name: r.Procedure.Title(x.Surface), Bars: r.bars(x, l.Scale)})
	}
	r.flags(list, &l)
	l.Tracks = slices.DeleteFunc(l.Tracks, func(t track) bool { return len(t.Bars)+len(t.Marks) == 0 })
	for i := range l.Tracks {
		l.Tracks[i].lay()
	}
	return l
}

// bars are the spells of a surface. A word stands behind one where the next leaves room.
func (r Result) bars(x assess.SurfaceSpells, s scale) (bars []trackBar) {
	for _, spell := range x.Spells {
		bars = append(bars, trackBar{State: r.stateOf(x, spell), From: s.at(spell.From), To: s.at(spell.To), Need: s.at(min(spell.From+x.NeedMs, s.total))})
	}
	for i := range bars {
		b, end := &bars[i], 1.0
		if b.State != StateEarly && b.State != StateUnseen {
			continue
		}
		if i+1 < len(bars) {
			end = bars[i+1].From
		}
		b.Word = lookOf(b.State).Word
		if _, right := b.box(); right > end*trackLeast {
			b.Word = ""
		}
	}
	return bars
}

// Rows above those of the surfaces.
const (
	otherRow = iota
	handsRow
	firstSurfaceRow
)

// flags puts the findings with a time on the row of their surface, or on that of what
// has none; those of one moment share a mark.
func (r Result) flags(list []numbered, l *timeline) {
	const near = 12. / trackLeast
	mixed := distinguishes(list)
	for _, f := range list {
		if f.AtS == nil {
			continue
		}
		at := l.Scale.at(action.Millis(*f.AtS * 1000))
		for _, row := range r.rowsOf(f) {
			marks := l.Tracks[row].Marks
			i := slices.IndexFunc(marks, func(m trackMark) bool { return len(m.Nos) > 0 && max(m.At-at, at-m.At) < near })
			if i < 0 {
				l.Tracks[row].Marks = append(marks, trackMark{At: at, Nos: []string{f.No}, Lesser: mixed && !f.Critical, Text: f.Message})
				continue
			}
			marks[i].Nos, marks[i].Lesser = append(marks[i].Nos, f.No), marks[i].Lesser && !f.Critical
		}
	}
}

// distinguishes reports whether it says something of a finding that it is critical:
// some are and some are not.
func distinguishes(list []numbered) bool {
	critical := func(x numbered) bool { return x.Critical }
	return slices.ContainsFunc(list, critical) && slices.ContainsFunc(list, func(x numbered) bool { return !critical(x) })
}

func (m trackMark) title() string {
	switch len(m.Nos) {
	case 0:
		return m.Text
	case 1:
		return "Number " + m.Nos[0] + ": " + m.Text
	}
	return "Numbers " + strings.Join(m.Nos, ", ")
}

// rowsOf are the rows of a finding's surfaces; those without a row share the
// row of what is on no surface.
func (r Result) rowsOf(f numbered) (rows []int) {
	for i, x := range r.Spells {
		if slices.Contains(f.Surfaces, x.Surface) {
			rows = append(rows, firstSurfaceRow+i)
		}
	}
	if len(rows) < max(1, len(f.Surfaces)) {
		rows = append(rows, otherRow)
	}
	return rows
}

// hands are the moments of hand hygiene and of gloves.
func (r Result) hands() (acts []action.Act) {
	for _, a := range r.Log.Live() {
		switch {
		case a.Verb == action.RubHands, a.Verb == action.WashHands,
			(a.Verb == action.PutOn || a.Verb == action.TakeOff) && a.Object == action.Gloves:
			acts = append(acts, a)
		}
	}
	return acts
}

// handLetter tells the hand events apart without colour.
func handLetter(a action.Act) string {
	switch a.Verb {
	case action.PutOn:
		return "+"
	case action.TakeOff:
		return "−"
	}
	return "h"
}

// wetColumns are those of the table of spells: of wet ones, and of those in which a surface
// was left alone.
func wetColumns(r Result) []Column {
	what, long := "Wet", "Wet for"
	if slices.ContainsFunc(r.Spells, func(x assess.SurfaceSpells) bool { return x.Alone }) {
		what, long = "Wet or left alone", "For"
	}
	return []Column{{Text: "Surface"}, {Text: what + " from", Number: true}, {Text: "Until", Number: true}, {Text: long, Number: true}, {Text: "Contact time", Number: true}, {Text: "Long enough"}}
}

func longText(r Result, x assess.SurfaceSpells, s assess.Spell) string {
	switch r.stateOf(x, s) {
	case StateUnseen:
		return "the log does not tell"
	case StateEarly:
		if usedEarly(x, s) && s.To-s.From >= x.NeedMs {
			return "no: it was used before its time was over"
		}
		return "too short by " + roundClock(x.NeedMs-(s.To-s.From)+999)
	}
	return "yes"
}

func timelineDesc(r Result) string {
	var rows []string
	for _, x := range r.Spells {
		for _, s := range x.Spells {
			rows = append(rows, fmt.Sprintf("%s: %s from %s to %s, %s is asked for; long enough: %s.", r.Procedure.Title(x.Surface), either(x.Alone, "left alone", "wet"), roundClock(s.From), roundClock(s.To), x.NeedMs, longText(r, x, s)))
		}
	}
	return strings.Join(rows, " ")
}
