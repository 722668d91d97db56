package store

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"

	"github.com/mattn/go-sqlite3"

	"stillwet/internal/training"
)

// ErrReadOnly is the answer to a write that the disk does not take, or did not
// take before: what came after a failed sync cannot be trusted to be kept.
var ErrReadOnly = fmt.Errorf("%w: the data file cannot be written", training.ErrUnsaved)

// Space on the disk, in bytes: below the first it is full, below the second one
// that was full still is, below the third somebody should know.
const (
	leastSpace  = 1 << 20
	enoughSpace = 8 << 20
	lowSpace    = 512 << 20
)

// Because says why the file was only opened to read: the cause without the path,
// since strangers may ask too.
func (s *Store) Because(why error) {
	var file *fs.PathError
	var se sqlite3.Error
	switch {
	case errors.As(why, &file):
		why = file.Err
	case errors.As(why, &se):
		why = se
	}
	s.why = fmt.Errorf("%w: %w", ErrReadOnly, why)
}

// Ready reports whether records can be kept.
func (s *Store) Ready() error {
	if s.w == nil {
		return cmp.Or(s.why, errOpenedToRead)
	}
	if p := s.broken.Load(); p != nil {
		return fmt.Errorf("%w since a disk error (%w); free or mend the disk and start again", ErrReadOnly, *p)
	}
	free, known := s.space(s.dir)
	was := s.full.Load()
	if was && (!known || free < enoughSpace) || known && free < leastSpace {
		return fmt.Errorf("%w because the disk is full; free some of it, and it goes on by itself", ErrReadOnly)
	}
	return nil
}

var errOpenedToRead = fmt.Errorf("%w: it was opened to read", ErrReadOnly)

// LowSpace is how little is left on the disk, in words; "" while it is enough.
func (s *Store) LowSpace() string {
	free, known := s.space(s.dir)
	if !known || free >= lowSpace {
		return ""
	}
	return fmt.Sprintf("%d MB", free>>20)
}

// watch looks at how a write ended. After a disk error nothing is written any
// more: a sync that failed once may succeed on the next call although the data
// are gone. A full disk only refuses: each write is tried, and one that succeeds
// says that there is room again.
func (s *Store) watch(err error) error {
	var se sqlite3.Error
	if err == nil {
		s.full.Store(false)
	}
	if !errors.As(err, &se) {
		return err
	}
	switch se.Code {
	case sqlite3.ErrFull:
		s.full.Store(true)
	case sqlite3.ErrIoErr, sqlite3.ErrCorrupt, sqlite3.ErrNotADB, sqlite3.ErrReadonly:
		s.broken.CompareAndSwap(nil, &err)
	default:
		return err
	}
	return fmt.Errorf("%w: %w", ErrReadOnly, err)
}

// Unwritable reports whether an error says that a folder or disk takes no
// writing, so that one could still try to read.
func Unwritable(err error) bool {
	var se sqlite3.Error
	if errors.As(err, &se) {
		return se.Code == sqlite3.ErrFull || se.Code == sqlite3.ErrReadonly || se.Code == sqlite3.ErrCantOpen || se.Code == sqlite3.ErrIoErr
	}
	return errors.Is(err, fs.ErrPermission) || diskFull(err)
}
