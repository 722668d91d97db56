package backup

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/store"
)

// head is the clinic's newest head, as a file that somebody kept.
func (w *world) head(before string) string {
	w.T.Helper()
	h, err := w.Store.Ledger(ctx)
	require.NoError(w.T, err)
	name := filepath.Join(w.T.TempDir(), "head")
	require.NoError(w.T, os.WriteFile(name, []byte(before+h.Note), 0o600))
	return name
}

func TestAHeadKeptElsewhereTellsOfAnOlderBackup(t *testing.T) {
	w := newWorld(t)
	w.signed()
	same := w.head("")
	old := w.backup()
	w.signed()
	w.signed()
	newer := w.head("stillwet/cut off\n12\n")
	dir := filepath.Join(t.TempDir(), "data")
	r := w.restoring(old, dir)
	r.Heads = []string{same, newer}
	_, err := Restore(ctx, r)
	require.ErrorContains(t, err, "is older than the head in "+newer)
	require.ErrorContains(t, err, "10 signed records are missing")
	require.ErrorContains(t, err, "--older")
	require.NoDirExists(t, dir)
	r.Older = true
	back, err := Restore(ctx, r)
	require.NoError(t, err)
	require.EqualValues(t, 10, back.Missing)

	text, err := os.ReadFile(same)
	require.NoError(t, err)
	copied := filepath.Join(t.TempDir(), "copied") // out of a workbook
	require.NoError(t, os.WriteFile(copied, bytes.TrimSpace(text), 0o600))
	r = w.restoring(w.backup(), filepath.Join(t.TempDir(), "data"))
	r.Heads = []string{same, newer, copied}
	back, err = Restore(ctx, r)
	require.NoError(t, err)
	require.Zero(t, back.Missing)
}

func TestAHeadThatDoesNotFitStopsARestore(t *testing.T) {
	w, other := newWorld(t), newWorld(t)
	w.signed()
	other.signed()
	key, err := os.ReadFile(filepath.Join(w.Dir, store.KeyFile))
	require.NoError(t, err)
	forged := newWorldWithKey(t, key) // the same key has signed other records
	forged.Pass(1e9)
	forged.signed()
	for name, c := range map[string]struct{ head, says string }{
		"another clinic": {other.head(""), "of another clinic"},
		"another ledger": {forged.head(""), "the ledger was rewritten"},
		"no head":        {filepath.Join(w.Dir, "clinic.json"), "holds no signed head"},
		"no file":        {filepath.Join(w.Dir, "missing"), "no such file"},
	} {
		dir := filepath.Join(t.TempDir(), "data")
		r := w.restoring(w.backup(), dir)
		r.Heads, r.Older = []string{c.head}, true
		require.ErrorContains(t, last(Restore(ctx, r)), c.says, name)
		require.NoDirExists(t, dir, name)
	}
}
