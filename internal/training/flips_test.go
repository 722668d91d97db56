package training_test

import (
	"database/sql"
	"fmt"
	"math/rand/v2"
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

// One bit of each byte of a thousand leaves: the tree shows each. A root that did not
// change would be a collision of SHA-256.
func TestEveryFlippedBitOfALeafChangesTheRoot(t *testing.T) {
	leaves := make([][]byte, 1000)
	for i := range leaves {
		leaves[i] = fmt.Appendf(nil, `{"at":"2026-03-02T15:00:00.000Z","kind":"clock","record":"clock %d"}`, i)
	}
	root := func(change int, byteNo, bit int) ledger.Head {
		walk := &ledger.Walk{}
		for i, l := range leaves {
			if i == change {
				l = slices.Clone(l)
				l[byteNo] ^= 1 << bit
			}
			walk.Add(l)
		}
		return walk.Head()
	}
	whole := root(-1, 0, 0)
	dice := rand.New(rand.NewPCG(8, 8))
	flips := 0
	for i := 0; i < len(leaves); i += 97 {
		for b := range leaves[i] {
			require.NotEqual(t, whole, root(i, b, dice.IntN(8)))
			flips++
		}
	}
	t.Logf("%d of %d flips of a leaf's bytes change the root", flips, flips)
}

// promised are the tables whose every column is signed or ledgered, with what is not.
var promised = slices.Concat(keptTables, ledgeredTables)

// What a flipped bit of the file does is named, or it does nothing to any record.
func TestAFlippedBitOfTheFileIsNamedOrHarmless(t *testing.T) {
	w := staffed(t)
	w.signedOff()
	w.Close()
	defer w.Open()
	text, err := os.ReadFile(filepath.Join(w.Dir, store.DataFile))
	require.NoError(t, err)
	key, err := os.ReadFile(filepath.Join(w.Dir, store.KeyFile))
	require.NoError(t, err)
	was := promisedRows(t, w.Dir)
	seed := uint64(rounds(t))
	dice := rand.New(rand.NewPCG(seed, 4))
	named, harmless := 0, 0
	for range 6 * rounds(t) {
		dir := t.TempDir()
		at, bit := dice.IntN(len(text)), dice.IntN(8)
		flipped := slices.Clone(text)
		flipped[at] ^= 1 << bit
		require.NoError(t, os.WriteFile(filepath.Join(dir, store.DataFile), flipped, 0o600))
		require.NoError(t, os.WriteFile(filepath.Join(dir, store.KeyFile), key, 0o600))
		if w.names(t, dir) {
			named++
			continue
		}
		require.Equal(t, was, promisedRows(t, dir), "bit %d of byte %d changed a record and nothing was said", bit, at)
		harmless++
	}
	t.Logf("%d flips: %d named, %d touched no record", named+harmless, named, harmless)
}

// names reports whether anything is said about a data folder: by a fault, or because it
// cannot be read.
func (w *world) names(t *testing.T, dir string) bool {
	s, err := store.OpenToRead(ctx, dir)
	if err != nil {
		return true
	}
	defer func() { require.NoError(t, s.Close()) }()
	config := w.Config
	config.Records = s
	report, err := training.New(config).VerifyWith(ctx, training.VerifyOptions{AllHeads: true}) // the signature of an older head is looked at only then
	return err != nil || len(report.Faults) > 0
}

// promisedRows is the text of all rows of the promised tables.
func promisedRows(t *testing.T, dir string) string {
	db := raw(t, dir)
	defer func() { require.NoError(t, db.Close()) }()
	var b strings.Builder
	for _, table := range promised {
		var shown []string
		for _, c := range columnsOf(t, db, table) {
			if !notPromised[table+"."+c] {
				shown = append(shown, "quote("+c+")")
			}
		}
		rows, err := db.Query(fmt.Sprintf("SELECT %s FROM %s ORDER BY rowid", strings.Join(shown, " || ',' || "), table))
		require.NoError(t, err)
		for rows.Next() {
			var text string
			require.NoError(t, rows.Scan(&text))
			fmt.Fprintln(&b, table, text)
		}
		require.NoError(t, rows.Err())
		require.NoError(t, rows.Close())
	}
	return b.String()
}

func columnsOf(t *testing.T, db *sql.DB, table string) (names []string) {
	rows, err := db.Query("SELECT name FROM pragma_table_info(?)", table)
	require.NoError(t, err)
	defer func() { require.NoError(t, rows.Close()) }()
	for rows.Next() {
		var n string
		require.NoError(t, rows.Scan(&n))
		names = append(names, n)
	}
	require.NoError(t, rows.Err())
	return names
}

// Bits of single fields of single records, each put back before the next.
func TestAFlippedBitOfARecordIsNamed(t *testing.T) {
	w := staffed(t)
	w.signedOff()
	w.Close()
	defer w.Open()
	dice := rand.New(rand.NewPCG(uint64(rounds(t)), 5))
	flips := 0
	for _, table := range promised {
		for _, column := range columns(t, w.Dir, table) {
			if notPromised[table+"."+column] {
				continue
			}
			for range max(1, rounds(t)/20) {
				statement := w.flip(t, dice, table, column)
				if statement == "" {
					continue
				}
				flips++
				require.NotEmpty(t, w.tamperedFor(t, statement, training.VerifyOptions{AllHeads: true}), statement)
			}
		}
	}
	t.Logf("%d of %d flips of a record's bits named", flips, flips)
}

// flip is the statement that flips one bit of a column of some row: "" when it is empty
// there or no text.
func (w *world) flip(t *testing.T, dice *rand.Rand, table, column string) string {
	db := raw(t, w.Dir)
	defer func() { require.NoError(t, db.Close()) }()
	var rowid int64
	var value []byte
	var kind string
	err := db.QueryRow(fmt.Sprintf("SELECT rowid, CAST(%s AS BLOB), typeof(%[1]s) FROM %s WHERE typeof(%[1]s) IN ('text', 'blob') AND length(%[1]s) > 0 ORDER BY rowid LIMIT 1 OFFSET ?",
		column, table), dice.IntN(20)).Scan(&rowid, &value, &kind)
	if err != nil { // fewer rows than that
		err = db.QueryRow(fmt.Sprintf("SELECT rowid, CAST(%s AS BLOB), typeof(%[1]s) FROM %s WHERE typeof(%[1]s) IN ('text', 'blob') AND length(%[1]s) > 0 LIMIT 1", column, table)).Scan(&rowid, &value, &kind)
	}
	if err != nil {
		return ""
	}
	value[dice.IntN(len(value))] ^= 1 << dice.IntN(7) // a text stays ASCII
	return fmt.Sprintf("UPDATE %s SET %s = CAST(x'%x' AS %s) WHERE rowid = %d", table, column, value, strings.ToUpper(kind), rowid)
}
