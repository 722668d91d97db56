package store

import (
	"context"
	"encoding/json"
	"fmt"

	"gorm.io/gorm"

	"stillwet/internal/training"
)

type earlierDraftRow struct {
	ID     string `gorm:"primaryKey"`
	At     training.Instant
	ByName string
	Lines  string // JSON
}

func (earlierDraftRow) TableName() string { return "earlier_drafts" }

type earlierBatchRow struct {
	ID     string `gorm:"primaryKey"`
	At     training.Instant
	ByID   string
	ByName string
	Leaf   int64
}

func (earlierBatchRow) TableName() string { return "earlier_batches" }

func (r earlierBatchRow) batch() training.EarlierBatch {
	return training.EarlierBatch{ID: r.ID, At: r.At, ByID: r.ByID, ByName: r.ByName, Leaf: r.Leaf}
}

// earlierRow is a sign-off from before; it never changes.
type earlierRow struct {
	ID           string `gorm:"primaryKey"`
	BatchID      string
	N            int
	PersonID     string
	Name         string
	StaffNo      string
	Competency   string
	OnDay        training.Day
	CountsAt     training.Instant
	Due          training.Day
	Requirements int
	SignedBy     string
	Evidence     string
	Site         string
	ShownHere    bool
	Corrects     *string
	Why          string
}

func (earlierRow) TableName() string { return "earlier_sign_offs" }

func (r earlierRow) line() training.EarlierLine {
	l := training.EarlierLine{ID: r.ID, PersonID: r.PersonID, Name: r.Name, StaffNo: r.StaffNo, Competency: r.Competency, On: r.OnDay, CountsAt: r.CountsAt, Due: r.Due,
		Requirements: r.Requirements, SignedBy: r.SignedBy, Evidence: r.Evidence, Site: r.Site, Here: r.ShownHere, Why: r.Why}
	if r.Corrects != nil {
		l.Corrects = *r.Corrects
	}
	return l
}

// wholeEarlierRow is one with its batch and what became of it.
type wholeEarlierRow struct {
	Row                                 earlierRow `gorm:"embedded"`
	End                                 endColumns `gorm:"embedded"`
	BatchAt                             training.Instant
	BatchBy, BatchByName                string
	BatchLeaf, NextLeaf                 int64
	NextID, NextBy, NextByName, NextWhy string
	NextAt                              training.Instant
}

// line is the row; that another stands for it is an end like a withdrawal.
func (x wholeEarlierRow) line() training.EarlierLine {
	l := x.Row.line()
	l.Batch = training.EarlierBatch{ID: x.Row.BatchID, At: x.BatchAt, ByID: x.BatchBy, ByName: x.BatchByName, Leaf: x.BatchLeaf}
	l.End, l.By = x.End.end(training.EarlierLeaf, l.ID), x.NextID
	if x.NextID != "" {
		l.End = training.End{Of: training.EarlierLeaf, Record: l.ID, At: x.NextAt, ByID: x.NextBy, ByName: x.NextByName, Why: x.NextWhy, Leaf: x.NextLeaf}
	}
	return l
}

func (r reads) wholeEarlier(q *gorm.DB) ([]training.EarlierLine, error) {
	db := q.Table("earlier_sign_offs").Joins("JOIN earlier_batches b ON b.id = earlier_sign_offs.batch_id").Joins("LEFT JOIN earlier_ends x ON x.entry_id = earlier_sign_offs.id").
		Joins("LEFT JOIN earlier_sign_offs c ON c.corrects = earlier_sign_offs.id").Joins("LEFT JOIN earlier_batches n ON n.id = c.batch_id").
		Select("earlier_sign_offs.*, " + endSelect + ", b.at AS batch_at, b.by_id AS batch_by, b.by_name AS batch_by_name, b.leaf AS batch_leaf," +
			" COALESCE(c.id, '') AS next_id, COALESCE(n.at, '') AS next_at, COALESCE(n.by_id, '') AS next_by, COALESCE(n.by_name, '') AS next_by_name, COALESCE(c.why, '') AS next_why, COALESCE(n.leaf, 0) AS next_leaf").
		Order("earlier_sign_offs.on_day DESC, b.leaf DESC, earlier_sign_offs.n")
	return all(db, "earlier sign-offs", wholeEarlierRow.line)
}

