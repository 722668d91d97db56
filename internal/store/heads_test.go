package store

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/files"
	"stillwet/internal/ledger"
	"stillwet/internal/training"
)

var errDisk = errors.New("no space left on device")

// headed opens a folder with its heads in another.
func headed(t *testing.T, dir string, o Options) (*Store, error) {
	s, err := OpenWith(context.Background(), dir, o)
	if err == nil {
		t.Cleanup(func() { _ = s.Close() }) // some tests close it themselves
	}
	return s, err
}

func grow(t *testing.T, s *Store, leaves ...string) {
	ctx := context.Background()
	require.NoError(t, s.Write(ctx, func(u training.Unit) error {
		for _, l := range leaves {
			if _, err := u.AppendLeaf(ctx, []byte(l), of(0)); err != nil {
				return err
			}
		}
		return nil
	}))
}

// lastSize is the size of the last head in a folder of heads.
func lastSize(t *testing.T, s *Store, dir string) int64 {
	note, err := lastHead(filepath.Join(dir, HeadFile))
	require.NoError(t, err)
	h, err := ledger.OpenHead(note, s.Public())
	require.NoError(t, err)
	return h.Size
}

// copyOf is a copy of a closed folder.
func copyOf(t *testing.T, dir string) string {
	to := filepath.Join(t.TempDir(), "copy")
	require.NoError(t, os.CopyFS(to, os.DirFS(dir)))
	require.NoError(t, os.Chmod(filepath.Join(to, KeyFile), 0o600))
	return to
}

func TestEachTransactionsHeadIsWrittenDown(t *testing.T) {
	dir, heads := t.TempDir(), t.TempDir()
	s, err := headed(t, dir, Options{Heads: heads})
	require.NoError(t, err)
	require.Empty(t, s.Heads())
	grow(t, s, "a")
	require.EqualValues(t, 1, lastSize(t, s, heads))
	grow(t, s, "b", "c", "d")
	require.EqualValues(t, 4, lastSize(t, s, heads))
	require.NotEmpty(t, s.Heads().Last)
	require.Empty(t, s.Heads().Err)
	require.Error(t, s.Write(context.Background(), func(u training.Unit) error {
		_, err := u.AppendLeaf(context.Background(), []byte("e"), of(0))
		return errors.Join(err, errDisk)
	}))
	require.EqualValues(t, 4, lastSize(t, s, heads), "nothing was kept, so nothing is written down")
	info, err := os.Stat(filepath.Join(heads, HeadFile))
	require.NoError(t, err)
	require.EqualValues(t, 0o600, info.Mode().Perm())
	require.NoError(t, s.Close())
	text, err := os.ReadFile(filepath.Join(heads, HeadFile))
	require.NoError(t, err)
	require.Equal(t, 2, strings.Count(string(text), "\u2014 "))
}

// With every step of adding a head failing in turn, the act is kept, the failure
// is told once, and the next head is written down whole.
func TestAHeadThatCannotBeWrittenHoldsUpNothing(t *testing.T) {
	for _, step := range []string{"open", "write", "sync"} {
		failing := false
		var told []string
		heads := t.TempDir()
		s, err := headed(t, t.TempDir(), Options{Heads: heads, Warn: func(text string) { told = append(told, text) }, Disk: files.Disk{
			Fail: func(did, name string) error {
				if failing && did == step {
					return errDisk
				}
				return nil
			},
		}})
		require.NoError(t, err)
		grow(t, s, "a")
		before := s.Heads()
		failing = true
		grow(t, s, "b")
		grow(t, s, "c")
		require.Equal(t, HeadsKept{before.Last, errDisk.Error()}, s.Heads(), step)
		require.Len(t, told, 1, step)
		require.Contains(t, told[0], "The record itself is kept")
		failing = false
		grow(t, s, "d")
		require.Empty(t, s.Heads().Err)
		require.EqualValues(t, 4, lastSize(t, s, heads), step)
		h, err := s.Ledger(context.Background())
		require.NoError(t, err)
		require.EqualValues(t, 4, h.Size)
		require.NoError(t, s.Close())
	}
}

