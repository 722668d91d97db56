package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"

	"stillwet/internal/training"
)

type followUpRow struct {
	Version   int `gorm:"primaryKey;autoIncrement:false"`
	Seq       int `gorm:"primaryKey;autoIncrement:false"`
	At        training.Instant
	ByID      string
	ByName    string
	InForceAt training.Instant
	Why       string
	Changes   string
	Chosen    string
	Leaf      int64
}

func (followUpRow) TableName() string { return "set_follow_ups" }

func (r followUpRow) followUp() training.FollowUp {
	return training.FollowUp{Version: r.Version, Seq: r.Seq, At: r.At, ByID: r.ByID, ByName: r.ByName, InForceAt: r.InForceAt, Why: r.Why,
		Changes: r.Changes, Chosen: r.Chosen, Leaf: r.Leaf}
}

type dutyRow struct {
	ID       string `gorm:"primaryKey"`
	Version  int
	FollowUp int
	PersonID string
	Name     string
	StaffNo  string
	Kind     training.DutyKind
	Subject  string
	Title    string
	Due      training.Day
}

func (dutyRow) TableName() string { return "duties" }

type dutyEndRow struct {
	DutyID string `gorm:"primaryKey"`
	Ended  training.DutyEnding
	At     training.Instant
	ByID   string
	ByName string
	Said   string
	Leaf   int64
}

func (dutyEndRow) TableName() string { return "duty_ends" }

type dutyDateRow struct {
	DutyID string `gorm:"primaryKey"`
	Seq    int    `gorm:"primaryKey;autoIncrement:false"`
	Due    training.Day
	At     training.Instant
	ByID   string
	ByName string
	Why    string
	Leaf   int64
}

func (dutyDateRow) TableName() string { return "duty_dates" }

// FollowUps are what follows from a version, or from all with 0, oldest first.
func (r reads) FollowUps(ctx context.Context, version int) ([]training.FollowUp, error) {
	return all(r.q(ctx).Where("? IN (0, version)", version).Order("version, seq"), "what follows from versions", followUpRow.followUp)
}

// dutiesSQL has the other days of a duty as JSON, ” for none. What an educator asked of
// people herself is told like what follows from a version: it counts from its own moment.
const dutiesSQL = `SELECT d.id, d.version, d.follow_up, d.person_id, d.name AS name, d.staff_no, d.kind AS kind, d.subject AS subject, d.title, d.due AS due, f.at, f.by_name, f.in_force_at, f.why,
		COALESCE(e.ended, ''), COALESCE(e.at, ''), COALESCE(e.by_id, ''), COALESCE(e.by_name, ''), COALESCE(e.said, ''), COALESCE(e.leaf, 0),
		CASE WHEN EXISTS (SELECT 1 FROM duty_dates x WHERE x.duty_id = d.id) THEN
			(SELECT json_group_array(json_object('seq', seq, 'due', due, 'at', at, 'by_id', by_id, 'by_name', by_name, 'why', why, 'leaf', leaf))
				FROM (SELECT * FROM duty_dates WHERE duty_id = d.id ORDER BY seq)) ELSE '' END, '', 0, f.leaf
	FROM duties d JOIN set_follow_ups f ON f.version = d.version AND f.seq = d.follow_up LEFT JOIN duty_ends e ON e.duty_id = d.id
	WHERE @assigned = 0 AND @kind IN ('', d.kind) AND @of IN ('', d.subject) AND @version IN (0, d.version) AND @person IN ('', d.person_id) AND @id IN ('', d.id)
UNION ALL SELECT g.id, 0, 0, g.person_id, g.name, g.staff_no, a.kind, a.subject, a.title, a.due, a.at, a.by_name, a.at, a.why,
		CASE WHEN e.leaf IS NULL THEN '' ELSE 'taken back' END, COALESCE(e.at, ''), COALESCE(e.by_id, ''), COALESCE(e.by_name, ''), COALESCE(e.why, ''), COALESCE(e.leaf, 0),
		'', a.id, g.n, a.leaf
	FROM assigned g JOIN assignments a ON a.id = g.assignment_id
	LEFT JOIN assignment_ends e ON e.leaf = (SELECT MIN(leaf) FROM assignment_ends x WHERE x.assignment_id = a.id AND x.n IN (0, g.n))
	WHERE @version = 0 AND @versions = 0 AND @kind IN ('', a.kind) AND @of IN ('', a.subject) AND @assignment IN ('', a.id) AND @person IN ('', g.person_id) AND @id IN ('', g.id) AND (@before = '' OR a.due < @before AND e.leaf IS NULL)
	ORDER BY 2, name COLLATE NOCASE, 4, due, kind, subject`

