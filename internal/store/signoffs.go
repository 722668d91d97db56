package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"stillwet/internal/training"
)

type signOffRow struct {
	ID         string `gorm:"primaryKey"`
	PersonID   string
	Competency string
	SignerID   string
	SignerName string
	SignedOn   training.Day
	SignedAt   training.Instant
	Due        training.Day
	// Requirements is the version that it was given under, nil of before there were any.
	Requirements *int
	Leaf         int64
}

func (signOffRow) TableName() string { return "sign_offs" }

func (r signOffRow) signOff() training.SignOff {
	o := training.SignOff{ID: r.ID, PersonID: r.PersonID, Competency: r.Competency, SignerID: r.SignerID,
		SignerName: r.SignerName, On: r.SignedOn, SignedAt: r.SignedAt, Due: r.Due, Leaf: r.Leaf}
	if r.Requirements != nil {
		o.Requirements = *r.Requirements
	}
	return o
}

// endedSignOffRow is a sign-off with its end.
type endedSignOffRow struct {
	Row signOffRow `gorm:"embedded"`
	End endColumns `gorm:"embedded"`
}

func (r endedSignOffRow) signOff() training.SignOff {
	o := r.Row.signOff()
	o.End = r.End.end(training.SignOffLeaf, o.ID)
	return o
}

type evidenceRow struct {
	SignOffID       string `gorm:"primaryKey"`
	Seq             int    `gorm:"primaryKey;autoIncrement:false"`
	DemonstrationID *string
	AttemptID       *string
}

func (evidenceRow) TableName() string { return "sign_off_evidence" }

func (r reads) SignOff(ctx context.Context, id string) (training.SignOff, error) {
	found, err := r.signOffs(ctx, r.q(ctx).Where("id = ?", id))
	if err != nil {
		return training.SignOff{}, err
	}
	if len(found) == 0 {
		return training.SignOff{}, training.ErrNotFound
	}
	return found[0], nil
}

func (r reads) SignOffs(ctx context.Context, q training.SignOffQuery) ([]training.SignOff, error) {
	db := r.q(ctx)
	if q.PersonID != "" {
		db = db.Where("person_id = ?", q.PersonID)
	}
	if q.From != "" {
		db = db.Where("signed_on >= ?", q.From)
	}
	if q.To != "" {
		db = db.Where("signed_on <= ?", q.To)
	}
	return r.signOffs(ctx, db)
}

func (r reads) signOffs(ctx context.Context, q *gorm.DB) ([]training.SignOff, error) {
	found, err := all(withEnds(q, "sign_offs", "sign_off_id").Order("signed_at DESC, sign_offs.leaf DESC"), "sign-offs", endedSignOffRow.signOff)
	if err != nil {
		return nil, err
	}
	place := map[string]int{}
	ids := make([]string, len(found))
	for i, o := range found {
		place[o.ID], ids[i] = i, o.ID
	}
	var rows []evidenceRow
	if err := r.q(ctx).Where("sign_off_id IN (SELECT value FROM json_each(?))", list(ids)).Order("sign_off_id, seq").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read evidence: %w", err)
	}
	for _, row := range rows {
		o := &found[place[row.SignOffID]]
		if row.DemonstrationID != nil {
			o.Demonstrations = append(o.Demonstrations, *row.DemonstrationID)
		}
		if row.AttemptID != nil {
			o.Attempts = append(o.Attempts, *row.AttemptID)
		}
	}
	return found, nil
}

func (u unit) AddSignOff(ctx context.Context, o training.SignOff) error {
	row := signOffRow{ID: o.ID, PersonID: o.PersonID, Competency: o.Competency, SignerID: o.SignerID,
		SignerName: o.SignerName, SignedOn: o.On, SignedAt: o.SignedAt, Due: o.Due, Leaf: o.Leaf}
	if o.Requirements != 0 {
		row.Requirements = &o.Requirements
	}
	if err := add(u.q(ctx), "sign-off", row); err != nil {
		return err
	}
	var rows []evidenceRow
	for _, id := range o.Demonstrations {
		rows = append(rows, evidenceRow{SignOffID: o.ID, Seq: len(rows) + 1, DemonstrationID: &id})
	}
	for _, id := range o.Attempts {
		rows = append(rows, evidenceRow{SignOffID: o.ID, Seq: len(rows) + 1, AttemptID: &id})
	}
	return add(u.q(ctx), "evidence", rows...)
}
