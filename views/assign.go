package views

import (
	"strconv"

	"stillwet/internal/training"
)

// The pages on which something is asked of people.
const (
	AskURL         = "/people/ask"
	AssignmentsURL = "/assignments"
)

// AssignmentURL is one thing that was asked.
func AssignmentURL(id string) string { return AssignmentsURL + "/" + id }

// askForm is the form whose ticks stand in the table under it; AskTick begins their names.
const (
	askForm = "ask"
	AskTick = "who-"
)

// The buttons of the form besides that for the preview: DoName has one of the others.
const (
	DoName  = "do"
	DoAll   = "all"
	DoNone  = "none"
	DoAlter = "alter" // from the preview back to the form
)

// AskPageData is the form that asks something of people.
type AskPageData struct {
	training.Askable        // of the people those that can be ticked
	Filter           Filter // that they were found by
	What             string // ThingValue of what is chosen
	Due, Why, Sure   string // as they were typed
	Ticked           map[string]bool
	Wrong            string
}

// ThingValue names a thing in the form.
func ThingValue(t training.Thing) string { return string(t.Kind) + ":" + t.Of }

var thingKinds = map[training.DutyKind]string{training.ModuleDuty: "Module: ", training.DemonstrationDuty: "Demonstration: ", training.ItemDuty: "Annual item: "}

func (p AskPageData) things() Menu {
	m := Menu{ID: "what", Label: "What", Value: p.What, Options: []Option{{"", "Choose"}}}
	for _, t := range p.Things {
		m.Options = append(m.Options, Option{ThingValue(t), thingKinds[t.Kind] + t.Title})
	}
	return m
}

func (p AskPageData) tickedText() string {
	n := 0
	for _, x := range p.People {
		n += btoi(p.Ticked[x.ID])
	}
	return strconv.Itoa(n) + " of " + count(len(p.People), "person", "people") + " ticked"
}

// AskPreviewData is of whom something is asked, before it is.
type AskPreviewData struct {
	training.AssignmentPreview
	Filter Filter
	Sure   string
	Wrong  string // why it was not asked
}

func (p AskPreviewData) heading() string {
	return count(len(p.Asked), "person is asked", "people are asked") + ", " + strconv.Itoa(len(p.Skipped)) + either(len(p.Skipped) == 1, " is", " are") + " left out"
}

func (p AskPreviewData) facts(f Frame) []Fact {
	return []Fact{{Term: "What", Text: askText(p.Kind, p.Title)}, {Term: "By", Text: day(p.Due) + ", " + f.until(p.Due)}, {Term: "Why", Text: p.Why}}
}

// ids are of everybody who was ticked.
func (p AskPreviewData) ids() (all []string) {
	for _, x := range p.Asked {
		all = append(all, x.Person.ID)
	}
	for _, x := range p.Skipped {
		all = append(all, x.Person.ID)
	}
	return all
}

func (p AskPreviewData) what() string {
	return ThingValue(training.Thing{Kind: p.Kind, Of: p.Of})
}

// noteOf is what is to be known about somebody before they are asked.
func noteOf(x training.ToAsk) string {
	var notes []string
	if x.OnLeave {
		notes = append(notes, "on leave"+either(x.LeaveEnds != "", " until "+dayOr(x.LeaveEnds), ""))
	}
	if x.Has {
		notes = append(notes, "has it"+either(x.HasUntil != "", " until "+dayOr(x.HasUntil), ""))
	}
	if x.NoPassword {
		notes = append(notes, "cannot sign in yet")
	}
	return joined(notes...)
}

func dayOr(d training.Day) string {
	if d == "" {
		return ""
	}
	return day(d)
}

func skipText(x training.Skipped) string {
	switch x.Why {
	case training.SkipAsked:
		return "Asked already, by " + day(x.Due)
	case training.SkipClosed:
		return "Their account is closed"
	case training.SkipManager:
		return "Only reads the clinic’s numbers: has nothing to do here"
	}
	return "Does not work here today"
}

// AssignmentData is the page of what was asked.
type AssignmentData struct {
	training.AssignmentPage
	Wrong string
}

func (p AssignmentData) lead(f Frame) string {
	return "Asked by " + p.ByName + ", " + f.Moment(p.At) + ", of " + count(len(p.People), "person", "people") + ". To be done by " + day(p.Due) + "."
}

func (p AssignmentData) facts() []Fact {
	return []Fact{{Term: "Done", Text: strconv.Itoa(p.Done)}, {Term: "Still to do", Text: strconv.Itoa(p.Open)}, {Term: "Of them overdue", Text: strconv.Itoa(p.Overdue)}, {Term: "Taken back", Text: strconv.Itoa(p.TakenBack)}}
}

func overdueText(open, overdue int) string {
	return either(open == overdue, "", strconv.Itoa(open)+", of them ") + strconv.Itoa(overdue) + " overdue"
}
