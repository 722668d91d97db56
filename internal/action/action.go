// Package action is the log of what was done at a station: an ordered list of
// acts and events, each with an optional time, in a text form that people can
// read and write.
//
// # Format
//
//	stillwet log 2
//	procedure between-patients -
//	witness order clock drying
//	0:00     check patient stable
//	0:12.500 rub hands 20s
//	# a comment
//	0:40     wipe screen with w1
//	0:52     helper bring supplies to staging
//
// "helper" before an act says that a second person did it. A log of version 1 had
// no words for some acts, disinfecting a face shield say; what it does not tell
// of those is not held against it.
//
// A text is UTF-8, with or without a byte order mark; a line ends with LF, CR LF
// or CR, and spaces and tabs part its words. The three header lines come first
// and in this order. The procedure line names the procedure and the SHA-256 (64
// hex digits) of its canonical form, or "-" for "the current one". The witness
// line says what the log can bear witness to:
//
//   - order: the acts stand in the order in which they were done (always there)
//   - clock: every line carries the time at which it was finished, m:ss[.mmm],
//     in minutes (to 9999), seconds and thousandths since the log's start
//   - drying: every moment at which a wet surface dried is written as "dry SURFACE",
//     so a surface without such a line stayed wet
//
// Acts are done by the worker; events happen to the station or the record
// (see [Verb.Event]). The words in capitals of a phrase stand for surfaces, items,
// places and products of the procedure. Anything else is an error with file:line
// and the nearest known words.
package action

import (
	"fmt"
	"strings"
)

// Millis is a time since the log's start in milliseconds, or [Untimed].
type Millis int64

// Untimed marks an act of a log without a clock.
const Untimed Millis = -1

// Witness is the set of things a log can bear witness to.
type Witness uint8

// What a log can witness; see the package comment.
const (
	Order Witness = 1 << iota
	Clock
	Drying
)

var witnessWords = []struct {
	bit  Witness
	word string
}{{Order, "order"}, {Clock, "clock"}, {Drying, "drying"}}

// Has reports whether w includes everything in need.
func (w Witness) Has(need Witness) bool { return w&need == need }

func (w Witness) String() string {
	var words []string
	for _, x := range witnessWords {
		if w.Has(x.bit) {
			words = append(words, x.word)
		}
	}
	return strings.Join(words, " ")
}

// Act is one line of a log: an act of the worker or an event.
type Act struct {
	Number int    // place in the log, from 1; events count too
	Line   int    // line of the source text, 0 for a log that was built
	At     Millis // when it was finished, or Untimed
	Verb   Verb
	Object string // surface, item, protective equipment or thing, as the verb asks
	Place  string // where an item goes
	With   string // the wipe used, or the wipe taken; empty for the one in hand
	Of     string // the product a wipe is taken from, or the watcher's verdict
	Millis Millis // how long hands were rubbed or washed, or nobody saw; 0 when not told
	Undoes int    // the number of the act that an "undone" line takes back
	Helper bool   // done by a second person at the station
}

// Log is an action log.
type Log struct {
	Procedure string // id of the procedure
	Hash      string // its hash in hex, or "-" for the current one
	Witness   Witness
	Version   int // of the text format; 0 stands for the present one
	Acts      []Act

	ProcedureLine int // line of the procedure header in the source text, 0 for a log that was built
}

// Since reports whether the log is of a version of the format, or a later one.
func (l *Log) Since(version int) bool { return l.Version == 0 || l.Version >= version }

// Live returns the acts that count: without those taken back by an "undone"
// line and without the undone lines themselves. The numbers stay as they were.
// The result is the log's own slice when nothing was taken back.
func (l *Log) Live() []Act {
	undone := map[int]bool{}
	for i := range l.Acts {
		if l.Acts[i].Verb == Undone {
			undone[l.Acts[i].Undoes] = true
			undone[l.Acts[i].Number] = true
		}
	}
	if len(undone) == 0 {
		return l.Acts
	}
	live := make([]Act, 0, len(l.Acts))
	for _, a := range l.Acts {
		if !undone[a.Number] {
			live = append(live, a)
		}
	}
	return live
}

// Add appends an act and numbers it.
func (l *Log) Add(a Act) {
	a.Number = len(l.Acts) + 1
	l.Acts = append(l.Acts, a)
}

// Prompted reports whether the watcher prompted, or stepped in: then it was practice.
func (l *Log) Prompted() bool {
	for _, a := range l.Live() {
		if a.Verb == Prompted || a.Verb == SteppedIn {
			return true
		}
	}
	return false
}

// String is m:ss, with milliseconds when there are any; "" when untimed.
func (t Millis) String() string {
	if t < 0 {
		return ""
	}
	s := fmt.Sprintf("%d:%02d", t/60000, t/1000%60)
	if ms := t % 1000; ms != 0 {
		s += fmt.Sprintf(".%03d", ms)
	}
	return s
}
