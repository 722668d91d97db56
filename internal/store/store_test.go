package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/ledger"
	"stillwet/internal/training"
)

const at = training.Instant("2026-03-01T09:30:00.000Z")

func open(t testing.TB, dir string) *Store {
	s, err := Open(context.Background(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

func TestLeavesAreKeptWithTheirHead(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	s := open(t, dir)
	h, err := s.Ledger(ctx)
	require.NoError(t, err)
	require.Zero(t, h.Size)
	for i := range 9 {
		require.NoError(t, s.Write(ctx, func(u training.Unit) error {
			index, err := u.AppendLeaf(ctx, []byte{byte('a' + i)}, of(i))
			require.EqualValues(t, i, index)
			return err
		}))
	}
	walk := &ledger.Walk{}
	for l, err := range s.LedgerLeaves(ctx) {
		require.NoError(t, err)
		require.Equal(t, walk.Size(), l.Leaf)
		walk.Add(l.Bytes)
	}
	require.EqualValues(t, 9, walk.Size())
	head, err := s.Ledger(ctx)
	require.NoError(t, err)
	signed, err := ledger.OpenHead(head.Note, s.Public())
	require.NoError(t, err)
	require.Equal(t, walk.Head(), signed)
}

// One transaction ends with one head, however much it adds.
func TestOneHeadATransaction(t *testing.T) {
	ctx := context.Background()
	s := open(t, t.TempDir())
	for range 3 {
		require.NoError(t, s.Write(ctx, func(u training.Unit) error {
			for i := range 1000 {
				if _, err := u.AppendLeaf(ctx, []byte("leaf"), of(i)); err != nil {
					return err
				}
			}
			return nil
		}))
	}
	walk := &ledger.Walk{}
	for range 3000 {
		walk.Add([]byte("leaf"))
	}
	var sizes []int64
	for h, err := range s.LedgerHeads(ctx) {
		require.NoError(t, err)
		sizes = append(sizes, h.Size)
	}
	require.Equal(t, []int64{1000, 2000, 3000}, sizes)
	head, err := s.Ledger(ctx)
	require.NoError(t, err)
	require.Equal(t, walk.Head().Root.String(), head.Root)
}

// A transaction that fails adds nothing.
func TestNothingOfAFailedTransactionIsInTheLedger(t *testing.T) {
	ctx := context.Background()
	s := open(t, t.TempDir())
	require.Error(t, s.Write(ctx, func(u training.Unit) error {
		_, err := u.AppendLeaf(ctx, []byte("leaf"), of(0))
		require.NoError(t, err)
		return errors.New("it failed later")
	}))
	head, err := s.Ledger(ctx)
	require.NoError(t, err)
	require.Zero(t, head.Size)
}

// of is what a leaf of a test is of.
func of(i int) training.LeafAbout {
	return training.LeafAbout{Version: 2, Kind: training.ClockLeaf, Record: fmt.Sprint("clock ", i), At: "2026-03-02T15:00:00.000Z"}
}

func TestNoHeadIsSignedOverABrokenTree(t *testing.T) {
	ctx := context.Background()
	s := open(t, t.TempDir())
	grow := func(u training.Unit) error { _, err := u.AppendLeaf(ctx, []byte("leaf"), of(0)); return err }
	require.NoError(t, s.Write(ctx, grow))
	require.NoError(t, s.w.Exec("DROP TRIGGER ledger_nodes_kept").Error)
	require.NoError(t, s.w.Exec("UPDATE ledger_nodes SET hash = zeroblob(32) WHERE i = 0").Error)
	require.ErrorContains(t, s.Write(ctx, grow), "stillwet verify")
}

func TestSecondServerIsRefused(t *testing.T) {
	dir := t.TempDir()
	open(t, dir)
	_, err := Open(context.Background(), dir)
	require.ErrorContains(t, err, "another stillwet is using")
	r, err := OpenToRead(context.Background(), dir)
	require.NoError(t, err, "reading beside the server is allowed")
	require.ErrorIs(t, r.Write(context.Background(), nil), ErrReadOnly)
	require.NoError(t, r.Close())
}

func TestNewerFileIsRefused(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	s, err := Open(ctx, dir)
	require.NoError(t, err)
	require.NoError(t, s.w.Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)").Error)
	require.NoError(t, s.Close())
	_, err = Open(ctx, dir)
	require.ErrorContains(t, err, "newer stillwet")
	_, err = OpenToRead(ctx, dir)
	require.ErrorContains(t, err, "newer stillwet")
}

func TestLostOrForeignKeyIsRefusedOnceSomethingIsSigned(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	s, err := Open(ctx, dir)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	path := filepath.Join(dir, KeyFile)
	info, err := os.Stat(path)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	require.NoError(t, os.Remove(path))
	s, err = Open(ctx, dir)
	require.NoError(t, err, "nothing was signed with the lost key")
	require.NoError(t, s.Write(ctx, func(u training.Unit) error { _, err := u.AppendLeaf(ctx, []byte("x"), of(0)); return err }))
	require.NoError(t, s.Close())
	key, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.Remove(path))
	_, err = Open(ctx, dir)
	require.ErrorContains(t, err, "key file")
	other := t.TempDir()
	o, err := Open(ctx, other)
	require.NoError(t, err)
	require.NoError(t, o.Close())
	foreign, err := os.ReadFile(filepath.Join(other, KeyFile))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, foreign, 0o600))
	_, err = Open(ctx, dir)
	require.ErrorContains(t, err, "another data file")
	require.NoError(t, os.WriteFile(path, key, 0o600))
	open(t, dir)
}

