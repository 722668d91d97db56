package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"gorm.io/gorm"

	"stillwet/internal/training"
)

// endRow says that a signed record holds no longer.
type endRow struct {
	Leaf          int64 `gorm:"primaryKey;autoIncrement:false"`
	SignOffID     *string
	EntitlementID *string
	At            training.Instant
	ByID          string
	ByName        string
	Why           string
}

func (endRow) TableName() string { return "record_ends" }

func (r endRow) end() training.End {
	e := training.End{At: r.At, ByID: r.ByID, ByName: r.ByName, Why: r.Why, Leaf: r.Leaf}
	if r.SignOffID != nil {
		e.Of, e.Record = training.SignOffLeaf, *r.SignOffID
	} else if r.EntitlementID != nil {
		e.Of, e.Record = training.EntitlementLeaf, *r.EntitlementID
	}
	return e
}

// endColumns are the end of a record beside its own columns, if there is one.
type endColumns struct {
	EndLeaf                  int64
	EndAt                    training.Instant
	EndBy, EndByName, EndWhy string
}

func (x endColumns) end(of training.LeafKind, record string) training.End {
	if x.EndAt == "" {
		return training.End{}
	}
	return training.End{Of: of, Record: record, At: x.EndAt, ByID: x.EndBy, ByName: x.EndByName, Why: x.EndWhy, Leaf: x.EndLeaf}
}

// endSelect are the columns of an end, of a row x that may be missing.
const endSelect = "COALESCE(x.leaf, 0) AS end_leaf, COALESCE(x.at, '') AS end_at, COALESCE(x.by_id, '') AS end_by," +
	" COALESCE(x.by_name, '') AS end_by_name, COALESCE(x.why, '') AS end_why"

// withEnds reads rows of a table beside the end of each.
func withEnds(q *gorm.DB, table, column string) *gorm.DB {
	return q.Table(table).Joins("LEFT JOIN record_ends x ON x." + column + " = " + table + ".id").
		Select(table + ".*, " + endSelect)
}

// EndsAt are the ends by their leaves.
func (r reads) EndsAt(ctx context.Context, leaves []int64) ([]training.End, error) {
	at := func() *gorm.DB { return r.q(ctx).Where("leaf IN (SELECT value FROM json_each(?))", numbers(leaves)) }
	ends, err := all(at(), "ends", endRow.end)
	for of, table := range endTables {
		more, wrong := all(at().Table(table), "ends", func(r entryEndRow) training.End { return r.end(of) })
		ends, err = append(ends, more...), errors.Join(err, wrong)
	}
	return ends, err
}

func (u unit) AddEnd(ctx context.Context, e training.End) error {
	if table, ok := endTables[e.Of]; ok {
		return add(u.q(ctx).Table(table), "end of this entry", entryEndRow{Leaf: e.Leaf, EntryID: e.Record, At: e.At, ByID: e.ByID, ByName: e.ByName, Why: e.Why})
	}
	row := endRow{Leaf: e.Leaf, At: e.At, ByID: e.ByID, ByName: e.ByName, Why: e.Why}
	if e.Of == training.SignOffLeaf {
		row.SignOffID = &e.Record
	} else {
		row.EntitlementID = &e.Record
	}
	return add(u.q(ctx), "end of this record", row)
}

// correctedSQL is what was put right between two moments, oldest first: what was withdrawn or
// ended, and logs that were judged anew.
const correctedSQL = `SELECT x.leaf, x.at, x.by_name, x.why, 'sign-off withdrawn' AS what, o.id AS record, o.person_id, o.competency, o.signed_at AS of_at
		FROM record_ends x JOIN sign_offs o ON o.id = x.sign_off_id WHERE x.at >= @from AND x.at < @before
	UNION ALL SELECT x.leaf, x.at, x.by_name, x.why, 'entitlement ended', e.id, e.person_id, e.competency, e.granted_at
		FROM record_ends x JOIN entitlements e ON e.id = x.entitlement_id WHERE x.at >= @from AND x.at < @before
	UNION ALL SELECT e.leaf, e.at, e.by_name, e.why, CASE e.state WHEN 'withdrawn' THEN 'demonstration withdrawn' ELSE 'log corrected' END, d.id,
		COALESCE(d.trainee_id, ''), d.competency, d.started_at
		FROM demonstration_events e JOIN demonstrations d ON d.id = e.demonstration_id
		WHERE e.seq > 2 AND e.state IN ('withdrawn', 'ended') AND e.at >= @from AND e.at < @before
	UNION ALL SELECT x.leaf, x.at, x.by_name, x.why, 'item withdrawn', e.id, e.person_id, v.title, e.at
		FROM item_ends x JOIN item_entries e ON e.id = x.entry_id JOIN item_versions v ON v.item_id = e.item_id AND v.seq = e.item_seq WHERE x.at >= @from AND x.at < @before
	UNION ALL SELECT e.leaf, e.at, e.by_name, e.why, 'item corrected', o.id, o.person_id, v.title, o.at
		FROM item_entries e JOIN item_entries o ON o.id = e.corrects JOIN item_versions v ON v.item_id = o.item_id AND v.seq = o.item_seq WHERE e.at >= @from AND e.at < @before
	UNION ALL SELECT x.leaf, x.at, x.by_name, x.why, 'earlier sign-off withdrawn', e.id, e.person_id, e.competency, e.counts_at
		FROM earlier_ends x JOIN earlier_sign_offs e ON e.id = x.entry_id WHERE x.at >= @from AND x.at < @before
	UNION ALL SELECT b.leaf, b.at, b.by_name, e.why, 'earlier sign-off corrected', o.id, o.person_id, o.competency, o.counts_at
		FROM earlier_sign_offs e JOIN earlier_batches b ON b.id = e.batch_id JOIN earlier_sign_offs o ON o.id = e.corrects WHERE b.at >= @from AND b.at < @before
	ORDER BY 2, 1`

// Corrected is what was put right between two moments.
func (r reads) Corrected(ctx context.Context, from, before training.Instant) ([]training.Corrected, error) {
	var rows []struct {
		Leaf                                            int64
		At, OfAt                                        training.Instant
		ByName, Why, What, Record, PersonID, Competency string
	}
	if err := r.q(ctx).Raw(correctedSQL, sql.Named("from", from), sql.Named("before", before)).Scan(&rows).Error; err != nil {
		return nil, fmt.Errorf("read what was put right: %w", err)
	}
	out := make([]training.Corrected, len(rows))
	for i, x := range rows {
		out[i] = training.Corrected{What: training.CorrectedWhat(x.What), Record: x.Record, PersonID: x.PersonID, Competency: x.Competency, OfAt: x.OfAt,
			At: x.At, ByName: x.ByName, Why: x.Why, Leaf: x.Leaf}
	}
	return out, nil
}
