package training_test

import (
	"crypto/rand"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/ledger"
	"stillwet/internal/store"
	"stillwet/internal/training"
)

// hashed says under which field of a leaf a column that is signed by its hash
// is named.
var hashed = map[string][]string{
	"demonstration_results.log": {"log"}, "demonstration_results.result_json": {"result_sha256"}, "demonstration_results.demonstration_id": {"log"}, "demonstration_results.event": {"event"},
	"demonstration_events.demonstration_id": {"state"}, "demonstration_events.at": {"state"},
	"attempts.log": {"log_sha256"}, "attempts.result_json": {"result_sha256"}, "attempts.steps": {"played_sha256"}, "attempts.lines": {"played_sha256"},
	"attempts.scenario_id": {"scenario"}, "attempts.id": {"evidence"}, "signatures.demonstration_id": {"record"}, "demonstrations.id": {"record"},
	"observations.demonstration_id": {"lines"}, "observations.seq": {"line"}, "observations.tap_key": {"lines_sha256"}, "observations.at_ms": {"line"},
	"observations.text": {"line"}, "observations.step": {"lines_sha256"}, "observations.sent_at": {"lines_sha256"},
	"definitions.text": {"hash"}, "definitions.kind": {"procedure"}, "definitions.id": {"procedure"},
	"sign_offs.id": {"record"}, "sign_off_evidence.sign_off_id": {"demonstrations"}, "sign_off_evidence.seq": {"demonstrations"},
	"sign_off_evidence.demonstration_id": {"evidence"}, "sign_off_evidence.attempt_id": {"attempts"},
	"record_leaves.leaf": {"leaf"}, "record_leaves.kind": {"kind"}, "record_leaves.clock_behind": {"clock"}, "record_leaves.version": {"version"},
	"signed_people.leaf": {"people"}, "signed_people.part": {"people"}, "signed_people.person_id": {"people"}, "signed_people.name": {"people"},
	"signed_people.staff_no": {"people"}, "signed_people.credential": {"people"}, "signed_people.at": {"people"},
	"people.id": {"leaf"}, "employment_spells.person_id": {"earlier"}, "employment_spells.hired": {"earlier"}, "employment_spells.left_on": {"earlier"}, "people.left_on": {"left"}, "accounts.person_id": {"leaf"}, "accounts.password_hash": {"password_sha256"},
	"entitlements.id": {"leaf"}, "entitlements.from_day": {"from"}, "entitlements.until_day": {"until"},
	"ledger_leaves.i": {"leaves"}, "ledger_leaves.leaf": {"hash"}, "ledger_nodes.i": {"hash"}, "ledger_nodes.hash": {"hash"},
	"ledger_heads.size": {"head"}, "ledger_heads.note": {"head"},
	"set_versions.number": {"version"}, "set_versions.edits": {"edits_sha256"}, "set_events.why": {"event_why"}, "set_events.version": {"record"},
	"set_follow_ups.version": {"record"}, "set_follow_ups.at": {"at"}, "set_follow_ups.changes": {"changes_sha256"}, "set_follow_ups.chosen": {"chosen_sha256"},
	"duties.version": {"duties"}, "duties.follow_up": {"duties"}, "duties.kind": {"duty"}, "duty_ends.duty_id": {"record"}, "duty_dates.duty_id": {"record"},
	"assignments.id": {"record"}, "assignments.kind": {"asked"}, "assigned.id": {"asked_of"}, "assigned.assignment_id": {"asked_of"}, "assigned.n": {"asked_of"}, "assigned.person_id": {"asked_of"}, "assigned.name": {"asked_of"}, "assigned.staff_no": {"asked_of"}, "assignment_ends.assignment_id": {"assignment_id"},
	"earlier_batches.id": {"record"}, "earlier_sign_offs.batch_id": {"lines"}, "earlier_ends.entry_id": {"record"},
	"item_versions.item_id": {"record"}, "item_entries.id": {"record"}, "item_ends.entry_id": {"record"},
	"record_ends.sign_off_id": {"record"}, "record_ends.entitlement_id": {"references"},
	"requirement_versions.competency": {"record"}, "requirement_versions.from_day": {"from"}, "absences.id": {"record"}, "absences.from_day": {"from"}, "absences.until_day": {"until"},
}

