package training

import (
	"cmp"

	"stillwet/internal/simulate"
)

// Module is a scenario as one person has it.
type Module struct {
	Scenario *simulate.Scenario
	Tries    int
	Passed   bool
	Open     bool // there is unfinished work
}

// Home is what a person sees first.
type Home struct {
	Person    Person
	Standings []Standing
	Modules   []Module        // easiest first
	Attempts  []Attempt       // the newest
	Watched   []Demonstration // own demonstrations, newest first, without logs and results
}

// PersonRecord is one person's record with its evidence, newest first.
type PersonRecord struct {
	Person         Person
	Standings      []Standing
	Attempts       []Attempt // the newest
	AllAttempts    int       // how many there are
	Demonstrations []Demonstration
	SignOffs       []SignOff
	Entitlements   []Entitlement
	Closed         bool              // the account: nobody can sign in with it
	Names          map[string]string // person id to name, of everyone named in it
}

// LedgerHead is the state of the ledger at one moment.
type LedgerHead struct {
	Size int64
	Root string // base64
	Note string // the signed head in note format
	Key  string // the verifier key
}

// Annual is everything the annual workbook shows.
type Annual struct {
	Clinic         string
	Year           int
	From, To       Day
	AsOf           Day // the day of the standings: the year's last, or today
	Zone           string
	MadeAt         Instant
	Demo           bool
	Procedures     []InForce
	RulesVersion   int
	Ledger         LedgerHead
	Standings      []Standing
	SignOffs       []SignOff
	Demonstrations []Demonstration
	Evidence       map[string]Demonstration // what the sign-offs cite, by id, of whatever year
	People         map[string]Person        // everyone named in it, by id
	Titles         map[string]string        // competency id to title; see Title
	Products       map[string]string        // demonstration id to its product's title
}

// InForce is a procedure by which new work is judged.
type InForce struct{ Title, Version, Hash string }

// Title names a competency; one that the programme no longer has keeps its id.
func (a *Annual) Title(competency string) string { return cmp.Or(a.Titles[competency], competency) }

// VerifyReport is what checking the stored bytes found.
type VerifyReport struct {
	Head   LedgerHead
	Leaves int64
	Faults []VerifyFault // empty: everything agrees
}

// VerifyFault names what does not agree with what was signed.
type VerifyFault struct {
	Record string // kind and id, or "ledger"
	Field  string
	Text   string // a sentence
}
