package store

import (
	"context"
	"encoding/json"
	"fmt"

	"gorm.io/gorm"

	"stillwet/internal/training"
)

// planRow is what an unmet demonstration proposed; it never changes.
type planRow struct {
	ID              string `gorm:"primaryKey"`
	PersonID        string
	Competency      string
	DemonstrationID string
	Marks           string // JSON
	Scenarios       string // JSON
}

func (planRow) TableName() string { return "plans" }

type planEventRow struct {
	PlanID string `gorm:"primaryKey"`
	Seq    int    `gorm:"primaryKey;autoIncrement:false"`
	Event  training.PlanState
	At     training.Instant
	ByID   string
	ByName string
	Why    string
	Due    training.Day
	Leaf   int64
}

func (planEventRow) TableName() string { return "plan_events" }

func (r planEventRow) event() training.PlanEvent {
	return training.PlanEvent{Seq: r.Seq, State: r.Event, At: r.At, ByID: r.ByID, ByName: r.ByName, Why: r.Why, Due: r.Due, Leaf: r.Leaf}
}

func (r reads) Plans(ctx context.Context, q training.PlanQuery) ([]training.Plan, error) {
	db := r.q(ctx)
	if q.ID != "" {
		db = db.Where("id = ?", q.ID)
	}
	if q.PersonID != "" {
		db = db.Where("person_id = ?", q.PersonID)
	}
	if q.DemonstrationID != "" {
		db = db.Where("demonstration_id = ?", q.DemonstrationID)
	}
	if q.Waiting {
		db = db.Where("NOT EXISTS (SELECT 1 FROM plan_events e WHERE e.plan_id = plans.id AND e.seq > 1)")
	}
	return r.plans(ctx, db)
}

// PlansAt are the plans of which an event says that it is of one of these leaves.
func (r reads) PlansAt(ctx context.Context, leaves []int64) ([]training.Plan, error) {
	return r.plans(ctx, r.q(ctx).Where("id IN (SELECT plan_id FROM plan_events WHERE leaf IN (SELECT value FROM json_each(?)))", numbers(leaves)))
}

func (r reads) plans(ctx context.Context, db *gorm.DB) ([]training.Plan, error) {
	var rows []planRow
	if err := db.Order("(SELECT at FROM plan_events e WHERE e.plan_id = plans.id AND e.seq = 1) DESC, id").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read plans: %w", err)
	}
	plans, ids, place := make([]training.Plan, len(rows)), make([]string, len(rows)), map[string]int{}
	for i, row := range rows {
		plans[i] = training.Plan{ID: row.ID, PersonID: row.PersonID, Competency: row.Competency, DemonstrationID: row.DemonstrationID}
		ids[i], place[row.ID] = row.ID, i
		for text, into := range map[string]any{row.Marks: &plans[i].Marks, row.Scenarios: &plans[i].Scenarios} {
			if err := json.Unmarshal([]byte(text), into); err != nil {
				return nil, fmt.Errorf("read plan %s: %w", row.ID, err)
			}
		}
	}
	if len(ids) == 0 {
		return plans, nil
	}
	err := partsOf(r.q(ctx).Where("plan_id IN (SELECT value FROM json_each(?))", list(ids)).Order("plan_id, seq"), "what became of plans", place,
		func(e planEventRow, i int) { plans[i].Events = append(plans[i].Events, e.event()) })
	return plans, err
}

func (r planEventRow) of() string { return r.PlanID }

func (u unit) AddPlan(ctx context.Context, p training.Plan) error {
	marks, err := json.Marshal(p.Marks)
	if err != nil {
		return fmt.Errorf("marks of a plan: %w", err)
	}
	scenarios, err := json.Marshal(p.Scenarios)
	if err != nil {
		return fmt.Errorf("scenarios of a plan: %w", err)
	}
	return add(u.q(ctx), "plan", planRow{ID: p.ID, PersonID: p.PersonID, Competency: p.Competency, DemonstrationID: p.DemonstrationID,
		Marks: string(marks), Scenarios: string(scenarios)})
}

func (u unit) AddPlanEvent(ctx context.Context, planID string, e training.PlanEvent) error {
	return add(u.q(ctx), "what becomes of a plan", planEventRow{PlanID: planID, Seq: e.Seq, Event: e.State, At: e.At, ByID: e.ByID, ByName: e.ByName,
		Why: e.Why, Due: e.Due, Leaf: e.Leaf})
}
