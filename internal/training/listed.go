package training

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/roster"
)

// Listed is a row of a list that comes in, in words: what it says of whom.
type Listed struct {
	Row    int
	Person Person
	On     Day
	Of     string   // title of the item or competency
	Facts  []string // what else it says
}

// ListPlan is what a list would do. With faults in it nothing is done.
type ListPlan struct {
	New    []Listed
	Same   int
	Faults []roster.Fault // by row
	Seen   string         // what a confirmation names, so that it is of this plan
}

// ListCount counts what a list did.
type ListCount struct {
	New  int `json:"new"`
	Same int `json:"same"`
}

// lister tells of each line of a list whose it is.
type lister struct {
	list   *roster.List
	byNo   map[string]Person
	bare   map[string]string
	byName map[string][]Person
	faults []roster.Fault
	first  map[string]int // the row in which the same stood first
}

func newLister(ctx context.Context, r PeopleReader, list *roster.List) (*lister, error) {
	people, err := r.People(ctx)
	l := &lister{list: list, byNo: map[string]Person{}, bare: map[string]string{}, byName: map[string][]Person{}, faults: slices.Clone(list.Faults), first: map[string]int{}}
	for _, p := range people {
		name := strings.ToLower(strings.Join(strings.Fields(p.Name), " "))
		l.byName[name] = append(l.byName[name], p)
		if p.StaffNo != "" {
			l.byNo[p.StaffNo], l.bare[bareNo(p.StaffNo)] = p, p.StaffNo
		}
	}
	return l, err
}

// wrong notes a fault of a cell.
func (l *lister) wrong(line roster.Line, f roster.Field, do string, args ...any) {
	l.faults = append(l.faults, roster.Fault{Row: line.Row, Column: l.list.Title(f), Value: clip(cmp.Or(line.Text[f], line.Says[f])), Do: fmt.Sprintf(do, args...)})
}

// whose finds who a line is of: by the staff number, without one by a name that one person
// has. It notes what is wrong.
func (l *lister) whose(line roster.Line) (p Person, ok bool) {
	no, name := line.Says[roster.StaffNo], strings.Join(strings.Fields(line.Says[roster.Name]), " ")
	if no != "" {
		p, ok = l.byNo[no]
		switch like := l.bare[bareNo(no)]; {
		case !ok && like != "":
			l.wrong(line, roster.StaffNo, "There is %s here, which differs in the noughts before it only; spreadsheets drop them. Write the number as it is here.", like)
		case !ok:
			l.wrong(line, roster.StaffNo, "Nobody here has this staff number. Correct it, or add the person first.")
		case name != "" && !sameWord(name, p.Name):
			l.wrong(line, roster.Name, "The staff number is %s’s. Correct the number or the name.", p.Name)
			ok = false
		}
		return p, ok
	}
	switch here := l.byName[strings.ToLower(name)]; {
	case name == "":
		l.wrong(line, roster.Name, "It does not say who. Write the staff number or the name, or delete the row.")
	case len(here) == 0:
		l.wrong(line, roster.Name, "Nobody here is called this. Write the name as it is here, or give the staff number.")
	case len(here) > 1:
		l.wrong(line, roster.Name, "%d people here have this name. Give the row a staff number.", len(here))
	default:
		return here[0], true
	}
	return Person{}, false
}

// again notes that an earlier row says the same.
func (l *lister) again(line roster.Line, what string) bool {
	if row, again := l.first[what]; again {
		l.wrong(line, roster.On, "Row %d has the same for the same person and day. Delete one of them.", row)
		return true
	}
	l.first[what] = line.Row
	return false
}

// sentences notes each sentence of what is wrong with a line at a field.
func (l *lister) sentences(line roster.Line, f roster.Field, err error) bool {
	if err != nil {
		l.wrong(line, f, "%s", sentenceOf(err))
	}
	return err == nil
}

// sorted are the faults by row.
func (l *lister) sorted() []roster.Fault {
	slices.SortStableFunc(l.faults, func(a, b roster.Fault) int { return a.Row - b.Row })
	return l.faults
}