// A share that does not answer holds nothing up; when it answers again, the newest
// head is there.
func TestAHeadFileThatDoesNotAnswer(t *testing.T) {
	heads := t.TempDir()
	hung, synced := make(chan struct{}), make(chan struct{}, 9)
	s, err := headed(t, t.TempDir(), Options{Heads: heads, Disk: files.Disk{Fail: func(step, name string) error {
		switch {
		case filepath.Base(name) != HeadFile:
		case step == "open":
			<-hung
		case step == "sync":
			synced <- struct{}{}
		}
		return nil
	}}})
	require.NoError(t, err)
	s.heads.patience = 0
	grow(t, s, "a")
	grow(t, s, "b")
	require.Contains(t, s.Heads().Err, "does not answer")
	h, err := s.Ledger(context.Background())
	require.NoError(t, err)
	require.EqualValues(t, 2, h.Size)
	close(hung)
	<-synced
	s.heads.patience = time.Hour
	grow(t, s, "c")
	require.Empty(t, s.Heads().Err)
	require.EqualValues(t, 3, lastSize(t, s, heads))
}

func TestALedgerThatDoesNotFollowIsRefused(t *testing.T) {
	dir, heads := t.TempDir(), t.TempDir()
	s, err := headed(t, dir, Options{Heads: heads})
	require.NoError(t, err)
	grow(t, s, "a", "b")
	require.NoError(t, s.Close())
	old := copyOf(t, dir)
	s, err = headed(t, dir, Options{Heads: heads})
	require.NoError(t, err)
	grow(t, s, "c")
	grow(t, s, "d")
	require.NoError(t, s.Close())

	rewritten := copyOf(t, old) // with the same key, other records
	s, err = headed(t, rewritten, Options{})
	require.NoError(t, err)
	grow(t, s, "x")
	grow(t, s, "y", "z")
	require.NoError(t, s.Close())
	keyless := t.TempDir() // an emptied folder, with the key still there
	key, err := os.ReadFile(filepath.Join(dir, KeyFile))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(keyless, KeyFile), key, 0o600))
	other := t.TempDir()
	s, err = headed(t, other, Options{})
	require.NoError(t, err)
	grow(t, s, "a", "b", "c", "d", "e")
	require.NoError(t, s.Close())

	for name, c := range map[string]struct{ dir, says string }{
		"set back":     {old, "the ledger has 2 records and the head was signed for 4: 2 signed records are missing. An older data file"},
		"rewritten":    {rewritten, "the ledger was rewritten"},
		"another's":    {other, "not signed with this clinic's key"},
		"no data file": {keyless, "is not there; restore the newest backup"},
	} {
		before := contents(t, c.dir)
		_, err := headed(t, c.dir, Options{Heads: heads})
		require.ErrorContains(t, err, c.says, name)
		require.ErrorContains(t, err, "--accept-heads", name)
		require.ErrorContains(t, err, "estore the newest backup", name)
		require.Equal(t, before, contents(t, c.dir), name)
		s, err := headed(t, c.dir, Options{})
		require.NoError(t, err, "%s: without its heads nobody would know", name)
		require.NoError(t, s.Close())
	}
	s, err = headed(t, dir, Options{Heads: heads})
	require.NoError(t, err, "the right one is still served")
	require.NoError(t, s.Close())

	var told []string
	s, err = headed(t, old, Options{Heads: heads, AcceptHeads: true, Warn: func(text string) { told = append(told, text) }})
	require.NoError(t, err)
	require.Contains(t, strings.Join(told, " "), "heads.aside-1")
	require.FileExists(t, filepath.Join(heads, "heads.aside-1"))
	require.EqualValues(t, 2, lastSize(t, s, heads))
	require.NoError(t, s.Close())
	_, err = headed(t, dir, Options{Heads: filepath.Join(heads, "missing")})
	require.ErrorContains(t, err, "connect the disk or share")
}

// contents are the names and bytes of a folder, without what an open file has
// beside it.
func contents(t *testing.T, dir string) map[string]string {
	found := map[string]string{}
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		require.NoError(t, err)
		if e.Name() == LockFile || strings.HasSuffix(e.Name(), "-shm") || strings.HasSuffix(e.Name(), "-wal") {
			continue
		}
		found[e.Name()] = string(text)
	}
	return found
}

