package store

import (
	"context"

	"gorm.io/gorm"

	"stillwet/internal/assess"
	"stillwet/internal/training"
)

type demonstrationRow struct {
	ID            string `gorm:"primaryKey"`
	TraineeID     string
	PreceptorID   string
	Competency    string
	Product       string
	StartedAt     training.Instant
	EndedAt       training.Instant
	State         training.DemonstrationState
	Log           string
	Procedure     string
	ProcedureHash string
	RulesVersion  int
	ResultJSON    []byte `gorm:"column:result_json"`
	Outcome       assess.Outcome
	Prompted      bool
	Comment       string
}

func (demonstrationRow) TableName() string { return "demonstrations" }

func (r demonstrationRow) demonstration() training.Demonstration {
	return training.Demonstration{ID: r.ID, TraineeID: r.TraineeID, PreceptorID: r.PreceptorID, Competency: r.Competency,
		Product: r.Product, StartedAt: r.StartedAt, EndedAt: r.EndedAt, State: r.State, Log: r.Log, Procedure: r.Procedure,
		ProcedureHash: r.ProcedureHash, RulesVersion: r.RulesVersion, ResultJSON: r.ResultJSON, Outcome: r.Outcome,
		Prompted: r.Prompted, Comment: r.Comment}
}

func demonstrationOf(d training.Demonstration) demonstrationRow {
	if d.ResultJSON == nil {
		d.ResultJSON = []byte{} // an empty blob, for the column is never null
	}
	return demonstrationRow{d.ID, d.TraineeID, d.PreceptorID, d.Competency, d.Product, d.StartedAt, d.EndedAt, d.State, d.Log,
		d.Procedure, d.ProcedureHash, d.RulesVersion, d.ResultJSON, d.Outcome, d.Prompted, d.Comment}
}

func (r reads) Demonstration(ctx context.Context, id string) (training.Demonstration, error) {
	row, err := one[demonstrationRow](r.q(ctx).Where("id = ?", id), "demonstration")
	if err != nil {
		return training.Demonstration{}, err
	}
	d := row.demonstration()
	d.Signatures, err = all(r.q(ctx).Where("demonstration_id = ?", id).Order("leaf"), "signatures", signatureRow.signature)
	return d, err
}

func (r reads) Demonstrations(ctx context.Context, q training.DemonstrationQuery) ([]training.Demonstration, error) {
	found, err := all(narrowed(r.q(ctx), q).Omit("Log").Order("started_at DESC, id"), "demonstrations", demonstrationRow.demonstration)
	if err != nil {
		return nil, err
	}
	ids := narrowed(r.q(ctx), q).Model(&demonstrationRow{}).Select("id")
	signatures, err := all(r.q(ctx).Where("demonstration_id IN (?)", ids).Order("leaf"), "signatures", signatureRow.signature)
	if err != nil {
		return nil, err
	}
	of := map[string][]training.Signature{}
	for _, n := range signatures {
		of[n.Record] = append(of[n.Record], n)
	}
	for i := range found {
		found[i].Signatures = of[found[i].ID]
	}
	return found, nil
}

func narrowed(db *gorm.DB, q training.DemonstrationQuery) *gorm.DB {
	if q.TraineeID != "" {
		db = db.Where("trainee_id = ?", q.TraineeID)
	}
	if q.PreceptorID != "" {
		db = db.Where("preceptor_id = ?", q.PreceptorID)
	}
	return db
}

func (u unit) AddDemonstration(ctx context.Context, d training.Demonstration) error {
	return add(u.q(ctx), "demonstration", demonstrationOf(d))
}

func (u unit) CloseDemonstration(ctx context.Context, d training.Demonstration) error {
	row := demonstrationOf(d)
	return changed(u.q(ctx).Model(&demonstrationRow{}).Where("id = ? AND state = ?", d.ID, training.Recording).
		Updates(map[string]any{
			"ended_at": row.EndedAt, "state": row.State, "log": row.Log, "procedure": row.Procedure,
			"procedure_hash": row.ProcedureHash, "rules_version": row.RulesVersion, "result_json": row.ResultJSON,
			"outcome": row.Outcome, "prompted": row.Prompted, "comment": row.Comment,
		}), "the demonstration has ended already", training.ErrConflict)
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
		rows[i] = observedRow{demonstrationID, o.Seq, o.Key, o.AtMs, o.Text, o.Step, o.SentAt}
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
	return add(u.q(ctx), "this signature",
		signatureRow{n.Record, n.SignerID, n.SignerName, n.Meaning, n.SignedAt, n.Leaf})
}