// keptTables hold what is never changed.
var keptTables = []string{"demonstrations", "demonstration_events", "demonstration_results", "attempts", "observations", "signatures", "sign_offs",
	"sign_off_evidence", "definitions", "ledger_leaves", "ledger_nodes", "ledger_heads", "record_leaves", "signed_people"}

// setTables hold versions of the clinic's set, which are never changed either.
var setTables = []string{"set_files", "set_versions", "set_version_files", "set_events"}

// ledgeredTables hold what is changed by acts that are ledgered.
var ledgeredTables = []string{"people", "employment_spells", "accounts", "entitlements"}

// notPromised are columns whose alteration nothing shows, and README says so.
var notPromised = map[string]bool{"people.added_at": true, "entitlements.granted_at": true}

// subtle are the changes that a column's own form allows.
var subtle = map[string]string{
	"demonstration_results.prompted": "UPDATE demonstration_results SET prompted = 1 - prompted WHERE rowid = 1",
	"demonstration_events.leaf":      "UPDATE demonstration_events SET leaf = leaf + 1000 WHERE leaf = (SELECT MIN(leaf) FROM demonstration_events)",
	"attempts.guided":                "UPDATE attempts SET guided = 1 - guided WHERE rowid = 1",
	"record_leaves.clock_behind":     "UPDATE record_leaves SET clock_behind = 1 WHERE leaf = 3",
	"accounts.disabled":              "UPDATE accounts SET disabled = 1 WHERE rowid = 1",
	"entitlements.may_watch":         "UPDATE entitlements SET may_watch = 0 WHERE rowid = 1",
	"entitlements.may_sign_off":      "UPDATE entitlements SET may_sign_off = 0 WHERE rowid = 1",
	"earlier_sign_offs.shown_here":   "UPDATE earlier_sign_offs SET shown_here = 1 - shown_here WHERE rowid = 1",
	"earlier_sign_offs.corrects":     "UPDATE earlier_sign_offs SET corrects = NULL WHERE corrects IS NOT NULL",
	"item_versions.everybody":        "UPDATE item_versions SET everybody = 1 - everybody",
	"item_versions.retired":          "UPDATE item_versions SET retired = 1 - retired",
	"item_entries.corrects":          "UPDATE item_entries SET corrects = NULL WHERE corrects IS NOT NULL",
	"absences.cancelled":             "UPDATE absences SET cancelled = 1",
	"attempts.steps":                 `UPDATE attempts SET steps = replace(steps, '"rub-hands"', '"wash-hands"') WHERE rowid = 1`,
	"attempts.lines":                 "UPDATE attempts SET lines = '[-1]' WHERE rowid = 1",
	"sign_offs.requirements":         "UPDATE sign_offs SET requirements = 7 WHERE rowid = 1",
	"signatures.meaning":             "UPDATE signatures SET meaning = 'watched-practice' WHERE meaning = 'watched-met'",
}

