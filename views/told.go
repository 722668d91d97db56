package views

import (
	"slices"

	"stillwet/internal/training"
)

// toldLine is one thing that a version has otherwise.
type toldLine struct {
	Kind, Text string
	Weight     string // what it asks for, in words
}

// toldGroup are those of one kind, under its name.
type toldGroup struct {
	Title string
	Lines []toldLine
}

// toldKinds are the kinds of what can differ, in the order in which they are told: what
// people at the station do otherwise for comes before what only trainees meet.
var toldKinds = []struct{ Kind, Title string }{
	{"procedure", "Procedures"}, {"product", "Products"}, {"surface", "Surfaces"}, {"variant", "Stations of another kind"},
	{"pair", "What comes before what"}, {"closing", "End of the work"}, {"mark", "Mark sheet"}, {"setting", "The clinic's choices"}, {"item", "Things"},
	{"place", "Places"}, {"step", "Steps"}, {"scenario", "Scenarios"}, {"competency", "Competencies"},
}

// toldFirst is how many lines of a version stand open: the rest is folded, for a version
// can differ in a hundred things and its page has more to say.
const toldFirst = 12

func toldOfDifferences(all []Difference) (lines []toldLine) {
	for _, d := range all {
		lines = append(lines, toldLine{Kind: d.Kind, Text: d.Text()})
	}
	return lines
}

func toldOfChanges(all []training.Change) (lines []toldLine) {
	for _, c := range all {
		lines = append(lines, toldLine{c.Kind, c.Text, weightTexts[c.Weight]})
	}
	return lines
}

// grouped are lines by their kinds; a kind that has no name here stands at the end.
func grouped(lines []toldLine) (all []toldGroup) {
	add := func(title string, of func(toldLine) bool) {
		g := toldGroup{Title: title}
		for _, l := range lines {
			if of(l) {
				g.Lines = append(g.Lines, l)
			}
		}
		if len(g.Lines) > 0 {
			all = append(all, g)
		}
	}
	for _, k := range toldKinds {
		add(k.Title, func(l toldLine) bool { return l.Kind == k.Kind })
	}
	add("Besides", func(l toldLine) bool {
		return !slices.ContainsFunc(toldKinds, func(k struct{ Kind, Title string }) bool { return k.Kind == l.Kind })
	})
	return all
}

// firstToRead parts what changed for the first look: what is asked for otherwise, and of the
// rest as much as has room; what is left is folded.
func firstToRead(all []training.Change) (first, rest []toldLine) {
	var told []training.Change
	for _, c := range all {
		if c.Weight == training.Told {
			told = append(told, c)
		} else {
			first = append(first, toldOfChanges([]training.Change{c})...)
		}
	}
	open, folded := cutAfter(grouped(toldOfChanges(told)), max(0, toldFirst-len(first)))
	return append(first, linesOf(open)...), linesOf(folded)
}

func linesOf(groups []toldGroup) (lines []toldLine) {
	for _, g := range groups {
		lines = append(lines, g.Lines...)
	}
	return lines
}

// cutAfter parts groups behind so many lines.
func cutAfter(all []toldGroup, most int) (first, rest []toldGroup) {
	for _, g := range all {
		n := min(len(g.Lines), most)
		most -= n
		if n > 0 {
			first = append(first, toldGroup{g.Title, g.Lines[:n]})
		}
		if n < len(g.Lines) {
			rest = append(rest, toldGroup{g.Title, g.Lines[n:]})
		}
	}
	return first, rest
}

var weightTexts = map[training.Weight]string{
	training.Retimed: "another contact time", training.Longer: "a longer contact time", training.Demanded: "now a demand", training.Failing: "now critical",
}
