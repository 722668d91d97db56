package store

import (
	"context"

	"gorm.io/gorm/clause"

	"stillwet/internal/training"
)

type definitionRow struct {
	Hash    string `gorm:"primaryKey"`
	Kind    training.DefinitionKind
	ID      string
	CitedAt training.Instant
	Text    []byte
}

func (definitionRow) TableName() string { return "definitions" }

func (r definitionRow) definition() training.Definition {
	return training.Definition{Hash: r.Hash, Kind: r.Kind, ID: r.ID, CitedAt: r.CitedAt, Text: r.Text}
}

func (r reads) Definition(ctx context.Context, hash string) (training.Definition, error) {
	row, err := one[definitionRow](r.q(ctx).Where("hash = ?", hash), "definition")
	return row.definition(), err
}

func (r reads) Definitions(ctx context.Context) ([]training.Definition, error) {
	return all(r.q(ctx).Order("hash"), "definitions", definitionRow.definition)
}

type citationRow struct {
	Of, Record string
	Kind       training.DefinitionKind
	ID         string
	Hash       string
	At         training.Instant
	NotKept    bool
}

// Citations are one row for each text and each moment at which it was cited
// first or again; the record is any of those that do.
func (r reads) Citations(ctx context.Context) ([]training.Citation, error) {
	q := r.q(ctx).Table("citations c").Group("c.kind, c.id, c.hash, c.at").Order("c.kind, c.id, c.hash, c.at").
		Select(`c.of, MIN(c.record) AS record, c.kind, c.id, c.hash, COALESCE(c.at, '') AS at,
			EXISTS (SELECT 1 FROM definitions_not_kept n WHERE n.hash = c.hash AND n.kind = c.kind AND n.id = c.id) AS not_kept`)
	return all(q, "citations", func(c citationRow) training.Citation {
		return training.Citation{Record: c.Of + " " + c.Record, Kind: c.Kind, ID: c.ID, Hash: c.Hash, At: c.At, NotKept: c.NotKept}
	})
}

// KeepDefinition keeps a text once, however often it is cited.
func (u unit) KeepDefinition(ctx context.Context, d training.Definition) error {
	return add(u.q(ctx).Clauses(clause.OnConflict{DoNothing: true}), "definition",
		definitionRow{Hash: d.Hash, Kind: d.Kind, ID: d.ID, CitedAt: d.CitedAt, Text: d.Text})
}
