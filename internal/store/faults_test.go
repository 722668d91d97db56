package store

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// faults are what is done to a call of the child on its data file or the log
// beside it.
var faults = []string{
	"pwrite64:error=ENOSPC", "pwrite64:error=EIO", "pwrite64:signal=KILL",
	"fsync,fdatasync:error=EIO", "fsync,fdatasync:signal=KILL", "ftruncate:error=EIO", "openat:error=EMFILE", "openat:error=EROFS",
}

// whens are the calls it is done to: of each thread the n-th, or all from it on.
func whens() (list []string) {
	most, step := 40, 13
	if os.Getenv("STATES") != "" {
		step = 1
	}
	for n := 1; n <= most; n += step {
		list = append(list, fmt.Sprint(n), fmt.Sprintf("%d+", n))
	}
	return list
}

// Whatever fails, and wherever the program is killed: what was acknowledged is
// stored, what is stored was tried, nothing is there twice, the file is whole, the
// heads on the other disk are not ahead, and a start goes on.
func TestFailingCallsLoseNothingAcknowledged(t *testing.T) {
	t.Parallel()
	cells, done, failed := 0, 0, 0
	for _, fault := range faults {
		for _, when := range whens() {
			dir := signingFolder(t)
			public := publicOf(t, dir)
			data := filepath.Join(dir, DataFile)
			call, _, _ := strings.Cut(fault, ":")
			c := child(dir, 12, "", "-o", "/dev/null", "-P", data, "-P", data+"-wal", "-e", "trace="+call, "-e", "inject="+fault+":when="+when)
			var out bytes.Buffer
			c.Stdout = &out
			_ = c.Run() // it may end as it must
			said := told{map[string]bool{}, map[string]bool{}}
			for line := range strings.Lines(out.String()) {
				if strings.HasSuffix(line, "\n") { // it may have been killed while it spoke
					said.line(strings.TrimSpace(line))
				}
			}
			cells++
			done += len(said.done)
			failed += len(said.tried) - len(said.done)
			settled(t, dir, public, &said, fault+":when="+when)
		}
	}
	t.Logf("%d runs with a fault: %d acts acknowledged, none lost; %d in doubt or refused, each there once or not at all", cells, done, failed)
	require.Positive(t, done)
	require.Positive(t, failed)
}

func settled(t *testing.T, dir, public string, said *told, name string) {
	s, err := OpenWith(context.Background(), dir, Options{Heads: headsOf(dir)})
	require.NoError(t, err, name)
	require.NoError(t, s.Close(), name)
	note, err := lastHead(filepath.Join(headsOf(dir), HeadFile))
	if err != nil {
		require.ErrorIs(t, err, os.ErrNotExist, name)
	}
	stored, follows, err := storedActs(filepath.Join(dir, DataFile), public, note)
	require.NoError(t, err, name)
	require.True(t, follows, name)
	require.Zero(t, said.lost(stored), "%s: acknowledged and lost", name)
	require.Zero(t, said.invented(stored), "%s: stored and never tried", name)
}

// With every step of the program's own at a start failing in turn, nothing is
// lost, and the next start goes on.
func TestAStartThatFailsIsMadeAgain(t *testing.T) {
	ctx := context.Background()
	for _, accept := range []bool{false, true} {
		steps := 0
		for n := 1; n == 1 || steps >= n-1; n++ {
			dir, heads := filepath.Join(t.TempDir(), "data"), t.TempDir()
			if accept {
				s, err := headed(t, dir, Options{Heads: heads})
				require.NoError(t, err)
				grow(t, s, "a")
				require.NoError(t, s.Close())
			}
			steps = 0
			o := Options{Heads: heads, AcceptHeads: accept}
			o.Disk.Fail = func(string, string) error {
				if steps++; steps == n {
					return errDisk
				}
				return nil
			}
			s, err := OpenWith(ctx, dir, o)
			if err == nil {
				require.NoError(t, s.Close())
			}
			s, err = OpenWith(ctx, dir, Options{Heads: heads})
			require.NoError(t, err, "after step %d failed", n)
			grow(t, s, "b")
			h, err := s.Ledger(ctx)
			require.NoError(t, err)
			require.Equal(t, map[bool]int64{false: 1, true: 2}[accept], h.Size)
			require.Equal(t, h.Size, lastSize(t, s, heads))
			require.NoError(t, s.Close())
		}
		t.Logf("a start of %d steps, each of them failing", steps)
		require.Greater(t, steps, 3)
	}
}
