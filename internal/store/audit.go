package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"

	"gorm.io/gorm"

	"stillwet/internal/ledger"
	"stillwet/internal/training"
)

// each goes through the rows of a question one by one: the memory it takes does not
// grow with them.
func each[T any](db *gorm.DB, what string, scan func(*sql.Rows) (T, error)) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		rows, err := db.Rows()
		if err != nil {
			yield(*new(T), fmt.Errorf("read %s: %w", what, err))
			return
		}
		stopped := false
		for !stopped && rows.Next() {
			row, err := scan(rows)
			stopped = !yield(row, err) || err != nil
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil && !stopped {
			yield(*new(T), fmt.Errorf("read %s: %w", what, err))
		}
	}
}

// LedgerLeaves are all leaves in their order, each with what it is said to be of.
func (r reads) LedgerLeaves(ctx context.Context) iter.Seq2[training.StoredLeaf, error] {
	q := r.q(ctx).Raw(`SELECT l.i, l.leaf, COALESCE(a.version, 0), COALESCE(a.kind, ''), COALESCE(a.record, ''), COALESCE(a.at, ''), COALESCE(a.clock_behind, 0)
		FROM ledger_leaves l LEFT JOIN record_leaves a ON a.leaf = l.i ORDER BY l.i`)
	return each(q, "ledger leaves", func(rows *sql.Rows) (training.StoredLeaf, error) {
		var l training.StoredLeaf
		err := rows.Scan(&l.Leaf, &l.Bytes, &l.Version, &l.Kind, &l.Record, &l.At, &l.ClockBehind)
		return l, err
	})
}

// LedgerNodes are all stored hashes in their order.
func (r reads) LedgerNodes(ctx context.Context) iter.Seq2[training.StoredNode, error] {
	return each(r.q(ctx).Raw("SELECT i, hash FROM ledger_nodes ORDER BY i"), "ledger hashes", func(rows *sql.Rows) (training.StoredNode, error) {
		var n training.StoredNode
		var hash sql.RawBytes
		err := rows.Scan(&n.Index, &hash)
		if len(hash) == len(ledger.Hash{}) {
			n.Hash = ledger.Hash(hash)
		}
		return n, err
	})
}

// LedgerHeads are all signed heads by their size.
func (r reads) LedgerHeads(ctx context.Context) iter.Seq2[training.StoredHead, error] {
	return each(r.q(ctx).Raw("SELECT size, note FROM ledger_heads ORDER BY size"), "ledger heads", func(rows *sql.Rows) (training.StoredHead, error) {
		var h training.StoredHead
		err := rows.Scan(&h.Size, &h.Note)
		return h, err
	})
}

// LedgerKey is the verifier key, and the one that the data file names.
func (r reads) LedgerKey(ctx context.Context) (key, inFile string, err error) {
	inFile, _, err = signedState(ctx, r.db)
	return r.public, inFile, err
}

// SignaturesAt are the signatures that say they are of these leaves.
func (r reads) SignaturesAt(ctx context.Context, leaves []int64) ([]training.Signature, error) {
	return all(r.q(ctx).Where("leaf IN (SELECT value FROM json_each(?))", numbers(leaves)), "signatures", signatureRow.signature)
}

// SignOffsAt are the sign-offs that say they are of these leaves.
func (r reads) SignOffsAt(ctx context.Context, leaves []int64) ([]training.SignOff, error) {
	return r.signOffs(ctx, r.q(ctx).Where("sign_offs.leaf IN (SELECT value FROM json_each(?))", numbers(leaves)))
}

// NamedAt are the people named in these leaves.
func (r reads) NamedAt(ctx context.Context, leaves []int64) (map[int64][]training.Named, error) {
	rows, err := r.namedIn(ctx, leaves)
	found := map[int64][]training.Named{}
	for _, row := range rows {
		found[row.Leaf] = append(found[row.Leaf], row.named())
	}
	return found, err
}

// Accounts are all accounts, by their people.
func (r reads) Accounts(ctx context.Context) ([]training.Account, error) {
	return all(r.q(ctx).Order("person_id"), "accounts", accountRow.account)
}

