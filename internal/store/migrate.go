package store

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strconv"
	"strings"

	"github.com/pressly/goose/v3"
	"gorm.io/gorm"
)

//go:embed migrations/sqlite/*.sql
var migrations embed.FS

func provider(db *gorm.DB) (*goose.Provider, error) {
	pool, err := db.DB()
	if err != nil {
		return nil, err
	}
	files, err := fs.Sub(migrations, "migrations/sqlite")
	if err != nil {
		return nil, err
	}
	return goose.NewProvider(goose.DialectSQLite3, pool, files, goose.WithDisableGlobalRegistry(true))
}

// migrate brings the file to this program's schema, each step in its own
// transaction, and refuses a file that a newer program has changed. Tables that
// others refer to can be made anew only with foreign keys off; such a step
// checks them itself before it ends. The pool must be one connection.
func migrate(ctx context.Context, db *gorm.DB) error {
	p, err := provider(db)
	if err != nil {
		return fmt.Errorf("migrations: %w", err)
	}
	has, wants, err := p.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("migrations: %w", err)
	}
	if has > wants {
		return newer(has, wants)
	}
	if has == wants {
		return nil
	}
	if err := foreignKeys(ctx, db, false); err != nil {
		return err
	}
	_, err = p.Up(ctx)
	if err = errors.Join(err, foreignKeys(ctx, db, true)); err != nil {
		return fmt.Errorf("migrations: %w", err)
	}
	return nil
}

// foreignKeys switches them and makes sure: inside a transaction SQLite ignores
// the switch in silence.
func foreignKeys(ctx context.Context, db *gorm.DB, on bool) error {
	db = db.WithContext(ctx)
	if err := db.Exec(fmt.Sprintf("PRAGMA foreign_keys = %t", on)).Error; err != nil {
		return fmt.Errorf("switch foreign keys: %w", err)
	}
	var is bool
	if err := db.Raw("PRAGMA foreign_keys").Row().Scan(&is); err != nil {
		return fmt.Errorf("foreign keys: %w", err)
	}
	if is != on {
		return fmt.Errorf("foreign keys could not be switched to %t", on)
	}
	return nil
}

// sameSchema refuses a file of any other schema, for reading cannot bring it up.
func sameSchema(ctx context.Context, db *gorm.DB) error {
	wants, err := Schema()
	if err != nil {
		return fmt.Errorf("migrations: %w", err)
	}
	var has int64
	err = db.WithContext(ctx).Raw("SELECT COALESCE(MAX(version_id), 0) FROM goose_db_version WHERE is_applied").Row().Scan(&has)
	if err != nil {
		return fmt.Errorf("is this a data file of stillwet? %w", err)
	}
	if has > wants {
		return newer(has, wants)
	}
	if has < wants {
		return fmt.Errorf("the file has schema %d and this program has %d; start the server once with this program, which brings the file up", has, wants)
	}
	return nil
}

// Schema is the schema of this program: the number of its last migration.
func Schema() (last int64, err error) {
	names, err := fs.Glob(migrations, "migrations/sqlite/*.sql")
	for _, name := range names {
		number, _, _ := strings.Cut(path.Base(name), "_")
		n, bad := strconv.ParseInt(number, 10, 64)
		last, err = max(last, n), errors.Join(err, bad)
	}
	return last, err
}

func newer(has, wants int64) error {
	return fmt.Errorf("the file was written by a newer stillwet (schema %d, this program knows %d); use the newer program", has, wants)
}
