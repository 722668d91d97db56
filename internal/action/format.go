package action

import (
	"cmp"
	"fmt"
	"strings"
)

// Version is the version of the text format that this package writes; it reads
// that one and those before it.
const Version = 2

// Format writes the canonical text of a log: Format(Parse(x)) is the same for
// every x that says the same.
func Format(l *Log) string {
	var b strings.Builder
	fmt.Fprintf(&b, "stillwet log %d\nprocedure %s %s\nwitness %s\n", cmp.Or(l.Version, Version), l.Procedure, l.Hash, l.Witness)
	for i := range l.Acts {
		a := &l.Acts[i]
		if l.Witness.Has(Clock) {
			b.WriteString(a.At.String())
			b.WriteByte(' ')
		}
		b.WriteString(a.Text())
		b.WriteByte('\n')
	}
	return b.String()
}

// Text is the line of the act without its time.
func (a *Act) Text() string {
	if a.Verb == 0 || a.Verb >= verbEnd {
		return "?"
	}
	var words []string
	if a.Helper {
		words = append(words, helper)
	}
	for _, p := range grammar[a.Verb] {
		if p.optional && !a.hasOptional() {
			break
		}
		words = append(words, a.word(p))
	}
	return strings.Join(words, " ")
}

func (a *Act) hasOptional() bool {
	if a.Verb == RubHands || a.Verb == WashHands {
		return a.Millis > 0
	}
	return a.With != ""
}

func (a *Act) word(p part) string {
	switch p.slot {
	case 0:
		return p.literal
	case number:
		return fmt.Sprint(a.Undoes)
	case duration:
		return formatSeconds(a.Millis)
	default:
		return *a.field(p.slot)
	}
}

func formatSeconds(ms Millis) string {
	if ms%1000 == 0 {
		return fmt.Sprintf("%ds", ms/1000)
	}
	return strings.TrimRight(fmt.Sprintf("%d.%03d", ms/1000, ms%1000), "0") + "s"
}
