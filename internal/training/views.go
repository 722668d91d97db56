package training

import (
	"cmp"

	"stillwet/internal/simulate"
)

// OwnScenario is a scenario as one person has it.
type OwnScenario struct {
	Scenario      *simulate.Scenario
	Tries, Guided int
	Passed        bool
	Open          []Draft // unfinished work, without its steps
}

// Home is what a person sees first.
type Home struct {
	Person      Person
	Standings   []Standing
	Ways        []ModuleWay
	Orientation Orientation     // zero when nobody set one
	Scenarios   []OwnScenario   // easiest first
	Attempts    []Attempt       // the newest
	Watched     []Demonstration // own demonstrations, newest first, without logs and results
}

// PersonRecord is one person's record with its evidence, newest first.
type PersonRecord struct {
	Person         Person
	Standings      []Standing
	Ways           []ModuleWay
	Orientation    Orientation
	Attempts       []Attempt // the newest that the reader may see
	AllAttempts    int       // how many there are
	NoPractice     bool      // the reader sees no practice, and no single demonstration
	Demonstrations []Demonstration
	SignOffs       []SignOff
	Entitlements   []Entitlement
	Closed         bool              // the account: nobody can sign in with it
	NoAccount      bool              // nobody gave them one yet
	Names          map[string]string // person id to name, of everyone named in it
	Signed         SignedAs
}

// SignedAs is who is named in signed records as they stood then, by ledger number.
type SignedAs map[int64]LeafAbout

// Of finds somebody as they stood in a signed record, or as they are now where it was
// signed before names were.
func (s SignedAs) Of(leaf int64, part string, now Person) Named {
	if n := s[leaf].Named(part); n.PersonID != "" {
		return n
	}
	return named(part, now)
}

// Marks is what has to be known about a signed record, in sentences.
func (l LeafAbout) Marks(day func(Instant) string) (all []string) {
	if n := l.Named(PartResetBy); n.PersonID != "" {
		all = append(all, n.Name+" had given the signer a new first password on "+day(n.At)+".")
	}
	if l.ClockBehind {
		all = append(all, "The server's clock stood behind when this was signed, so its time may be wrong.")
	}
	return all
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
	Versions       []SetVersion   // of the clinic's set, up to the last day; none where it lies in no data file
	Requirements   []Requirements // in all their versions up to the last day, by competency
	RulesVersion   int
	Ledger         LedgerHead
	Standings      []Standing
	SignOffs       []SignOff
	Demonstrations []Demonstration
	Evidence       map[string]Demonstration // what the sign-offs cite, by id, of whatever year
	People         map[string]Person        // everyone named in it, by id
	Observed       []ObservedMonth          // station observations, from the first month of all on
	Entitlements   []Entitlement            // of which a day lies in the year
	Corrected      []Corrected              // in the year
	Earlier        []EarlierLine            // from paper, of whatever year, as they were confirmed by that day
	Items          []ItemRow                // other annual items, as they stood on that day, and what was entered of the year
	Duties         []DutyState              // because procedures changed or an educator asked it, as they stood on that day
	Signed         SignedAs
	Titles         map[string]string // competency id to title; see Title
	Products       map[string]string // demonstration id to its product's title
	Stations       map[string]string // demonstration id to the variant of the station, "" for the usual one
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

// Shown is what a demonstration showed: its competency, and at which variant of the station.
func (a *Annual) Shown(d Demonstration) string {
	if at := a.Stations[d.ID]; at != "" {
		return a.Title(d.Competency) + ": " + at
	}
	return a.Title(d.Competency)
}
