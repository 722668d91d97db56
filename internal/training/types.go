// Package training is people and their records: who may do what, attempts,
// demonstrations, signatures, sign-offs, and the standing that follows from
// them. Standing is computed from the records and never stored. It owns the
// services and the [Records] interface that the store implements.
package training

import (
	"errors"

	"stillwet/internal/assess"
	"stillwet/internal/simulate"
)

// Errors that callers tell apart. Each is wrapped with a sentence for people.
var (
	ErrNotFound  = errors.New("not found")
	ErrForbidden = errors.New("not allowed")
	ErrConflict  = errors.New("the record has changed or is in another state")
	ErrInvalid   = errors.New("not valid")
	ErrPassword  = errors.New("name and password do not match")
	ErrExpired   = errors.New("the session has ended")
	ErrKeyReused = errors.New("this key was used for something else")
	ErrThrottled = errors.New("too many tries")
	ErrProve     = errors.New("the password is needed again")
	// ErrUnsaved: the disk is full or broken. Reading goes on.
	ErrUnsaved = errors.New("nothing can be saved now")
)

// Role of a person with an account.
type Role string

// The roles.
const (
	Trainee   Role = "trainee" // shown as "new hire"
	Preceptor Role = "preceptor"
	Educator  Role = "educator"
	Manager   Role = "manager" // sees standing and numbers, changes nothing
)

// Title names the role for people: whoever was signed off once is no new hire
// any more.
func (r Role) Title(settled bool) string {
	switch {
	case r == Trainee && settled:
		return "staff"
	case r == Trainee:
		return "new hire"
	}
	return string(r)
}

// Entitlement lets a person watch demonstrations of a competency and sign that they
// met the standard, or sign people off, or both, from one day to another, both included.
type Entitlement struct {
	ID, PersonID, Competency string
	From, Until              Day
	GrantedBy                string
	Watch, SignOff           bool
	Credential               string // on what the person may: "RN, licence ..."; printed on what they sign
	Founding                 string // why somebody who is not current may; "" for who is
	Approval                 Approval
	End                      End // before its last day; the zero End when it has none
}

// Approval is the second person's word for an entitlement.
type Approval struct {
	How      ApprovalHow
	ByID, By string // id is "" for a person without an account
	Role     string
	On       Day
	Where    string // where the paper lies
}

// ApprovalHow is how a second person approved.
type ApprovalHow string

// The ways. Entitlements of before have none.
const (
	ApprovedHere  ApprovalHow = "here"  // by their own password
	ApprovedPaper ApprovalHow = "paper" // on a paper that the educator entered
	ApprovedAlone ApprovalHow = "alone" // there is no second educator
)

// Account is what a person signs in with. Username is kept in lower case.
type Account struct {
	PersonID, Username, PasswordHash string
	FirstUntil                       Instant // a first password's end; "" once they chose their own
	Disabled                         bool
	ResetBy                          string  // id of who gave the last first password to somebody else's account
	ResetAt                          Instant // and when
	Generation                       int     // grows with each new password and each closing
}

// Session is a signed-in browser. IDHash is the SHA-256 of the cookie's value.
type Session struct {
	IDHash, PersonID    string
	CreatedAt, LastSeen Instant
	Browser             string  // a short word for people
	ProvedAt            Instant // when the password was last given in it; "" while it was not
	Handed              string  // id of the demonstration that a learner signs in it, "" mostly
}

// Competency is something to be signed off, with what it takes.
type Competency struct {
	ID, Title, Procedure string
	Scenarios            []string // that must be passed
	Demonstrations       int      // clean demonstrations for the first sign-off, on different days
	Recheck              int      // clean demonstrations for each later one
	IntervalMonths       int      // from a sign-off to its due date
	NoticeDays           int      // "due" begins this many days before the due date
	Basis                string   // on what these numbers rest
	// OnlyWatched: it can be watched, judged and signed by both, and nobody is asked for
	// it: it has no standing and no sign-off.
	OnlyWatched bool
	// Variants are the procedures of its other stations. EachVariant: what is asked for is
	// asked at each of them; else one demonstration covers all.
	Variants    []string
	EachVariant bool

	kept []Requirements // the clinic's own versions, oldest first; none: what stands above holds
}

