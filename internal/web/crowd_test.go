package web

import (
	"bytes"
	"context"
	"crypto/rand"
	"database/sql"
	"fmt"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/store"
	"stillwet/internal/training"
)

// resultSize is what the result of a full turnover takes.
const resultSize = 15_000

// crowd is a clinic with many people, each with a year of work behind them.
type crowd struct {
	*clinic
	attempt, demo, recording, duty, plan, item, entry, paper, asked string
}

// crowded fills a clinic by SQL, past the services, which would take hours. The
// rows are copies of real ones: only ids, people and times differ.
func crowded(t testing.TB, people, attempts int) *crowd {
	c := &crowd{clinic: staffed(t)}
	c.attempt = c.buildAttempt(c.trainee)
	c.demo = c.watchShort(c.trainee)
	r, err := c.StartDemonstration(context.Background(), c.preceptor.actor, rand.Text(), c.trainee.id(), turnover, "station-wipe")
	require.NoError(t, err)
	c.recording = r.ID
	unmet := c.watchShort(c.otherLearner)
	d, err := c.Demonstration(context.Background(), c.preceptor.actor, unmet)
	require.NoError(t, err)
	c.SignBoth(c.preceptor.actor, d, "theo", training.WatchedNotMet)
	plans, err := c.Store.Plans(context.Background(), training.PlanQuery{})
	require.NoError(t, err)
	c.plan = plans[0].ID
	c.item, c.entry = c.itemEntry(c.trainee)
	c.paper = c.aPaper(c.trainee)
	c.asked = c.assigned(c.trainee, c.otherLearner)
	c.keepsObservation(training.Setting{Announced: "no", Discipline: "nurse", Shift: "Early"}, "", c.GoodWork()[:1])
	db, err := sql.Open("sqlite3", filepath.Join(c.Dir, store.DataFile)+"?_busy_timeout=5000&_foreign_keys=on&_recursive_triggers=on&_synchronous=OFF&_cache_size=-200000")
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	defer func() { require.NoError(t, db.Close()) }()
	for _, sc := range c.Library.Scenarios() {
		_, err := db.Exec("INSERT INTO definitions (hash, kind, id, cited_at, text) VALUES (?, 'scenario', ?, '2026-01-01T09:00:00.000Z', ?) ON CONFLICT DO NOTHING", sc.Hash, sc.ID, sc.Text)
		require.NoError(t, err)
	}
	a, err := c.Attempt(context.Background(), c.trainee.actor, c.attempt)
	require.NoError(t, err)
	d, err = c.Demonstration(context.Background(), c.preceptor.actor, c.demo)
	require.NoError(t, err)
	args := []any{sql.Named("people", people), sql.Named("attempts", attempts), sql.Named("pia", c.preceptor.id()), sql.Named("edda", c.educator.id()), sql.Named("tess", c.trainee.id()),
		sql.Named("attempt", c.attempt), sql.Named("demo", c.demo), sql.Named("competency", turnover),
		sql.Named("aresult", padded(a.ResultJSON)), sql.Named("dresult", padded(d.ResultJSON))}
	tx, err := db.Begin()
	require.NoError(t, err)
	for _, statement := range crowdSQL {
		_, err := tx.Exec(statement, args...)
		require.NoError(t, err, statement)
	}
	require.NoError(t, tx.Commit())
	c.giveDuties(db)
	c.duty = "read-" + c.trainee.id()
	_, err = db.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
	require.NoError(t, err)
	return c
}

// padded is a result brought to the size of a full one by blanks at its end.
func padded(json []byte) []byte {
	return append(bytes.Clone(json), bytes.Repeat([]byte(" "), max(0, resultSize-len(json)))...)
}

const moment = `strftime('%%Y-%%m-%%dT%%H:%%M:%%S.000Z', '2025-03-03 09:00:00', (%s) || ' minutes')`

