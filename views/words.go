package views

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// count writes a number with its word: "1 step", "3 steps".
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// sentence is what somebody typed, as it stands among sentences: with a capital and a full stop.
func sentence(text string) string {
	text = strings.TrimSpace(text)
	if text == "" || strings.ContainsAny(text[len(text)-1:], ".!?") {
		return procedure.Capital(text)
	}
	return procedure.Capital(text) + "."
}

// day writes a day for people: "12 Mar 2026".
func day(d training.Day) string {
	if d == "" {
		return "—"
	}
	return d.Said()
}

// Moment writes an instant in the clinic's zone: "12 Mar 2026, 14:05".
func (f Frame) Moment(i training.Instant) string {
	if i == "" {
		return "—"
	}
	return i.Time().In(f.zone()).Format("2 Jan 2006, 15:04")
}

func (f Frame) day(i training.Instant) string { return day(i.Day(f.zone())) }

func (f Frame) zone() *time.Location {
	if f.Zone == nil {
		return time.UTC
	}
	return f.Zone
}

// until says how far a day is from today in words.
func (f Frame) until(d training.Day) string {
	n := int(d.Time().Sub(f.Today.Time()).Hours()) / 24
	switch {
	case d == "":
		return ""
	case n == 0:
		return "today"
	case n == 1:
		return "tomorrow"
	case n == -1:
		return "yesterday"
	case n < 0:
		return fmt.Sprintf("%d days ago", -n)
	}
	return fmt.Sprintf("in %d days", n)
}

// clock writes seconds as m:ss.
func clock(seconds int) string { return action.Millis(seconds * 1000).String() }

// roundClock writes a time to whole seconds, m:ss, for people.
func roundClock(t action.Millis) string {
	if t < 0 {
		return ""
	}
	return action.Millis(int64(t) / 1000 * 1000).String()
}

// percent writes a share with its count, never bare.
func percent(share float64) string { return fmt.Sprintf("%.0f %%", share*100) }
