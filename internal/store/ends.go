package store

import (
	"context"

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

// withEnds reads rows of a table beside the end of each.
func withEnds(q *gorm.DB, table, column string) *gorm.DB {
	return q.Table(table).Joins("LEFT JOIN record_ends x ON x." + column + " = " + table + ".id").
		Select(table + ".*, COALESCE(x.leaf, 0) AS end_leaf, COALESCE(x.at, '') AS end_at, COALESCE(x.by_id, '') AS end_by," +
			" COALESCE(x.by_name, '') AS end_by_name, COALESCE(x.why, '') AS end_why")
}

// EndsAt are the ends by their leaves.
func (r reads) EndsAt(ctx context.Context, leaves []int64) ([]training.End, error) {
	return all(r.q(ctx).Where("leaf IN (SELECT value FROM json_each(?))", numbers(leaves)), "ends", endRow.end)
}

func (u unit) AddEnd(ctx context.Context, e training.End) error {
	row := endRow{Leaf: e.Leaf, At: e.At, ByID: e.ByID, ByName: e.ByName, Why: e.Why}
	if e.Of == training.SignOffLeaf {
		row.SignOffID = &e.Record
	} else {
		row.EntitlementID = &e.Record
	}
	return add(u.q(ctx), "end of this record", row)
}
