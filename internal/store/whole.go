package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"gorm.io/gorm"

	"stillwet/internal/training"
)

// WholeAttempts are attempts with all that is kept of them, in no order. They are read
// field by field: verifying reads every one there is.
func (r reads) WholeAttempts(ctx context.Context, ids []string) ([]training.WholeAttempt, error) {
	q := r.q(ctx).Raw(`SELECT id, person_id, scenario_id, scenario_hash, kind, pace, started_at, finished_at, log, "procedure", procedure_hash,
		rules_version, result_json, outcome, '[' || steps || ',' || lines || ']', seed, guided FROM attempts WHERE id IN (SELECT value FROM json_each(?))`, list(ids))
	found := make([]training.WholeAttempt, 0, len(ids))
	for a, err := range each(q, "attempts", scanAttempt) {
		if err != nil {
			return nil, err
		}
		found = append(found, a)
	}
	return found, nil
}

func scanAttempt(rows *sql.Rows) (a training.WholeAttempt, err error) {
	err = rows.Scan(&a.ID, &a.PersonID, &a.ScenarioID, &a.ScenarioHash, &a.Kind, &a.Pace, &a.StartedAt, &a.FinishedAt, &a.Log, &a.Procedure,
		&a.ProcedureHash, &a.RulesVersion, &a.ResultJSON, &a.Outcome, &a.Played, &a.Seed, &a.Guided)
	return a, err
}

// WholeDemonstrations are demonstrations with all that is kept of them, in no order.
func (r reads) WholeDemonstrations(ctx context.Context, ids []string) ([]training.WholeDemonstration, error) {
	found, err := all(r.q(ctx).Where("id IN (SELECT value FROM json_each(?))", list(ids)), "demonstrations", func(n nowRow) training.WholeDemonstration {
		return training.WholeDemonstration{Demonstration: n.demonstration()}
	})
	if err != nil {
		return nil, err
	}
	place := make(map[string]int, len(found))
	for i, d := range found {
		place[d.ID] = i
	}
	err = errors.Join(
		partsOf(r.partOf(ctx, ids).Order("demonstration_id, seq"), "recorded lines", place, func(l observedRow, i int) {
			found[i].Lines = append(found[i].Lines, l.observed())
		}),
		partsOf(r.partOf(ctx, ids).Order("demonstration_id, event"), "results", place, func(j resultRow, i int) { found[i].Judged = append(found[i].Judged, j.judged()) }),
		partsOf(r.partOf(ctx, ids).Order("demonstration_id, seq"), "states", place, func(e eventRow, i int) { found[i].Events = append(found[i].Events, e.event()) }),
		partsOf(r.partOf(ctx, ids).Order("demonstration_id, event, n"), "corrections", place, func(c correctionRow, i int) {
			found[i].Corrections = append(found[i].Corrections, c.correction())
		}))
	return found, err
}

// partOf narrows rows to those of some demonstrations.
func (r reads) partOf(ctx context.Context, ids []string) *gorm.DB {
	return r.q(ctx).Where("demonstration_id IN (SELECT value FROM json_each(?))", list(ids))
}

// partsOf hands the rows of demonstrations to their places.
func partsOf[R interface{ of() string }](db *gorm.DB, what string, place map[string]int, take func(R, int)) error {
	var rows []R
	if err := db.Find(&rows).Error; err != nil {
		return fmt.Errorf("read %s: %w", what, err)
	}
	for _, row := range rows {
		if i, ok := place[row.of()]; ok {
			take(row, i)
		}
	}
	return nil
}

func (r observedRow) of() string   { return r.DemonstrationID }
func (r resultRow) of() string     { return r.DemonstrationID }
func (r eventRow) of() string      { return r.DemonstrationID }
func (r correctionRow) of() string { return r.DemonstrationID }

// UnledgeredAttempts are ids of finished attempts without a leaf.
func (r reads) UnledgeredAttempts(ctx context.Context, after string, most int) ([]string, error) {
	return r.ids(ctx, `SELECT a.id FROM attempts a WHERE a.id > ? AND NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.kind = 'attempt' AND l.record = a.id) ORDER BY a.id LIMIT ?`, after, most)
}

// UnledgeredDemonstrations are ids of judged demonstrations without a leaf.
func (r reads) UnledgeredDemonstrations(ctx context.Context, after string, most int) ([]string, error) {
	return r.ids(ctx, `SELECT DISTINCT d.demonstration_id FROM demonstration_results d WHERE d.demonstration_id > ? AND NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.kind = 'demonstration' AND l.record = d.demonstration_id) ORDER BY d.demonstration_id LIMIT ?`, after, most)
}

func (r reads) ids(ctx context.Context, question string, values ...any) (ids []string, err error) {
	if err := r.q(ctx).Raw(question, values...).Scan(&ids).Error; err != nil {
		return nil, fmt.Errorf("read ids: %w", err)
	}
	return ids, nil
}
