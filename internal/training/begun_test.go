package training_test

import (
	"io/fs"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// amended is the frozen library with a word of its files changed.
func amended(t *testing.T, old, with string) *scenarios.Library {
	t.Helper()
	built := os.DirFS("../../testdata/checks/station")
	names, err := fs.Glob(built, "*.*")
	require.NoError(t, err)
	set, changed := fstest.MapFS{}, false
	for _, name := range names {
		text, err := fs.ReadFile(built, name)
		require.NoError(t, err)
		if strings.HasSuffix(name, ".yaml") {
			changed = changed || strings.Contains(string(text), old)
			text = []byte(strings.ReplaceAll(string(text), old, with))
		}
		set[name] = &fstest.MapFile{Data: text}
	}
	require.True(t, changed, "nothing says %q", old)
	lib, err := scenarios.LoadFS(set)
	require.NoError(t, err)
	return lib
}

// A recording goes on by the procedure that it was begun under, and is judged by
// it, also when the program came back with another.
func TestARecordingKeepsItsProcedure(t *testing.T) {
	w := staffed(t)
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	w.Close()

	later := openWorld(t, clinictest.Options{Dir: w.Dir, Library: amended(t, "wipe-cuff,", "wipe-the-cuff,"), IDs: func() string { return "later-" + w.NewID() }})
	require.NotEqual(t, d.ProcedureHash, later.Procedure.Hash)
	lines, err := later.Observe(ctx, w.preceptor, d.ID, training.Observed{Key: w.Key(), AtMs: 10, Step: "fresh-wipe"})
	require.NoError(t, err)
	require.Equal(t, "take wipe w1 of station-wipe", lines[0].Text)
	_, err = later.Observe(ctx, w.preceptor, d.ID, training.Observed{Key: w.Key(), AtMs: 20, Step: "wipe-cuff"})
	require.NoError(t, err, "the board still has its own buttons")
	_, err = later.Observe(ctx, w.preceptor, d.ID, training.Observed{Key: w.Key(), AtMs: 30, Step: "wipe-the-cuff"})
	require.ErrorIs(t, err, training.ErrInvalid)
	ended, err := later.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, 40, "")
	require.NoError(t, err)
	require.Equal(t, d.ProcedureHash, ended.ProcedureHash)
	require.Contains(t, ended.Log, d.ProcedureHash)
	report, err := later.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}

// A workbook names what was used as it was named then.
func TestTheWorkbookNamesProductsAsTheyWere(t *testing.T) {
	w := staffed(t)
	d := w.watch(w.preceptor, w.GoodWork())
	w.Close()
	later := openWorld(t, clinictest.Options{Dir: w.Dir, Library: amended(t, "Station wipe, 2-minute label", "Another name")})
	later.Set(w.Now())
	a, err := later.Annual(ctx, w.educator, 2026)
	require.NoError(t, err)
	require.Equal(t, "Station wipe, 2-minute label", a.Products[d.ID])
	require.Equal(t, "gone-since", a.Title("gone-since"))
}
