package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"

	"github.com/mattn/go-sqlite3"
)

// copyPages is how many pages are copied between two looks at whether the copy
// is still wanted.
const copyPages = 512

// CopyTo copies the data file, as it is at one moment, into a new file, also
// while others write. The new file is not synced.
func (s *Store) CopyTo(ctx context.Context, path string) (err error) {
	if err := touch(path); err != nil {
		return err
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return fmt.Errorf("copy the data file: %w", err)
	}
	name := url.URL{Scheme: "file", Path: filepath.ToSlash(abs), RawQuery: "_synchronous=OFF&_journal_mode=OFF"}
	to, err := sql.Open("sqlite3", name.String())
	if err != nil {
		return fmt.Errorf("copy the data file: %w", err)
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	from, err := s.r.DB()
	if err != nil {
		return fmt.Errorf("copy the data file: %w", err)
	}
	return onConn(ctx, from, func(source *sqlite3.SQLiteConn) error {
		return onConn(ctx, to, func(target *sqlite3.SQLiteConn) error { return copyPagesOf(ctx, source, target) })
	})
}

// onConn runs do with SQLite's own connection.
func onConn(ctx context.Context, pool *sql.DB, do func(*sqlite3.SQLiteConn) error) (err error) {
	conn, err := pool.Conn(ctx)
	if err != nil {
		return fmt.Errorf("copy the data file: %w", err)
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	return conn.Raw(func(raw any) error {
		c, ok := raw.(*sqlite3.SQLiteConn)
		if !ok {
			return fmt.Errorf("copy the data file: the connection is a %T", raw)
		}
		return do(c)
	})
}

// copyPagesOf holds one read transaction for the whole copy: without it, the
// copy would begin anew with every write, and might never end.
func copyPagesOf(ctx context.Context, source, target *sqlite3.SQLiteConn) (err error) {
	if _, err := source.ExecContext(ctx, "BEGIN; SELECT COUNT(*) FROM sqlite_schema", nil); err != nil {
		return fmt.Errorf("copy the data file: %w", err)
	}
	defer func() {
		_, end := source.ExecContext(context.WithoutCancel(ctx), "ROLLBACK", nil)
		err = errors.Join(err, end)
	}()
	b, err := target.Backup("main", source, "main")
	if err != nil {
		return fmt.Errorf("copy the data file: %w", err)
	}
	for done := false; !done && err == nil; {
		if done, err = b.Step(copyPages); err == nil {
			err = ctx.Err()
		}
	}
	if err = errors.Join(err, b.Finish()); err != nil {
		return fmt.Errorf("copy the data file: %w", err)
	}
	return nil
}

// BringUp brings a data file that no server has open to this program's schema.
// It needs no key, for it signs nothing.
func BringUp(ctx context.Context, path string) error {
	w, err := connect(path, writerDSN, 1)
	if err != nil {
		return err
	}
	if err = checkFile(ctx, w); err == nil {
		err = migrate(ctx, w)
	}
	if err != nil {
		err = fmt.Errorf("%s: %w", path, err)
	}
	return errors.Join(err, (&Store{w: w}).Close())
}