// Duties are those that a query asks for, by version, name and due day. They are many, and
// read row by row.
func (r reads) Duties(ctx context.Context, q training.DutyQuery) (duties []training.Duty, err error) {
	args := []any{sql.Named("version", q.Version), sql.Named("person", q.PersonID), sql.Named("id", q.ID), sql.Named("kind", q.Kind), sql.Named("of", q.Of),
		sql.Named("assigned", q.Assigned || q.Assignment != "" || q.DueBefore != ""), sql.Named("versions", q.Versions), sql.Named("assignment", q.Assignment), sql.Named("before", q.DueBefore)}
	err = eachRow(r.q(ctx), dutiesSQL, args, func(rows *sql.Rows) error {
		d, err := wholeDuty(rows)
		duties = append(duties, d)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("read duties: %w", err)
	}
	return duties, nil
}

// wholeDuty is a row of a duty with who gave it, its other days, and how it ended.
func wholeDuty(rows *sql.Rows) (d training.Duty, err error) {
	var dates string
	err = rows.Scan(&d.ID, &d.Version, &d.FollowUp, &d.PersonID, &d.Name, &d.StaffNo, (*string)(&d.Kind), &d.Of, &d.Title, (*string)(&d.FirstDue), (*string)(&d.AssignedAt), &d.AssignedBy,
		(*string)(&d.InForceAt), &d.Why, (*string)(&d.End.Ended), (*string)(&d.End.At), &d.End.ByID, &d.End.ByName, &d.End.Said, &d.End.Leaf, &dates, &d.Assignment, &d.N, &d.Leaf)
	if err != nil || dates == "" {
		d.Due = d.FirstDue
		return d, err
	}
	if err := json.Unmarshal([]byte(dates), &d.Dates); err != nil {
		return d, fmt.Errorf("the days of duty %s: %w", d.ID, err)
	}
	d.Due = d.Dates[len(d.Dates)-1].Due
	return d, nil
}

// passedSinceSQL looks each moment up in the index of what was passed.
const passedSinceSQL = `WITH asked AS MATERIALIZED (SELECT j.value ->> 'duty' AS duty, j.value ->> 'person' AS person, j.value ->> 'since' AS since, t.value AS test
		FROM json_each(?) j JOIN json_each(j.value, '$.tests') t)
	SELECT duty, test, (SELECT MIN(finished_at) FROM attempts WHERE person_id = person AND scenario_id = test AND outcome = 'pass' AND guided = 0) AS first,
		COALESCE((SELECT MIN(finished_at) FROM attempts WHERE person_id = person AND scenario_id = test AND outcome = 'pass' AND guided = 0 AND finished_at > since), '')
	FROM asked WHERE first IS NOT NULL`

// PassedSince are the passes of scenarios by who has something to pass, of each the first and
// the first after a moment, by what they have to do and scenario.
func (r reads) PassedSince(ctx context.Context, asked []training.ToPass) (map[string]map[string]training.Passes, error) {
	text, err := json.Marshal(asked)
	if err != nil {
		return nil, fmt.Errorf("read passes: %w", err)
	}
	of := map[string]map[string]training.Passes{}
	err = eachRow(r.q(ctx), passedSinceSQL, []any{string(text)}, func(rows *sql.Rows) error {
		var duty, scenario string
		var p training.Passes
		if err := rows.Scan(&duty, &scenario, (*string)(&p.First), (*string)(&p.Since)); err != nil {
			return err
		}
		if of[duty] == nil {
			of[duty] = map[string]training.Passes{}
		}
		of[duty][scenario] = p
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("read passes: %w", err)
	}
	return of, nil
}

// AddFollowUp keeps what follows from a version with what people have to do.
func (u unit) AddFollowUp(ctx context.Context, f training.FollowUp, duties []training.Duty) error {
	row := followUpRow{f.Version, f.Seq, f.At, f.ByID, f.ByName, f.InForceAt, f.Why, f.Changes, f.Chosen, f.Leaf}
	if err := add(u.q(ctx), "what follows from this version", row); err != nil {
		return err
	}
	for _, d := range duties {
		if err := add(u.q(ctx), "this duty", dutyRow{d.ID, d.Version, d.FollowUp, d.PersonID, d.Name, d.StaffNo, d.Kind, d.Of, d.Title, d.Due}); err != nil {
			return err
		}
	}
	return nil
}

func (u unit) EndDuty(ctx context.Context, id string, e training.DutyEnd) error {
	return add(u.q(ctx), "the end of this duty", dutyEndRow{id, e.Ended, e.At, e.ByID, e.ByName, e.Said, e.Leaf})
}

func (u unit) MoveDuty(ctx context.Context, id string, x training.DutyDate) error {
	return add(u.q(ctx), "another day of this duty", dutyDateRow{id, x.Seq, x.Due, x.At, x.ByID, x.ByName, x.Why, x.Leaf})
}
