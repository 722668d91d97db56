package store

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"stillwet/internal/assess"
	"stillwet/internal/training"
)

// demonstrationRow is what was begun; it never changes.
type demonstrationRow struct {
	ID            string `gorm:"primaryKey"`
	TraineeID     *string
	PreceptorID   string
	Competency    string
	Product       string
	StartedAt     training.Instant
	Procedure     string
	ProcedureHash string
	Setting       settingRow `gorm:"embedded"`
}

// settingRow is what was said of a demonstration before it began.
type settingRow struct {
	Purpose    training.Purpose
	Announced  string
	InUse      string
	Discipline string
	Shift      string
	Corrects   string
}

func settingRowOf(s training.Setting) (settingRow, error) {
	row := settingRow{Purpose: s.Purpose, Announced: s.Announced, Discipline: s.Discipline, Shift: s.Shift, Corrects: s.Corrects}
	if len(s.InUse) == 0 {
		return row, nil
	}
	text, err := json.Marshal(s.InUse)
	row.InUse = string(text)
	return row, err
}

// setting reads a row. Products that are not as this program writes them stand as they are,
// so that verify names the row.
func (r settingRow) setting() training.Setting {
	s := training.Setting{Purpose: r.Purpose, Announced: r.Announced, Discipline: r.Discipline, Shift: r.Shift, Corrects: r.Corrects}
	if r.InUse == "" {
		return s
	}
	err := json.Unmarshal([]byte(r.InUse), &s.InUse)
	if again, mErr := json.Marshal(s.InUse); err != nil || mErr != nil || string(again) != r.InUse {
		s.InUse = []training.ProductInUse{{ID: r.InUse}}
	}
	return s
}

func (demonstrationRow) TableName() string { return "demonstrations" }

// eventRow is a state that a demonstration came to.
type eventRow struct {
	DemonstrationID string `gorm:"primaryKey"`
	Seq             int    `gorm:"primaryKey;autoIncrement:false"`
	State           training.DemonstrationState
	At              training.Instant
	ByID            string
	ByName          string
	Meaning         training.Meaning
	Why             string
	Leaf            *int64
}

func (r eventRow) event() training.DemonstrationEvent {
	e := training.DemonstrationEvent{Seq: r.Seq, State: r.State, At: r.At, ByID: r.ByID, ByName: r.ByName, Meaning: r.Meaning, Why: r.Why}
	if r.Leaf != nil {
		e.Leaf = *r.Leaf
	}
	return e
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
	DemonstrationID string    `gorm:"primaryKey"`
	Event           int       `gorm:"primaryKey;autoIncrement:false"`
	Judgement       judgement `gorm:"embedded"`
}

func (r resultRow) judged() training.Judgement {
	j := r.Judgement
	return training.Judgement{Event: r.Event, Log: j.Log, Procedure: j.Procedure, ProcedureHash: j.ProcedureHash, RulesVersion: j.RulesVersion,
		ResultJSON: j.ResultJSON, Outcome: j.Outcome, Prompted: j.Prompted, Comment: j.Comment}
}

func (resultRow) TableName() string { return "demonstration_results" }

// nowRow is a demonstration as far as it has come.
type nowRow struct {
	ID          string `gorm:"primaryKey"`
	TraineeID   *string
	PreceptorID string
	Competency  string
	Product     string
	StartedAt   training.Instant
	Setting     settingRow `gorm:"embedded"`
	EndedAt     training.Instant
	State       training.DemonstrationState
	Stage       training.DemonstrationState
	Judgement   judgement `gorm:"embedded"`
}

func (nowRow) TableName() string { return "demonstrations_now" }

func (r nowRow) demonstration() training.Demonstration {
	j := r.Judgement
	trainee := ""
	if r.TraineeID != nil {
		trainee = *r.TraineeID
	}
	return training.Demonstration{ID: r.ID, TraineeID: trainee, PreceptorID: r.PreceptorID, Competency: r.Competency, Setting: r.Setting.setting(),
		Product: r.Product, StartedAt: r.StartedAt, EndedAt: r.EndedAt, State: r.State, Stage: r.Stage, Log: j.Log, Procedure: j.Procedure,
		ProcedureHash: j.ProcedureHash, RulesVersion: j.RulesVersion, ResultJSON: j.ResultJSON, Outcome: j.Outcome,
		Prompted: j.Prompted, Comment: j.Comment}
}

