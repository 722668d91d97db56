package training_test

import (
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/ledger"
	"stillwet/internal/store"
	"stillwet/internal/training"
)

// hashed says under which field of a leaf a column that is signed by its hash
// is named.
var hashed = map[string][]string{
	"demonstration_results.log": {"log"}, "demonstration_results.result_json": {"result_sha256"}, "demonstration_results.demonstration_id": {"log"},
	"demonstration_events.demonstration_id": {"state"}, "demonstration_events.at": {"state"},
	"attempts.log": {"log_sha256"}, "attempts.result_json": {"result_sha256"}, "attempts.steps": {"played_sha256"}, "attempts.lines": {"played_sha256"},
	"attempts.scenario_id": {"scenario"}, "attempts.id": {"evidence"}, "signatures.demonstration_id": {"record"}, "demonstrations.id": {"record"},
	"observations.demonstration_id": {"lines"}, "observations.seq": {"line"}, "observations.tap_key": {"lines_sha256"}, "observations.at_ms": {"line"},
	"observations.text": {"line"}, "observations.step": {"lines_sha256"}, "observations.sent_at": {"lines_sha256"},
	"definitions.text": {"hash"}, "definitions.kind": {"procedure"}, "definitions.id": {"procedure"},
	"sign_offs.id": {"record"}, "sign_off_evidence.sign_off_id": {"demonstrations"}, "sign_off_evidence.seq": {"demonstrations"},
	"sign_off_evidence.demonstration_id": {"evidence"}, "sign_off_evidence.attempt_id": {"attempts"},
	"ledger_leaves.i": {"leaves"}, "ledger_leaves.leaf": {"hash"}, "ledger_nodes.i": {"hash"}, "ledger_nodes.hash": {"hash"},
	"ledger_heads.size": {"head"}, "ledger_heads.note": {"head"},
}

// keptTables hold what is never changed.
var keptTables = []string{"demonstrations", "demonstration_events", "demonstration_results", "attempts", "observations", "signatures", "sign_offs",
	"sign_off_evidence", "definitions", "ledger_leaves", "ledger_nodes", "ledger_heads"}

// subtle are the changes that a column's own form allows.
var subtle = map[string]string{
	"demonstration_results.prompted": "UPDATE demonstration_results SET prompted = 1 - prompted WHERE rowid = 1",
	"attempts.steps":                 `UPDATE attempts SET steps = replace(steps, '"rub-hands"', '"wash-hands"') WHERE rowid = 1`,
	"attempts.lines":                 "UPDATE attempts SET lines = '[-1]' WHERE rowid = 1",
	"signatures.meaning":             "UPDATE signatures SET meaning = 'watched-practice' WHERE meaning = 'watched-met'",
}

func TestEveryAlteredColumnIsNamed(t *testing.T) {
	w := staffed(t)
	w.signedOff()
	w.Close()
	defer w.Open()
	for _, table := range keptTables {
		for _, column := range columns(t, w.Dir, table) {
			t.Run(table+"."+column, func(t *testing.T) {
				statement := fmt.Sprintf(`UPDATE %s SET %s = CASE typeof(%[2]s)
					WHEN 'integer' THEN %[2]s + 1000 WHEN 'blob' THEN CAST(substr(%[2]s, 1, length(%[2]s) - 1) || 'x' AS BLOB)
					WHEN 'null' THEN (SELECT MIN(id) FROM attempts) ELSE %[2]s || 'x' END
					WHERE rowid = (SELECT MIN(rowid) FROM %[1]s)`, table, column)
				if s, ok := subtle[table+"."+column]; ok {
					statement = s
				}
				faults := w.tampered(t, statement)
				fields := hashed[table+"."+column]
				if fields == nil {
					fields = []string{column}
				}
				require.NotEmpty(t, faults)
				require.True(t, slices.ContainsFunc(faults, func(f training.VerifyFault) bool {
					return strings.Contains(f.Field, fields[0]) && f.Text != "" && f.Record != ""
				}), "%s not named in %v", fields[0], faults)
			})
		}
		if table != "attempts" && table != "demonstrations" { // those are held by what cites them
			t.Run(table+" row removed", func(t *testing.T) {
				require.NotEmpty(t, w.tampered(t, fmt.Sprintf("DELETE FROM %s WHERE rowid = (SELECT MAX(rowid) FROM %[1]s)", table)))
			})
		}
	}
	t.Run("two signatures swapped", func(t *testing.T) {
		require.NotEmpty(t, w.tampered(t, `UPDATE signatures SET leaf = 900 WHERE leaf = 0; UPDATE signatures SET leaf = 0 WHERE leaf = 1; UPDATE signatures SET leaf = 1 WHERE leaf = 900`))
	})
	t.Run("the last act removed whole", func(t *testing.T) {
		faults := w.tampered(t, `DELETE FROM sign_off_evidence; DELETE FROM sign_offs; DELETE FROM ledger_leaves WHERE i = 4; DELETE FROM ledger_heads WHERE size = 5;
			DELETE FROM ledger_nodes WHERE i = 7`)
		require.Empty(t, faults, "only a head kept outside shows this: that is why each workbook carries one")
	})
	t.Run("untouched", func(t *testing.T) { require.Empty(t, w.tampered(t, "SELECT 1")) })
}

