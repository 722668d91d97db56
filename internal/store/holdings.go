package store

import (
	"context"
	"fmt"

	"stillwet/internal/training"
)

// Holdings is what a data file holds, in numbers.
type Holdings struct {
	Schema         int64            `json:"schema"`
	People         int64            `json:"people"`
	Attempts       int64            `json:"attempts"`
	Demonstrations int64            `json:"demonstrations"`
	Signatures     int64            `json:"signatures"`
	SignOffs       int64            `json:"sign_offs"`
	Leaves         int64            `json:"ledger_records"`
	Newest         training.Instant `json:"newest"`        // of everything that was done
	NewestSigned   training.Instant `json:"newest_signed"` // of what stands in the ledger
}

const holdingsQuery = `SELECT
	(SELECT COALESCE(MAX(version_id), 0) FROM goose_db_version WHERE is_applied),
	(SELECT COUNT(*) FROM people), (SELECT COUNT(*) FROM attempts), (SELECT COUNT(*) FROM demonstrations),
	(SELECT COUNT(*) FROM signatures), (SELECT COUNT(*) FROM sign_offs), (SELECT COUNT(*) FROM ledger_leaves),
	(SELECT COALESCE(MAX(at), '') FROM (SELECT MAX(added_at) at FROM people UNION ALL SELECT MAX(finished_at) FROM attempts
		UNION ALL SELECT MAX(at) FROM demonstration_events UNION ALL SELECT MAX(signed_at) FROM sign_offs
		UNION ALL SELECT MAX(signed_at) FROM signatures)),
	(SELECT COALESCE(MAX(at), '') FROM record_leaves)`

// Holdings counts what the file holds.
func (r reads) Holdings(ctx context.Context) (h Holdings, err error) {
	err = r.q(ctx).Raw(holdingsQuery).Row().Scan(&h.Schema, &h.People, &h.Attempts, &h.Demonstrations, &h.Signatures, &h.SignOffs,
		&h.Leaves, &h.Newest, &h.NewestSigned)
	if err != nil {
		return h, fmt.Errorf("count the records: %w", err)
	}
	return h, nil
}
