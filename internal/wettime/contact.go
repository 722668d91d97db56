// Package wettime is the wet clock of a surface: how long it was visibly wet
// without a break, against the contact time that its product's label asks.
//
// The contact clock starts at the end of the first wipe, when the whole surface
// is wet, and counts only while it is wet. A dry gap sends it back to zero
// (F32 of the clinic guidance: restart is the safe default; adding spells up is
// a clinic setting). A re-wipe of a surface that is still wet keeps the clock
// running; it does not restart it. Times are whole milliseconds and are
// compared as such, never rounded: 119,999 ms of a label time of 120 s is too
// short.
//
// Source of the rule "visibly wet for the whole label time": EPA label
// directions (DIS/TSS-15); re-apply if it dries early: Michigan MDARD FAQ on
// disinfectant labels.
package wettime

import "stillwet/internal/action"

// Contact is the wet clock of one surface since it was last unclean. The zero
// value is a surface that was not wiped. It is comparable and of fixed size.
type Contact struct {
	Since action.Millis // end of the first wipe of the spell that is open
	Seen  action.Millis // last moment of that spell at which it is known to be wet
	Best  action.Millis // longest closed spell that is known
	Most  action.Millis // longest closed spell that is possible
	Sum   action.Millis // all closed spells together, as known
	Dried action.Millis // when the last closed spell was seen to be over
	Wet   bool          // a spell is open
	Broke bool          // a spell ended before Need
	Air   bool          // in a log without a clock: the wait for wet time and air drying was made
}

// Status says whether a contact time was reached.
type Status uint8

// The statuses. Unknown: the log does not tell.
const (
	TooShort Status = iota
	Reached
	Unknown
)

// Wipe wets the surface at t; a surface that is still wet goes on as it was.
func (c *Contact) Wipe(t action.Millis) {
	if c.Wet {
		c.Seen = t
		return
	}
	c.Wet, c.Since, c.Seen = true, t, t
}

// See notes that the surface was wet at t.
func (c *Contact) See(t action.Millis) {
	if c.Wet {
		c.Seen = max(c.Seen, t)
	}
}

// Dry notes that the surface was dry at t. A log that witnesses drying writes
// the very moment; otherwise the spell may have ended any time since Seen.
func (c *Contact) Dry(t, need action.Millis, drying bool) {
	if !c.Wet {
		return
	}
	if drying {
		c.Seen = t
	}
	known := c.Seen - c.Since
	c.Best = max(c.Best, known)
	c.Most = max(c.Most, t-c.Since)
	c.Sum += known
	c.Wet, c.Dried = false, t
	c.Broke = c.Broke || t-c.Since < need
}

// Wait is the act that stands for contact time and air drying in a log without
// a clock.
func (c *Contact) Wait() {
	if c.Wet {
		c.Wet, c.Air = false, true
	}
}

// Rule is how spells are counted and what the log can tell.
type Rule struct {
	Need    action.Millis // contact time
	AddsUp  bool          // spells are added instead of restarting
	Witness action.Witness
}

// Status says at moment now whether the contact time was reached.
func (c *Contact) Status(r Rule, now action.Millis) Status {
	if !r.Witness.Has(action.Clock) {
		if c.Air {
			return Reached
		}
		return TooShort
	}
	known, possible := c.Best, c.Most
	open := c.openAt(r, now)
	if c.Wet {
		known, possible = max(known, open), max(possible, now-c.Since)
	}
	if r.AddsUp {
		known = c.Sum + open
		possible = max(possible, known)
	}
	switch {
	case known >= r.Need:
		return Reached
	case !r.Witness.Has(action.Drying) && possible >= r.Need:
		return Unknown
	}
	return TooShort
}

// openAt is how much of the open spell is known at now.
func (c *Contact) openAt(r Rule, now action.Millis) action.Millis {
	switch {
	case !c.Wet:
		return 0
	case r.Witness.Has(action.Drying):
		return now - c.Since
	}
	return c.Seen - c.Since
}

// Longest is the longest spell that is known at now.
func (c *Contact) Longest(r Rule, now action.Millis) action.Millis {
	if r.AddsUp {
		return c.Sum + c.openAt(r, now)
	}
	return max(c.Best, c.openAt(r, now))
}
