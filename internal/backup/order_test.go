package backup

import (
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// What gets its name was synced before, and the name is synced after: a power cut
// leaves no backup that is not whole.
func TestWhatIsRenamedIsSynced(t *testing.T) {
	w := newWorld(t)
	w.signed()
	file := w.backup()
	var steps, names []string
	kind := w.kind()
	kind.Disk.Fail = func(step, name string) error {
		steps, names = append(steps, step), append(names, filepath.Base(name))
		return nil
	}
	m := w.making(filepath.Join(t.TempDir(), "b.tar"))
	m.Kind = kind
	require.NoError(t, last(Make(ctx, m)))
	end := len(steps)
	require.Equal(t, []string{"sync", "rename", "sync"}, steps[end-3:])
	require.Equal(t, []string{"archive.tar", "b.tar", filepath.Base(filepath.Dir(m.Out))}, names[end-3:])
	require.Equal(t, "write", steps[end-4])

	steps, names = nil, nil
	dir := filepath.Join(t.TempDir(), "data")
	r := w.restoring(file, dir)
	r.Kind = kind
	require.NoError(t, last(Restore(ctx, r)))
	first := slices.Index(steps, "rename")
	for i, step := range steps[first : len(steps)-1] {
		require.Equal(t, "rename", step)
		name := names[first+i]
		wrote, synced := lastOf(steps, names, "write", name), lastOf(steps, names, "sync", name)
		require.Greater(t, synced, wrote, name)
		require.Positive(t, wrote, name)
	}
	require.Equal(t, "sync", steps[len(steps)-1])
	require.Equal(t, "data", names[len(names)-1])
}

func lastOf(steps, names []string, step, name string) int {
	for i := len(steps) - 1; i >= 0; i-- {
		if steps[i] == step && names[i] == name {
			return i
		}
	}
	return -1
}
