package store

import (
	"context"
	"database/sql"
	"fmt"

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
	var lines []observedRow
	if err := r.q(ctx).Where("demonstration_id IN (SELECT value FROM json_each(?))", list(ids)).Order("demonstration_id, seq").Find(&lines).Error; err != nil {
		return nil, fmt.Errorf("read recorded lines: %w", err)
	}
	for _, l := range lines {
		if i, ok := place[l.DemonstrationID]; ok {
			found[i].Lines = append(found[i].Lines, l.observed())
		}
	}
	return found, nil
}

// UnledgeredAttempts are ids of finished attempts without a leaf.
func (r reads) UnledgeredAttempts(ctx context.Context, after string, most int) ([]string, error) {
	return r.ids(ctx, `SELECT a.id FROM attempts a WHERE a.id > ? AND NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.kind = 'attempt' AND l.record = a.id) ORDER BY a.id LIMIT ?`, after, most)
}

// UnledgeredDemonstrations are ids of judged demonstrations without a leaf.
func (r reads) UnledgeredDemonstrations(ctx context.Context, after string, most int) ([]string, error) {
	return r.ids(ctx, `SELECT d.demonstration_id FROM demonstration_results d WHERE d.demonstration_id > ? AND NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.kind = 'demonstration' AND l.record = d.demonstration_id) ORDER BY d.demonstration_id LIMIT ?`, after, most)
}

func (r reads) ids(ctx context.Context, question string, values ...any) (ids []string, err error) {
	if err := r.q(ctx).Raw(question, values...).Scan(&ids).Error; err != nil {
		return nil, fmt.Errorf("read ids: %w", err)
	}
	return ids, nil
}
