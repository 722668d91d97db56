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

// KeepDefinition keeps a text once, however often it is cited.
func (u unit) KeepDefinition(ctx context.Context, d training.Definition) error {
	return add(u.q(ctx).Clauses(clause.OnConflict{DoNothing: true}), "definition",
		definitionRow{Hash: d.Hash, Kind: d.Kind, ID: d.ID, CitedAt: d.CitedAt, Text: d.Text})
}