// Earlier are a person's earlier sign-offs, or everybody's, the latest day first.
func (r reads) Earlier(ctx context.Context, personID string) ([]training.EarlierLine, error) {
	db := r.q(ctx)
	if personID != "" {
		db = db.Where("earlier_sign_offs.person_id = ?", personID)
	}
	return r.wholeEarlier(db)
}

func (r reads) EarlierLine(ctx context.Context, id string) (training.EarlierLine, error) {
	found, err := r.wholeEarlier(r.q(ctx).Where("earlier_sign_offs.id = ?", id))
	if err == nil && len(found) == 0 {
		err = training.ErrNotFound
	}
	if err != nil {
		return training.EarlierLine{}, err
	}
	return found[0], nil
}

// EarlierAt are the batches that say they are of these leaves, with their lines in order.
func (r reads) EarlierAt(ctx context.Context, leaves []int64) ([]training.EarlierBatch, error) {
	batches, err := all(r.q(ctx).Where("leaf IN (SELECT value FROM json_each(?))", numbers(leaves)), "earlier batches", earlierBatchRow.batch)
	if err != nil || len(batches) == 0 {
		return batches, err
	}
	place, ids := map[string]int{}, make([]string, len(batches))
	for i, b := range batches {
		place[b.ID], ids[i] = i, b.ID
	}
	err = partsOf(r.q(ctx).Where("batch_id IN (SELECT value FROM json_each(?))", list(ids)).Order("batch_id, n"), "earlier sign-offs", place, func(l earlierRow, i int) {
		batches[i].Lines = append(batches[i].Lines, l.line())
	})
	return batches, err
}

func (r earlierRow) of() string { return r.BatchID }

// EarlierDrafts are the batches that wait, oldest first.
func (r reads) EarlierDrafts(ctx context.Context) ([]training.EarlierDraft, error) {
	var rows []earlierDraftRow
	if err := r.q(ctx).Order("at, id").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read earlier sign-offs that wait: %w", err)
	}
	drafts := make([]training.EarlierDraft, len(rows))
	for i, row := range rows {
		drafts[i] = training.EarlierDraft{ID: row.ID, At: row.At, ByName: row.ByName}
		if err := json.Unmarshal([]byte(row.Lines), &drafts[i].Lines); err != nil {
			return nil, fmt.Errorf("read batch %s: %w", row.ID, err)
		}
	}
	return drafts, nil
}

func (u unit) AddEarlier(ctx context.Context, b training.EarlierBatch) error {
	if err := add(u.q(ctx), "batch", earlierBatchRow{ID: b.ID, At: b.At, ByID: b.ByID, ByName: b.ByName, Leaf: b.Leaf}); err != nil {
		return err
	}
	rows := make([]earlierRow, len(b.Lines))
	for i, l := range b.Lines {
		rows[i] = earlierRow{ID: l.ID, BatchID: b.ID, N: i + 1, PersonID: l.PersonID, Name: l.Name, StaffNo: l.StaffNo, Competency: l.Competency, OnDay: l.On, CountsAt: l.CountsAt,
			Due: l.Due, Requirements: l.Requirements, SignedBy: l.SignedBy, Evidence: l.Evidence, Site: l.Site, ShownHere: l.Here, Why: l.Why}
		if l.Corrects != "" {
			rows[i].Corrects = &l.Corrects
		}
	}
	return add(u.q(ctx), "earlier sign-off", rows...)
}

func (u unit) AddEarlierDraft(ctx context.Context, d training.EarlierDraft) error {
	lines, err := json.Marshal(d.Lines)
	if err != nil {
		return fmt.Errorf("lines of a batch: %w", err)
	}
	return add(u.q(ctx), "batch that waits", earlierDraftRow{ID: d.ID, At: d.At, ByName: d.ByName, Lines: string(lines)})
}

func (u unit) EndEarlierDraft(ctx context.Context, id string) error {
	return u.q(ctx).Delete(&earlierDraftRow{}, "id = ?", id).Error
}
