//go:build unix

package backup

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/store"
)

// frozen does something with a disk that stops for ever at the n-th step, as if
// the program were killed there, and copies what is then on the disk. Whether it
// came to the n-th step at all is told.
func frozen(t *testing.T, n int, dir string, do func(Kind) error, kind Kind) (left string, stopped bool) {
	steps, stop, done := 0, make(chan struct{}), make(chan error, 1)
	kind.Disk.Fail = func(string, string) error {
		if steps++; steps == n {
			close(stop)
			select {}
		}
		return nil
	}
	go func() { done <- do(kind) }()
	select {
	case err := <-done:
		require.NoError(t, err)
	case <-stop:
		stopped = true
	}
	left = filepath.Join(t.TempDir(), "left")
	require.NoError(t, os.CopyFS(left, os.DirFS(dir)))
	return left, stopped
}

// Killed at any step, a backup is whole or not there.
func TestABackupKilledAtAnyStep(t *testing.T) {
	w := newWorld(t)
	w.signed()
	whole := 0
	for n, stopped := 1, true; stopped; n++ {
		dir := t.TempDir()
		var left string
		left, stopped = frozen(t, n, dir, func(k Kind) error {
			m := w.making(filepath.Join(dir, "b.tar"))
			m.Kind = k
			return last(Make(ctx, m))
		}, w.kind())
		file := filepath.Join(left, "b.tar")
		if _, err := os.Stat(file); err == nil {
			whole++
			require.NoError(t, last(Restore(ctx, w.restoring(file, t.TempDir()))), "step %d", n)
		} else {
			require.NoError(t, os.RemoveAll(stageOf(file))) // as the refusal says, or the keeper does
			require.NoError(t, last(Make(ctx, w.making(file))), "step %d", n)
		}
	}
	require.Equal(t, 2, whole, "when only its name was not synced, and when all was done")
}

// Killed at any step, a restore left a folder that is restored again, one that a
// start refuses, or the whole clinic; never an empty one that looks like it.
func TestARestoreKilledAtAnyStep(t *testing.T) {
	w := newWorld(t)
	w.signed()
	file := w.backup()
	again, refused, served := 0, 0, 0
	for n, stopped := 1, true; stopped; n++ {
		dir := t.TempDir()
		var left string
		left, stopped = frozen(t, n, dir, func(k Kind) error {
			r := w.restoring(file, dir)
			r.Kind = k
			return last(Restore(ctx, r))
		}, w.kind())
		if _, err := os.Stat(filepath.Join(left, store.DataFile)); err != nil {
			again++
			require.NoError(t, last(Restore(ctx, w.restoring(file, left))), "step %d", n)
			continue
		}
		_ = os.Chmod(filepath.Join(left, store.KeyFile), 0o600) // a copy does not keep it; it may be missing
		s, err := store.Open(ctx, left)
		if err != nil {
			refused++
			require.ErrorContains(t, err, "is missing, and 14 records were signed with it", "step %d", n)
			continue
		}
		served++
		h, err := s.Holdings(ctx)
		require.NoError(t, err)
		require.EqualValues(t, 14, h.Leaves)
		require.NoError(t, s.Close())
	}
	t.Logf("restored again %d times, refused %d, served whole %d", again, refused, served)
	require.Positive(t, again)
	require.Positive(t, refused)
	require.Positive(t, served)
}

// The child of the tests of a full disk: it may write files of so many bytes.
const (
	fullDir   = "STILLWET_TEST_FULL_DIR"
	fullBytes = "STILLWET_TEST_FULL_BYTES"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(fullDir); dir != "" {
		if err := onAFullDisk(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// onAFullDisk backs a folder up and makes another of the backup, as far as it may.
func onAFullDisk(dir string) error {
	most, err := strconv.ParseUint(os.Getenv(fullBytes), 10, 64)
	if err != nil {
		return err
	}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: most, Max: most}); err != nil {
		return err
	}
	lib, err := clinictest.Frozen()
	if err != nil {
		return err
	}
	k := Kind{Beside: []string{"clinic.json"}, Verify: verifyBy(lib)}
	s, err := store.OpenToRead(ctx, filepath.Join(dir, "data"))
	if err != nil {
		return err
	}
	_, making := Make(ctx, Making{Kind: k, Store: s, Data: filepath.Join(dir, "data"), Out: filepath.Join(dir, "out", "b.tar"), Version: testVersion, Now: "2026-03-02T15:00:00.000Z"})
	_, restoring := Restore(ctx, Restoring{Kind: k, File: filepath.Join(dir, "good.tar"), Data: filepath.Join(dir, "new")})
	return errors.Join(making, restoring, s.Close())
}

// However full the disk, there is a whole backup and a whole folder, or neither
// and an error.
func TestOnAFullDisk(t *testing.T) {
	w := newWorld(t)
	w.signed()
	file := w.backup()
	w.Close()
	info, err := os.Stat(file)
	require.NoError(t, err)
	failed, done := 0, 0
	for _, most := range []int64{0, 1000, 4096, 40960, info.Size() / 2, info.Size() - 30000, info.Size() - 1, info.Size()} {
		dir := t.TempDir()
		require.NoError(t, os.CopyFS(filepath.Join(dir, "data"), os.DirFS(w.Dir)))
		require.NoError(t, os.Chmod(filepath.Join(dir, "data", store.KeyFile), 0o600))
		require.NoError(t, os.Mkdir(filepath.Join(dir, "out"), 0o700))
		require.NoError(t, os.Link(file, filepath.Join(dir, "good.tar")))
		child := exec.Command(os.Args[0])
		child.Env = append(os.Environ(), fullDir+"="+dir, fullBytes+"="+strconv.FormatInt(most, 10))
		out, err := child.CombinedOutput()
		if err != nil {
			failed++
			require.NotEmpty(t, out, most)
		} else {
			done++
		}
		if got := inside(t, filepath.Join(dir, "out")); len(got) > 0 {
			require.Equal(t, []string{"b.tar"}, got, most)
			require.NoError(t, last(Restore(ctx, w.restoring(filepath.Join(dir, "out", "b.tar"), t.TempDir()))))
		} else {
			require.Error(t, err, most)
		}
		if got := inside(t, filepath.Join(dir, "new")); len(got) > 0 {
			require.NoError(t, w.verify(ctx, filepath.Join(dir, "new")))
		} else {
			require.Error(t, err, most)
			require.NoDirExists(t, filepath.Join(dir, "new"))
		}
	}
	t.Logf("%d full disks, %d large enough", failed, done)
	require.Equal(t, 1, done)
}

// What cannot be written is not begun.
func TestAFolderThatTakesNothing(t *testing.T) {
	w := newWorld(t)
	require.Error(t, last(Make(ctx, w.making("/proc/b.tar"))))
	require.Error(t, last(Restore(ctx, w.restoring(w.backup(), "/proc/stillwet"))))
	require.NoDirExists(t, "/proc/stillwet")
}
