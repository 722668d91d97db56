package store

import (
	"context"
	"fmt"

	"stillwet/internal/training"
)

// observedNowRow is a routine observation as far as it has come.
type observedNowRow struct {
	ID          string
	TraineeID   string
	PreceptorID string
	Competency  string
	Procedure   string
	StartedAt   training.Instant
	Announced   string
	Discipline  string
	Shift       string
	Stage       training.DemonstrationState
	Stopped     bool
	Prompted    bool
	Kept        int64
	ResultJSON  []byte `gorm:"column:result_json"`
}

func (r observedNowRow) observation() training.StationObservation {
	return training.StationObservation{ID: r.ID, TraineeID: r.TraineeID, PreceptorID: r.PreceptorID, Competency: r.Competency, Procedure: r.Procedure, StartedAt: r.StartedAt, Announced: r.Announced,
		Discipline: r.Discipline, Shift: r.Shift, Stage: r.Stage, Stopped: r.Stopped, Prompted: r.Prompted, Kept: r.Kept, ResultJSON: r.ResultJSON}
}

// observedColumns are what is asked of one; %s is its result, or nothing.
const observedColumns = `SELECT id, COALESCE(trainee_id, '') AS trainee_id, preceptor_id, competency, "procedure", started_at, announced, discipline, shift, stage, ` + stopped + ` AS stopped, prompted,
	COALESCE((SELECT leaf FROM demonstration_events e WHERE e.demonstration_id = demonstrations_now.id AND e.state = 'kept'), 0) AS kept%s
	FROM demonstrations_now WHERE purpose = 'routine' AND started_at >= ? AND started_at < ? ORDER BY started_at, id`

// stopped reports whether the work of a judged log was not finished.
const stopped = "instr(log, ' stopped ') > 0"

func (r reads) StationObservations(ctx context.Context, q training.ObservationQuery) ([]training.StationObservation, error) {
	result := ""
	if q.Results {
		result = ", result_json"
	}
	var rows []observedNowRow
	if err := r.q(ctx).Raw(fmt.Sprintf(observedColumns, result), q.From, q.Before).Scan(&rows).Error; err != nil {
		return nil, fmt.Errorf("read station observations: %w", err)
	}
	return turned(rows, observedNowRow.observation), nil
}

func (r reads) FirstObserved(ctx context.Context) (at training.Instant, err error) {
	if err := r.q(ctx).Raw("SELECT COALESCE(MIN(started_at), '') FROM demonstrations WHERE purpose = 'routine'").Scan(&at).Error; err != nil {
		return "", fmt.Errorf("find the first station observation: %w", err)
	}
	return at, nil
}

func (r reads) ReturnsWatched(ctx context.Context, from, before training.Instant) (n int, err error) {
	question := "SELECT COUNT(*) FROM demonstrations_now WHERE purpose = 'return' AND state = 'ended' AND stage <> 'withdrawn' AND started_at >= ? AND started_at < ?"
	if err := r.q(ctx).Raw(question, from, before).Scan(&n).Error; err != nil {
		return 0, fmt.Errorf("count return demonstrations: %w", err)
	}
	return n, nil
}

// observationTargetRow is how many observations a month are wanted since a moment; it never
// changes.
type observationTargetRow struct {
	Seq     int `gorm:"primaryKey;autoIncrement:false"`
	Monthly int
	At      training.Instant
	ByID    string
	ByName  string
	Why     string
	Leaf    int64
}

func (observationTargetRow) TableName() string { return "observation_targets" }

func (r observationTargetRow) target() training.ObservationTarget {
	return training.ObservationTarget{Seq: r.Seq, Monthly: r.Monthly, At: r.At, ByID: r.ByID, ByName: r.ByName, Why: r.Why, Leaf: r.Leaf}
}

func (r reads) ObservationTargets(ctx context.Context) ([]training.ObservationTarget, error) {
	return all(r.q(ctx).Order("seq"), "targets of a month", observationTargetRow.target)
}

// ObservationTargetsAt are those that say they are of these leaves.
func (r reads) ObservationTargetsAt(ctx context.Context, leaves []int64) ([]training.ObservationTarget, error) {
	return all(r.q(ctx).Where("leaf IN (SELECT value FROM json_each(?))", numbers(leaves)), "targets of a month", observationTargetRow.target)
}

func (u unit) AddObservationTarget(ctx context.Context, t training.ObservationTarget) error {
	return add(u.q(ctx), "target of a month", observationTargetRow{Seq: t.Seq, Monthly: t.Monthly, At: t.At, ByID: t.ByID, ByName: t.ByName, Why: t.Why, Leaf: t.Leaf})
}