// strays are questions for rows that no leaf stands behind, or that do not follow one
// another as they must. Each answers records, and what is said of them.
var strays = []struct{ question, field, text string }{
	{`SELECT 'attempt ' || id FROM attempts a WHERE NOT EXISTS (SELECT 1 FROM record_leaves l WHERE l.kind = 'attempt' AND l.record = a.id)
		AND EXISTS (SELECT 1 FROM record_leaves WHERE version > 1)`, "leaf", "It is among the finished attempts, and no leaf of the ledger is of it."},
	{`SELECT 'demonstration ' || demonstration_id FROM demonstration_results a
		WHERE NOT EXISTS (SELECT 1 FROM record_leaves l WHERE l.kind = 'demonstration' AND l.record = a.demonstration_id)
		AND EXISTS (SELECT 1 FROM record_leaves WHERE version > 1)`, "leaf", "It is among the judged demonstrations, and no leaf of the ledger is of it."},
	{`SELECT 'demonstration ' || demonstration_id FROM signatures s WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = s.leaf AND l.kind = 'signature')`, "leaf", "A signature on it says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'sign-off ' || id FROM sign_offs s WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = s.leaf AND l.kind = 'sign-off')`, "leaf", "It says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'leaf ' || leaf FROM record_leaves l WHERE NOT EXISTS (SELECT 1 FROM ledger_leaves WHERE i = l.leaf)`, "leaf", "It is said what it is of, and it is not in the ledger."},
	{`SELECT 'leaf ' || leaf FROM signed_people p WHERE NOT EXISTS (SELECT 1 FROM record_leaves l WHERE l.leaf = p.leaf)`, "people", "Somebody is named in it, and it is not in the ledger."},
	{`SELECT kind || ' ' || record FROM record_leaves WHERE kind IN ('attempt', 'demonstration', 'sign-off') GROUP BY kind, record HAVING COUNT(*) > 1`,
		"leaf", "More than one leaf is of it."},
	{`SELECT 'demonstration ' || id FROM demonstrations d WHERE NOT EXISTS (SELECT 1 FROM demonstration_events e WHERE e.demonstration_id = d.id)`,
		"states", "None of its states is there."},
	{`SELECT 'demonstration ' || d.id FROM demonstrations d JOIN demonstration_events e ON e.demonstration_id = d.id
		WHERE e.seq = (SELECT MIN(seq) FROM demonstration_events WHERE demonstration_id = d.id) AND (e.state <> 'recording' OR e.at <> d.started_at)`,
		"state", "Its first state is not the recording that was begun when it was."},
	{`SELECT 'demonstration ' || demonstration_id FROM demonstration_events GROUP BY demonstration_id HAVING COUNT(*) <> MAX(seq) OR MIN(seq) <> 1`,
		"seq", "Its states do not follow one another: one is missing or moved."},
	{`SELECT 'demonstration ' || e.demonstration_id FROM demonstration_events e WHERE (e.state = 'ended') <>
		EXISTS (SELECT 1 FROM demonstration_results r WHERE r.demonstration_id = e.demonstration_id AND r.event = e.seq)`,
		"event", "It has ended without a result, or has a result without having ended."},
	{`SELECT 'demonstration ' || e.demonstration_id FROM demonstration_events e WHERE NOT EXISTS (SELECT 1 FROM demonstrations d WHERE d.id = e.demonstration_id)`,
		"record", "It has states and was never begun."},
	{`SELECT 'demonstration ' || s.demonstration_id FROM signatures s LEFT JOIN demonstration_results r ON r.demonstration_id = s.demonstration_id
		WHERE r.demonstration_id IS NULL`, "result", "It was signed and has no result."},
	{`SELECT 'definition ' || hash FROM definitions WHERE hash || ' ' || cited_at NOT IN
		(SELECT c.hash || ' ' || COALESCE(c.at, '') FROM citations c WHERE c.at IN (SELECT cited_at FROM definitions))`,
		"cited_at", "No record of the moment at which it is said to be cited first cites it."},
	{`SELECT c.of || ' ' || MIN(c.record) FROM citations c WHERE NOT EXISTS (SELECT 1 FROM definitions d WHERE d.hash = c.hash)
		AND NOT EXISTS (SELECT 1 FROM definitions_not_kept n WHERE n.hash = c.hash AND n.kind = c.kind AND n.id = c.id) GROUP BY c.kind, c.id, c.hash`,
		"procedure_hash or scenario_hash", "The text that it cites is not kept."},
	{`SELECT c.of || ' ' || MIN(c.record) FROM citations c JOIN definitions d ON d.hash = c.hash AND (d.kind <> c.kind OR d.id <> c.id) GROUP BY c.kind, c.id, c.hash`,
		"procedure or scenario", "The text that it cites is that of something else."},
	{`SELECT 'set ' || version FROM set_events s WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = s.leaf AND l.kind = 'set')`, "leaf", "What became of it says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'set ' || version FROM set_events GROUP BY version HAVING COUNT(*) <> MAX(seq) OR MIN(seq) <> 1`,
		"seq", "What became of it does not follow one after the other: something is missing or moved."},
	{`SELECT 'set ' || number FROM set_versions v WHERE NOT EXISTS (SELECT 1 FROM set_events e WHERE e.version = v.number)`,
		"version", "It is among the versions, and nobody made it."},
	{`SELECT 'set ' || version FROM set_events e WHERE NOT EXISTS (SELECT 1 FROM set_versions v WHERE v.number = e.version)`,
		"version", "Something became of it, and it is not among the versions."},
	{`SELECT 'set file ' || hash FROM set_files f WHERE NOT EXISTS (SELECT 1 FROM set_version_files v WHERE v.hash = f.hash)`,
		"version", "It is kept, and no version has it."},
	{`SELECT 'follow-up ' || version || '/' || seq FROM set_follow_ups f WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = f.leaf AND l.kind = 'follow-up')`, "leaf", "It says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'duty ' || id FROM duties d WHERE NOT EXISTS (SELECT 1 FROM set_follow_ups f WHERE f.version = d.version AND f.seq = d.follow_up)`,
		"follow_up", "It is among the duties, and nobody gave it."},
	{`SELECT 'duty ' || duty_id FROM duty_ends e WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = e.leaf AND l.kind = 'duty')`, "leaf", "Its end says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'duty ' || duty_id FROM duty_dates x WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = x.leaf AND l.kind = 'duty')`, "leaf", "Another day of it says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'duty ' || duty_id FROM duty_dates GROUP BY duty_id HAVING COUNT(*) <> MAX(seq) OR MIN(seq) <> 1`,
		"seq", "Its days do not follow one after the other: something is missing or moved."},
	{`SELECT 'duty ' || duty_id FROM duty_dates x WHERE NOT EXISTS (SELECT 1 FROM duties d WHERE d.id = x.duty_id)`,
		"duty_id", "It has another day, and is not among the duties."},
	{`SELECT 'demonstration ' || demonstration_id FROM demonstration_events e WHERE e.seq > 2 AND NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = e.leaf AND l.kind = 'review')`, "leaf", "What became of it says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'demonstration ' || demonstration_id FROM demonstration_events WHERE seq <= 2 AND (by_id <> '' OR by_name <> '' OR meaning <> '' OR why <> '' OR leaf IS NOT NULL)`,
		"by_id by_name meaning why leaf", "Its recording says who, why or of which leaf it is, which no recording does."},
	{`SELECT 'demonstration ' || demonstration_id FROM demonstration_corrections c WHERE NOT EXISTS
		(SELECT 1 FROM demonstration_events e WHERE e.demonstration_id = c.demonstration_id AND e.seq = c.event AND e.state = 'ended')`,
		"event", "A correction of it is of no event that judged it."},
	{`SELECT 'plan ' || plan_id FROM plan_events e WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = e.leaf AND l.kind = 'plan')`, "leaf", "What became of it says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'plan ' || id FROM plans p WHERE NOT EXISTS (SELECT 1 FROM plan_events e WHERE e.plan_id = p.id AND e.seq = 1)`,
		"seq", "It is among the plans, and nobody proposed it."},
	{`SELECT 'plan ' || plan_id FROM plan_events e WHERE NOT EXISTS (SELECT 1 FROM plans p WHERE p.id = e.plan_id)`, "plan_id", "Something became of it, and it is not among the plans."},
	{`SELECT CASE WHEN sign_off_id IS NULL THEN 'entitlement ' || entitlement_id ELSE 'sign-off ' || sign_off_id END FROM record_ends e WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = e.leaf AND l.kind = 'end')`, "leaf", "Its end says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'item ' || item_id FROM item_versions v WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = v.leaf AND l.kind = 'item')`, "leaf", "A version of it says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'item ' || item_id FROM item_versions GROUP BY item_id HAVING COUNT(*) <> MAX(seq) OR MIN(seq) <> 1`,
		"seq", "Its versions do not follow one another: one is missing or moved."},
	{`SELECT 'item-entry ' || id FROM item_entries e WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = e.leaf AND l.kind = 'item-entry')`, "leaf", "It says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'item-entry ' || entry_id FROM item_ends e WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = e.leaf AND l.kind = 'end')`, "leaf", "Its end says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'requirement ' || competency || '/' || number FROM requirement_versions v WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = v.leaf AND l.kind = 'requirement')`, "leaf", "It says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'requirement ' || competency FROM requirement_versions GROUP BY competency HAVING COUNT(*) <> MAX(number) OR MIN(number) <> 1`,
		"number", "Its versions do not follow one after the other: something is missing or moved."},
	{`SELECT 'absence ' || id FROM absences a WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = a.leaf AND l.kind = 'absence')`, "leaf", "It says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'absence ' || id FROM absences GROUP BY id HAVING COUNT(*) <> MAX(seq) OR MIN(seq) <> 1`,
		"seq", "What became of it does not follow one after the other: something is missing or moved."},
	{`SELECT 'earlier ' || id FROM earlier_batches e WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = e.leaf AND l.kind = 'earlier')`, "leaf", "It says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'earlier sign-off ' || id FROM earlier_sign_offs e WHERE NOT EXISTS (SELECT 1 FROM earlier_batches b WHERE b.id = e.batch_id)`,
		"batch_id", "It is among the earlier sign-offs, and nobody confirmed it."},
	{`SELECT 'earlier ' || entry_id FROM earlier_ends e WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = e.leaf AND l.kind = 'end')`, "leaf", "Its end says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'assignment ' || id FROM assignments a WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = a.leaf AND l.kind = 'assignment')`, "leaf", "It says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'assignment ' || assignment_id FROM assignment_ends e WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = e.leaf AND l.kind = 'assignment')`, "leaf", "What was taken back of it says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'assigned ' || id FROM assigned g WHERE NOT EXISTS (SELECT 1 FROM assignments a WHERE a.id = g.assignment_id)`,
		"assignment_id", "It is among what was asked of people, and nobody asked it."},
	{`SELECT 'assignment ' || assignment_id FROM assignment_ends e WHERE NOT EXISTS (SELECT 1 FROM assignments a WHERE a.id = e.assignment_id)`,
		"assignment_id", "Something was taken back of it, and it is not among what was asked."},
	{`SELECT 'observation-target ' || seq FROM observation_targets t WHERE NOT EXISTS
		(SELECT 1 FROM record_leaves l WHERE l.leaf = t.leaf AND l.kind = 'observation-target')`, "leaf", "It says it is of a leaf that is of something else, or is not there."},
	{`SELECT 'observation-target ' || MAX(seq) FROM observation_targets HAVING COUNT(*) <> COALESCE(MAX(seq), 0)`,
		"seq", "The targets of a month do not follow one after the other: one is missing or moved."},
	{`SELECT 'act key ' || key FROM act_keys k WHERE k.person_id NOT IN ('first-run', 'owner-link') AND NOT EXISTS (SELECT 1 FROM people p WHERE p.id = k.person_id)`,
		"person_id", "It is the key of an act of nobody who is known."},
}

