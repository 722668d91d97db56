package training

import "stillwet/internal/ledger"

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

// ScenarioTries is how often a person has finished a scenario.
type ScenarioTries struct {
	ScenarioID string
	Tries      int
	Passed     bool
}

// FirstRun is the token that makes the first educator, by its hash.
type FirstRun struct {
	TokenHash string
	Until     Instant
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

// LedgerContent is the stored leaves and hashes by their indexes.
type LedgerContent struct {
	Leaves []StoredLeaf // in their order
	Nodes  map[int64]ledger.Hash
	Heads  []StoredHead // by their size
	Key    string       // the verifier key
}

// StoredHead is a signed head with the size it was stored under.
type StoredHead struct {
	Size int64
	Note string
}

// StoredState is a state that a demonstration came to, with its place among
// that demonstration's states. Judged: a result names it as the one it is of.
type StoredState struct {
	Demonstration string
	Seq           int
	State         DemonstrationState
	At            Instant
	Judged        bool
}

// StoredLeaf is a leaf with the index it was stored under.
type StoredLeaf struct {
	Index int64
	Bytes []byte
}
