package store

import (
	"context"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"stillwet/internal/assess"
	"stillwet/internal/training"
)

// demonstrationRow is what was begun; it never changes.
type demonstrationRow struct {
	ID            string `gorm:"primaryKey"`
	TraineeID     string
	PreceptorID   string
	Competency    string
	Product       string
	StartedAt     training.Instant
	Procedure     string
	ProcedureHash string
}

func (demonstrationRow) TableName() string { return "demonstrations" }

// eventRow is a state that a demonstration came to.
type eventRow struct {
	DemonstrationID string `gorm:"primaryKey"`
	Seq             int    `gorm:"primaryKey;autoIncrement:false"`
	State           training.DemonstrationState
	At              training.Instant
}

func (eventRow) TableName() string { return "demonstration_events" }

// judgement is what a demonstration was judged to be, and by what.
type judgement struct {
	Outcome       assess.Outcome
	Prompted      bool
	RulesVersion  int
	Procedure     string
	ProcedureHash string
	Comment       string
	Log           string
	ResultJSON    []byte `gorm:"column:result_json"`
}

// resultRow is a demonstration's result, with the event that ended it.
type resultRow struct {
	DemonstrationID string `gorm:"primaryKey"`
	Event           int
	Judgement       judgement `gorm:"embedded"`
}

func (resultRow) TableName() string { return "demonstration_results" }

// nowRow is a demonstration as far as it has come.
type nowRow struct {
	ID          string `gorm:"primaryKey"`
	TraineeID   string
	PreceptorID string
	Competency  string
	Product     string
	StartedAt   training.Instant
	EndedAt     training.Instant
	State       training.DemonstrationState
	Judgement   judgement `gorm:"embedded"`
}

func (nowRow) TableName() string { return "demonstrations_now" }

func (r nowRow) demonstration() training.Demonstration {
	j := r.Judgement
	return training.Demonstration{ID: r.ID, TraineeID: r.TraineeID, PreceptorID: r.PreceptorID, Competency: r.Competency,
		Product: r.Product, StartedAt: r.StartedAt, EndedAt: r.EndedAt, State: r.State, Log: j.Log, Procedure: j.Procedure,
		ProcedureHash: j.ProcedureHash, RulesVersion: j.RulesVersion, ResultJSON: j.ResultJSON, Outcome: j.Outcome,
		Prompted: j.Prompted, Comment: j.Comment}
}

func (r reads) Demonstration(ctx context.Context, id string) (training.Demonstration, error) {
	row, err := one[nowRow](r.q(ctx).Where("id = ?", id), "demonstration")
	if err != nil {
		return training.Demonstration{}, err
	}
	d := row.demonstration()
	d.Signatures, err = all(r.q(ctx).Where("demonstration_id = ?", id).Order("leaf"), "signatures", signatureRow.signature)
	return d, err
}

// bareDemonstration is what lists show.
var bareDemonstration = []string{"id", "trainee_id", "preceptor_id", "competency", "product", "started_at", "ended_at", "state", "outcome",
	"prompted", "rules_version", "procedure", "procedure_hash", "comment"}

func (r reads) Demonstrations(ctx context.Context, q training.DemonstrationQuery) ([]training.Demonstration, error) {
	columns := bareDemonstration
	if q.Results {
		columns = append(slices.Clone(columns), "result_json")
	}
	found, err := all(narrowed(r.q(ctx), q).Select(columns), "demonstrations", nowRow.demonstration)
	if err != nil {
		return nil, err
	}
	ids := make([]string, len(found))
	for i, d := range found {
		ids[i] = d.ID
	}
	signatures, err := all(r.q(ctx).Where("demonstration_id IN (SELECT value FROM json_each(?))", list(ids)).Order("leaf"), "signatures", signatureRow.signature)
	return withSignatures(found, signatures), err
}

// withSignatures puts each signature to its demonstration.
func withSignatures(found []training.Demonstration, signatures []training.Signature) []training.Demonstration {
	of := map[string][]training.Signature{}
	for _, n := range signatures {
		of[n.Record] = append(of[n.Record], n)
	}
	for i := range found {
		found[i].Signatures = of[found[i].ID]
	}
	return found
}

const signaturesOf = "(SELECT COUNT(*) FROM signatures n WHERE n.demonstration_id = demonstrations_now.id)"

// stages are the stages as conditions.
var stages = map[training.Stage]string{
	training.StageOpen:    "state = 'recording'",
	training.StageWaiting: "state = 'ended' AND " + signaturesOf + " < 2",
	training.StageSigned:  "state = 'ended' AND " + signaturesOf + " >= 2",
}

