package backup

import (
	"slices"
	"time"
)

// How many backups are kept: the newest of each of so many hours, days and
// months in which there was one.
const (
	keptHours  = 24
	keptDays   = 14
	keptMonths = 12
)

// Spare picks of the moments of backups those that need not be kept. The newest
// is always kept.
func Spare(made []time.Time) (spare []time.Time) {
	newest := slices.SortedFunc(slices.Values(made), func(a, b time.Time) int { return b.Compare(a) })
	kept := map[time.Time]bool{}
	for _, rule := range []struct {
		layout string
		most   int
	}{{"2006-01-02T15", keptHours}, {"2006-01-02", keptDays}, {"2006-01", keptMonths}} {
		seen := map[string]bool{}
		for _, at := range newest {
			span := at.UTC().Format(rule.layout)
			if !seen[span] && len(seen) < rule.most {
				seen[span], kept[at] = true, true
			}
		}
	}
	return slices.DeleteFunc(newest, func(at time.Time) bool { return kept[at] })
}
