package files

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

var errDisk = errors.New("input/output error")

// A file is whole or what it was, whichever step fails.
func TestWholeOrAsItWas(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "x")
	write := func(d Disk, text string) error {
		return d.Whole(name, func(f *File) error {
			_, err := f.WriteString(text)
			return err
		})
	}
	require.NoError(t, write(Disk{}, "first"))
	for _, step := range []string{"open", "write", "sync", "rename"} {
		err := write(Disk{Fail: func(did, _ string) error {
			if did == step {
				return errDisk
			}
			return nil
		}}, "second")
		require.ErrorIs(t, err, errDisk, step)
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		require.Equal(t, "first", string(text), step)
		entries, err := os.ReadDir(dir)
		require.NoError(t, err)
		require.Len(t, entries, 1, step)
	}
	require.NoError(t, write(Disk{}, "second"))
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	require.Equal(t, "second", string(text))
	info, err := os.Stat(name)
	require.NoError(t, err)
	require.EqualValues(t, 0o600, info.Mode().Perm())
}