func narrowed(db *gorm.DB, q training.DemonstrationQuery) *gorm.DB {
	db = db.Order("started_at DESC, id")
	if q.TraineeID != "" {
		db = db.Where("trainee_id = ?", q.TraineeID)
	}
	if q.PreceptorID != "" {
		db = db.Where("preceptor_id = ?", q.PreceptorID)
	}
	if q.Stage != "" {
		db = db.Where(stages[q.Stage])
	}
	if q.From != "" {
		db = db.Where("started_at >= ?", q.From)
	}
	if q.Before != "" {
		db = db.Where("started_at < ?", q.Before)
	}
	if q.IDs != nil {
		db = db.Where("id IN (SELECT value FROM json_each(?))", list(q.IDs))
	}
	if q.Most > 0 {
		db = db.Limit(q.Most)
	}
	return db
}

func (u unit) AddDemonstration(ctx context.Context, d training.Demonstration) error {
	if err := add(u.q(ctx), "demonstration", demonstrationRow{ID: d.ID, TraineeID: d.TraineeID, PreceptorID: d.PreceptorID,
		Competency: d.Competency, Product: d.Product, StartedAt: d.StartedAt, Procedure: d.Procedure, ProcedureHash: d.ProcedureHash}); err != nil {
		return err
	}
	return add(u.q(ctx), "state", eventRow{DemonstrationID: d.ID, Seq: 1, State: d.State, At: d.StartedAt})
}

func (u unit) CloseDemonstration(ctx context.Context, d training.Demonstration) error {
	last, err := one[eventRow](u.q(ctx).Where("demonstration_id = ?", d.ID).Order("seq DESC"), "state of the demonstration")
	if err != nil {
		return err
	}
	if last.State != training.Recording {
		return fmt.Errorf("the demonstration has ended already: %w", training.ErrConflict)
	}
	end := eventRow{DemonstrationID: d.ID, Seq: last.Seq + 1, State: d.State, At: d.EndedAt}
	if d.State == training.Ended { // the result first: the file takes no end without it
		if err := add(u.q(ctx), "result", resultRow{DemonstrationID: d.ID, Event: end.Seq, Judgement: judgement{
			Outcome: d.Outcome, Prompted: d.Prompted, RulesVersion: d.RulesVersion, Procedure: d.Procedure,
			ProcedureHash: d.ProcedureHash, Comment: d.Comment, Log: d.Log, ResultJSON: d.ResultJSON}}); err != nil {
			return err
		}
	}
	return add(u.q(ctx), "state", end)
}

type observedRow struct {
	DemonstrationID string `gorm:"primaryKey"`
	Seq             int    `gorm:"primaryKey;autoIncrement:false"`
	TapKey          string
	AtMs            int64
	Text            string
	Step            string
	SentAt          training.Instant
}

func (observedRow) TableName() string { return "observations" }

func (r observedRow) observed() training.Observed {
	return training.Observed{Key: r.TapKey, Seq: r.Seq, AtMs: r.AtMs, Text: r.Text, Step: r.Step, SentAt: r.SentAt}
}

func (r reads) Observations(ctx context.Context, demonstrationID string) ([]training.Observed, error) {
	return all(r.q(ctx).Where("demonstration_id = ?", demonstrationID).Order("seq"), "recorded lines",
		observedRow.observed)
}

func (u unit) AddObserved(ctx context.Context, demonstrationID string, lines []training.Observed) error {
	rows := make([]observedRow, len(lines))
	for i, o := range lines {
		rows[i] = observedRow{DemonstrationID: demonstrationID, Seq: o.Seq, TapKey: o.Key, AtMs: o.AtMs, Text: o.Text, Step: o.Step, SentAt: o.SentAt}
	}
	return add(u.q(ctx), "recorded line", rows...)
}

type signatureRow struct {
	DemonstrationID string
	SignerID        string
	SignerName      string
	Meaning         training.Meaning
	SignedAt        training.Instant
	Leaf            int64 `gorm:"primaryKey;autoIncrement:false"`
}

func (signatureRow) TableName() string { return "signatures" }

func (r signatureRow) signature() training.Signature {
	return training.Signature{Record: r.DemonstrationID, SignerID: r.SignerID, SignerName: r.SignerName, Meaning: r.Meaning,
		SignedAt: r.SignedAt, Leaf: r.Leaf}
}

func (u unit) AddSignature(ctx context.Context, n training.Signature) error {
	return add(u.q(ctx), "this signature", signatureRow{DemonstrationID: n.Record, SignerID: n.SignerID, SignerName: n.SignerName,
		Meaning: n.Meaning, SignedAt: n.SignedAt, Leaf: n.Leaf})
}
