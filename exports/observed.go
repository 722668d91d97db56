package exports

import (
	"fmt"
	"strings"

	"stillwet/internal/training"
)

// Names of the sheets of station observations, one by one and by month.
const (
	observationsName = "Observations"
	monthsName       = "Observation months"
)

// observations is every station observation of the period that counts, and those that did
// until they were withdrawn. Who was not named is
// told by discipline and shift only, and without the hour.
func (b *book) observations(a training.Annual) error {
	type row = training.ObservationRow
	var rows []row
	for _, m := range a.Observed {
		rows = append(append(rows, m.Rows...), m.Gone...)
	}
	return write(b, table[row]{name: observationsName, rows: rows, whose: []column[row]{
		{"Date", 12, date, func(o row) any { return day(o.StartedAt.Day(b.zone)) }},
	}, pages: [][]column[row]{{
		{"Whose work", 22, text, func(o row) any { return whoseWork(a, o) }},
		{"Shift", 12, text, func(o row) any { return o.Shift }},
		{"Announced", 10.5, text, func(o row) any { return o.Announced }},
		{"Watched by", 18, text, func(o row) any { return a.People[o.PreceptorID].Name }},
		{"What it showed", 14, strong, func(o row) any { return seenWords[o.Whole] }},
		{"Steps right", 8, count, func(o row) any { return o.Marks.K }},
		{"Steps seen", 8, count, func(o row) any { return o.Marks.N }},
		{"Steps that were missed", 22, prose, func(o row) any { return strings.Join(o.Missed, "\n") }},
		{"Competency", 20, text, func(o row) any { return a.Title(o.Competency) }},
		{"Put right", 16, prose, func(o row) any { return goneWords(o) }},
	}}, keys: []column[row]{
		{ledgerNo, 9, count, func(o row) any { return o.Kept }},
		{"What the breaches say", 44, prose, func(o row) any { return strings.Join(o.Told, "\n") }},
		{"Demonstration id", 37, id, func(o row) any { return o.ID }},
	}})
}

var seenWords = map[training.Seen]string{training.SeenRight: "All right", training.SeenMissed: "Missed", training.SeenUnknown: "Not all seen"}

func goneWords(o training.ObservationRow) string {
	if o.Stage == training.Withdrawn {
		return withdrawnWords
	}
	return ""
}

func whoseWork(a training.Annual, o training.ObservationRow) string {
	if o.TraineeID == "" {
		return o.Discipline + ", not named"
	}
	return a.People[o.TraineeID].Name
}

// counted is a month's observations, of one shift or of all.
type counted struct {
	training.ObservedMonth
	training.ShiftObserved
	all bool
}

// countedOf is each month as a whole and after it by shift.
func countedOf(months []training.ObservedMonth) (rows []counted) {
	for _, m := range months {
		rows = append(rows, counted{m, training.ShiftObserved{ObservedTally: m.All}, true})
		for _, s := range m.Shifts {
			rows = append(rows, counted{m, s, false})
		}
	}
	return rows
}

func (c counted) shift() any {
	switch {
	case c.all:
		return "All shifts"
	case c.Shift == "":
		return "No shift said"
	}
	return c.Shift
}

func (c counted) id() any {
	if c.all {
		return string(c.Month)
	}
	return fmt.Sprintf("%s/%s", c.Month, c.shift())
}

// ofMonth is a value that only the whole month has.
func ofMonth(value func(counted) any) func(counted) any {
	return func(c counted) any {
		if !c.all {
			return nil
		}
		return value(c)
	}
}

// rateColumns are a rate with its count and its 95 % interval, under five titles; nothing of no
// observations.
func rateColumns(titles [5]string, of func(counted) training.Rate) []column[counted] {
	some := func(value func(training.Rate) float64) func(counted) any {
		return func(c counted) any {
			if of(c).N == 0 {
				return nil
			}
			return value(of(c))
		}
	}
	return []column[counted]{
		{titles[0], 10, count, func(c counted) any { return of(c).K }},
		{titles[1], 8, count, func(c counted) any { return of(c).N }},
		{titles[2], 8, percent, some(training.Rate.Share)},
		{titles[3], 8, percent, some(func(r training.Rate) float64 { low, _ := r.Interval(); return low })},
		{titles[4], 8, percent, some(func(r training.Rate) float64 { _, high := r.Interval(); return high })},
	}
}

// observationMonths are the counts of each month against the target that it had.
func (b *book) observationMonths(a training.Annual) error {
	first := []column[counted]{
		{"Shift", 14, text, counted.shift},
		{"Counted", 9, count, func(c counted) any { return c.N() }},
		{"Target", 8, count, ofMonth(func(c counted) any { return c.Target.Monthly })},
	}
	first = append(first, rateColumns([5]string{"All right", "Of", "Rate", "At least", "At most"}, func(c counted) training.Rate { return c.Whole() })...)
	first = append(first, rateColumns([5]string{"Steps right", "Steps seen", "Step rate", "Steps at least", "Steps at most"}, func(c counted) training.Rate { return c.Marks })...)
	return write(b, table[counted]{name: monthsName, rows: countedOf(a.Observed), whose: []column[counted]{
		{"Month", 16, text, func(c counted) any { return c.Month.First().Time().Format("January 2006") }},
	}, pages: [][]column[counted]{first, {
		{"Not all seen", 9, count, func(c counted) any { return c.Unknown }},
		{"Announced", 10.5, count, ofMonth(func(c counted) any { return c.Told.N() })},
		{"Not announced", 10.5, count, ofMonth(func(c counted) any { return c.Untold.N() })},
		{"Waiting", 9, count, ofMonth(func(c counted) any { return c.Beside.Waiting + c.Beside.Open })},
		{"Stopped early", 9, count, ofMonth(func(c counted) any { return c.Beside.Stopped })},
		{"Withdrawn", 10.5, count, ofMonth(func(c counted) any { return c.Beside.Withdrawn })},
	}}, keys: []column[counted]{
		{"Month id", 30, id, counted.id},
	}})
}
