package training

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// 18 months after 15 January 2024 is 15 July 2025; after 31 August 2024 it is
// the last day of February 2026 (arithmetic of a licence term, worked by hand).
func TestAddMonthsKeepsTheLastDay(t *testing.T) {
	for _, c := range []struct {
		from Day
		n    int
		want Day
	}{
		{"2024-01-15", 18, "2025-07-15"}, {"2024-08-31", 18, "2026-02-28"}, {"2024-02-29", 12, "2025-02-28"},
		{"2023-02-28", 12, "2024-02-28"}, {"2024-12-31", 2, "2025-02-28"}, {"2024-10-31", 1, "2024-11-30"}, {"2024-03-31", 0, "2024-03-31"},
	} {
		require.Equal(t, c.want, c.from.AddMonths(c.n), "%s + %d months", c.from, c.n)
	}
}

func TestDaysAreStrict(t *testing.T) {
	for _, bad := range []string{"", "2026-2-1", "2026-02-30", "01.02.2026"} {
		_, err := ParseDay(bad)
		require.Error(t, err, bad)
	}
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	require.Equal(t, Day("2026-03-08"), Instant("2026-03-09T04:59:59.999Z").Day(zone))
	require.Equal(t, Day("2026-03-09"), Instant("2026-03-09T05:00:00.000Z").Day(zone))
	require.Equal(t, Day(""), Instant("").Day(zone))
}

// The end of a day is its first moment after, also where the clocks change at
// midnight or a day is left out.
func TestTheEndOfADayIsWhereTheNextBegins(t *testing.T) {
	for name, days := range map[string][]Day{
		"UTC": {"2026-02-28"}, "America/Chicago": {"2026-03-07", "2026-03-08", "2026-11-01"}, "Asia/Kolkata": {"2026-01-31"},
		"America/Santiago": {"2024-09-07", "2024-09-08", "2024-04-06"}, "Asia/Beirut": {"2024-03-30", "2024-10-26"}, "Pacific/Apia": {"2011-12-29"},
	} {
		zone, err := time.LoadLocation(name)
		require.NoError(t, err)
		for _, d := range days {
			end := d.End(zone)
			require.LessOrEqual(t, end.Add(-time.Millisecond).Day(zone), d, "%s %s", name, d)
			require.Greater(t, end.Day(zone), d, "%s %s", name, d)
		}
	}
	require.Equal(t, Instant("2026-03-08T06:00:00.000Z"), Day("2026-03-07").End(chicago(t)))
	require.Equal(t, Instant("2026-03-09T05:00:00.000Z"), Day("2026-03-08").End(chicago(t)))
}

func TestADayAsASentenceHasIt(t *testing.T) {
	require.Equal(t, "9 Mar 2026", Day("2026-03-09").Said())
	require.Equal(t, "tomorrow", Day("tomorrow").Said(), "what is no day is said as it is")
}
