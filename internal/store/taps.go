package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"stillwet/internal/training"
)

// watchedRow is an act as a recorder sent it.
type watchedRow struct {
	DemonstrationID string `gorm:"primaryKey"`
	ActKey          string `gorm:"primaryKey"`
	Device          string
	N               int
	AtMs            int64
	Wall            training.Instant
	Step            string
	Text            string
	Undo            string
	Lines           int
	ReceivedAt      training.Instant
	ByID            string
	ByName          string
	Late            bool
	Refused         string
}

func (watchedRow) TableName() string { return "watched_acts" }

func (r watchedRow) watched() training.Watched {
	return training.Watched{Key: r.ActKey, Device: r.Device, N: r.N, AtMs: r.AtMs, Wall: r.Wall, Step: r.Step, Text: r.Text, Undo: r.Undo,
		Lines: r.Lines, ReceivedAt: r.ReceivedAt, ByID: r.ByID, ByName: r.ByName, Late: r.Late, Refused: r.Refused}
}

func watchedRowOf(demonstrationID string, a training.Watched) watchedRow {
	return watchedRow{DemonstrationID: demonstrationID, ActKey: a.Key, Device: a.Device, N: a.N, AtMs: a.AtMs, Wall: a.Wall, Step: a.Step, Text: a.Text,
		Undo: a.Undo, Lines: a.Lines, ReceivedAt: a.ReceivedAt, ByID: a.ByID, ByName: a.ByName, Late: a.Late, Refused: a.Refused}
}

func (r reads) ofDevices(ctx context.Context, demonstrationID string) *gorm.DB {
	return r.q(ctx).Where("demonstration_id = ?", demonstrationID).Order("device, n")
}

// Watched reads all that recorders sent of a demonstration.
func (r reads) Watched(ctx context.Context, demonstrationID string) ([]training.Watched, error) {
	return all(r.ofDevices(ctx, demonstrationID), "watched acts", watchedRow.watched)
}

// WatchedLike reads by its two indexes what has a key or a number of these.
func (r reads) WatchedLike(ctx context.Context, demonstrationID string, acts []training.Watched) ([]training.Watched, error) {
	if len(acts) == 0 {
		return nil, nil
	}
	keys, ns := make([]string, len(acts)), make([]int64, len(acts))
	for i, a := range acts {
		keys[i], ns[i] = a.Key, int64(a.N)
	}
	byKey := r.q(ctx).Model(&watchedRow{}).Where("demonstration_id = ? AND act_key IN (SELECT value FROM json_each(?))", demonstrationID, list(keys))
	byNumber := r.q(ctx).Model(&watchedRow{}).Where("demonstration_id = ? AND device = ? AND n IN (SELECT value FROM json_each(?))", demonstrationID, acts[0].Device, numbers(ns))
	return all(r.q(ctx).Table("(? UNION ?) AS watched_acts", byKey, byNumber), "watched acts", watchedRow.watched)
}

// WatchedSoFar counts in the file: a tap late in a recording costs what an early one does.
func (r reads) WatchedSoFar(ctx context.Context, demonstrationID string) (training.WatchedSoFar, error) {
	var rows []training.WatchedSoFar
	err := r.q(ctx).Raw(`SELECT COUNT(*) AS acts, COALESCE(SUM(CASE WHEN refused = '' THEN lines ELSE 0 END), 0) AS lines
		FROM watched_acts WHERE demonstration_id = ?`, demonstrationID).Scan(&rows).Error
	return first(rows, err, "how much was watched")
}

func (u unit) AddWatched(ctx context.Context, demonstrationID string, acts []training.Watched) error {
	rows := make([]watchedRow, len(acts))
	for i, a := range acts {
		rows[i] = watchedRowOf(demonstrationID, a)
	}
	return add(u.q(ctx), "watched act", rows...)
}

// deviceRow says which device records, from when on.
type deviceRow struct {
	DemonstrationID string `gorm:"primaryKey"`
	Seq             int    `gorm:"primaryKey;autoIncrement:false"`
	Device          string
	At              training.Instant
	ByID            string
	ByName          string
}

func (deviceRow) TableName() string { return "recording_devices" }

func (r deviceRow) holding() training.Holding {
	return training.Holding{Seq: r.Seq, Device: r.Device, At: r.At, ByID: r.ByID, ByName: r.ByName}
}

// Holding reads the last device that took over.
func (r reads) Holding(ctx context.Context, demonstrationID string) (training.Holding, error) {
	rows, err := all(r.q(ctx).Where("demonstration_id = ?", demonstrationID).Order("seq DESC").Limit(1), "recording device", deviceRow.holding)
	return first(rows, err, "recording device")
}

func (u unit) AddHolding(ctx context.Context, demonstrationID string, h training.Holding) error {
	return add(u.q(ctx), "recording device", deviceRow{DemonstrationID: demonstrationID, Seq: h.Seq, Device: h.Device, At: h.At, ByID: h.ByID, ByName: h.ByName})
}

// Tapped reads the last tap of a run.
func (r reads) Tapped(ctx context.Context, draftID string) (training.Tapped, error) {
	var rows []training.Tapped
	err := r.q(ctx).Raw(`SELECT seq AS taps, at_ms AS last, (SELECT at_ms FROM draft_taps WHERE draft_id = t.draft_id AND seq = 1) AS "first"
		FROM draft_taps AS t WHERE draft_id = ? ORDER BY seq DESC LIMIT 1`, draftID).Scan(&rows).Error
	return first(rows, err, "last tap")
}

// first is the one row that was asked for, or zero.
func first[T any](rows []T, err error, what string) (row T, _ error) {
	if err != nil {
		return row, fmt.Errorf("read %s: %w", what, err)
	}
	if len(rows) > 0 {
		row = rows[0]
	}
	return row, nil
}

// BareDraft reads a draft without its taps.
func (r reads) BareDraft(ctx context.Context, id string) (training.Draft, error) {
	row, err := one[draftRow](r.q(ctx).Where("id = ?", id), "draft")
	return row.draft(), err
}
