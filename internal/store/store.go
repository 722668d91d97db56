// Package store keeps the records in one SQLite file beside its key file and
// its lock file. It implements [training.Records]. One connection writes (each
// transaction immediate, each commit synced to the disk); several read.
//
// The schema is the numbered SQL files of migrations; GORM never changes it.
package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync/atomic"
	"time"

	"github.com/mattn/go-sqlite3"
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

// ErrReadOnly is the answer to a write when the disk failed before: what came
// after a failed sync cannot be trusted to be kept.
var ErrReadOnly = errors.New("the data file cannot be written")

// Store is the open data file.
type Store struct {
	reads
	r, w   *gorm.DB
	key    *ledger.Key // nil when opened to read
	lock   *os.File
	heads  *heads // nil when none are written down
	broken atomic.Pointer[error]
}

var _ training.Records = (*Store)(nil)

// Write runs do in one transaction.
func (s *Store) Write(ctx context.Context, do func(training.Unit) error) error {
	if s.w == nil {
		return fmt.Errorf("%w: it was opened to read", ErrReadOnly)
	}
	if err := s.Ready(); err != nil {
		return err
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
	s.watch(err)
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

// Ready reports whether records can be kept.
func (s *Store) Ready() error {
	if p := s.broken.Load(); p != nil {
		return fmt.Errorf("%w since a disk error (%w); free or mend the disk and start again", ErrReadOnly, *p)
	}
	return nil
}

// watch stops all writing after a disk error: a sync that failed once may
// succeed on the next call although the data are gone.
func (s *Store) watch(err error) {
	var se sqlite3.Error
	if !errors.As(err, &se) {
		return
	}
	switch se.Code {
	case sqlite3.ErrIoErr, sqlite3.ErrCorrupt, sqlite3.ErrNotADB, sqlite3.ErrReadonly:
		s.broken.CompareAndSwap(nil, &err)
	}
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
	if s.w != nil {
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
	return errors.Join(errs...)
}

// Public is the verifier key of the ledger's heads.
func (s *Store) Public() string { return s.reads.public }

// ClinicID is the clinic's id, as its key and every head name it.
func (s *Store) ClinicID() string {
	name, _, _ := strings.Cut(s.reads.public, "+")
	return strings.TrimPrefix(name, ledger.Origin(""))
}
