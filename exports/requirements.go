package exports

import (
	"strconv"

	"stillwet/internal/training"
)

const requirementsName = "Requirements"

// requirements is what a sign-off takes, in each version that there was by the workbook's day:
// sign-offs name the version they were given under.
func (b *book) requirements(a training.Annual) error {
	type row = training.Requirements
	columns := []column[row]{
		{"Version", 8, count, func(r row) any { return r.Version }},
		{"Holds from", 12, date, func(r row) any { return day(r.From) }},
		{"Made by", 16, text, func(r row) any { return r.ByName }},
		{"Made on", 12, date, func(r row) any { return day(r.At.Day(b.zone)) }},
		{"Why", 22, prose, func(r row) any { return r.Why }},
	}
	terms := []column[row]{}
	for i, l := range (training.Terms{}).Lines() {
		terms = append(terms, column[row]{l.Term, 22, prose, func(r row) any { return r.Terms.Lines()[i].Text }})
	}
	return write(b, table[row]{name: requirementsName, rows: a.Requirements, whose: []column[row]{
		{"Competency", 20, text, func(r row) any { return a.Title(r.Competency) }},
	}, pages: [][]column[row]{append(columns, terms[:2]...), terms[2:5], terms[5:]}, keys: []column[row]{
		{ledgerNo, 9, count, func(r row) any { return r.Leaf }},
		{"Requirements id", 30, id, func(r row) any { return requirementsID(r) }},
	}})
}

// requirementsID tells a version of a competency from the others.
func requirementsID(r training.Requirements) string {
	return r.Competency + "/" + strconv.Itoa(r.Version)
}