// Stations are the procedures by which it can be shown, its own first.
func (c *Competency) Stations() []string { return append([]string{c.Procedure}, c.Variants...) }

// Draft is unfinished work: a list of steps being built or a run being played.
type Draft struct {
	ID, PersonID, ScenarioID string
	Kind                     simulate.Kind
	StartedAt                Instant
	Pace                     int
	Revision                 int            // grows with every save; a stale save is ErrConflict
	Steps                    []string       // of a build; of a search the rows that are marked
	Taps                     []simulate.Tap // of a run
	UpdatedAt                Instant
	Seed                     string // decides what varies; "" before there were seeds
	Guided                   bool   // practice, which counts for nothing but practice
}

// Attempt is finished work with its result as judged.
type Attempt struct {
	ID, PersonID, ScenarioID, ScenarioHash string
	Kind                                   simulate.Kind
	Pace                                   int
	StartedAt, FinishedAt                  Instant
	Log                                    string // canonical text
	Procedure, ProcedureHash               string
	RulesVersion                           int
	ResultJSON                             []byte
	Outcome                                assess.Outcome
	Score                                  float64  // as the stored result says; zero when it says none
	Steps                                  []string // step ids as they were listed or tapped; of a search the rows that were marked
	Lines                                  []int    // for each line of the log the index in Steps, -1 for an event
	Seed                                   string   // the draft's
	Guided                                 bool     // practice, as its draft was
}

// Demonstration is work that a preceptor watched: a return demonstration, or a routine
// observation.
type Demonstration struct {
	ID, TraineeID, PreceptorID, Competency string // nobody is the trainee of an observation that names none
	Product                                string // of the wipes, unless they say another
	Setting                                Setting
	StartedAt, EndedAt                     Instant
	State                                  DemonstrationState // how its recording ended
	Stage                                  DemonstrationState // what became of it since
	Log                                    string             // canonical text, once ended
	Procedure, ProcedureHash               string
	RulesVersion                           int
	ResultJSON                             []byte
	Outcome                                assess.Outcome // "" while recording
	Prompted                               bool
	Comment                                string // preceptor's words; no patient data
	Signatures                             []Signature
	Events                                 []DemonstrationEvent // of a single one; lists have none
	Corrections                            []Correction         // likewise
}

// Setting is what is said of a demonstration before it begins.
type Setting struct {
	Purpose    Purpose
	Announced  string         // "yes" or "no"; "" of before it was asked
	InUse      []ProductInUse // where it is more than the one product, or one that was mixed
	Discipline string         // of whoever is not named
	Shift      string
	Corrects   string // id of the demonstration that was withdrawn because this one says who or what it was of
}

// ProductInUse is a product at the station, and when what is mixed was made.
type ProductInUse struct {
	ID     string `json:"id"`
	MadeAt string `json:"made_at,omitempty"` // 15:04
}

// Purpose is what work is watched for.
type Purpose string

// The purposes.
const (
	ForReturn  Purpose = "return"  // a return demonstration, towards a sign-off
	ForRoutine Purpose = "routine" // a routine observation: it counts for nobody
)

// Observed is one tap of the recorder: a line of the log without its number.
// Its JSON form is hashed into signatures: fields are only ever added at the
// end, with omitempty.
type Observed struct {
	Key    string  `json:"key"`     // client-made, the same for every line of one tap
	Seq    int     `json:"seq"`     // place in the demonstration, from 1
	AtMs   int64   `json:"at_ms"`   // since the start
	Text   string  `json:"text"`    // the act's line
	Step   string  `json:"step"`    // step id the tap stands for, "" for events
	SentAt Instant `json:"sent_at"` // when the server got it
}

