package views

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// ObservationsURL is the page of a month's station observations.
const ObservationsURL = "/observations"

// mostMonths is how many months the menu of the page offers.
const mostMonths = 36

// Observations is the page of a month's station observations, with the form of the target.
type Observations struct {
	training.Observing
	Titles map[string]string // of competencies
	Wrong  string            // why the target was not taken
	Typed  map[string]string // what stands in the form then
}

func observationsOf(m training.Month) string { return ObservationsURL + "?month=" + string(m) }

func monthWords(m training.Month) string { return m.First().Time().Format("January 2006") }

// heading is the count and what it is of.
func (o Observations) heading() string {
	return observedWords(o.All.N(), o.Target.Monthly) + " in " + monthWords(o.Month)
}

// observedWords are so many observations of a target; 0 is none.
func observedWords(n, target int) string {
	if target == 0 {
		return count(n, "station observation", "station observations")
	}
	return fmt.Sprintf("%d of %s", n, count(target, "station observation", "station observations"))
}

// observedSoFar tells who watches how far the clinic has come this month.
func observedSoFar(c training.ObservedCount) string {
	return procedure.Capital(observedWords(c.N, c.Target)) + " in " + monthWords(c.Month) + "."
}

// none says why a month has nothing, "" when it has.
func (o Observations) none() string {
	switch {
	case o.All.N() > 0:
		return ""
	case o.First == "":
		return "No observations. Nobody has watched one yet: whoever watches chooses “A routine observation” when they start."
	case o.Month < o.First:
		return "No observations: the first one of this clinic began in " + monthWords(o.First) + "."
	}
	return "No observations that count."
}

// beside tells what was watched in the month and does not count.
func (o Observations) beside() string {
	var parts []string
	for _, x := range []struct {
		n    int
		what string
	}{{o.Beside.Open, "still being recorded"}, {o.Beside.Waiting, "waiting to be read and kept by who watched"}, {o.Beside.Stopped, "stopped before the end of the work"}, {o.Beside.Withdrawn, "withdrawn"}} {
		if x.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", x.n, x.what))
		}
	}
	return cmp.Or(strings.Join(parts, ", "), "none")
}

// facts are the month in short.
func (o Observations) facts() []Fact {
	return []Fact{{Term: "Not counted", Text: o.beside()}, {Term: "Return demonstrations watched", Text: strconv.Itoa(o.Returns) + "; they are not counted here"}}
}

// rateText is a count with its share; nothing of nothing is no share.
func rateText(r training.Rate) string {
	if r.N == 0 {
		return "no observations"
	}
	return fmt.Sprintf("%d of %d, %s", r.K, r.N, percent(r.Share()))
}

// rangeText is where the true rate may be.
func rangeText(r training.Rate) string {
	low, high := r.Interval()
	switch r.K {
	case r.N:
		return either(r.N == 0, "", "may be as low as "+percent(low))
	case 0:
		return "may be as high as " + percent(high)
	}
	return fmt.Sprintf("%.0f to %s", low*100, percent(high))
}

// tallyRow is a row of a table of rates.
type tallyRow struct {
	name string
	training.ObservedTally
}

func (t tallyRow) unknown() string {
	if t.Unknown == 0 {
		return ""
	}
	return fmt.Sprintf("%d not all seen", t.Unknown)
}

// shiftRows are the shifts, and all of them together where there are several.
func (o Observations) shiftRows() (rows []tallyRow) {
	for _, s := range o.Shifts {
		rows = append(rows, tallyRow{cmp.Or(s.Shift, "No shift said"), s.ObservedTally})
	}
	if len(rows) > 1 {
		rows = append(rows, tallyRow{"All", o.All})
	}
	return rows
}

// toldRows are those that were announced and those that were not, never in one.
func (o Observations) toldRows() (rows []tallyRow) {
	for _, r := range []tallyRow{{"Announced", o.Told}, {"Not announced", o.Untold}, {"Nobody said", o.Unsaid}} {
		if r.N() > 0 {
			rows = append(rows, r)
		}
	}
	return rows
}

// menu offers the months from the first observation on, the newest first.
func (o Observations) menu() Menu {
	m := Menu{ID: "month", Label: "Month", Value: string(o.Month)}
	for at := o.This; (at >= o.First && o.First != "" || at == o.This) && len(m.Options) < mostMonths; at = at.Add(-1) {
		m.Options = append(m.Options, Option{string(at), monthWords(at)})
	}
	if last := m.Options[len(m.Options)-1]; last.Value > m.Value {
		m.Options = append(m.Options, Option{m.Value, monthWords(o.Month)})
	}
	return m
}

// whose is whose work an observation is, as far as it says.
func (o Observations) whose(r training.ObservationRow) string {
	return cmp.Or(o.Names[r.TraineeID], r.Discipline)
}

func (o Observations) title(competency string) string {
	return cmp.Or(o.Titles[competency], competency)
}

func shiftText(shift string) string { return cmp.Or(shift, "not said") }

// several reports whether the observations are of more than one competency.
func (o Observations) several() bool {
	return slices.ContainsFunc(o.Rows, func(r training.ObservationRow) bool { return r.Competency != o.Rows[0].Competency })
}

// fewTold is how many breaches a row tells; its page tells all.
const fewTold = 3

func toldText(told []string) string {
	text := strings.Join(told[:min(len(told), fewTold)], " ")
	if more := len(told) - fewTold; more > 0 {
		text += fmt.Sprintf(" And %d more.", more)
	}
	return text
}

// seenWords say what an observation showed.
var seenWords = map[training.Seen]string{training.SeenRight: "All right", training.SeenMissed: "Missed", training.SeenUnknown: "Not all seen"}

// targetText is a target as it is told.
func targetText(t training.ObservationTarget) string {
	if t.Monthly == 0 {
		return "no target"
	}
	return strconv.Itoa(t.Monthly) + " a month"
}

// typedTarget is what stands in the form.
func (o Observations) typedTarget(name string) string {
	if o.Typed != nil {
		return o.Typed[name]
	}
	if name == "monthly" {
		return strconv.Itoa(o.newest().Monthly)
	}
	return ""
}

// newest is the target that holds now.
func (o Observations) newest() training.ObservationTarget {
	if len(o.Versions) > 0 {
		return o.Versions[0]
	}
	return training.ObservationTarget{Monthly: training.StartingTarget}
}