// Whoever has the file but not the key can make row, leaf and every stored hash
// agree again; the signed heads still say what was signed.
func TestAForgedLedgerDoesNotFitItsHeads(t *testing.T) {
	w := staffed(t)
	o := w.signedOff()
	c, err := w.Store.LedgerContent(ctx)
	require.NoError(t, err)
	statement := "UPDATE sign_offs SET due = '2029-03-03';"
	var nodes []ledger.Hash
	read := func(indexes []int64) (out []ledger.Hash, err error) {
		for _, x := range indexes {
			out = append(out, nodes[x])
		}
		return out, nil
	}
	for _, l := range c.Leaves {
		leaf := l.Bytes
		if l.Index == o.Leaf {
			leaf = []byte(strings.Replace(string(leaf), `"due":"2027-03-03"`, `"due":"2029-03-03"`, 1))
			require.NotEqual(t, l.Bytes, leaf)
			statement += fmt.Sprintf("UPDATE ledger_leaves SET leaf = x'%x' WHERE i = %d;", leaf, l.Index)
		}
		a, err := ledger.Append(l.Index, leaf, read)
		require.NoError(t, err)
		nodes = append(nodes, a.Hashes...)
	}
	for i, h := range nodes {
		statement += fmt.Sprintf("UPDATE ledger_nodes SET hash = x'%x' WHERE i = %d;", h[:], i)
	}
	w.Close()
	defer w.Open()
	faults := w.tampered(t, statement)
	require.Len(t, faults, 1)
	require.Equal(t, "head of 5 leaves", faults[0].Field)
}

func raw(t *testing.T, dir string) *sql.DB {
	db, err := sql.Open("sqlite3", filepath.Join(dir, store.DataFile))
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	return db
}

func columns(t *testing.T, dir, table string) (names []string) {
	db := raw(t, dir)
	rows, err := db.Query("SELECT name FROM pragma_table_info(?)", table)
	require.NoError(t, err)
	for rows.Next() {
		var n string
		require.NoError(t, rows.Scan(&n))
		names = append(names, n)
	}
	require.NoError(t, rows.Err())
	require.NoError(t, db.Close())
	require.NotEmpty(t, names)
	return names
}

// tampered alters a copy of the file as somebody with the file in their hands
// could, and asks what Verify says.
func (w *world) tampered(t *testing.T, statement string) []training.VerifyFault {
	dir := t.TempDir()
	for _, name := range []string{store.DataFile, store.KeyFile} {
		text, err := os.ReadFile(filepath.Join(w.Dir, name))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), text, 0o600))
	}
	db := raw(t, dir)
	_, err := db.Exec("PRAGMA ignore_check_constraints = ON")
	require.NoError(t, err)
	rows, err := db.Query("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
	require.NoError(t, err)
	var drops []string
	for rows.Next() {
		var n string
		require.NoError(t, rows.Scan(&n))
		drops = append(drops, "DROP TRIGGER "+n)
	}
	require.NoError(t, rows.Err())
	require.GreaterOrEqual(t, len(drops), 43)
	_, err = db.Exec(strings.Join(drops, ";"))
	require.NoError(t, err)
	_, err = db.Exec(statement)
	require.NoError(t, err)
	require.NoError(t, db.Close())

	s, err := store.OpenToRead(ctx, dir)
	require.NoError(t, err)
	config := w.Config
	config.Records = s
	report, err := training.New(config).Verify(ctx)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	return report.Faults
}

func TestSignedRowsCannotBeChangedThroughTheFile(t *testing.T) {
	w := staffed(t)
	w.signedOff()
	db := raw(t, w.Dir)
	defer func() { require.NoError(t, db.Close()) }()
	for _, table := range keptTables {
		for _, column := range columns(t, w.Dir, table) {
			_, err := db.Exec(fmt.Sprintf("UPDATE %s SET %s = %[2]s", table, column))
			require.ErrorContains(t, err, map[bool]string{true: "only grows", false: "kept"}[strings.HasPrefix(table, "ledger_")], "%s.%s", table, column)
		}
		_, err := db.Exec("DELETE FROM " + table)
		require.Error(t, err, table)
	}
}
