package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const upgrades = "../../testdata/upgrades"

// fixture is a copy of a data folder as an earlier program left it.
func fixture(t testing.TB, version string) string {
	dir := t.TempDir()
	for _, name := range []string{DataFile, KeyFile} {
		text, err := os.ReadFile(filepath.Join(upgrades, version, name))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), text, 0o600))
	}
	return dir
}

func rawFile(t testing.TB, dir string) *sql.DB {
	db, err := sql.Open("sqlite3", filepath.Join(dir, DataFile))
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	return db
}

// stateOf says which schema a file has and whether its parts are there.
func stateOf(t testing.TB, dir string) string {
	db := rawFile(t, dir)
	defer func() { require.NoError(t, db.Close()) }()
	var version, lines int
	var whole string
	require.NoError(t, db.QueryRow("SELECT MAX(version_id) FROM goose_db_version WHERE is_applied").Scan(&version))
	require.NoError(t, db.QueryRow("PRAGMA integrity_check").Scan(&whole))
	require.NoError(t, db.QueryRow("SELECT (SELECT COUNT(*) FROM attempts) + (SELECT COUNT(*) FROM demonstrations) + (SELECT COUNT(*) FROM observations) + (SELECT COUNT(*) FROM signatures)").Scan(&lines))
	if whole == "ok" && lines == 4+6+301+6 {
		whole = "whole"
	}
	return fmt.Sprintf("schema %d, %s", version, whole)
}

const childDir = "STILLWET_TEST_UPGRADE_DIR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(signDir); dir != "" {
		if err := signing(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if dir := os.Getenv(childDir); dir != "" {
		if _, err := Open(context.Background(), dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
		os.Exit(1)
	}
	os.Exit(m.Run())
}

func latest(t testing.TB) string {
	s := open(t, t.TempDir())
	p, err := provider(s.w)
	require.NoError(t, err)
	return fmt.Sprintf("schema %d, whole", p.ListSources()[len(p.ListSources())-1].Version)
}

// Each step of an upgrade is one transaction: whenever the program dies, the
// file has a schema that some program knows, with every row.
func TestKilledWhileUpgradingTheFileIsWhole(t *testing.T) {
	luck := rand.Uint64()
	t.Logf("luck %d", luck)
	dice := rand.New(rand.NewPCG(luck, 0))
	last := latest(t)
	for range 12 {
		dir := fixture(t, "schema-2")
		child := exec.Command(os.Args[0])
		child.Env = append(os.Environ(), childDir+"="+dir)
		child.Stderr = os.Stderr
		require.NoError(t, child.Start())
		timer := time.AfterFunc(time.Duration(dice.IntN(80))*time.Millisecond, func() { _ = child.Process.Kill() })
		require.Error(t, child.Wait(), "it was killed, or went away without closing")
		timer.Stop()
		require.Regexp(t, `^schema \d+, whole$`, stateOf(t, dir))
		s, err := Open(context.Background(), dir)
		require.NoError(t, err)
		require.NoError(t, s.Close())
		require.Equal(t, last, stateOf(t, dir))
	}
}

// The program of schema 2 kept no procedure. The one it shipped is known here;
// any other is listed as not kept, and nothing stands in for it.
func TestWhatAnEarlierProgramCitedIsKeptOrListed(t *testing.T) {
	ctx, dir := context.Background(), fixture(t, "schema-2")
	raw := rawFile(t, dir)
	lost := strings.Repeat("f", 64)
	_, err := raw.Exec("DROP TRIGGER attempts_kept; UPDATE attempts SET procedure_hash = ? WHERE rowid = 1", lost)
	require.NoError(t, err)
	_, err = raw.Exec("CREATE TRIGGER attempts_kept BEFORE UPDATE ON attempts BEGIN SELECT 1; END")
	require.NoError(t, err)
	require.NoError(t, raw.Close())
	s := open(t, dir)
	text, err := os.ReadFile(filepath.Join(upgrades, "schema-2", "between-patients.procedure.json"))
	require.NoError(t, err)
	kept, err := s.Definitions(ctx)
	require.NoError(t, err)
	require.Len(t, kept, 1)
	require.Equal(t, string(text), string(kept[0].Text))
	require.Equal(t, fmt.Sprintf("%x", sha256.Sum256(text)), kept[0].Hash)
	var listed []string
	require.NoError(t, s.r.Raw("SELECT hash FROM definitions_not_kept WHERE kind <> 'scenario'").Scan(&listed).Error)
	require.Equal(t, []string{lost}, listed)
	faults, err := s.Strays(ctx)
	require.NoError(t, err)
	require.Empty(t, faults)
}
