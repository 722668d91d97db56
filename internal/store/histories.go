package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"gorm.io/gorm"

	"stillwet/internal/assess"
	"stillwet/internal/training"
)

// The questions that everyone's standing follows from. Each goes from people
// and a few ids by an index to the one row that counts: what it takes does not
// grow with the work done.
const (
	// instantWidth is that of finished_at, so that moment and id make one value.
	instantWidth = 24

	// countedSQL is the first pass that is no guided practice, or when there is none the
	// first attempt of any kind after a blank; then the last pass, where modules are asked for again.
	countedSQL = `SELECT p.id, s.value, COALESCE(
		(SELECT a.finished_at || a.id FROM attempts a WHERE a.person_id = p.id AND a.scenario_id = s.value AND a.outcome = 'pass' AND a.guided = 0
			AND a.finished_at < @before ORDER BY a.finished_at, a.id LIMIT 1),
		(SELECT ' ' || a.finished_at FROM attempts a WHERE a.person_id = p.id AND a.scenario_id = s.value
			AND a.finished_at < @before ORDER BY a.finished_at LIMIT 1)) AS counted,
		CASE WHEN @again THEN (SELECT a.finished_at || a.id FROM attempts a WHERE a.person_id = p.id AND a.scenario_id = s.value AND a.outcome = 'pass' AND a.guided = 0
			AND a.finished_at < @before ORDER BY a.finished_at DESC, a.id DESC LIMIT 1) END AS last
		FROM json_each(@scenarios) s CROSS JOIN people p WHERE (@everyone OR p.id = @person) AND counted IS NOT NULL`

	// holdsSQL leaves out the sign-offs that were withdrawn by then.
	holdsSQL = `NOT EXISTS (SELECT 1 FROM record_ends x WHERE x.sign_off_id = s.id AND x.at < @before)`

	lastSQL = `SELECT o.id, o.person_id, o.competency, o.signer_id, o.signer_name, o.signed_on, o.signed_at, o.due, COALESCE(o.requirements, 0), o.leaf FROM json_each(@competencies) c CROSS JOIN people p CROSS JOIN sign_offs o ON o.id =
		(SELECT id FROM sign_offs s WHERE person_id = p.id AND competency = c.value AND signed_on <= @day AND ` + holdsSQL + ` ORDER BY signed_at DESC, leaf DESC LIMIT 1)
		WHERE (@everyone OR p.id = @person)`

	// countsSQL leaves out the earlier sign-offs that were not confirmed yet by then, or held no longer.
	countsSQL = `(SELECT b.at FROM earlier_batches b WHERE b.id = s.batch_id) < @before
		AND NOT EXISTS (SELECT 1 FROM earlier_ends x WHERE x.entry_id = s.id AND x.at < @before)
		AND NOT EXISTS (SELECT 1 FROM earlier_sign_offs n JOIN earlier_batches b ON b.id = n.batch_id WHERE n.corrects = s.id AND b.at < @before)`

	fromPaperSQL = `SELECT o.id, o.person_id, o.competency, o.signed_by, o.on_day, o.counts_at, o.due, o.requirements, o.shown_here, b.at, b.leaf
		FROM json_each(@competencies) c CROSS JOIN people p CROSS JOIN earlier_sign_offs o ON o.id =
		(SELECT id FROM earlier_sign_offs s WHERE person_id = p.id AND competency = c.value AND on_day <= @day AND ` + countsSQL + ` ORDER BY counts_at DESC, id DESC LIMIT 1)
		JOIN earlier_batches b ON b.id = o.batch_id WHERE (@everyone OR p.id = @person)`

	// sinceSQL is the moment of each one's last sign-off, "" before one.
	sinceSQL = `WITH since AS MATERIALIZED (SELECT p.id AS person_id, c.value AS competency,
		COALESCE((SELECT signed_at FROM sign_offs s WHERE person_id = p.id AND competency = c.value AND signed_on <= @day AND ` + holdsSQL + `
			ORDER BY signed_at DESC LIMIT 1), '') AS here,
		COALESCE((SELECT counts_at FROM earlier_sign_offs s WHERE person_id = p.id AND competency = c.value AND on_day <= @day AND ` + countsSQL + `
			ORDER BY counts_at DESC LIMIT 1), '') AS paper
		FROM json_each(@competencies) c CROSS JOIN people p WHERE (@everyone OR p.id = @person)) `

	cleanSQL = sinceSQL + `SELECT d.id, d.trainee_id, d.preceptor_id, d.competency, d.procedure, d.started_at,
			(SELECT n.signed_at FROM signatures n WHERE n.demonstration_id = d.id AND n.meaning = 'learner') AS learner_at,
			(SELECT n.signed_at FROM signatures n WHERE n.demonstration_id = d.id AND n.meaning = 'watched-met' AND n.signed_at < @before) AS met_at
		FROM since s CROSS JOIN demonstrations d ON d.trainee_id = s.person_id AND d.competency = s.competency
			AND d.started_at > MAX(s.here, s.paper) AND d.started_at < @before
		WHERE met_at IS NOT NULL AND learner_at IS NOT NULL
			AND NOT EXISTS (SELECT 1 FROM demonstration_events e WHERE e.demonstration_id = d.id AND e.state = 'withdrawn')
			AND (SELECT r.outcome = 'pass' AND r.prompted = 0 FROM demonstration_results r WHERE r.demonstration_id = d.id ORDER BY r.event DESC LIMIT 1)`

	// begunSQL is asked of those without a sign-off, to whom alone it matters.
	begunSQL = sinceSQL + `SELECT s.person_id, s.competency, d.started_at FROM since s CROSS JOIN demonstrations d ON d.id =
		(SELECT b.id FROM demonstrations b WHERE b.trainee_id = s.person_id AND b.competency = s.competency AND b.started_at < @before
			AND b.purpose = 'return'
			AND NOT EXISTS (SELECT 1 FROM demonstration_events e WHERE e.demonstration_id = b.id AND e.state IN ('abandoned', 'withdrawn')) LIMIT 1)
		WHERE s.here = '' AND s.paper = ''`

	// plansSQL leaves out what a later sign-off has ended, and plans of what was withdrawn.
	plansSQL = `SELECT p.person_id, p.competency, d.started_at, e.at, COALESCE(o.at, '') AS opened, COALESCE(o.due, ''),
			COALESCE((SELECT c.at FROM plan_events c WHERE c.plan_id = p.id AND c.event = 'closed' AND c.at < @before), ''), p.scenarios
		FROM plans p JOIN demonstrations d ON d.id = p.demonstration_id
		JOIN plan_events e ON e.plan_id = p.id AND e.seq = 1 AND e.at < @before
		LEFT JOIN plan_events o ON o.plan_id = p.id AND o.seq = 2 AND o.event = 'opened' AND o.at < @before
		WHERE (@everyone OR p.person_id = @person) AND p.competency IN (SELECT value FROM json_each(@competencies))
			AND NOT EXISTS (SELECT 1 FROM demonstration_events w WHERE w.demonstration_id = p.demonstration_id AND w.state = 'withdrawn')
			AND NOT EXISTS (SELECT 1 FROM sign_offs s WHERE s.person_id = p.person_id AND s.competency = p.competency AND s.signed_on <= @day AND s.signed_at >= COALESCE(o.at, e.at) AND ` + holdsSQL + `)`

	absentSQL = `SELECT a.id, a.person_id, a.from_day, a.until_day, a.at FROM absences a WHERE (@everyone OR a.person_id = @person) AND a.at < @before AND a.cancelled = 0
		AND NOT EXISTS (SELECT 1 FROM absences l WHERE l.id = a.id AND l.seq > a.seq AND l.at < @before)`

	workingSQL = `SELECT DISTINCT person_id FROM drafts WHERE (@everyone OR person_id = @person) AND started_at < @before`
)