func TestEveryAlteredColumnIsNamed(t *testing.T) {
	w := staffed(t)
	_, _, err := w.AddPerson(ctx, w.In("edda"), w.Key(), training.Person{Name: "Rea Invented", Role: training.Preceptor, Also: "manager", Job: "RN, shift lead", Team: "early",
		Email: "rea@example.org", Hired: "2026-01-05", Earlier: "2019-01-07/2021-03-31"}, "rea")
	require.NoError(t, err)
	early, err := w.Store.Ledger(ctx)
	require.NoError(t, err)
	w.signedOff()
	head, err := w.Store.Ledger(ctx)
	require.NoError(t, err)
	w.Close()
	defer w.Open()
	w.everyColumnIsNamed(t, slices.Concat(keptTables, ledgeredTables))
	t.Run("two signatures swapped", func(t *testing.T) {
		require.NotEmpty(t, w.tampered(t, `UPDATE signatures SET leaf = 900 WHERE leaf = (SELECT MIN(leaf) FROM signatures);
			UPDATE signatures SET leaf = (SELECT leaf - 1 FROM record_leaves WHERE leaf > 1 AND kind = 'signature' LIMIT 1) + 1 WHERE leaf = (SELECT MAX(leaf) FROM signatures WHERE leaf < 900);
			UPDATE signatures SET leaf = (SELECT MAX(leaf) FROM record_leaves WHERE kind = 'signature') WHERE leaf = 900`))
	})
	t.Run("the last act removed whole", func(t *testing.T) {
		require.Empty(t, w.tampered(t, cutOff), "only a head kept elsewhere shows this: that is why each workbook carries one")
		faults := w.tamperedFor(t, cutOff, training.VerifyOptions{Heads: []training.GivenHead{{From: "annual.xlsx", Note: head.Note}}})
		require.Equal(t, []string{"head given"}, fieldsOf(faults))
		require.Contains(t, faults[0].Text, "annual.xlsx was signed for 29 records, and the ledger has 28: the newest 1 were cut off")
	})
	t.Run("an older file in its place", func(t *testing.T) {
		faults := w.tamperedFor(t, "SELECT 1", training.VerifyOptions{Heads: []training.GivenHead{{From: "heads", Note: early.Note}, {From: "annual.xlsx", Note: head.Note}}})
		require.Empty(t, faults, "a ledger that grew since extends both heads")
	})
	t.Run("another key", func(t *testing.T) {
		other, err := ledger.NewKey(rand.Reader, "other")
		require.NoError(t, err)
		faults := w.tamperedFor(t, "SELECT 1", training.VerifyOptions{Key: other.Public()})
		require.Contains(t, fieldsOf(faults), "key")
	})
	t.Run("untouched", func(t *testing.T) { require.Empty(t, w.tampered(t, "SELECT 1")) })
}