// Meaning is what a signature says. It is shown to the signer word for word.
type Meaning string

// The meanings.
const (
	LearnerDid      Meaning = "learner" // "This is what I did, and I have seen the findings."
	WatchedMet      Meaning = "watched-met"
	WatchedNotMet   Meaning = "watched-not-met"
	WatchedPractice Meaning = "watched-practice"
	WatchedOpen     Meaning = "watched-incomplete"
	SignedOff       Meaning = "signed-off"
)

// Words is the sentence that is signed.
func (m Meaning) Words() string {
	switch m {
	case LearnerDid:
		return "This is what I did, and I have seen the findings."
	case WatchedMet:
		return "I watched this and it met the standard."
	case WatchedNotMet:
		return "I watched this and it did not meet the standard yet."
	case WatchedPractice:
		return "I watched this. It counts as practice, not as a demonstration."
	case WatchedOpen:
		return "I watched this and could not assess all of it. It decides nothing."
	case SignedOff:
		return "I have seen the evidence listed here and sign this person off for this competency."
	}
	return ""
}

// Signature is one signed act. Leaf is the ledger index of its record.
type Signature struct {
	Record     string // id of the demonstration or sign-off
	SignerID   string
	SignerName string // as it was at that moment
	Meaning    Meaning
	SignedAt   Instant
	Said       string // the learner's own sentence, if there is one
	Leaf       int64
}

// SignOff is an entitled person's signature on a competency with its evidence.
type SignOff struct {
	ID, PersonID, Competency string
	SignerID, SignerName     string
	On                       Day // in the clinic's zone
	SignedAt                 Instant
	Due                      Day
	Demonstrations           []string // ids of the evidence
	Attempts                 []string
	Requirements             int // the version that it was given under; 0 of before there were any
	Leaf                     int64
	End                      End // that it was withdrawn; the zero End while it holds

	EnteredAt Instant // of one from before this program: when it was confirmed; it counts since. Else ""
	Elsewhere bool    // of such a one: it was not shown here
}

// StandingWord is a person's standing in a competency.
type StandingWord string

// The standings.
const (
	NotStarted  StandingWord = "not started"
	InTraining  StandingWord = "in training"
	ReadyToSign StandingWord = "ready to sign"
	Current     StandingWord = "current"
	DueSoon     StandingWord = "due"
	OnPlan      StandingWord = "on a plan"
	OnLeave     StandingWord = "on leave"
	Lapsed      StandingWord = "lapsed"
)

// Standing is where a person stands in a competency on a day.
type Standing struct {
	Person           Person
	Competency       Competency
	Requirements     Requirements // that hold on that day
	Word             StandingWord
	LastSignOff      *SignOff
	Due              Day              // "" before the first sign-off
	DueAgain         bool             // due or over, whatever the word is
	Clean            []*Demonstration // met (two signatures), since the last sign-off
	Needed           int              // clean demonstrations needed for the next sign-off
	Takes            Takes            // what that rests on
	More             More             // what they still lack
	PassedScenarios  []string         // scenario ids
	MissingScenarios []string
	Again            []string  // of both those that are to be passed once more, since the last sign-off
	NotBefore        Day       // of a first sign-off: so long after the hire; "" any day
	Plan             *PlanSpan // that is open, or nil
	Leave            *Absence  // of that day, or nil
	// Unchecked is the last day of a leave during which the next sign-off was due or over, and
	// since which nobody watched a clean demonstration; "" mostly.
	Unchecked Day
	Ready     bool // everything for the next sign-off is there

	passing []string // ids of the attempts that passed them
	tried   bool     // an attempt at a module was finished
}

// More is what clean demonstrations still lack of what is asked for.
type More struct{ Clean, Days, Preceptors int }

// Watched reports whether the demonstrations for the next sign-off are there.
func (s *Standing) Watched() bool { return len(s.Clean) >= s.Needed && s.More == More{} }