// crowdSQL makes people 1 to :people, each with :attempts attempts at the three
// scenarios, six demonstrations and two sign-offs, but some without.
var crowdSQL = []string{
	`CREATE TEMP TABLE crowd AS WITH RECURSIVE n(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM n WHERE n < :people)
		SELECT n, printf('crowd-%05d', n) AS id FROM n`,
	`INSERT INTO people (id, name, staff_no, role, hired, left_on, added_at)
		SELECT id, printf('Invented Person %05d', (n * 7919) % 100003), printf('S%05d', n), CASE WHEN n % 50 = 0 THEN 'preceptor' ELSE 'trainee' END,
			'2024-01-01', '', '2024-01-01T09:00:00.000Z' FROM crowd`,
	"INSERT INTO crowd (n, id) VALUES (:people + 2, :tess)",
	`INSERT INTO accounts (person_id, username, password_hash, first_until, disabled) SELECT id, id, 'x', '', n % 40 = 3 FROM crowd WHERE id <> :tess`,
	`CREATE TEMP TABLE tries AS WITH RECURSIVE k(k) AS (SELECT 0 UNION ALL SELECT k + 1 FROM k WHERE k < :attempts - 1) SELECT k FROM k`,
	`CREATE TEMP TABLE scenarios_there AS SELECT ROW_NUMBER() OVER () - 1 AS place, id, hash FROM definitions WHERE kind = 'scenario'`,
	`INSERT INTO attempts (id, person_id, scenario_id, scenario_hash, kind, pace, started_at, finished_at, log, procedure, procedure_hash,
			rules_version, result_json, outcome, steps, lines)
		SELECT printf('%s-a%04d', c.id, k), c.id, s.id, s.hash, a.kind, a.pace, ` + fmt.Sprintf(moment, "4000 * k + c.n") + `, ` + fmt.Sprintf(moment, "4000 * k + c.n + 10") + `,
			a.log, a.procedure, a.procedure_hash, a.rules_version, :aresult,
			CASE WHEN (k + n) % 5 = 0 AND (n % 7 > 1 OR k % 3 > 0) THEN 'pass' ELSE 'not pass' END, a.steps, a.lines
		FROM crowd c CROSS JOIN tries JOIN attempts a ON a.id = :attempt
		JOIN scenarios_there s ON s.place = k % 3`,
	`CREATE TEMP TABLE shown AS SELECT c.n, c.id, k, printf('%s-d%d', c.id, k) AS demo, ` + fmt.Sprintf(moment, "80000 * k + 13 * c.n") + ` AS at,
			CASE n % 10 WHEN 0 THEN :pia ELSE :edda END AS preceptor
		FROM crowd c CROSS JOIN (SELECT k FROM tries WHERE k < 6) WHERE n % 11 > 0`,
	`INSERT INTO demonstrations (id, trainee_id, preceptor_id, competency, product, started_at, procedure, procedure_hash)
		SELECT demo, s.id, preceptor, :competency, d.product, at, d.procedure, d.procedure_hash FROM shown s JOIN demonstrations d ON d.id = :demo`,
	`INSERT INTO demonstration_events (demonstration_id, seq, state, at) SELECT demo, 1, 'recording', at FROM shown`,
	`INSERT INTO demonstration_results (demonstration_id, event, outcome, prompted, rules_version, procedure, procedure_hash, comment, log, result_json)
		SELECT demo, 2, CASE WHEN k % 3 = 2 THEN 'not pass' ELSE 'pass' END, 0, r.rules_version, r.procedure, r.procedure_hash, '', r.log, :dresult
		FROM shown JOIN demonstration_results r ON r.demonstration_id = :demo`,
	`INSERT INTO demonstration_events (demonstration_id, seq, state, at) SELECT demo, 2, 'ended', at FROM shown`,
	`INSERT INTO ledger_leaves (i, leaf) SELECT 1000 + rowid * 5 + j, x'01' FROM shown CROSS JOIN (SELECT 0 AS j UNION SELECT 1 UNION SELECT 2 UNION SELECT 3 UNION SELECT 4)`,
	`INSERT INTO record_leaves (leaf, version, kind, record, at, clock_behind) SELECT 1000 + rowid * 5 + j, 2, 'review', demo, at, 0
		FROM shown CROSS JOIN (SELECT 3 AS j UNION SELECT 4)`,
	`INSERT INTO demonstration_events (demonstration_id, seq, state, at, by_id, by_name, meaning, leaf)
		SELECT demo, 3, 'reviewed', at, preceptor, 'Invented', CASE WHEN k % 3 = 2 THEN 'watched-not-met' ELSE 'watched-met' END, 1003 + rowid * 5 FROM shown WHERE NOT (k = 5 AND n % 4 = 0)`,
	`INSERT INTO signatures (demonstration_id, signer_id, signer_name, meaning, signed_at, leaf)
		SELECT demo, id, 'Invented', 'learner', at, 1000 + rowid * 5 FROM shown WHERE NOT (k = 5 AND n % 4 = 0)`,
	`INSERT INTO signatures (demonstration_id, signer_id, signer_name, meaning, signed_at, leaf)
		SELECT demo, preceptor, 'Invented', CASE WHEN k % 3 = 2 THEN 'watched-not-met' ELSE 'watched-met' END, at, 1001 + rowid * 5
		FROM shown WHERE NOT (k = 5 AND n % 4 < 2)`,
	`INSERT INTO demonstration_events (demonstration_id, seq, state, at, by_id, by_name, meaning, leaf)
		SELECT demo, 4, CASE WHEN k % 3 = 2 THEN 'not met' ELSE 'met' END, at, preceptor, 'Invented', CASE WHEN k % 3 = 2 THEN 'watched-not-met' ELSE 'watched-met' END, 1004 + rowid * 5
		FROM shown WHERE NOT (k = 5 AND n % 4 < 2)`,
	`INSERT INTO sign_offs (id, person_id, competency, signer_id, signer_name, signed_on, signed_at, due, leaf)
		SELECT printf('%s-s', demo), id, :competency, :edda, 'Edda Invented', substr(at, 1, 10), at, date(at, '+' || (6 + n % 9) || ' months'), 1002 + rowid * 5
		FROM shown WHERE k IN (1, 3) AND n % 3 > 0`,
	`INSERT INTO sign_off_evidence (sign_off_id, seq, demonstration_id) SELECT printf('%s-s', demo), 1, demo FROM shown WHERE k IN (1, 3) AND n % 3 > 0`,
}