// A head cut off by a crash is no head, and what the ledger is ahead of the file
// by is written down at the next start.
func TestACutOffHeadIsMadeUpFor(t *testing.T) {
	dir, heads := t.TempDir(), t.TempDir()
	s, err := headed(t, dir, Options{Heads: heads})
	require.NoError(t, err)
	grow(t, s, "a")
	grow(t, s, "b")
	require.NoError(t, s.Close())
	path := filepath.Join(heads, HeadFile)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	for at := 0; at < len(text); at += 17 {
		require.NoError(t, os.WriteFile(path, text[:at], 0o600))
		s, err := headed(t, dir, Options{Heads: heads})
		require.NoError(t, err, "cut off at %d", at)
		require.EqualValues(t, 2, lastSize(t, s, heads), "cut off at %d", at)
		require.NoError(t, s.Close())
	}
	require.NoError(t, os.WriteFile(path, append(text, make([]byte, 4096)...), 0o600))
	s, err = headed(t, dir, Options{Heads: heads})
	require.NoError(t, err, "a tail of zeros, as a power cut may leave")
	grow(t, s, "c")
	require.EqualValues(t, 3, lastSize(t, s, heads))
}

// Of whatever stands around them, heads are found and nothing else.
func TestHeadsAreFoundAmongOtherThings(t *testing.T) {
	dir, heads := t.TempDir(), t.TempDir()
	s, err := headed(t, dir, Options{Heads: heads})
	require.NoError(t, err)
	grow(t, s, "a")
	path := filepath.Join(heads, HeadFile)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, append(append(make([]byte, 1<<20), '\n'), text...), 0o600))
	require.EqualValues(t, 1, lastSize(t, s, heads))
	require.NoError(t, os.WriteFile(path, append(text, make([]byte, 1<<20)...), 0o600))
	require.EqualValues(t, 1, lastSize(t, s, heads))
}

func TestANetworkDiskIsRefused(t *testing.T) {
	require.NoError(t, refuseNetwork("/srv/x", "", false))
	err := refuseNetwork("/srv/x", "NFS", false)
	require.ErrorContains(t, err, "/srv/x lies on a network file system (NFS)")
	require.ErrorContains(t, err, "--network-disk")
	require.NoError(t, refuseNetwork("/srv/x", "NFS", true))
}

func TestSchemaIsTheLastMigration(t *testing.T) {
	s := open(t, t.TempDir())
	h, err := s.Holdings(context.Background())
	require.NoError(t, err)
	schema, err := Schema()
	require.NoError(t, err)
	require.Equal(t, h.Schema, schema)
}

// lastHead is the newest head in a file.
func lastHead(path string) (string, error) {
	notes, err := HeadsOf(path)
	if err != nil || len(notes) == 0 {
		return "", err
	}
	return notes[len(notes)-1], nil
}

// A head that was added behind a larger one, or another of the same size, hides
// nothing: neither from a start nor from whoever reads the file.
func TestAHeadAddedByAnotherHandIsTold(t *testing.T) {
	dir, kept := t.TempDir(), t.TempDir()
	s, err := OpenWith(context.Background(), dir, Options{Heads: kept})
	require.NoError(t, err)
	grow(t, s, "a")
	early, err := s.Ledger(context.Background())
	require.NoError(t, err)
	grow(t, s, "b", "c")
	key := s.key
	require.NoError(t, s.Close())
	path := filepath.Join(kept, HeadFile)
	honest, err := os.ReadFile(path)
	require.NoError(t, err)
	forged, err := key.Sign(ledger.Head{Size: 3, Root: ledger.Hash{1}})
	require.NoError(t, err)
	for name, added := range map[string]string{"an older one": early.Note, "another of the same size": forged} {
		require.NoError(t, os.WriteFile(path, []byte(string(honest)+"\n"+added), 0o600))
		_, err = HeadsOf(path)
		require.ErrorIs(t, err, ErrContradict, name)
		_, err = OpenWith(context.Background(), dir, Options{Heads: kept})
		require.ErrorIs(t, err, ErrContradict, name)
		require.ErrorContains(t, err, "--accept-heads", name)
	}
	larger, err := key.Sign(ledger.Head{Size: 4, Root: ledger.Hash{1}})
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, []byte(string(honest)+"\n"+larger), 0o600))
	_, err = OpenWith(context.Background(), dir, Options{Heads: kept})
	require.ErrorContains(t, err, "1 signed records are missing")
}
