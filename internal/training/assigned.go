package training

import (
	"cmp"
	"context"
	"slices"
	"strings"
)

// AssignmentSum is what was asked, with how many stand how.
type AssignmentSum struct {
	Assignment
	Done, Open, Overdue, TakenBack int // who is overdue is open as well
	Gone                           int // who left, or cannot sign in any more, before it was done
}

// AssignmentPage is what was asked, and how it stands with each.
type AssignmentPage struct {
	AssignmentSum
	States  []DutyState // who is overdue first, then what is open, by name
	Left    []DutyState // of who is in no count any more
	MayUndo bool        // today, for all
}

// Assignments is what was asked of people, newest first. Educators only.
func (s *Service) Assignments(ctx context.Context, actor Actor) (all []AssignmentSum, err error) {
	if err := need(actor, Educator); err != nil {
		return nil, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		asked, err := r.Assignments(ctx, "")
		if err != nil {
			return err
		}
		of, err := s.assignedStates(ctx, r, DutyQuery{Assigned: true})
		for _, a := range asked {
			all = append(all, s.summed(a, of.by[a.ID], of.here))
		}
		return err
	})
	return all, err
}

// Assignment is one of them. Educators only.
func (s *Service) Assignment(ctx context.Context, actor Actor, id string) (p AssignmentPage, err error) {
	if err := need(actor, Educator); err != nil {
		return p, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		a, err := assignmentOf(ctx, r, id)
		if err != nil {
			return err
		}
		of, err := s.assignedStates(ctx, r, DutyQuery{Assignment: id})
		p.AssignmentSum, p.MayUndo = s.summed(a, of.by[id], of.here), s.mayUndo(&a)
		for _, d := range of.by[id] {
			if d.Open() && !of.here[d.PersonID] {
				p.Left = append(p.Left, d)
			} else {
				p.States = append(p.States, d)
			}
		}
		return err
	})
	today := s.Today()
	slices.SortStableFunc(p.States, func(a, b DutyState) int {
		return cmp.Or(btoi(b.Overdue(today))-btoi(a.Overdue(today)), btoi(b.Open())-btoi(a.Open()), cmp.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)))
	})
	return p, err
}

// Undone is that all of it was taken back; the zero end when it was not.
func (a AssignmentSum) Undone() AssignmentEnd { return a.undone() }

// assignedTo is what was asked of people, with how far each has come and who is here.
type assignedTo struct {
	by   map[string][]DutyState // by assignment
	here map[string]bool
}

func (s *Service) assignedStates(ctx context.Context, r Reader, q DutyQuery) (of assignedTo, err error) {
	duties, err := r.Duties(ctx, q)
	if err != nil {
		return of, err
	}
	states, err := s.dutyStates(ctx, r, duties)
	if err != nil {
		return of, err
	}
	people, err := s.concerned(ctx, r)
	of = assignedTo{map[string][]DutyState{}, map[string]bool{}}
	for _, p := range people {
		of.here[p.ID] = true
	}
	for _, d := range states {
		of.by[d.Assignment] = append(of.by[d.Assignment], d)
	}
	return of, err
}

func (s *Service) summed(a Assignment, states []DutyState, here map[string]bool) AssignmentSum {
	sum, today := AssignmentSum{Assignment: a}, s.Today()
	for i := range states {
		switch d := &states[i]; {
		case d.Open() && !here[d.PersonID]:
			sum.Gone++
		case d.Open():
			sum.Open++
			sum.Overdue += btoi(d.Overdue(today))
		case d.DoneAt != "":
			sum.Done++
		default:
			sum.TakenBack++
		}
	}
	return sum
}

// overdueAsked is what educators asked of who is here, that is still to be done after its day:
// what waits longest first.
func (s *Service) overdueAsked(ctx context.Context, r Reader) (late []DutyState, err error) {
	today := s.Today()
	duties, err := r.Duties(ctx, DutyQuery{DueBefore: today})
	if err != nil || len(duties) == 0 {
		return nil, err
	}
	states, err := s.dutyStates(ctx, r, duties)
	if err != nil {
		return nil, err
	}
	people, err := s.concerned(ctx, r)
	for _, d := range stillHere(states, people) {
		if d.Overdue(today) {
			late = append(late, d)
		}
	}
	slices.SortStableFunc(late, func(a, b DutyState) int { return cmp.Compare(a.Due, b.Due) })
	return late, err
}