func TestAKeyThatOthersCanOpenIsRefused(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	s, err := Open(ctx, dir)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	path := filepath.Join(dir, KeyFile)
	for _, mode := range []os.FileMode{0o644, 0o640, 0o604, 0o620, 0o601} {
		require.NoError(t, os.Chmod(path, mode))
		_, err = Open(ctx, dir)
		require.ErrorContains(t, err, "chmod 600 "+path, "mode %o", mode)
		r, err := OpenToRead(ctx, dir)
		require.NoError(t, err, "what is only read needs no secret")
		require.NoError(t, r.Close())
	}
	for _, mode := range []os.FileMode{0o600, 0o400} {
		require.NoError(t, os.Chmod(path, mode))
		s, err := Open(ctx, dir)
		require.NoError(t, err)
		require.NoError(t, s.Close())
	}
}

func TestPragmasOfBothPools(t *testing.T) {
	s := open(t, t.TempDir())
	for pragma, want := range map[string][2]string{
		"journal_mode": {"wal", "wal"}, "synchronous": {"2", "1"}, "foreign_keys": {"1", "1"},
		"query_only": {"0", "1"}, "busy_timeout": {"5000", "5000"}, "recursive_triggers": {"1", "1"},
	} {
		var w, r string
		require.NoError(t, s.w.Raw("PRAGMA "+pragma).Row().Scan(&w))
		require.NoError(t, s.r.Raw("PRAGMA "+pragma).Row().Scan(&r))
		require.Equal(t, want, [2]string{w, r}, pragma)
	}
	require.Error(t, s.r.Exec("DELETE FROM people").Error, "the reading pool cannot write")
}

func TestAllOfAUnitOrNothing(t *testing.T) {
	ctx := context.Background()
	s := open(t, t.TempDir())
	p := training.Person{ID: "p1", Name: "Ada Invented", Role: training.Trainee}
	err := s.Write(ctx, func(u training.Unit) error {
		require.NoError(t, u.AddPerson(ctx, p, at))
		return training.ErrInvalid
	})
	require.ErrorIs(t, err, training.ErrInvalid)
	_, err = s.Person(ctx, "p1")
	require.ErrorIs(t, err, training.ErrNotFound)
	require.NoError(t, s.Write(ctx, func(u training.Unit) error { return u.AddPerson(ctx, p, at) }))
	got, err := s.Person(ctx, "p1")
	require.NoError(t, err)
	require.Equal(t, p, got)
	err = s.Write(ctx, func(u training.Unit) error { return u.AddPerson(ctx, p, at) })
	require.ErrorIs(t, err, training.ErrConflict)
}

// A server that was killed leaves its write-ahead log behind; what was
// acknowledged is in there, and reading must see it.
func TestReadingAfterAKillSeesTheWriteAheadLog(t *testing.T) {
	ctx, dir, left := context.Background(), t.TempDir(), t.TempDir()
	s := open(t, dir)
	p := training.Person{ID: "p1", Name: "Ada Invented", Role: training.Trainee}
	require.NoError(t, s.Write(ctx, func(u training.Unit) error { return u.AddPerson(ctx, p, at) }))
	for _, name := range []string{DataFile, DataFile + "-wal", KeyFile} {
		text, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		require.NotEmpty(t, text, name)
		require.NoError(t, os.WriteFile(filepath.Join(left, name), text, 0o600))
	}
	r, err := OpenToRead(ctx, left)
	require.NoError(t, err)
	got, err := r.Person(ctx, "p1")
	require.NoError(t, err)
	require.Equal(t, p, got)
	require.NoError(t, r.Close())
}

// Two processes may not write, but one may read while the other writes.
func TestASnapshotDoesNotSeeLaterWrites(t *testing.T) {
	ctx := context.Background()
	s := open(t, t.TempDir())
	require.NoError(t, s.Snapshot(ctx, func(r training.Reader) error {
		before, err := r.People(ctx)
		require.NoError(t, err)
		require.NoError(t, s.Write(ctx, func(u training.Unit) error {
			return u.AddPerson(ctx, training.Person{ID: "p1", Name: "Ada Invented", Role: training.Trainee}, at)
		}))
		after, err := r.People(ctx)
		require.NoError(t, err)
		require.Equal(t, before, after)
		return nil
	}))
	now, err := s.People(ctx)
	require.NoError(t, err)
	require.Len(t, now, 1)
}
