package views

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// Sizes of the timeline drawing.
const (
	lineLeft, lineRight = 210, 990
	lineRow             = 34
	lineTop             = 34
)

// scale places times on the drawing.
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

func (s scale) x(t action.Millis) string { return strconv.Itoa(s.px(t)) }

func (s scale) px(t action.Millis) int {
	return lineLeft + int(int64(t)*int64(lineRight-lineLeft)/int64(s.total))
}

func (s scale) width(from, to action.Millis) string { return strconv.Itoa(max(2, s.px(to)-s.px(from))) }

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

// Rows of the drawing above those of the surfaces: what has no row of its own,
// and the hands.
const (
	otherRow        = 0
	handsRow        = 1
	firstSurfaceRow = 2
)

func rowY(i int) int { return lineTop + i*lineRow }

// spellState is what a spell of wetness came to.
type spellState string

// The states, as classes of the drawing.
const (
	longEnough spellState = "long"
	tooShort   spellState = "short"
	notTold    spellState = "untold"
)

func stateOf(x assess.SurfaceSpells, s assess.Spell) spellState {
	switch {
	case x.Unknown: // an observer who did not look cannot say how long it was wet
		return notTold
	case s.To-s.From >= x.NeedMs:
		return longEnough
	}
	return tooShort
}

// flag is a place on the timeline where findings stand. One finding has its
// number inside the mark; several have their numbers beside it.
type flag struct {
	Nos  []string
	X, Y int
	Text string
}

func (f flag) title() string {
	if len(f.Nos) == 1 {
		return "Number " + f.Nos[0] + ": " + f.Text
	}
	return "Numbers " + strings.Join(f.Nos, ", ")
}

// flags puts the findings with a time on the row of their surface, or on a row
// of their own; those that would cover each other share a mark.
func (r Result) flags(list []numbered, s scale) (flags []flag) {
	const near = 22 // a mark is 26 wide
	for _, f := range list {
		if f.AtS == nil {
			continue
		}
		x := s.px(action.Millis(*f.AtS * 1000))
		for _, row := range r.rowsOf(f) {
			i := slices.IndexFunc(flags, func(g flag) bool { return g.Y == rowY(row) && max(g.X-x, x-g.X) < near })
			if i >= 0 {
				flags[i].Nos = append(flags[i].Nos, f.No)
				continue
			}
			flags = append(flags, flag{[]string{f.No}, min(x, lineRight-6), rowY(row), f.Message})
		}
	}
	return flags
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

// beside is what stands beside a mark of several findings.
func (f flag) beside() string {
	const most = 4
	if len(f.Nos) > most {
		return strings.Join(f.Nos[:most-1], ", ") + " and " + strconv.Itoa(len(f.Nos)-most+1) + " more"
	}
	return strings.Join(f.Nos, ", ")
}

// roomBehind reports whether a word fits behind a spell before the next begins.
func (s scale) roomBehind(x assess.SurfaceSpells, i int) bool {
	const word = 76
	end := min(x.Spells[i].From+x.NeedMs, s.total)
	return i+1 == len(x.Spells) || s.px(x.Spells[i+1].From)-s.px(max(end, x.Spells[i].To)) > word
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

func longText(x assess.SurfaceSpells, s assess.Spell) string {
	switch stateOf(x, s) {
	case longEnough:
		return "yes"
	case notTold:
		return "the log does not tell"
	}
	return "too short by " + roundClock(x.NeedMs-(s.To-s.From)+999)
}

func spellWord(s spellState) string {
	switch s {
	case tooShort:
		return "Too short"
	case notTold:
		return "Not told"
	}
	return ""
}

func clip(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

func timelineDesc(r Result) string {
	var rows []string
	for _, x := range r.Spells {
		for _, s := range x.Spells {
			rows = append(rows, fmt.Sprintf("%s: wet from %s to %s, %s is asked for; long enough: %s.", r.Procedure.Title(x.Surface), roundClock(s.From), roundClock(s.To), x.NeedMs, longText(x, s)))
		}
	}
	return strings.Join(rows, " ")
}