func (c *crowd) pages() map[string]func() answer {
	get := func(b *browser, path string) func() answer { return func() answer { return b.get(path) } }
	return map[string]func() answer{
		"people":     get(c.educator, "/people"),
		"watch":      get(c.preceptor, "/watch"),
		"start":      get(c.preceptor, "/watch/new"),
		"practice":   get(c.trainee, "/practice"),
		"module":     get(c.trainee, "/course/first"),
		"read":       get(c.trainee, "/procedures/between-patients"),
		"set":        get(c.educator, "/set"),
		"duty":       get(c.trainee, "/duties/"+c.duty),
		"lesson":     get(c.trainee, "/course/first/read-hands"),
		"record":     get(c.educator, "/people/crowd-00002"),
		"new person": get(c.educator, "/people/new"),
		"edit":       get(c.educator, "/people/crowd-00002/edit"),
		"attempt":    get(c.educator, "/attempts/"+c.attempt),
		"review":     get(c.preceptor, "/demonstrations/"+c.demo),
		"play":       get(c.preceptor, "/demonstrations/"+c.demo+"/play"),
		"correct":    get(c.preceptor, "/demonstrations/"+c.demo+"/correct?act=1"),
		"endings":    get(c.educator, "/watch/endings"),
		"plan":       get(c.educator, "/plans/"+c.plan),
		"recorder":   get(c.preceptor, "/demonstrations/"+c.recording+"/pack"),
		"changes":    get(c.educator, "/changes"),
		"links":      get(c.educator, "/people/links"),
		"earlier":    get(c.educator, "/earlier"),
		"new paper":  get(c.educator, "/people/crowd-00002/earlier"),
		"paper":      get(c.educator, "/earlier-entries/"+c.paper),
		"items":      get(c.educator, "/items"),
		"item":       get(c.educator, "/items/"+c.item),
		"item entry": get(c.educator, "/item-entries/"+c.entry),
		"waits":      get(c.educator, "/people/waits"),
		"ask":        get(c.educator, "/people/ask"),
		"asked":      get(c.educator, "/assignments"),
		"asked one":  get(c.educator, "/assignments/"+c.asked),
		"today":      get(c.educator, "/today"),
		"observed":   get(c.educator, "/observations"),
		"needs":      get(c.educator, "/requirements"),
		"require":    get(c.educator, "/requirements/"+turnover),
	}
}

// The server's time for each page, with a small and with a large clinic.
func BenchmarkPages(b *testing.B) {
	for _, people := range []int{60, 1000} {
		c := crowded(b, people, 100)
		for _, name := range []string{"people", "watch", "start", "practice", "lesson", "record", "attempt", "review", "recorder"} {
			page := c.pages()[name]
			b.Run(fmt.Sprintf("%s of %d people", name, people), func(b *testing.B) {
				require.Equal(b, 200, page().StatusCode)
				for b.Loop() {
					page()
				}
				b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N), "ms/page")
			})
		}
	}
}
