package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// A full disk refuses what has no room and goes on when there is some again.
func TestAFullDiskIsNotBrokenForEver(t *testing.T) {
	ctx := context.Background()
	s := open(t, t.TempDir())
	free := uint64(2 << 20)
	s.space = func(string) (uint64, bool) { return free, true }
	add := func(i int) error {
		return s.Write(ctx, func(u training.Unit) error {
			return u.AddPerson(ctx, training.Person{ID: fmt.Sprint(i), Name: strings.Repeat("n", 4000), Role: training.Trainee}, at)
		})
	}
	var pages int
	require.NoError(t, s.w.Raw("PRAGMA page_count").Row().Scan(&pages))
	limit := func(n int) { require.NoError(t, s.exec(fmt.Sprintf("PRAGMA max_page_count = %d", n))) }
	limit(pages + 5)
	var err error
	kept := 0
	for ; err == nil; kept++ {
		err = add(kept)
	}
	require.ErrorIs(t, err, training.ErrUnsaved)
	require.ErrorIs(t, err, ErrReadOnly)
	require.ErrorIs(t, s.Ready(), ErrReadOnly)
	require.ErrorContains(t, s.Ready(), "the disk is full")
	people, err := s.People(ctx)
	require.NoError(t, err)
	require.Len(t, people, kept-1, "what was saved is there, what was refused is not")
	require.Error(t, add(kept), "each write is tried")

	free = 1 << 30
	require.NoError(t, s.Ready(), "there is room again")
	free = 2 << 20
	limit(1 << 20)
	require.NoError(t, add(kept), "and it goes on by itself")
	require.NoError(t, s.Ready())
	free = 1000
	require.ErrorContains(t, s.Ready(), "the disk is full", "before anything was refused")
}

// A disk error is for good: a sync that succeeds after one that failed proves nothing.
func TestADiskErrorStopsWritingUntilAStart(t *testing.T) {
	s := open(t, t.TempDir())
	broken := s.watch(fmt.Errorf("commit: %w", sqlite3.Error{Code: sqlite3.ErrIoErr}))
	require.ErrorIs(t, broken, training.ErrUnsaved)
	s.space = func(string) (uint64, bool) { return 1 << 40, true }
	require.ErrorContains(t, s.Ready(), "start again")
	err := s.Write(context.Background(), func(training.Unit) error { return errors.New("it is never begun") })
	require.ErrorIs(t, err, ErrReadOnly)
	require.NotContains(t, err.Error(), "never begun")
	_, err = s.People(context.Background())
	require.NoError(t, err)
}

func TestLowSpaceIsToldInWords(t *testing.T) {
	s := open(t, t.TempDir())
	for free, words := range map[uint64]string{0: "0 MB", 511 << 20: "511 MB", 512 << 20: "", 1 << 40: ""} {
		s.space = func(string) (uint64, bool) { return free, true }
		require.Equal(t, words, s.LowSpace())
	}
	s.space = func(string) (uint64, bool) { return 0, false }
	require.Empty(t, s.LowSpace(), "nobody is frightened by what is not known")
	free, known := freeSpace(t.TempDir())
	require.True(t, known)
	require.Positive(t, free)
}

func TestWhatTakesNoWritingIsToldApart(t *testing.T) {
	for _, err := range []error{&os.PathError{Err: syscall.EROFS}, &os.PathError{Err: syscall.EACCES}, &os.PathError{Err: syscall.ENOSPC},
		sqlite3.Error{Code: sqlite3.ErrFull}, sqlite3.Error{Code: sqlite3.ErrCantOpen}} {
		require.True(t, Unwritable(fmt.Errorf("open: %w", err)), "%v", err)
	}
	for _, err := range []error{nil, os.ErrNotExist, sqlite3.Error{Code: sqlite3.ErrBusy}, errors.New("another stillwet is using it")} {
		require.False(t, Unwritable(err), "%v", err)
	}
}

// In a folder that takes no file SQLite can make no index; a file that was
// closed is read without one.
func TestAClosedFileIsReadWithoutItsIndex(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	s, err := Open(ctx, dir)
	require.NoError(t, err)
	require.NoError(t, s.Write(ctx, func(u training.Unit) error {
		return u.AddPerson(ctx, training.Person{ID: "p", Name: "A", Role: training.Trainee}, at)
	}))
	path := filepath.Join(dir, DataFile)
	require.False(t, alone(path), "in use")
	require.NoError(t, s.Close())
	require.True(t, alone(path))
	r, err := openToRead(ctx, dir, "&mode=ro&immutable=1")
	require.NoError(t, err)
	people, err := r.People(ctx)
	require.NoError(t, err)
	require.Len(t, people, 1)
	require.ErrorIs(t, r.Ready(), ErrReadOnly)
	require.ErrorIs(t, r.Write(ctx, func(training.Unit) error { return nil }), ErrReadOnly)
	require.NoError(t, r.Close())
	require.True(t, alone(path), "nothing was made beside it")
}

// The secret of the door is each file's own.
func TestTheDoorsSecretIsMadeWithTheFile(t *testing.T) {
	one, err := open(t, t.TempDir()).DoorSecret(context.Background())
	require.NoError(t, err)
	require.Regexp(t, "^[0-9a-f]{64}$", one)
	other, err := open(t, t.TempDir()).DoorSecret(context.Background())
	require.NoError(t, err)
	require.NotEqual(t, one, other)
}
