package training

import (
	"fmt"
	"time"
)

// Month is a calendar month as text, 2006-01. "" is none.
type Month string

const monthLayout = "2006-01"

// ParseMonth reads a month.
func ParseMonth(s string) (Month, error) {
	t, err := time.Parse(monthLayout, s)
	if err != nil || t.Format(monthLayout) != s {
		return "", fmt.Errorf("%q is no month in the form 2026-03", s)
	}
	return Month(s), nil
}

// Month is the month that a day lies in; "" for "".
func (d Day) Month() Month {
	if d == "" {
		return ""
	}
	return Month(d.Time().Format(monthLayout))
}

// First is the first day of a month.
func (m Month) First() Day { return Day(m + "-01") }

// Last is the last day of a month.
func (m Month) Last() Day { return m.Add(1).First().AddDays(-1) }

// Add moves by months.
func (m Month) Add(n int) Month { return m.First().AddMonths(n).Month() }

// span is a month's first moment, and the first after it, in a zone.
func (m Month) span(zone *time.Location) (from, before Instant) {
	return m.First().AddDays(-1).End(zone), m.Last().End(zone)
}
