package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
)

type draftRow struct {
	ID         string `gorm:"primaryKey"`
	PersonID   string
	ScenarioID string
	Kind       simulate.Kind
	StartedAt  training.Instant
	Pace       int
	Revision   int
	Steps      []string         `gorm:"serializer:json"`
	UpdatedAt  training.Instant `gorm:"autoUpdateTime:false"`
	Seed       string
	Guided     bool
}

func (draftRow) TableName() string { return "drafts" }

func (r draftRow) draft() training.Draft {
	return training.Draft{ID: r.ID, PersonID: r.PersonID, ScenarioID: r.ScenarioID, Kind: r.Kind, StartedAt: r.StartedAt,
		Pace: r.Pace, Revision: r.Revision, Steps: r.Steps, UpdatedAt: r.UpdatedAt, Seed: r.Seed, Guided: r.Guided}
}

type tapRow struct {
	DraftID string `gorm:"primaryKey"`
	Seq     int    `gorm:"primaryKey;autoIncrement:false"`
	Step    string
	AtMs    int64
}

func (tapRow) TableName() string { return "draft_taps" }

func (r reads) Draft(ctx context.Context, id string) (training.Draft, error) {
	row, err := one[draftRow](r.q(ctx).Where("id = ?", id), "draft")
	if err != nil {
		return training.Draft{}, err
	}
	return r.withTaps(ctx, row.draft())
}

func (r reads) DraftOf(ctx context.Context, personID, scenarioID string, guided bool) (training.Draft, error) {
	row, err := one[draftRow](r.q(ctx).Where("person_id = ? AND scenario_id = ? AND guided = ?", personID, scenarioID, guided), "draft")
	if err != nil {
		return training.Draft{}, err
	}
	return r.withTaps(ctx, row.draft())
}

func (r reads) Drafts(ctx context.Context, personID string) ([]training.Draft, error) {
	return all(r.q(ctx).Omit("Steps").Where("person_id = ?", personID).Order("started_at, id"), "drafts", draftRow.draft)
}

func (r reads) withTaps(ctx context.Context, d training.Draft) (training.Draft, error) {
	if d.Kind != simulate.TimedRun {
		return d, nil
	}
	var err error
	d.Taps, err = all(r.q(ctx).Where("draft_id = ?", d.ID).Order("seq"), "taps", func(t tapRow) simulate.Tap {
		return simulate.Tap{Step: t.Step, At: action.Millis(t.AtMs)}
	})
	return d, err
}

func (u unit) AddDraft(ctx context.Context, d training.Draft) error {
	return add(u.q(ctx), "a draft of this scenario", draftRow{ID: d.ID, PersonID: d.PersonID, ScenarioID: d.ScenarioID, Kind: d.Kind,
		StartedAt: d.StartedAt, Pace: d.Pace, Revision: d.Revision, Steps: d.Steps, UpdatedAt: d.UpdatedAt, Seed: d.Seed, Guided: d.Guided})
}

func (u unit) SaveDraft(ctx context.Context, d training.Draft, was int) error {
	steps, err := json.Marshal(d.Steps)
	if err != nil {
		return fmt.Errorf("steps: %w", err)
	}
	return changed(u.q(ctx).Model(&draftRow{}).Where("id = ? AND revision = ?", d.ID, was).
		UpdateColumns(map[string]any{"revision": d.Revision, "steps": string(steps), "updated_at": d.UpdatedAt}),
		"the draft has changed since", training.ErrConflict)
}

func (u unit) AddTap(ctx context.Context, draftID string, seq int, t simulate.Tap) error {
	return add(u.q(ctx), "tap", tapRow{DraftID: draftID, Seq: seq, Step: t.Step, AtMs: int64(t.At)})
}

func (u unit) EndDraft(ctx context.Context, id string) error {
	return changed(u.q(ctx).Where("id = ?", id).Delete(&draftRow{}), "draft", training.ErrNotFound)
}

type attemptRow struct {
	ID            string `gorm:"primaryKey"`
	PersonID      string
	ScenarioID    string
	ScenarioHash  string
	Kind          simulate.Kind
	Pace          int
	StartedAt     training.Instant
	FinishedAt    training.Instant
	Log           string
	Procedure     string
	ProcedureHash string
	RulesVersion  int
	ResultJSON    []byte `gorm:"column:result_json"`
	Outcome       assess.Outcome
	Score         sql.NullFloat64 `gorm:"->"` // SQLite reads it out of the result
	Steps         []string        `gorm:"serializer:json"`
	Lines         []int           `gorm:"serializer:json"`
	Seed          string
	Guided        bool
}

func (attemptRow) TableName() string { return "attempts" }

func (r attemptRow) attempt() training.Attempt {
	return training.Attempt{ID: r.ID, PersonID: r.PersonID, ScenarioID: r.ScenarioID, ScenarioHash: r.ScenarioHash, Kind: r.Kind,
		Pace: r.Pace, StartedAt: r.StartedAt, FinishedAt: r.FinishedAt, Log: r.Log, Procedure: r.Procedure, ProcedureHash: r.ProcedureHash,
		RulesVersion: r.RulesVersion, ResultJSON: r.ResultJSON, Outcome: r.Outcome, Score: r.Score.Float64, Steps: r.Steps, Lines: r.Lines, Seed: r.Seed, Guided: r.Guided}
}

func (r reads) Attempt(ctx context.Context, id string) (training.Attempt, error) {
	row, err := one[attemptRow](r.q(ctx).Where("id = ?", id), "attempt")
	return row.attempt(), err
}

func (r reads) Attempts(ctx context.Context, personID string, guided bool, most int) ([]training.Attempt, error) {
	return all(r.q(ctx).Select("id", "person_id", "scenario_id", "finished_at", "outcome", "score", "guided").Where("person_id = ? AND guided <= ?", personID, guided).
		Order("finished_at DESC, id").Limit(most), "attempts", attemptRow.attempt)
}

func (u unit) AddAttempt(ctx context.Context, a training.Attempt) error {
	return add(u.q(ctx), "attempt", attemptRow{ID: a.ID, PersonID: a.PersonID, ScenarioID: a.ScenarioID, ScenarioHash: a.ScenarioHash,
		Kind: a.Kind, Pace: a.Pace, StartedAt: a.StartedAt, FinishedAt: a.FinishedAt, Log: a.Log, Procedure: a.Procedure,
		ProcedureHash: a.ProcedureHash, RulesVersion: a.RulesVersion, ResultJSON: a.ResultJSON, Outcome: a.Outcome, Steps: a.Steps, Lines: a.Lines, Seed: a.Seed, Guided: a.Guided})
}
