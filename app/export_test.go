package main

import (
	"database/sql"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/store"
)

// A workbook of records that do not verify is written with a warning and another status.
func TestAWorkbookOfAlteredRecordsWarns(t *testing.T) {
	dir := servedFixture(t, "schema-7")
	book := filepath.Join(t.TempDir(), "annual.xlsx")
	code, out, errs := stillwet(t, "export", "annual", "--data", dir, "--year", "2026", "--out", book)
	require.Equal(t, 0, code, out+errs)
	require.NotContains(t, errs, "WARNING")
	code, out, errs = stillwet(t, "verify", "--data", dir, "--workbook", book)
	require.Equal(t, 0, code, out+errs)
	alter(t, dir, "UPDATE people SET name = 'Somebody Else' WHERE role = 'trainee'")
	code, _, errs = stillwet(t, "export", "annual", "--data", dir, "--year", "2026", "--out", filepath.Join(t.TempDir(), "b.xlsx"))
	require.Equal(t, exitFindings, code)
	require.Contains(t, errs, "do not hand it on")
	code, out, _ = stillwet(t, "verify", "--data", dir, "--workbook", book)
	require.Equal(t, exitFindings, code)
	require.Contains(t, out, "Somebody Else")
	require.Contains(t, out, "annual.xlsx: Status")
}

// servedFixture is a copy of a kept data folder, as a server of this version leaves it.
func servedFixture(t *testing.T, name string) string {
	dir := t.TempDir()
	for _, file := range []string{store.DataFile, store.KeyFile} {
		text, err := os.ReadFile(filepath.Join(upgrades, name, file))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, file), text, 0o600))
	}
	c, err := (&folderFlags{Data: dir, Zone: "America/Chicago"}).open(t.Context(), store.Open)
	require.NoError(t, err)
	require.NoError(t, c.service.Begin(t.Context()))
	require.NoError(t, c.close())
	return dir
}

// alter changes the data file as somebody with the file in their hands could.
func alter(t *testing.T, dir, statement string) {
	db, err := sql.Open("sqlite3", filepath.Join(dir, store.DataFile))
	require.NoError(t, err)
	_, err = db.Exec(statement)
	require.NoError(t, err)
	require.NoError(t, db.Close())
}
