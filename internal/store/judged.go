package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"stillwet/internal/training"
)

// judgedLogs are all logs with their results; signed ones are demonstrations with a
// signature.
const judgedLogs = `SELECT 'attempt' AS kind, id, "procedure", procedure_hash, rules_version, 0 AS signed, log, result_json,
	kind AS practice, iif(kind = 'find', steps, '[]') AS marked FROM attempts
UNION ALL
SELECT 'demonstration', r.demonstration_id, r."procedure", r.procedure_hash, r.rules_version,
	EXISTS (SELECT 1 FROM signatures s WHERE s.demonstration_id = r.demonstration_id) AND r.event = (SELECT MAX(event) FROM demonstration_results
		WHERE demonstration_id = r.demonstration_id), r.log, r.result_json, '', '[]'
FROM demonstration_results r`

// JudgedLogs goes through the rows one by one: the memory it takes does not grow
// with them.
func (r reads) JudgedLogs(ctx context.Context, do func(training.JudgedLog) error) (err error) {
	rows, err := r.q(ctx).Raw(judgedLogs).Rows()
	if err != nil {
		return fmt.Errorf("read judged logs: %w", err)
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var l training.JudgedLog
		var marked []byte
		if err := rows.Scan(&l.Kind, &l.ID, &l.Procedure, &l.ProcedureHash, &l.RulesVersion, &l.Signed, &l.Log, &l.ResultJSON, &l.Practice, &marked); err != nil {
			return fmt.Errorf("read a judged log: %w", err)
		}
		if err := json.Unmarshal(marked, &l.Steps); err != nil {
			return fmt.Errorf("read the marked rows of a judged log: %w", err)
		}
		if err := do(l); err != nil {
			return err
		}
	}
	return rows.Err()
}
