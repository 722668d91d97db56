package views

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/roster"
	"stillwet/internal/training"
)

// Import is a list of people on its way in.
type Import struct {
	List    string // the file, as the page carries it
	File    *roster.File
	Order   roster.Order
	Plan    training.RosterPlan
	Done    *training.RosterDone
	Problem string
	Left    map[string]training.Day // who was ticked as having left, by id
}

// LeftTick and LeftDay begin the names of a tick and its day; the id follows.
const (
	LeftTick = "left-"
	LeftDay  = "last-day-"
)

// lastDay is the day beside a tick.
func (i Import) lastDay(p training.Person, today training.Day) training.Day {
	return cmp.Or(i.Left[p.ID], p.Left, today)
}

func (i Import) ticked(p training.Person) bool { _, is := i.Left[p.ID]; return is }

// mostFaults and mostRows are how many of a list the page shows; the file of bad rows has
// all.
const (
	mostFaults = 200
	mostRows   = 100
)

// What is said of every list that was looked through.
const (
	nothingImported = "Nothing was imported: all of a list comes in, or nothing. Mend these rows in your file and choose it again."
	notYetImported  = "Nothing is imported yet. Look through it, then confirm: all of it is done, or nothing."
)

func (i Import) good() bool { return i.File != nil && len(i.Plan.Faults) == 0 }

// undecidedText says which rows wait for the order of day and month.
func undecidedText(file *roster.File) string {
	var rows []string
	for _, x := range file.Faults {
		if x.Undecided() {
			rows = append(rows, strconv.Itoa(x.Row))
		}
	}
	switch n := len(rows); {
	case n == 0:
		return "Some dates could be two days."
	case n > mostNamed:
		return strconv.Itoa(n) + " dates could be two days, the first in row " + rows[0] + "."
	}
	return count(len(rows), "date", "dates") + " could be two days: row " + strings.Join(rows, ", ") + "."
}

// mostNamed is how many rows are told in one sentence.
const mostNamed = 20

// eitherDay is the two days that a date could be.
func eitherDay(x *roster.Example) (day, month string) {
	return x.DayFirst.Format("2 January 2006"), x.MonthFirst.Format("January 2, 2006")
}

// decided are the faults but for those that one answer mends.
func decided(faults []roster.Fault) []roster.Fault {
	return slices.DeleteFunc(slices.Clone(faults), roster.Fault.Undecided)
}

// asks reports whether the order of day and month makes a difference in the list.
func (i Import) asks() bool { return i.File.Example != nil }

func (i Import) lead() string {
	switch n := len(i.Plan.New) + len(i.Plan.Changed); {
	case !i.good():
		return nothingImported
	case n == 0 && len(i.Plan.Absent) > 0:
		return "Everybody in the list is here already, as the list has them. Who is not in it stays, unless you tick below that they left."
	case n == 0:
		return "Everybody in the list is here already, as the list has them."
	}
	return notYetImported
}

func (i Import) counts() []Fact {
	n := func(term string, n int) Fact { return Fact{Term: term, Text: strconv.Itoa(n)} }
	return []Fact{n(either(i.good(), "New", "Would be new"), len(i.Plan.New)), n(either(i.good(), "Changed", "Would change"), len(i.Plan.Changed)), n("The same", i.Plan.Same), n("Faults", len(i.Plan.Faults)), n("Here, not in the list", len(i.Plan.Absent))}
}

func (i Import) doneText() string {
	return count(i.Done.New, "person is new", "people are new") + ", " + count(i.Done.Changed, "was changed", "were changed") + ", " + count(i.Done.Same, "was the same already", "were the same already") + either(i.Done.Left > 0, ", "+strconv.Itoa(i.Done.Left)+" left", "") + "."
}

func daySaid(d training.Day) string {
	if d == "" {
		return ""
	}
	return day(d)
}

func fieldTitle(f roster.Field) string {
	return map[roster.Field]string{roster.StaffNo: "Staff number", roster.Name: "Name", roster.First: "First name", roster.Last: "Last name", roster.Role: "Role", roster.Hired: "Works here since",
		roster.Left: "Last day", roster.Job: "Job title", roster.Team: "Team", roster.Email: "E-mail"}[f]
}

// columnTitle is how a column is told: by its header, or its place.
func columnTitle(i int, header string) string {
	if header == "" {
		return "Column " + strconv.Itoa(i+1)
	}
	return "“" + header + "”"
}

// unread are the columns that the import leaves aside.
func (i Import) unread() string {
	var list []string
	for n, h := range i.File.Header {
		if _, read := i.File.Columns[n]; !read {
			list = append(list, columnTitle(n, h))
		}
	}
	return strings.Join(list, ", ")
}

// roleOf is somebody's role in a list, which does not say yet whether they were signed off.
func (f Frame) roleOf(p training.Person) string {
	if p.Settled(false, f.Today) {
		return procedure.Capital(p.RoleTitle(true))
	}
	return procedure.Capital(strings.Replace(p.RoleTitle(false), training.Trainee.Title(false), "new hire or staff", 1))
}
