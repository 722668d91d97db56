package views

import (
	"strconv"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/roster"
	"stillwet/internal/training"
)

// ListImport is a list of what people have done on its way in.
type ListImport struct {
	Heading, Lead, Action, Confirm string
	Up                             Link
	Kind                           roster.ListKind

	List    string // the file, as the page carries it
	File    *roster.List
	Order   roster.Order
	Plan    training.ListPlan
	Done    *training.ListCount
	Problem string
}

func (i ListImport) good() bool { return i.File != nil && len(i.Plan.Faults) == 0 }

func (i ListImport) asks() bool { return i.File.Example != nil }

func (i ListImport) lead() string {
	switch {
	case !i.good():
		return nothingImported
	case len(i.Plan.New) == 0:
		return "All of the list is here already."
	}
	return notYetImported
}

func (i ListImport) counts() []Fact {
	n := func(term string, n int) Fact { return Fact{Term: term, Text: strconv.Itoa(n)} }
	return []Fact{n("New", len(i.Plan.New)), n("Here already", i.Plan.Same), n("Faults", len(i.Plan.Faults))}
}

func (i ListImport) doneText() string {
	return count(i.Done.New, "row is new", "rows are new") + ", " + count(i.Done.Same, "was here already", "were here already") + "."
}

func (i ListImport) needed() string {
	var all []string
	for _, f := range i.Kind.Needed {
		all = append(all, string(f))
	}
	return "Needed are the staff number or the name, and " + strings.Join(all, ", ") + ". Capitals, dots and hyphens in headers do not matter. Other columns are not read."
}

func listField(f roster.Field) string { return procedure.Capital(string(f)) }
