package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"stillwet/internal/training"
)

// Recorded reads the last line, and the last wipe taken: wipes are numbered as
// they are taken ("take wipe w7 of ..."), so its number is how many there are.
func (r reads) Recorded(ctx context.Context, demonstrationID string) (training.Recorded, error) {
	var rows []training.Recorded
	err := r.q(ctx).Raw(`SELECT seq AS lines, at_ms AS last_ms,
		COALESCE((SELECT CAST(substr(w.text, 12) AS INTEGER) FROM observations w
			WHERE w.demonstration_id = o.demonstration_id AND w.text LIKE 'take wipe w%' ORDER BY w.seq DESC LIMIT 1), 0) AS wipes
		FROM observations o WHERE demonstration_id = ? ORDER BY seq DESC LIMIT 1`, demonstrationID).Scan(&rows).Error
	return first(rows, err, "last recorded line")
}

// Tapped reads the last tap of a run.
func (r reads) Tapped(ctx context.Context, draftID string) (training.Tapped, error) {
	var rows []training.Tapped
	err := r.q(ctx).Raw(`SELECT seq AS taps, at_ms AS last FROM draft_taps WHERE draft_id = ? ORDER BY seq DESC LIMIT 1`, draftID).Scan(&rows).Error
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

// LinesUnder reads the lines of one key, by its index.
func (r reads) LinesUnder(ctx context.Context, demonstrationID, key string) ([]training.Observed, error) {
	return all(r.q(ctx).Where("demonstration_id = ? AND tap_key = ?", demonstrationID, key).Order("seq"), "lines of a tap", observedRow.observed)
}

// LinesOfTap reads the lines with the key of line seq, and those that undo them.
func (r reads) LinesOfTap(ctx context.Context, demonstrationID string, seq int) ([]training.Observed, error) {
	own := r.q(ctx).Model(&observedRow{}).Where("demonstration_id = ?", demonstrationID)
	key := own.Session(&gorm.Session{}).Where("seq = ?", seq).Select("tap_key")
	undone := own.Session(&gorm.Session{}).Where("tap_key = (?)", key).Select("'undone ' || seq")
	return all(r.q(ctx).Where("demonstration_id = ? AND (tap_key = (?) OR text IN (?))", demonstrationID, key, undone).Order("seq"),
		"lines of a tap", observedRow.observed)
}

// BareDraft reads a draft without its taps.
func (r reads) BareDraft(ctx context.Context, id string) (training.Draft, error) {
	row, err := one[draftRow](r.q(ctx).Where("id = ?", id), "draft")
	return row.draft(), err
}
