package training

import (
	"context"

	"stillwet/internal/ledger"
	"stillwet/internal/simulate"
)

// Reader finds records. A single thing that is not there is ErrNotFound; an
// empty list is no error. What comes back belongs to the caller.
type Reader interface {
	Person(ctx context.Context, id string) (Person, error)
	People(ctx context.Context) ([]Person, error) // by name
	PeopleOf(ctx context.Context, ids []string) ([]Person, error)
	ClosedAccounts(ctx context.Context) (personIDs []string, err error)
	AccountOf(ctx context.Context, personID string) (Account, error)
	AccountNamed(ctx context.Context, username string) (Account, error)
	Session(ctx context.Context, idHash string) (Session, error)
	FirstRun(ctx context.Context) (FirstRun, error)
	Tries(ctx context.Context, nameHash string) (Tries, error) // zero when none failed

	// Entitlements of a person, or of everyone with "", oldest first.
	Entitlements(ctx context.Context, personID string) ([]Entitlement, error)

	Draft(ctx context.Context, id string) (Draft, error)
	DraftOf(ctx context.Context, personID, scenarioID string) (Draft, error)
	// Drafts are without their steps and taps.
	Drafts(ctx context.Context, personID string) ([]Draft, error)
	Attempt(ctx context.Context, id string) (Attempt, error)
	// Attempts are a person's newest, without what only an attempt's own page
	// shows: log, result, steps and lines.
	Attempts(ctx context.Context, personID string, most int) ([]Attempt, error)
	// TriesOf counts a person's attempts by scenario.
	TriesOf(ctx context.Context, personID string) ([]ScenarioTries, error)
	// Histories are what standings follow from, by person, up to a moment.
	Histories(ctx context.Context, q HistoryQuery) (map[string]*History, error)

	Demonstration(ctx context.Context, id string) (Demonstration, error)
	// Demonstrations are without their logs, newest first.
	Demonstrations(ctx context.Context, q DemonstrationQuery) ([]Demonstration, error)
	Observations(ctx context.Context, demonstrationID string) ([]Observed, error)
	// States is every state that any demonstration came to, in their order.
	States(ctx context.Context) ([]StoredState, error)
	SignOff(ctx context.Context, id string) (SignOff, error)
	SignOffs(ctx context.Context, q SignOffQuery) ([]SignOff, error) // newest first

	TapReader
	Definition(ctx context.Context, hash string) (Definition, error)
	Definitions(ctx context.Context) ([]Definition, error)
	Citations(ctx context.Context) ([]Citation, error)

	ActKey(ctx context.Context, personID, key string) (ActKey, error)
	Ledger(ctx context.Context) (LedgerHead, error)
	// LedgerContent is everything stored of the ledger, for checking it.
	LedgerContent(ctx context.Context) (LedgerContent, error)
}

// Writer keeps records. A thing that is there already is ErrConflict.
type Writer interface {
	AddPerson(ctx context.Context, p Person, at Instant) error
	AddAccount(ctx context.Context, a Account) error
	SetPassword(ctx context.Context, personID, hash string, firstUntil Instant) error
	SetDisabled(ctx context.Context, personID string, disabled bool) error
	OpenSession(ctx context.Context, n Session) error
	SeeSession(ctx context.Context, idHash string, at Instant) error
	EndSession(ctx context.Context, idHash string) error
	// EndSessions ends all sessions of a person but one ("" for all), and
	// those of everyone that began before a moment.
	EndSessions(ctx context.Context, personID, but string) error
	EndSessionsBefore(ctx context.Context, began Instant) error
	SetFirstRun(ctx context.Context, f FirstRun) error
	EndFirstRun(ctx context.Context) error
	SetTries(ctx context.Context, nameHash string, t Tries) error
	ForgetTriesBefore(ctx context.Context, last Instant, failuresBelow int) error
	AddEntitlement(ctx context.Context, e Entitlement, at Instant) error

	AddDraft(ctx context.Context, d Draft) error
	SaveDraft(ctx context.Context, d Draft, was int) error // ErrConflict unless its revision was that
	AddTap(ctx context.Context, draftID string, seq int, t simulate.Tap) error
	EndDraft(ctx context.Context, id string) error
	// KeepDefinition keeps a text unless it is kept already. What a record cites
	// is kept before the record, in its transaction.
	KeepDefinition(ctx context.Context, d Definition) error
	AddAttempt(ctx context.Context, a Attempt) error

	AddDemonstration(ctx context.Context, d Demonstration) error
	AddObserved(ctx context.Context, demonstrationID string, lines []Observed) error
	// CloseDemonstration writes the end state; only a recording one can be closed.
	CloseDemonstration(ctx context.Context, d Demonstration) error
	AddSignature(ctx context.Context, n Signature) error
	AddSignOff(ctx context.Context, o SignOff) error
	AddActKey(ctx context.Context, k ActKey) error
	// AppendLeaf adds a leaf to the ledger with a newly signed head.
	AppendLeaf(ctx context.Context, leaf []byte) (index int64, err error)
}

// Unit is one transaction.
type Unit interface {
	Reader
	Writer
}

// Records is what the services need of a store.
type Records interface {
	Reader
	// Write runs do in one transaction: all of it is kept, or nothing. do may
	// use only the unit it is given.
	Write(ctx context.Context, do func(Unit) error) error
	// Snapshot runs do over one unchanging state.
	Snapshot(ctx context.Context, do func(Reader) error) error
}

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

// Tries counts failed passwords of a name since the last good one.
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
