package store

import (
	"context"
	"encoding/json"
	"fmt"

	"stillwet/internal/training"
)

type requirementRow struct {
	Competency string `gorm:"primaryKey"`
	Number     int    `gorm:"primaryKey;autoIncrement:false"`
	FromDay    training.Day
	At         training.Instant
	ByID       string
	ByName     string
	Why        string
	Terms      string // JSON
	Leaf       int64
}

func (requirementRow) TableName() string { return "requirement_versions" }

// Requirements are all versions of every competency, oldest first.
func (r reads) Requirements(ctx context.Context) ([]training.Requirements, error) {
	found, err := all(r.q(ctx).Order("competency, number"), "requirements", requirementRow.requirements)
	for i := range found {
		if err := json.Unmarshal([]byte(found[i].Text), &found[i].Terms); err != nil {
			return nil, fmt.Errorf("read requirements %s/%d: %w", found[i].Competency, found[i].Version, err)
		}
	}
	return found, err
}

// RequirementsAt are the versions that say they are of one of these leaves, without their
// terms but for the text.
func (r reads) RequirementsAt(ctx context.Context, leaves []int64) ([]training.Requirements, error) {
	return all(r.q(ctx).Where("leaf IN (SELECT value FROM json_each(?))", numbers(leaves)), "requirements", requirementRow.requirements)
}

func (r requirementRow) requirements() training.Requirements {
	return training.Requirements{Competency: r.Competency, Version: r.Number, From: r.FromDay, At: r.At, ByID: r.ByID, ByName: r.ByName, Why: r.Why, Text: r.Terms, Leaf: r.Leaf}
}

func (u unit) AddRequirements(ctx context.Context, r training.Requirements) error {
	return add(u.q(ctx), "requirements", requirementRow{Competency: r.Competency, Number: r.Version, FromDay: r.From, At: r.At, ByID: r.ByID, ByName: r.ByName,
		Why: r.Why, Terms: r.Text, Leaf: r.Leaf})
}

type absenceRow struct {
	ID        string `gorm:"primaryKey"`
	Seq       int    `gorm:"primaryKey;autoIncrement:false"`
	PersonID  string
	FromDay   training.Day
	UntilDay  training.Day
	Cancelled bool
	At        training.Instant
	ByID      string
	ByName    string
	Why       string
	Leaf      int64
}

func (absenceRow) TableName() string { return "absences" }

func (r absenceRow) absence() training.Absence {
	return training.Absence{ID: r.ID, Seq: r.Seq, PersonID: r.PersonID, From: r.FromDay, Until: r.UntilDay, Cancelled: r.Cancelled, At: r.At, ByID: r.ByID, ByName: r.ByName, Why: r.Why, Leaf: r.Leaf}
}

// Absences are the leaves of a person, or of everybody with "", each as it was entered last,
// the newest first.
func (r reads) Absences(ctx context.Context, personID string) ([]training.Absence, error) {
	newest := "seq = (SELECT MAX(seq) FROM absences l WHERE l.id = absences.id)"
	return all(r.q(ctx).Where("? IN ('', person_id)", personID).Where(newest).Order("from_day DESC, id"), "leaves", absenceRow.absence)
}

// AbsencesAt are the rows of leaves that say they are of one of these leaves of the ledger.
func (r reads) AbsencesAt(ctx context.Context, leaves []int64) ([]training.Absence, error) {
	return all(r.q(ctx).Where("leaf IN (SELECT value FROM json_each(?))", numbers(leaves)), "leaves", absenceRow.absence)
}

func (u unit) AddAbsence(ctx context.Context, a training.Absence) error {
	return add(u.q(ctx), "leave", absenceRow{ID: a.ID, Seq: a.Seq, PersonID: a.PersonID, FromDay: a.From, UntilDay: a.Until, Cancelled: a.Cancelled, At: a.At,
		ByID: a.ByID, ByName: a.ByName, Why: a.Why, Leaf: a.Leaf})
}