// mostStrays is how many of one kind are named.
const mostStrays = 20

// Strays names rows that no leaf stands behind, and what else does not fit together.
func (r reads) Strays(ctx context.Context) (faults []training.VerifyFault, err error) {
	for _, q := range strays {
		records, err := r.ids(ctx, q.question+fmt.Sprintf(" LIMIT %d", mostStrays))
		if err != nil {
			return nil, err
		}
		for _, record := range records {
			faults = append(faults, training.VerifyFault{Record: record, Field: q.field, Text: q.text})
		}
	}
	return faults, nil
}

// Soundness names what SQLite itself finds wrong with the file, and what of its
// tables, indexes and triggers is not as this program made them.
func (r reads) Soundness(ctx context.Context) (faults []training.VerifyFault, err error) {
	damage, err := r.ids(ctx, "PRAGMA integrity_check(20)")
	if err != nil {
		return nil, err
	}
	for _, d := range damage {
		if d == "ok" {
			continue
		}
		faults = append(faults, training.VerifyFault{Record: "data file", Field: "integrity", Text: "SQLite finds it damaged: " + d + "."})
	}
	dangling, err := r.ids(ctx, `SELECT "table" || ' refers to ' || parent FROM pragma_foreign_key_check GROUP BY 1 LIMIT 20`)
	if err != nil {
		return nil, err
	}
	for _, d := range dangling {
		faults = append(faults, training.VerifyFault{Record: "data file", Field: "references", Text: "A row of " + d + " and what it refers to is not there."})
	}
	schema, err := r.schemaFaults(ctx)
	return append(faults, schema...), err
}

