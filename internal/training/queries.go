package training

import (
	"encoding/json"
	"fmt"

	"stillwet/internal/ledger"
)

// DemonstrationQuery narrows Demonstrations; empty fields do not.
type DemonstrationQuery struct {
	TraineeID, PreceptorID string
	Stage                  Stage
	From, Before           Instant  // of their beginning
	IDs                    []string // nil is any
	Most                   int      // the newest; 0 is all
	Results                bool     // with their results
}

// Stage is how far a demonstration has come on its way to both signatures.
type Stage string

// The stages.
const (
	StageOpen    Stage = "open"    // being recorded
	StageWaiting Stage = "waiting" // ended, not signed by both
	StageSigned  Stage = "signed"
)

// SignOffQuery narrows SignOffs; empty fields do not.
type SignOffQuery struct {
	PersonID string
	From, To Day // both included
}

// HistoryQuery asks for what standings in some competencies, with all their
// scenarios, follow from.
type HistoryQuery struct {
	PersonID                string // "" is everyone
	Competencies, Scenarios []string
	Day                     Day     // the last that counts
	Before                  Instant // its end in the clinic's zone
}

// ScenarioTries is how often a person has finished a scenario. Only Guided counts guided
// practice.
type ScenarioTries struct {
	ScenarioID          string
	Tries, Guided       int
	FirstPass, LastPass Instant // "" for none
	LastID              string  // of the newest attempt
	LastAt              Instant
}

// Passed reports whether a test was passed.
func (t *ScenarioTries) Passed() bool { return t.FirstPass != "" }

// FirstRun is the token that makes the first educator, by its hash.
type FirstRun struct {
	TokenHash string
	Until     Instant
	PersonID  string // whose new password it is for; "" makes the first educator
}

// Tries counts failed passwords of a lane since the last good one.
type Tries struct {
	Failures int
	Last     Instant
}

// ActKey is the memory of an act that was done under a client-made key.
type ActKey struct {
	PersonID, Key string
	Act           string // which act
	BodyHash      string // SHA-256 of what was asked; never of a password
	AnswerID      string
	At            Instant
}

// StoredLeaf is a leaf as it is stored, with what it is said to be of; of version 0
// when nothing says so.
type StoredLeaf struct {
	LeafAbout
	Bytes []byte
}

// StoredNode is a stored hash with its index.
type StoredNode struct {
	Index int64
	Hash  ledger.Hash
}

// StoredHead is a signed head with the size it was stored under.
type StoredHead struct {
	Size int64
	Note string
}

// WholeDemonstration is a demonstration with its signatures and recorded lines.
type WholeDemonstration struct {
	Demonstration
	Lines []Observed
}

// WholeAttempt is an attempt with the text of what was played: its steps and lines as
// JSON, which is what is signed of them.
type WholeAttempt struct {
	Attempt
	Played []byte
}

func (a Attempt) whole() (WholeAttempt, error) {
	played, err := json.Marshal([]any{a.Steps, a.Lines})
	if err != nil {
		return WholeAttempt{}, fmt.Errorf("attempt %s: %w", a.ID, err)
	}
	return WholeAttempt{a, played}, nil
}
