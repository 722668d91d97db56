package training

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What is published, or follows from a rule of ours, with where it stands.
func TestDaysThatWerePublished(t *testing.T) {
	for _, c := range []struct {
		from   Day
		months int
		want   Day
		source string
	}{
		{"2024-01-15", 18, "2025-07-15", "42 CFR 494.140(e)(4): certified within 18 months of the hire"},
		{"2024-08-31", 18, "2026-02-28", "the same at the end of a month: February has no 31st"},
		{"2023-05-10", 36, "2026-05-10", "29 CFR 1910.1030(h)(2): training records are kept for 3 years"},
		{"2023-05-10", 12, "2024-05-10", "29 CFR 1910.1030(g)(2)(iv), from memory: annual, within one year of the last"},
		{"2018-03-13", 12, "2019-03-13", "42 CFR 493.1235: the first of two gaps that were cited"},
		{"2019-09-03", 12, "2020-09-03", "the second"},
		{"2024-02-29", 12, "2025-02-28", "our rule: what a month does not have is its last day"},
		{"2024-02-29", 48, "2028-02-29", "our rule: counted from where it began, the 29th comes back"},
		{"2023-02-28", 12, "2024-02-28", "our rule: the last day of a month stays the same number"},
		{"2024-01-31", 1, "2024-02-29", "our rule"},
		{"2023-01-31", 1, "2023-02-28", "our rule"},
		{"2023-11-30", 3, "2024-02-29", "our rule"},
		{"2024-12-31", 6, "2025-06-30", "our rule"},
		{"2024-05-15", 0, "2024-05-15", "our rule"},
		{"2024-05-31", -3, "2024-02-29", "our rule, backwards"},
	} {
		require.Equal(t, c.want, c.from.AddMonths(c.months), "%s and %d months: %s", c.from, c.months, c.source)
	}
}

// Renewals by what was due before and the early window.
func TestRenewalDays(t *testing.T) {
	terms := Terms{IntervalMonths: 12, EarlyDays: 30}
	for _, c := range []struct {
		on, before, want Day
		why              string
	}{
		{"2026-03-10", "", "2027-03-10", "the first runs from its day"},
		{"2027-02-08", "2027-03-10", "2028-03-10", "the first day of the window keeps the anniversary"},
		{"2027-02-07", "2027-03-10", "2028-02-07", "a day earlier runs from the sign-off"},
		{"2027-03-10", "2027-03-10", "2028-03-10", "the due day itself"},
		{"2027-03-11", "2027-03-10", "2028-03-11", "after a lapse it runs from the sign-off"},
		{"2025-02-20", "2025-02-28", "2026-02-28", "the anniversary of one that was given on 29 February stays on the 28th"},
	} {
		require.Equal(t, c.want, terms.DueAfter(c.on, c.before), c.why)
	}
	none := Terms{IntervalMonths: 12}
	require.Equal(t, Day("2028-03-09"), none.DueAfter("2027-03-09", "2027-03-10"), "without a window it runs from the sign-off")
}

// byLibrary adds months as the standard library does, which runs over into the next month
// where a day is missing, and takes back what ran over.
func byLibrary(d Day, months int) Day {
	t := d.Time()
	moved := t.AddDate(0, months, 0)
	if moved.Day() != t.Day() {
		moved = moved.AddDate(0, 0, -moved.Day())
	}
	return Day(moved.Format(time.DateOnly))
}

// Every day of twenty years: what the standard library says, and laws of our own.
func TestEveryDayOfTwentyYears(t *testing.T) {
	first, last := Day("2015-01-01"), Day("2034-12-31")
	days := 0
	before := map[int]Day{}
	for d := first; d <= last; d = d.AddDays(1) {
		days++
		at := d.Time()
		require.Equal(t, Day(at.AddDate(0, 0, 1).Format(time.DateOnly)), d.AddDays(1))
		require.Equal(t, d, d.AddDays(1).AddDays(-1))
		for _, n := range []int{1, 3, 6, 12, 18, 24, 36, 60} {
			due := d.AddMonths(n)
			require.Equal(t, byLibrary(d, n), due, "%s and %d months", d, n)
			require.GreaterOrEqual(t, due, before[n], "a later day is never due earlier")
			require.LessOrEqual(t, due.Time().Day(), at.Day(), "never a later day of the month")
			require.Equal(t, 0, ((due.Time().Year()-at.Year())*12+int(due.Time().Month()-at.Month()))-n, "so many months on")
			before[n] = due
		}
		year := d.AddMonths(12).Time().Sub(at).Hours() / 24
		require.Contains(t, []float64{365, 366}, year, "%s and a year", d)
	}
	require.Equal(t, int(last.Time().Sub(first.Time()).Hours()/24)+1, days)
}

// A yearly sign-off on every day of twenty years: it holds on its due day, is over the day
// after, and a renewal inside the window never shortens nor lengthens the year.
func TestEveryDueDayOfTwentyYears(t *testing.T) {
	c := yearly
	terms := Terms{IntervalMonths: 12, EarlyDays: 45}
	for d := Day("2015-01-01"); d <= "2034-12-31"; d = d.AddDays(1) {
		due := terms.DueAfter(d, "")
		o := off(d)
		require.Equal(t, o.Due, due)
		h := History{SignOffs: []SignOff{o}}
		require.Equal(t, DueSoon, Fold(Person{}, c, h, due, time.UTC).Word, d)
		require.Equal(t, Lapsed, Fold(Person{}, c, h, due.AddDays(1), time.UTC).Word, d)
		require.Equal(t, Current, Fold(Person{}, c, h, due.AddDays(-c.NoticeDays-1), time.UTC).Word, d)
		for _, early := range []int{0, 1, 45} {
			require.Equal(t, due.AddMonths(12), terms.DueAfter(due.AddDays(-early), due), d)
		}
		require.Equal(t, due.AddDays(-46).AddMonths(12), terms.DueAfter(due.AddDays(-46), due), d)
		require.Equal(t, due.AddDays(1).AddMonths(12), terms.DueAfter(due.AddDays(1), due), d)
	}
}
