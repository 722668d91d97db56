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

// wholeDutyRow is a duty with who gave it, its other days as JSON, and how it ended.
type wholeDutyRow struct {
	Row        dutyRow    `gorm:"embedded"`
	End        dutyEndRow `gorm:"embedded;embeddedPrefix:end_"`
	AssignedAt training.Instant
	AssignedBy string
	InForceAt  training.Instant
	Why        string
	Dates      string
}

func (r wholeDutyRow) duty() (training.Duty, error) {
	d, e := r.Row, r.End
	duty := training.Duty{ID: d.ID, Version: d.Version, FollowUp: d.FollowUp, PersonID: d.PersonID, Name: d.Name, StaffNo: d.StaffNo, Kind: d.Kind, Of: d.Subject,
		Title: d.Title, FirstDue: d.Due, Due: d.Due, AssignedAt: r.AssignedAt, AssignedBy: r.AssignedBy, InForceAt: r.InForceAt, Why: r.Why,
		End: training.DutyEnd{Ended: e.Ended, At: e.At, ByID: e.ByID, ByName: e.ByName, Said: e.Said, Leaf: e.Leaf}}
	if err := json.Unmarshal([]byte(r.Dates), &duty.Dates); err != nil {
		return duty, fmt.Errorf("read the days of duty %s: %w", d.ID, err)
	}
	if last, _, moved := duty.Moved(); moved {
		duty.Due = last.Due
	}
	return duty, nil
}

// FollowUps are what follows from a version, or from all with 0, oldest first.
func (r reads) FollowUps(ctx context.Context, version int) ([]training.FollowUp, error) {
	return all(r.q(ctx).Where("? IN (0, version)", version).Order("version, seq"), "what follows from versions", followUpRow.followUp)
}

// Duties are those that a query asks for, by version, name and due day.
func (r reads) Duties(ctx context.Context, q training.DutyQuery) ([]training.Duty, error) {
	question := `SELECT d.*, f.at AS assigned_at, f.by_name AS assigned_by, f.in_force_at, f.why, COALESCE(e.ended, '') AS end_ended, COALESCE(e.at, '') AS end_at,
			COALESCE(e.by_id, '') AS end_by_id, COALESCE(e.by_name, '') AS end_by_name, COALESCE(e.said, '') AS end_said, COALESCE(e.leaf, 0) AS end_leaf,
			(SELECT json_group_array(json_object('seq', seq, 'due', due, 'at', at, 'by_id', by_id, 'by_name', by_name, 'why', why, 'leaf', leaf))
				FROM (SELECT * FROM duty_dates WHERE duty_id = d.id ORDER BY seq)) AS dates
		FROM duties d JOIN set_follow_ups f ON f.version = d.version AND f.seq = d.follow_up LEFT JOIN duty_ends e ON e.duty_id = d.id
		WHERE @version IN (0, d.version) AND @person IN ('', d.person_id) AND @id IN ('', d.id)
		ORDER BY d.version, d.name COLLATE NOCASE, d.person_id, d.due, d.kind, d.subject`
	var rows []wholeDutyRow
	err := r.q(ctx).Raw(question, sql.Named("version", q.Version), sql.Named("person", q.PersonID), sql.Named("id", q.ID)).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("read duties: %w", err)
	}
	duties := make([]training.Duty, len(rows))
	for i := range rows {
		if duties[i], err = rows[i].duty(); err != nil {
			return nil, err
		}
	}
	return duties, nil
}

// PassedSince are the passes of scenarios by who has a duty, of each the first and the first
// after a moment, by duty and scenario.
func (r reads) PassedSince(ctx context.Context, since map[string]training.Instant) (map[string]map[string]training.Passes, error) {
	asked, err := json.Marshal(since)
	if err != nil {
		return nil, fmt.Errorf("read passes: %w", err)
	}
	var rows []struct {
		Duty, Scenario string
		First, Since   training.Instant
	}
	err = r.q(ctx).Raw(`SELECT d.id AS duty, a.scenario_id AS scenario, MIN(a.finished_at) AS first,
			COALESCE(MIN(CASE WHEN a.finished_at > j.value THEN a.finished_at END), '') AS since FROM json_each(?) j JOIN duties d ON d.id = j.key
		JOIN attempts a ON a.person_id = d.person_id AND a.outcome = 'pass' AND NOT a.guided GROUP BY d.id, a.scenario_id`, string(asked)).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("read passes: %w", err)
	}
	of := map[string]map[string]training.Passes{}
	for _, row := range rows {
		if of[row.Duty] == nil {
			of[row.Duty] = map[string]training.Passes{}
		}
		of[row.Duty][row.Scenario] = training.Passes{First: row.First, Since: row.Since}
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
