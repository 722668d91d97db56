package training_test

import (
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/ledger"
	"stillwet/internal/store"
)

// benchRecords is how many records are verified: $RECORDS, or a few.
func benchRecords(b *testing.B) int {
	text := os.Getenv("RECORDS")
	if text == "" {
		return 5000
	}
	n, err := strconv.Atoi(text)
	require.NoError(b, err, "RECORDS")
	return n
}

// BenchmarkVerifyLeaves is the ledger alone: leaves, hashes, newest head.
func BenchmarkVerifyLeaves(b *testing.B) {
	w := openWorld(b, clinictest.Options{})
	n := benchRecords(b)
	w.Close()
	manyLeaves(b, w.Dir, n)
	w.Open()
	verified(b, w, n)
}

// BenchmarkVerifyAttempts is attempts with their rows, in both directions.
func BenchmarkVerifyAttempts(b *testing.B) {
	w := staffed(b)
	w.Build(w.trainee, "ordinary-turnover", nil)
	n := benchRecords(b)
	w.Close()
	manyAttempts(b, w.Dir, n)
	w.Open()
	from := time.Now()
	require.NoError(b, w.Begin(ctx))
	b.ReportMetric(float64(n)/time.Since(from).Seconds(), "upgraded/s")
	verified(b, w, n)
}

func verified(b *testing.B, w *world, n int) {
	b.Helper()
	var most uint64
	for b.Loop() {
		report, err := w.Verify(ctx)
		require.NoError(b, err)
		require.Empty(b, report.Faults)
		require.GreaterOrEqual(b, report.Leaves, int64(n))
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		most = max(most, m.HeapInuse)
	}
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "records/s")
	b.ReportMetric(float64(most)/(1<<20), "heap-MB")
}

// manyLeaves fills an empty ledger with confirmations of the clock.
func manyLeaves(b *testing.B, dir string, n int) {
	text, err := os.ReadFile(filepath.Join(dir, store.KeyFile))
	require.NoError(b, err)
	key, err := ledger.ParseKey(string(text))
	require.NoError(b, err)
	db := raw(b, dir)
	defer func() { require.NoError(b, db.Close()) }()
	tx, err := db.Begin()
	require.NoError(b, err)
	leaf, about, node := prepare(b, tx, "INSERT INTO ledger_leaves VALUES (?, ?)"),
		prepare(b, tx, "INSERT INTO record_leaves VALUES (?, 2, 'clock', 'clock', '2026-03-02T15:00:00.000Z', 0)"), prepare(b, tx, "INSERT INTO ledger_nodes VALUES (?, ?)")
	walk := &ledger.Walk{}
	for i := range int64(n) {
		text, err := ledger.Canonical(ledger.Fields{"version": 2, "kind": "clock", "record": "clock", "at": "2026-03-02T15:00:00.000Z",
			"people": ledger.Fields{}, "last_ledgered": fmt.Sprintf("2026-03-02T15:00:%05d", i)})
		require.NoError(b, err)
		insert(b, leaf, i, text)
		insert(b, about, i)
		first := ledger.StoredAt(i)
		for j, h := range walk.Add(text) {
			insert(b, node, first+int64(j), h[:])
		}
	}
	note, err := key.Sign(walk.Head())
	require.NoError(b, err)
	insert(b, prepare(b, tx, "INSERT INTO ledger_heads VALUES (?, ?)"), int64(n), note)
	require.NoError(b, tx.Commit())
}

func prepare(b *testing.B, tx *sql.Tx, statement string) *sql.Stmt {
	s, err := tx.Prepare(statement)
	require.NoError(b, err)
	return s
}

func insert(b *testing.B, s *sql.Stmt, values ...any) {
	if _, err := s.Exec(values...); err != nil {
		b.Fatal(err)
	}
}

// manyAttempts copies the one attempt, and takes all leaves away, as if an earlier
// version had kept them.
func manyAttempts(b *testing.B, dir string, n int) {
	db := raw(b, dir)
	defer func() { require.NoError(b, db.Close()) }()
	again := withoutTriggers(b, db)
	_, err := db.Exec(`DELETE FROM signed_people; DELETE FROM record_leaves; DELETE FROM ledger_heads; DELETE FROM ledger_nodes; DELETE FROM ledger_leaves`)
	require.NoError(b, err)
	_, err = db.Exec(fmt.Sprintf(`WITH RECURSIVE n(i) AS (SELECT 2 UNION ALL SELECT i + 1 FROM n WHERE i < %d)
		INSERT INTO attempts (id, person_id, scenario_id, kind, pace, started_at, finished_at, outcome, rules_version, procedure, procedure_hash, scenario_hash, steps, lines, log, result_json)
		SELECT printf('copy%%08d', i), person_id, scenario_id, kind, pace, started_at, finished_at, outcome, rules_version, procedure, procedure_hash, scenario_hash, steps, lines, log, result_json
		FROM attempts, n WHERE attempts.rowid = 1`, n))
	require.NoError(b, err)
	for _, text := range again {
		_, err = db.Exec(text)
		require.NoError(b, err)
	}
}
