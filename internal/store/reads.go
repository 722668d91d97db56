package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"gorm.io/gorm"

	"stillwet/internal/ledger"
	"stillwet/internal/training"
)

// reads are the questions, over the reading pool or inside a transaction.
type reads struct {
	db     *gorm.DB
	public string // verifier key
}

func (r reads) q(ctx context.Context) *gorm.DB { return r.db.WithContext(ctx) }

// unit is one transaction.
type unit struct {
	reads
	key   *ledger.Key
	grown *growth
}

// one reads a single row; nothing found is training.ErrNotFound.
func one[Row any](db *gorm.DB, what string) (Row, error) {
	var rows []Row
	if err := db.Limit(1).Find(&rows).Error; err != nil {
		return *new(Row), fmt.Errorf("read %s: %w", what, err)
	}
	if len(rows) == 0 {
		return *new(Row), fmt.Errorf("%s: %w", what, training.ErrNotFound)
	}
	return rows[0], nil
}

// all reads rows and turns each into what the services know.
func all[Row, T any](db *gorm.DB, what string, turn func(Row) T) ([]T, error) {
	var rows []Row
	if err := db.Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read %s: %w", what, err)
	}
	return turned(rows, turn), nil
}

// turned is each row as the services know it.
func turned[Row, T any](rows []Row, turn func(Row) T) []T {
	out := make([]T, len(rows))
	for i, row := range rows {
		out[i] = turn(row)
	}
	return out
}

// list is any number of values as one: SQLite takes a limited number of them in
// one question.
func list(values []string) string {
	text, err := json.Marshal(values)
	if err != nil || values == nil { // strings can always be written
		return "[]"
	}
	return string(text)
}

// numbers is the same of numbers.
func numbers(values []int64) string {
	text, err := json.Marshal(values)
	if err != nil {
		return "[]" // numbers can always be written
	}
	return string(text)
}

// add inserts rows; one that is there already is training.ErrConflict.
func add[Row any](db *gorm.DB, what string, rows ...Row) error {
	if len(rows) == 0 {
		return nil
	}
	err := db.Create(&rows).Error
	switch {
	case errors.Is(err, gorm.ErrDuplicatedKey):
		return fmt.Errorf("%s is there already: %w", what, training.ErrConflict)
	case err != nil:
		return fmt.Errorf("add %s: %w", what, err)
	}
	return nil
}

// changed reads the outcome of an update that must have met one row.
func changed(db *gorm.DB, what string, none error) error {
	switch {
	case errors.Is(db.Error, gorm.ErrDuplicatedKey):
		return fmt.Errorf("%s is there already: %w", what, training.ErrConflict)
	case db.Error != nil:
		return fmt.Errorf("change %s: %w", what, db.Error)
	case db.RowsAffected == 0:
		return fmt.Errorf("%s: %w", what, none)
	}
	return nil
}