func (r reads) Demonstration(ctx context.Context, id string) (training.Demonstration, error) {
	row, err := one[nowRow](r.q(ctx).Where("id = ?", id), "demonstration")
	if err != nil {
		return training.Demonstration{}, err
	}
	d := row.demonstration()
	if d.Signatures, err = all(r.q(ctx).Where("demonstration_id = ?", id).Order("leaf"), "signatures", signatureRow.signature); err != nil {
		return d, err
	}
	if d.Events, err = all(r.q(ctx).Where("demonstration_id = ?", id).Order("seq"), "states of the demonstration", eventRow.event); err != nil {
		return d, err
	}
	d.Corrections, err = all(r.q(ctx).Where("demonstration_id = ?", id).Order("event, n"), "corrections", correctionRow.correction)
	return d, err
}

// bareDemonstration is what lists show.
var bareDemonstration = []string{"id", "trainee_id", "preceptor_id", "competency", "product", "started_at", "purpose", "announced", "in_use", "discipline", "shift", "corrects",
	"ended_at", "state", "stage", "outcome", "prompted", "rules_version", "procedure", "procedure_hash", "comment"}

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

// CountDemonstrations is how many Demonstrations finds.
func (r reads) CountDemonstrations(ctx context.Context, q training.DemonstrationQuery) (int, error) {
	var n int64
	if err := narrowed(r.q(ctx).Model(&nowRow{}), q).Count(&n).Error; err != nil {
		return 0, fmt.Errorf("count demonstrations: %w", err)
	}
	return int(n), nil
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

// undecided is what is still open of a demonstration that has ended. What was signed before
// outcomes were chosen has two signatures and no state of them.
const undecided = "stage IN ('ended', 'reviewed', 'refused') AND " + signaturesOf + " < 2"

// lists are the lists as conditions.
var lists = map[training.List]string{
	training.ListOpen:    "state = 'recording'",
	training.ListWaiting: undecided,
	training.ListDone:    "state = 'ended' AND stage <> 'withdrawn' AND NOT (" + undecided + ")",
}

func narrowed(db *gorm.DB, q training.DemonstrationQuery) *gorm.DB {
	db = db.Order("started_at DESC, id")
	if q.TraineeID != "" {
		db = db.Where("trainee_id = ?", q.TraineeID)
	}
	if q.PreceptorID != "" {
		db = db.Where("preceptor_id = ?", q.PreceptorID)
	}
	if q.Purpose != "" {
		db = db.Where("purpose = ?", q.Purpose)
	}
	if q.List != "" {
		db = db.Where(lists[q.List])
	}
	if q.From != "" {
		db = db.Where("started_at >= ?", q.From)
	}
	if q.Before != "" {
		db = db.Where("started_at < ?", q.Before)
	}
	if q.Corrects != "" {
		db = db.Where("corrects = ?", q.Corrects)
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
	setting, err := settingRowOf(d.Setting)
	if err != nil {
		return fmt.Errorf("products in use: %w", err)
	}
	row := demonstrationRow{ID: d.ID, PreceptorID: d.PreceptorID, Competency: d.Competency, Product: d.Product, StartedAt: d.StartedAt,
		Procedure: d.Procedure, ProcedureHash: d.ProcedureHash, Setting: setting}
	if d.TraineeID != "" {
		row.TraineeID = &d.TraineeID
	}
	if err := add(u.q(ctx), "demonstration", row); err != nil {
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
		if err := u.addResult(ctx, d, end.Seq); err != nil {
			return err
		}
	}
	return add(u.q(ctx), "state", end)
}

func (u unit) addResult(ctx context.Context, d training.Demonstration, event int) error {
	return add(u.q(ctx), "result", resultRow{DemonstrationID: d.ID, Event: event, Judgement: judgement{
		Outcome: d.Outcome, Prompted: d.Prompted, RulesVersion: d.RulesVersion, Procedure: d.Procedure,
		ProcedureHash: d.ProcedureHash, Comment: d.Comment, Log: d.Log, ResultJSON: d.ResultJSON}})
}

// correctionRow is one change of a log by an event.
type correctionRow struct {
	DemonstrationID string `gorm:"primaryKey"`
	Event           int    `gorm:"primaryKey;autoIncrement:false"`
	N               int    `gorm:"primaryKey;autoIncrement:false"`
	Struck          int
	AtMs            int64
	Step            string
	Text            string
}

func (correctionRow) TableName() string { return "demonstration_corrections" }

func (r correctionRow) correction() training.Correction {
	return training.Correction{Event: r.Event, N: r.N, Struck: r.Struck, AtMs: r.AtMs, Step: r.Step, Text: r.Text}
}

func (u unit) AddDemonstrationEvent(ctx context.Context, d training.Demonstration, e training.DemonstrationEvent, corrections []training.Correction) error {
	if e.State == training.Ended {
		if err := u.addResult(ctx, d, e.Seq); err != nil {
			return err
		}
	}
	if len(corrections) > 0 {
		rows := make([]correctionRow, len(corrections))
		for i, c := range corrections {
			rows[i] = correctionRow{DemonstrationID: d.ID, Event: c.Event, N: c.N, Struck: c.Struck, AtMs: c.AtMs, Step: c.Step, Text: c.Text}
		}
		if err := add(u.q(ctx), "correction", rows...); err != nil {
			return err
		}
	}
	return add(u.q(ctx), "state", eventRow{DemonstrationID: d.ID, Seq: e.Seq, State: e.State, At: e.At, ByID: e.ByID, ByName: e.ByName, Meaning: e.Meaning, Why: e.Why, Leaf: &e.Leaf})
}

// endingsSQL counts demonstrations by who watched and how they ended. What was signed before
// outcomes were chosen has that of its signature.
const endingsSQL = `SELECT preceptor_id, CASE WHEN stage = 'ended' THEN COALESCE((SELECT CASE meaning WHEN 'watched-met' THEN 'met' WHEN 'watched-not-met' THEN 'not met'
		ELSE 'practice' END FROM signatures n WHERE n.demonstration_id = d.id AND n.meaning <> 'learner'), stage) ELSE stage END AS state,
	outcome = 'not pass' AS failed, ` + stopped + ` AS stopped,
	EXISTS (SELECT 1 FROM demonstration_corrections c WHERE c.demonstration_id = d.id) AS corrected, COUNT(*) AS count
	FROM demonstrations_now d WHERE started_at >= ? AND started_at < ? GROUP BY 1, 2, 3, 4, 5 ORDER BY 1, 2`

func (r reads) Endings(ctx context.Context, from, before training.Instant) (all []training.Ending, err error) {
	if err := r.q(ctx).Raw(endingsSQL, from, before).Scan(&all).Error; err != nil {
		return nil, fmt.Errorf("count endings: %w", err)
	}
	return all, nil
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
	Said            string
	Leaf            int64 `gorm:"primaryKey;autoIncrement:false"`
}

func (signatureRow) TableName() string { return "signatures" }

func (r signatureRow) signature() training.Signature {
	return training.Signature{Record: r.DemonstrationID, SignerID: r.SignerID, SignerName: r.SignerName, Meaning: r.Meaning,
		SignedAt: r.SignedAt, Said: r.Said, Leaf: r.Leaf}
}

func (u unit) AddSignature(ctx context.Context, n training.Signature) error {
	return add(u.q(ctx), "this signature", signatureRow{DemonstrationID: n.Record, SignerID: n.SignerID, SignerName: n.SignerName,
		Meaning: n.Meaning, SignedAt: n.SignedAt, Said: n.Said, Leaf: n.Leaf})
}