func (r reads) Histories(ctx context.Context, q training.HistoryQuery) (map[string]*training.History, error) {
	h := histories{by: map[string]*training.History{}, scenarios: len(q.Scenarios), args: []any{
		sql.Named("everyone", q.PersonID == ""), sql.Named("person", q.PersonID), sql.Named("day", q.Day), sql.Named("before", q.Before),
		sql.Named("again", q.Again), sql.Named("scenarios", list(q.Scenarios)), sql.Named("competencies", list(q.Competencies)),
	}}
	db := r.q(ctx)
	err := errors.Join(h.read(db, countedSQL, h.counted), h.read(db, lastSQL, h.last), h.read(db, fromPaperSQL, h.earlier), h.read(db, cleanSQL, h.clean),
		h.read(db, begunSQL, h.begun), h.read(db, plansSQL, h.plan), h.read(db, absentSQL, h.absent), h.read(db, workingSQL, h.working))
	if err != nil {
		return nil, fmt.Errorf("read histories: %w", err)
	}
	return h.by, nil
}

// histories are filled row by row: the rows of a large clinic are many, and
// GORM's way with a row costs more than SQLite's.
type histories struct {
	by        map[string]*training.History
	args      []any
	scenarios int // how many are asked for
}

func (h histories) of(personID string) *training.History {
	if h.by[personID] == nil {
		h.by[personID] = &training.History{}
	}
	return h.by[personID]
}

