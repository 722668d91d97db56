// Package wettime is the wet clock of a surface: how long it was visibly wet
// without a break, against the contact time that its product's label asks.
//
// The contact clock starts at the end of the first wipe, when the whole surface
// is wet, and counts only while it is wet. A dry gap sends it back to zero
// (F32 of the clinic guidance: restart is the safe default; adding spells up is
// a clinic setting). A re-wipe of a surface that is still wet keeps the clock
// running; it does not restart it. A spell in which two products met needs the
// longer of their times. Once a spell was long enough, a later one that is not
// takes nothing away. Times are whole milliseconds and are compared as such,
// never rounded: 119,999 ms of a label time of 120 s is too short.
//
// A label may be read as treatment time, where its own words say so ([Contact.Alone]):
// then the time from the latest wipe on counts, wet or dry, as long as the surface is
// left alone. Keeping it wet for the whole time is good by either reading. A spell in
// which a product of each reading met is read as the stricter one.
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
	Need  action.Millis // contact time of the latest spell: the longest of its products
	Most  action.Millis // the longest contact time of any spell
	Best  action.Millis // longest closed spell that is known
	Sum   action.Millis // all closed spells together, as known
	Dried action.Millis // when the last closed spell was seen to be over
	Wet   bool          // a spell is open
	Done  bool          // a spell is known to have been long enough
	Maybe bool          // a closed spell may have been
	Broke bool          // a spell ended before its contact time
	Air   bool          // in a log without a clock: the wait for wet time and air drying was made

	Alone  bool          // the time that the surface is left alone counts, wet or dry
	Left   action.Millis // end of the latest wipe, since when it is
	Marred bool          // it was not: somebody touched or towelled it before its time
}

// Status says whether a contact time was reached.
type Status uint8

// The statuses. Unknown: the log does not tell.
const (
	TooShort Status = iota
	Reached
	Unknown
)

// Rule is how spells are counted and what the log can tell.
type Rule struct {
	AddsUp  bool // spells are added instead of restarting
	Witness action.Witness
	// Slack is how far the times of a log may be off, of those that people tap
	// while they watch. A spell counts as long enough only when it is so by that
	// much, as too short only likewise, and between the two nobody knows.
	Slack action.Millis
}

// Wipe wets the surface at t with a product that needs so long. A surface that is
// still wet goes on as it was; that it was wiped again does not tell a watcher
// that it was still wet.
func (c *Contact) Wipe(t, need action.Millis, r Rule) { c.WipeWith(t, need, false, r) }

// WipeWith is Wipe with a product of which the label may count the time that a surface is
// left alone.
func (c *Contact) WipeWith(t, need action.Millis, alone bool, r Rule) {
	c.wasAlone(t, r)
	c.Alone, c.Left, c.Marred = alone && (c.Alone || !c.Wet), 0, false
	if c.Alone {
		c.Left = t
	}
	c.Most = max(c.Most, need)
	if c.Wet {
		c.Done = c.Done || c.openAt(r, t) >= c.Need+r.Slack
		c.Need = max(c.Need, need)
		if r.Slack == 0 {
			c.Seen = t
		}
		return
	}
	c.Wet, c.Since, c.Seen, c.Need = true, t, t, need
}

// counts reports whether the time that the surface was left alone counts at t.
func (c *Contact) counts(t action.Millis, atLeast action.Millis) bool {
	return c.Alone && !c.Marred && t-c.Left >= atLeast
}

// wasAlone keeps what the time that ends at t came to.
func (c *Contact) wasAlone(t action.Millis, r Rule) {
	c.Done = c.Done || c.counts(t, c.Need+r.Slack)
	c.Maybe = c.Maybe || r.Slack > 0 && c.counts(t, c.Need-r.Slack)
}

// Mar notes that the surface was not left alone any longer, from t on.
func (c *Contact) Mar(t action.Millis, r Rule) {
	c.wasAlone(t, r)
	c.Marred = c.Alone
}

// See notes that the surface was wet at t.
func (c *Contact) See(t action.Millis) {
	if c.Wet {
		c.Seen = max(c.Seen, t)
	}
}

// Dry notes that the surface was dry at t. A log that witnesses drying writes
// the very moment; otherwise the spell may have ended any time since Seen.
func (c *Contact) Dry(t action.Millis, r Rule) {
	if !c.Wet {
		return
	}
	if r.Witness.Has(action.Drying) {
		c.Seen = t
	}
	c.close(t, r)
}

// Towel ends the spell at t, as everybody could see.
func (c *Contact) Towel(t action.Millis, r Rule) {
	c.Mar(t, r)
	if !c.Wet {
		return
	}
	if r.Slack == 0 {
		c.Seen = t
	}
	c.close(t, r)
}

func (c *Contact) close(t action.Millis, r Rule) {
	known, possible := c.Seen-c.Since, t-c.Since
	c.Best = max(c.Best, known)
	c.Sum += known
	c.Wet, c.Dried = false, t
	c.Done = c.Done || known >= c.Need+r.Slack
	c.Maybe = c.Maybe || !r.Witness.Has(action.Drying) && possible >= c.Need-r.Slack
	c.Broke = c.Broke || !c.Done && !c.Alone && possible < c.Need-r.Slack
}

// Wait is the act that stands for contact time and air drying in a log without
// a clock.
func (c *Contact) Wait() {
	if c.Wet {
		c.Wet, c.Air = false, true
	}
}

// Status says at moment now whether the contact time was reached.
func (c *Contact) Status(r Rule, now action.Millis) Status {
	if !r.Witness.Has(action.Clock) {
		if c.Air {
			return Reached
		}
		return TooShort
	}
	open := c.openAt(r, now)
	switch {
	case c.Done, c.Wet && open >= c.Need+r.Slack, r.AddsUp && c.Most > 0 && c.Sum+open >= c.Most+r.Slack:
		return Reached
	case c.counts(now, c.Need+r.Slack):
		return Reached
	case r.Witness.Has(action.Drying):
		return TooShort
	case c.counts(now, c.Need-r.Slack):
		return Unknown
	case c.Maybe, c.Wet && now-c.Since >= c.Need-r.Slack:
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