// wordTables hold the words on which triggers and references rest.
var wordTables = []string{"roles", "practice_kinds", "outcomes", "demonstration_states", "demonstration_moves", "watching_purposes", "plan_event_kinds", "meanings", "definition_kinds", "leaf_kinds", "set_origins", "set_event_kinds", "duty_kinds"}

// wordsIn are the rows of the word tables as texts.
func wordsIn(ctx context.Context, db *gorm.DB) (map[string]string, error) {
	words := map[string]string{}
	for _, table := range wordTables {
		var columns []string
		if err := db.WithContext(ctx).Raw("SELECT 'quote(' || name || ')' FROM pragma_table_info(?) ORDER BY cid", table).Scan(&columns).Error; err != nil {
			return nil, err
		}
		var rows []string
		question := fmt.Sprintf("SELECT %s FROM %s ORDER BY 1", strings.Join(columns, " || ',' || "), table)
		if err := db.WithContext(ctx).Raw(question).Scan(&rows).Error; err != nil {
			return nil, err
		}
		words["words of "+table] = strings.Join(rows, "; ")
	}
	return words, nil
}

// madeBySQL is what the file was made of: the text of each table, index, trigger and
// view.
func madeBySQL(ctx context.Context, db *gorm.DB) (map[string]string, error) {
	var rows []struct{ Type, Name, SQL string }
	err := db.WithContext(ctx).Raw("SELECT type, name, COALESCE(sql, '') AS sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%'").Scan(&rows).Error
	made := map[string]string{}
	for _, row := range rows {
		made[row.Type+" "+row.Name] = strings.Join(strings.Fields(row.SQL), " ")
	}
	return made, err
}