func (h histories) read(db *gorm.DB, statement string, take func(*sql.Rows) error) error {
	return eachRow(db, statement, h.args, take)
}

// eachRow goes through the rows of a question.
func eachRow(db *gorm.DB, statement string, args []any, take func(*sql.Rows) error) (err error) {
	rows, err := db.Raw(statement, args...).Rows()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		if err := take(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (h histories) counted(rows *sql.Rows) error {
	var a training.Attempt
	var counted string
	var last sql.NullString
	if err := rows.Scan(&a.PersonID, &a.ScenarioID, &counted, &last); err != nil {
		return err
	}
	if tried, ok := strings.CutPrefix(counted, " "); ok {
		a.FinishedAt = training.Instant(tried)
	} else {
		passed(&a, counted)
	}
	of := h.of(a.PersonID)
	if of.Attempts == nil {
		of.Attempts = make([]training.Attempt, 0, h.scenarios)
	}
	of.Attempts = append(of.Attempts, a)
	if last.Valid && last.String != counted {
		passed(&a, last.String)
		of.Attempts = append(of.Attempts, a)
	}
	return nil
}

// passed fills an attempt that passed from its moment and id in one.
func passed(a *training.Attempt, at string) {
	a.ID, a.FinishedAt, a.Outcome = at[instantWidth:], training.Instant(at[:instantWidth]), assess.Pass
}

func (h histories) last(rows *sql.Rows) error {
	var o training.SignOff
	if err := rows.Scan(&o.ID, &o.PersonID, &o.Competency, &o.SignerID, &o.SignerName, (*string)(&o.On), (*string)(&o.SignedAt), (*string)(&o.Due), &o.Requirements, &o.Leaf); err != nil {
		return err
	}
	of := h.of(o.PersonID)
	of.SignOffs = append(of.SignOffs, o)
	return nil
}

func (h histories) earlier(rows *sql.Rows) error {
	var l training.EarlierLine
	if err := rows.Scan(&l.ID, &l.PersonID, &l.Competency, &l.SignedBy, (*string)(&l.On), (*string)(&l.CountsAt), (*string)(&l.Due), &l.Requirements, &l.Here,
		(*string)(&l.Batch.At), &l.Batch.Leaf); err != nil {
		return err
	}
	of := h.of(l.PersonID)
	of.SignOffs = append(of.SignOffs, l.SignOff())
	return nil
}

func (h histories) clean(rows *sql.Rows) error {
	d := training.Demonstration{State: training.Ended, Stage: training.MetStandard, Outcome: assess.Pass}
	learner, met := training.Signature{Meaning: training.LearnerDid}, training.Signature{Meaning: training.WatchedMet}
	if err := rows.Scan(&d.ID, &d.TraineeID, &d.PreceptorID, &d.Competency, &d.Procedure, (*string)(&d.StartedAt), (*string)(&learner.SignedAt), (*string)(&met.SignedAt)); err != nil {
		return err
	}
	d.Signatures = []training.Signature{learner, met}
	of := h.of(d.TraineeID)
	of.Demonstrations = append(of.Demonstrations, d)
	return nil
}

func (h histories) begun(rows *sql.Rows) error {
	var d training.Demonstration
	if err := rows.Scan(&d.TraineeID, &d.Competency, (*string)(&d.StartedAt)); err != nil {
		return err
	}
	of := h.of(d.TraineeID)
	of.Demonstrations = append(of.Demonstrations, d)
	return nil
}

func (h histories) plan(rows *sql.Rows) error {
	var p training.PlanSpan
	var scenarios string
	if err := rows.Scan(&p.PersonID, &p.Competency, (*string)(&p.Began), (*string)(&p.Proposed), (*string)(&p.Opened), (*string)(&p.Due), (*string)(&p.Closed), &scenarios); err != nil {
		return err
	}
	if err := json.Unmarshal([]byte(scenarios), &p.Scenarios); err != nil {
		return err
	}
	of := h.of(p.PersonID)
	of.Plans = append(of.Plans, p)
	return nil
}

func (h histories) absent(rows *sql.Rows) error {
	var a training.Absence
	if err := rows.Scan(&a.ID, &a.PersonID, (*string)(&a.From), (*string)(&a.Until), (*string)(&a.At)); err != nil {
		return err
	}
	of := h.of(a.PersonID)
	of.Absences = append(of.Absences, a)
	return nil
}

func (h histories) working(rows *sql.Rows) error {
	var id string
	if err := rows.Scan(&id); err != nil {
		return err
	}
	h.of(id).Working = true
	return nil
}
