package training

import (
	"fmt"
	"time"
)

// Instant is a moment in UTC to the millisecond, as fixed-width text
// ("2026-03-01T09:30:00.000Z") so that text order is time order. "" is none.
type Instant string

const instantLayout = "2006-01-02T15:04:05.000Z"

// InstantOf cuts a time to an Instant.
func InstantOf(t time.Time) Instant { return Instant(t.UTC().Format(instantLayout)) }

// Time is the instant as a time.Time; zero for "".
func (i Instant) Time() time.Time {
	t, err := time.Parse(instantLayout, string(i))
	if err != nil {
		return time.Time{}
	}
	return t
}

// Day is the day of the instant in a zone; "" for "".
func (i Instant) Day(zone *time.Location) Day {
	if i == "" {
		return ""
	}
	return Day(i.Time().In(zone).Format(time.DateOnly))
}

// Add moves the instant.
func (i Instant) Add(d time.Duration) Instant { return InstantOf(i.Time().Add(d)) }

// Day is a calendar day as text, 2006-01-02. "" is none.
type Day string

// ParseDay reads a day.
func ParseDay(s string) (Day, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || t.Format(time.DateOnly) != s {
		return "", fmt.Errorf("%q is no day in the form 2026-03-01", s)
	}
	return Day(s), nil
}

// End is the first moment after the day in a zone.
func (d Day) End(zone *time.Location) Instant {
	t := d.Time()
	end := time.Date(t.Year(), t.Month(), t.Day()+1, 0, 0, 0, 0, zone)
	if InstantOf(end).Day(zone) <= d { // there is no such midnight: the clocks go on then
		_, end = end.ZoneBounds()
	}
	return InstantOf(end)
}

// Time is midnight UTC of the day, for writing dates; zero for "".
func (d Day) Time() time.Time {
	t, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		return time.Time{}
	}
	return t
}

// Said is the day as a sentence has it, 12 Mar 2026. What is no day is said as it is.
func (d Day) Said() string {
	if _, err := ParseDay(string(d)); err != nil {
		return string(d)
	}
	return d.Time().Format("2 Jan 2006")
}

// AddDays moves by days.
func (d Day) AddDays(n int) Day { return Day(d.Time().AddDate(0, 0, n).Format(time.DateOnly)) }

// AddMonths moves by calendar months; a day the month does not have becomes
// its last one (31 August + 18 months = 28 February).
func (d Day) AddMonths(n int) Day {
	t := d.Time()
	first := time.Date(t.Year(), t.Month()+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return Day(first.AddDate(0, 0, min(t.Day(), last)-1).Format(time.DateOnly))
}
