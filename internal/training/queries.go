package training

import (
	"encoding/json"
	"fmt"

	"stillwet/internal/assess"
	"stillwet/internal/ledger"
)

// DemonstrationQuery narrows Demonstrations; empty fields do not.
type DemonstrationQuery struct {
	TraineeID, PreceptorID string
	Purpose                Purpose
	List                   List
	From, Before           Instant  // of their beginning
	IDs                    []string // nil is any
	Corrects               string   // id of the one that they stand for
	Most                   int      // the newest; 0 is all
	Results                bool     // with their results
}

// List is one of those that a watcher has of demonstrations.
type List string

// The lists.
const (
	ListOpen    List = "open"    // being recorded
	ListWaiting List = "waiting" // ended, the outcome open
	ListDone    List = "done"    // the outcome is signed, or an observation is kept
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
	Again                   bool    // modules are asked for again: also the last passes
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
	MadeBy    string // name of the educator who made it; "" for the owner of the folder
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

// LeafQuery asks for leaves of some kinds, the newest first; empty fields do not narrow it.
type LeafQuery struct {
	Kinds        []LeafKind
	Name         string // a part of the name of somebody who is named in it
	Record       string // id
	From, Before Instant
	Under        int64 // only leaves with a smaller number; 0 for all
	Most         int
}

// LeafPair is a leaf with the one before it of the same record and kind, if there is one.
type LeafPair struct {
	StoredLeaf
	Earlier []byte
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

// WholeDemonstration is a demonstration with its recorded lines, and how it was judged
// each time: at the end of the recording, and after corrections.
type WholeDemonstration struct {
	Demonstration
	Lines  []Observed
	Judged []Judgement
}

// Judgement is how a demonstration was judged at one of its events.
type Judgement struct {
	Event                    int
	Log                      string
	Procedure, ProcedureHash string
	RulesVersion             int
	ResultJSON               []byte
	Outcome                  assess.Outcome
	Prompted                 bool
	Comment                  string
}

// At is a demonstration as it was judged when it came to an event.
func (w WholeDemonstration) At(event int) Demonstration {
	d := w.Demonstration
	for _, j := range w.Judged {
		if j.Event <= event {
			d.Log, d.Procedure, d.ProcedureHash, d.RulesVersion = j.Log, j.Procedure, j.ProcedureHash, j.RulesVersion
			d.ResultJSON, d.Outcome, d.Prompted, d.Comment = j.ResultJSON, j.Outcome, j.Prompted, j.Comment
		}
	}
	return d
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
