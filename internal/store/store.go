// Package store keeps the records in one SQLite file beside its key file and
// its lock file. It implements [training.Records]. One connection writes (each
// transaction immediate, each commit synced to the disk); several read.
//
// The schema is the numbered SQL files of migrations; GORM never changes it.
package store

import (
	"context"
	"errors"
	"os"
	"strings"
	"sync/atomic"
	"time"

	"gorm.io/gorm"

	"stillwet/internal/ledger"
	"stillwet/internal/training"
)

// Names of the files in the data folder.
const (
	DataFile = "stillwet.db"
	KeyFile  = "stillwet.key"
	LockFile = "stillwet.lock"
)

// actTime is how long a read or a write may take when its caller set no limit.
const actTime = 20 * time.Second

// Store is the open data file.
type Store struct {
	reads
	r, w   *gorm.DB
	key    *ledger.Key // nil when opened to read
	lock   *os.File
	beside bool   // a server has the folder open
	heads  *heads // nil when none are written down
	dir    string
	// scratch is the folder of a copy that is read in place of one on a medium that
	// takes no writing; "" for none.
	scratch string
	space   func(dir string) (free uint64, known bool)
	why     error                 // it was opened to read only
	broken  atomic.Pointer[error] // for good
	full    atomic.Bool           // until a write succeeds
}

var _ training.Records = (*Store)(nil)

// Write runs do in one transaction.
func (s *Store) Write(ctx context.Context, do func(training.Unit) error) error {
	if s.w == nil || s.broken.Load() != nil {
		return s.Ready()
	}
	ctx, stop := limited(ctx)
	defer stop()
	var head string
	err := s.w.WithContext(ctx).Transaction(func(tx *gorm.DB) error {
		u := unit{reads{tx, s.reads.public}, s.key, &growth{}}
		err := do(u)
		if err == nil {
			head, err = u.seal(ctx)
		}
		return err
	})
	err = s.watch(err)
	if err == nil && head != "" && s.heads != nil {
		s.heads.keep(head, s.reads.public)
	}
	return err
}

// Snapshot runs do over one state of the file.
func (s *Store) Snapshot(ctx context.Context, do func(training.Reader) error) error {
	ctx, stop := limited(ctx)
	defer stop()
	return s.r.WithContext(ctx).Transaction(func(tx *gorm.DB) error {
		return do(reads{tx, s.reads.public})
	})
}

// OnStatement calls told with each statement that is sent to the file from now
// on, for tests that count them. It is called before the store is used by many.
func (s *Store) OnStatement(told func(statement string)) error {
	const name = "stillwet:told"
	tell := func(db *gorm.DB) { told(db.Statement.SQL.String()) }
	var errs []error
	for _, db := range []*gorm.DB{s.r, s.w} {
		if db == nil {
			continue
		}
		on := db.Callback()
		errs = append(errs, on.Query().After("gorm:query").Register(name, tell), on.Row().After("gorm:row").Register(name, tell),
			on.Raw().After("gorm:raw").Register(name, tell), on.Create().After("gorm:create").Register(name, tell),
			on.Update().After("gorm:update").Register(name, tell), on.Delete().After("gorm:delete").Register(name, tell))
	}
	return errors.Join(errs...)
}

func limited(ctx context.Context) (context.Context, context.CancelFunc) {
	if _, has := ctx.Deadline(); has {
		return ctx, func() {}
	}
	return context.WithTimeout(ctx, actTime)
}

// Close ends all use of the file and folds the write-ahead log into it.
func (s *Store) Close() error {
	var errs []error
	if s.w != nil && !s.beside { // the server folds its log itself
		errs = append(errs, s.w.Exec("PRAGMA wal_checkpoint(TRUNCATE)").Error)
	}
	for _, g := range []*gorm.DB{s.r, s.w} {
		if g == nil {
			continue
		}
		db, err := g.DB()
		if err == nil {
			err = db.Close()
		}
		errs = append(errs, err)
	}
	if s.lock != nil {
		errs = append(errs, s.lock.Close())
	}
	if s.scratch != "" {
		errs = append(errs, os.RemoveAll(s.scratch))
	}
	return errors.Join(errs...)
}

// Beside reports whether another has the folder open, most likely its server.
func (s *Store) Beside() bool { return s.beside }

// Public is the verifier key of the ledger's heads.
func (s *Store) Public() string { return s.reads.public }

// ClinicID is the clinic's id, as its key and every head name it.
func (s *Store) ClinicID() string {
	name, _, _ := strings.Cut(s.reads.public, "+")
	return strings.TrimPrefix(name, ledger.Origin(""))
}