// everyColumnIsNamed alters each column of the tables, and takes a row away from each.
func (w *world) everyColumnIsNamed(t *testing.T, tables []string) {
	for _, table := range tables {
		for _, column := range columns(t, w.Dir, table) {
			if notPromised[table+"."+column] {
				continue
			}
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
}

func TestEveryAlteredColumnOfAnEndIsNamed(t *testing.T) {
	w := staffed(t)
	w.signedOff()
	w.educator = w.In("edda")
	w.endings()
	w.Close()
	defer w.Open()
	w.everyColumnIsNamed(t, []string{"record_ends"})
}

func TestEveryAlteredColumnOfAnEarlierSignOffIsNamed(t *testing.T) {
	w := staffed(t)
	w.earlierPutRight()
	w.Close()
	defer w.Open()
	w.everyColumnIsNamed(t, []string{"earlier_batches", "earlier_sign_offs", "earlier_ends"})
	faults := w.tampered(t, "UPDATE earlier_sign_offs SET on_day = '2020-02-02' WHERE name = 'Tess Invented'")
	require.NotEmpty(t, faults)
	for _, f := range faults {
		require.Contains(t, f.Record, "line of Tess Invented", "of a list of many, whose line it is")
	}
	t.Run("untouched", func(t *testing.T) { require.Empty(t, w.tampered(t, "SELECT 1")) })
}

func TestEveryAlteredColumnOfAnItemIsNamed(t *testing.T) {
	w := staffed(t)
	w.itemsPutRight()
	w.Close()
	defer w.Open()
	w.everyColumnIsNamed(t, []string{"item_versions", "item_entries", "item_ends"})
	t.Run("untouched", func(t *testing.T) { require.Empty(t, w.tampered(t, "SELECT 1")) })
}

func TestEveryAlteredColumnOfATargetIsNamed(t *testing.T) {
	w := staffed(t)
	_, err := w.setObservationTarget(w.Key())
	require.NoError(t, err)
	w.Close()
	defer w.Open()
	w.everyColumnIsNamed(t, []string{"observation_targets"})
	t.Run("untouched", func(t *testing.T) { require.Empty(t, w.tampered(t, "SELECT 1")) })
}

func TestEveryAlteredColumnOfASetIsNamed(t *testing.T) {
	w := withSets(t)
	v := w.proposed("Other wipe")
	_, err := w.ApproveSet(ctx, w.educator, w.Key(), w.approving(v, w.Today()), clinictest.Password, emil)
	require.NoError(t, err)
	v = w.proposed("Another wipe")
	paper := w.approving(v, w.Today())
	paper.Approval = clinictest.OnPaper
	_, err = w.ApproveSet(ctx, w.educator, w.Key(), paper, clinictest.Password, training.SecondPerson{})
	require.NoError(t, err)
	w.proposed("A third wipe")
	w.Close()
	defer w.Open()
	w.everyColumnIsNamed(t, setTables)
	for name, statement := range map[string]string{
		"a file's bytes of one length": "UPDATE set_files SET bytes = CAST(replace(bytes, 'label_s: 120', 'label_s: 600') AS BLOB) WHERE instr(bytes, 'label_s: 120')",
		"a version's file of another":  "UPDATE set_version_files SET hash = (SELECT MAX(hash) FROM set_files) WHERE version = 2 AND name = 'programme.yaml'",
		"a file and its hash": `INSERT INTO set_files VALUES ('` + strings.Repeat("a", 64) + `', x'61');
			UPDATE set_version_files SET hash = '` + strings.Repeat("a", 64) + `' WHERE version = 2 AND name = 'programme.yaml'`,
		"approved by nobody's act": `INSERT INTO set_events SELECT 4, 2, event, at, by_id, by_name, why, approval, approver_id, approver, approver_role, approved_on, approval_at,
			in_force_from, 900 FROM set_events WHERE event = 'approved' LIMIT 1`,
		"earlier in force": "UPDATE set_events SET in_force_from = '2026-01-01' WHERE event = 'approved'",
		"another approver": "UPDATE set_events SET approver = 'Mallory' WHERE approval = 'paper'",
	} {
		t.Run(name, func(t *testing.T) { require.NotEmpty(t, w.tampered(t, statement)) })
	}
	t.Run("untouched", func(t *testing.T) { require.Empty(t, w.tampered(t, "SELECT 1")) })
}

func TestEveryAlteredColumnOfRequirementsAndLeavesIsNamed(t *testing.T) {
	w := staffed(t)
	w.required(func(x *training.Terms) { x.NoticeDays = 60 })
	w.leave("2026-04-01", "2026-05-01")
	w.signedOff()
	w.Close()
	defer w.Open()
	w.everyColumnIsNamed(t, []string{"requirement_versions", "absences", "sign_offs"})
	t.Run("untouched", func(t *testing.T) { require.Empty(t, w.tampered(t, "SELECT 1")) })
}

// Whoever has the file but not the key can make row, leaf and every stored hash
// agree again; the signed heads still say what was signed.
func TestAForgedLedgerDoesNotFitItsHeads(t *testing.T) {
	w := staffed(t)
	o := w.signedOff()
	statement := "UPDATE sign_offs SET due = '2029-03-03';"
	var nodes []ledger.Hash
	walk := &ledger.Walk{}
	for l, err := range w.Store.LedgerLeaves(ctx) {
		require.NoError(t, err)
		leaf := l.Bytes
		if l.Leaf == o.Leaf {
			leaf = []byte(strings.Replace(string(leaf), `"due":"2027-03-03"`, `"due":"2029-03-03"`, 1))
			require.NotEqual(t, l.Bytes, leaf)
			statement += fmt.Sprintf("UPDATE ledger_leaves SET leaf = x'%x' WHERE i = %d;", leaf, l.Leaf)
		}
		nodes = append(nodes, walk.Add(leaf)...)
	}
	for i, h := range nodes {
		statement += fmt.Sprintf("UPDATE ledger_nodes SET hash = x'%x' WHERE i = %d;", h[:], i)
	}
	w.Close()
	defer w.Open()
	faults := w.tampered(t, statement)
	require.Len(t, faults, 1)
	require.Equal(t, fmt.Sprintf("head of %d leaves", o.Leaf+1), faults[0].Field)
}

// cutOff takes the newest leaf away with all that came with it.
const cutOff = `DELETE FROM sign_off_evidence; DELETE FROM sign_offs; DELETE FROM act_keys WHERE act = 'sign off';
	DELETE FROM signed_people WHERE leaf = (SELECT MAX(i) FROM ledger_leaves); DELETE FROM record_leaves WHERE leaf = (SELECT MAX(i) FROM ledger_leaves);
	DELETE FROM ledger_nodes WHERE i > (SELECT MAX(i) FROM ledger_nodes) - 1; DELETE FROM ledger_heads WHERE size = (SELECT MAX(size) FROM ledger_heads);
	DELETE FROM ledger_leaves WHERE i = (SELECT MAX(i) FROM ledger_leaves);`

func fieldsOf(faults []training.VerifyFault) (fields []string) {
	for _, f := range faults {
		fields = append(fields, f.Field)
	}
	return fields
}

// withoutTriggers takes the triggers away and answers what they were made of.
func withoutTriggers(t testing.TB, db *sql.DB) (again []string) {
	rows, err := db.Query("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
	require.NoError(t, err)
	var drops []string
	for rows.Next() {
		var n, text string
		require.NoError(t, rows.Scan(&n, &text))
		drops, again = append(drops, "DROP TRIGGER "+n), append(again, text)
	}
	require.NoError(t, rows.Err())
	require.GreaterOrEqual(t, len(drops), 43)
	_, err = db.Exec(strings.Join(drops, ";"))
	require.NoError(t, err)
	return again
}

func raw(t testing.TB, dir string) *sql.DB {
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
	return w.tamperedFor(t, statement, training.VerifyOptions{})
}

func (w *world) tamperedFor(t *testing.T, statement string, o training.VerifyOptions) []training.VerifyFault {
	dir := t.TempDir()
	for _, name := range []string{store.DataFile, store.KeyFile} {
		text, err := os.ReadFile(filepath.Join(w.Dir, name))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), text, 0o600))
	}
	db := raw(t, dir)
	_, err := db.Exec("PRAGMA ignore_check_constraints = ON")
	require.NoError(t, err)
	again := withoutTriggers(t, db)
	_, err = db.Exec(statement)
	require.NoError(t, err)
	for _, text := range again { // whoever alters a file leaves no trace of how
		_, err = db.Exec(text)
		require.NoError(t, err)
	}
	require.NoError(t, db.Close())

	s, err := store.OpenToRead(ctx, dir)
	require.NoError(t, err)
	config := w.Config
	config.Records = s
	report, err := training.New(config).VerifyWith(ctx, o)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	return report.Faults
}

func TestSignedRowsCannotBeChangedThroughTheFile(t *testing.T) {
	w := withSets(t)
	w.signedOff()
	w.approved(w.proposed("Other wipe"), w.Today())
	db := raw(t, w.Dir)
	defer func() { require.NoError(t, db.Close()) }()
	for _, table := range slices.Concat(keptTables, setTables) {
		for _, column := range columns(t, w.Dir, table) {
			_, err := db.Exec(fmt.Sprintf("UPDATE %s SET %s = %[2]s", table, column))
			require.ErrorContains(t, err, map[bool]string{true: "only grows", false: "kept"}[strings.HasPrefix(table, "ledger_")], "%s.%s", table, column)
		}
		_, err := db.Exec("DELETE FROM " + table)
		require.Error(t, err, table)
	}
}
