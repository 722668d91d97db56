package store

import (
	"context"
	"slices"

	"gorm.io/gorm"

	"stillwet/internal/training"
)

// assignmentRow is what was asked of several people at once; it never changes.
type assignmentRow struct {
	ID      string `gorm:"primaryKey"`
	At      training.Instant
	ByID    string
	ByName  string
	Kind    training.DutyKind
	Subject string
	Title   string
	Due     training.Day
	Why     string
	Leaf    int64
}

func (assignmentRow) TableName() string { return "assignments" }

func (r assignmentRow) assignment() training.Assignment {
	return training.Assignment{ID: r.ID, At: r.At, ByID: r.ByID, ByName: r.ByName, Leaf: r.Leaf,
		Ask: training.Ask{Kind: r.Kind, Of: r.Subject, Due: r.Due, Why: r.Why}, Title: r.Title}
}

// assignedRow is one of those whom it was asked of.
type assignedRow struct {
	ID           string `gorm:"primaryKey"`
	AssignmentID string
	N            int
	PersonID     string
	Name         string
	StaffNo      string
}

func (assignedRow) TableName() string { return "assigned" }

// assignmentEndRow says that it is asked no longer; n is 0 for all of them.
type assignmentEndRow struct {
	Leaf         int64 `gorm:"primaryKey;autoIncrement:false"`
	AssignmentID string
	N            int
	At           training.Instant
	ByID         string
	ByName       string
	Why          string
}

func (assignmentEndRow) TableName() string { return "assignment_ends" }

// Assignments are those of an id, or all with "", newest first, with whom each was asked of
// and what was taken back.
func (r reads) Assignments(ctx context.Context, id string) ([]training.Assignment, error) {
	return r.assignments(ctx, r.q(ctx).Where("? IN ('', id)", id).Order("leaf DESC"))
}

// AssignmentsAt are those that say they, or something taken back of them, are of these leaves.
func (r reads) AssignmentsAt(ctx context.Context, leaves []int64) ([]training.Assignment, error) {
	at := numbers(leaves)
	return r.assignments(ctx, r.q(ctx).Where(`leaf IN (SELECT value FROM json_each(?)) OR id IN
		(SELECT assignment_id FROM assignment_ends WHERE leaf IN (SELECT value FROM json_each(?)))`, at, at))
}

func (r reads) assignments(ctx context.Context, q *gorm.DB) ([]training.Assignment, error) {
	found, err := all(q, "what was asked", assignmentRow.assignment)
	if err != nil || len(found) == 0 {
		return nil, err
	}
	ids, place := make([]string, len(found)), map[string]int{}
	for i, a := range found {
		ids[i], place[a.ID] = a.ID, i
	}
	of := func() *gorm.DB { return r.q(ctx).Where("assignment_id IN (SELECT value FROM json_each(?))", list(ids)) }
	asked, err := all(of().Order("n"), "of whom it was asked", asRead[assignedRow])
	if err != nil {
		return nil, err
	}
	for _, x := range asked {
		a := &found[place[x.AssignmentID]]
		a.People = append(a.People, training.Assigned{ID: x.ID, N: x.N, PersonID: x.PersonID, Name: x.Name, StaffNo: x.StaffNo})
	}
	ends, err := all(of().Order("leaf"), "what was taken back", asRead[assignmentEndRow])
	for _, x := range ends {
		a := &found[place[x.AssignmentID]]
		a.Ends = append(a.Ends, training.AssignmentEnd{N: x.N, At: x.At, ByID: x.ByID, ByName: x.ByName, Why: x.Why, Leaf: x.Leaf})
	}
	return found, err
}

// asRead leaves a row as it is.
func asRead[Row any](r Row) Row { return r }

func (u unit) AddAssignment(ctx context.Context, a training.Assignment) error {
	row := assignmentRow{a.ID, a.At, a.ByID, a.ByName, a.Kind, a.Of, a.Title, a.Due, a.Why, a.Leaf}
	if err := add(u.q(ctx), "what is asked", row); err != nil {
		return err
	}
	for part := range slices.Chunk(a.People, mostNodes) { // a statement takes so many
		rows := make([]assignedRow, len(part))
		for i, p := range part {
			rows[i] = assignedRow{p.ID, a.ID, p.N, p.PersonID, p.Name, p.StaffNo}
		}
		if err := add(u.q(ctx), "of whom it is asked", rows...); err != nil {
			return err
		}
	}
	return nil
}

func (u unit) EndAssignment(ctx context.Context, id string, e training.AssignmentEnd) error {
	return add(u.q(ctx), "what is taken back", assignmentEndRow{e.Leaf, id, e.N, e.At, e.ByID, e.ByName, e.Why})
}