// made is what the file was made of, with the words in it.
func made(ctx context.Context, db *gorm.DB) (map[string]string, error) {
	schema, err := madeBySQL(ctx, db)
	if err != nil {
		return nil, err
	}
	words, err := wordsIn(ctx, db)
	maps.Copy(schema, words)
	return schema, err
}

// schemaFaults compares the file with one that is made anew.
func (r reads) schemaFaults(ctx context.Context) (faults []training.VerifyFault, err error) {
	fresh, err := connectIn("file:?mode=memory", 1)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, closePool(fresh)) }()
	if err := migrate(ctx, fresh); err != nil {
		return nil, err
	}
	wants, err := made(ctx, fresh)
	if err != nil {
		return nil, err
	}
	has, err := made(ctx, r.db)
	if err != nil {
		return nil, err
	}
	names := map[string]bool{}
	for name := range wants {
		names[name] = true
	}
	for name := range has {
		names[name] = true
	}
	for _, name := range slices.Sorted(maps.Keys(names)) {
		if wants[name] != has[name] {
			faults = append(faults, training.VerifyFault{Record: "data file", Field: name, Text: schemaText(wants[name], has[name])})
		}
	}
	return faults, nil
}

func schemaText(wants, has string) string {
	switch {
	case has == "":
		return "It is missing: what it guards against may have happened."
	case wants == "":
		return "It is not of this program."
	}
	return "It is not as this program made it."
}

func closePool(db *gorm.DB) error {
	pool, err := db.DB()
	if err != nil {
		return err
	}
	return pool.Close()
}
