package training

import (
	"context"
	"iter"

	"stillwet/internal/simulate"
)

// The interfaces are split by who uses them, so that a part of the services says
// in its parameters what it touches. A single thing that is not there is
// ErrNotFound; an empty list is no error. What comes back belongs to the caller.
// Adding what is there already is ErrConflict.

// PeopleReader finds people and what they may do.
type PeopleReader interface {
	Person(ctx context.Context, id string) (Person, error)
	People(ctx context.Context) ([]Person, error) // by name
	PeopleOf(ctx context.Context, ids []string) ([]Person, error)
	// EducatorsBut counts the educators who can sign in on a day, but for some.
	EducatorsBut(ctx context.Context, day Day, ids ...string) (int, error)
	// Entitlements of a person, or of everyone with "", oldest first.
	Entitlements(ctx context.Context, personID string) ([]Entitlement, error)
}

// PeopleWriter keeps people and what they may do.
type PeopleWriter interface {
	AddPerson(ctx context.Context, p Person, at Instant) error
	SavePerson(ctx context.Context, p Person) error // who is there
	AddEntitlement(ctx context.Context, e Entitlement, at Instant) error
}

// DoorReader finds what people sign in with.
type DoorReader interface {
	AccountOf(ctx context.Context, personID string) (Account, error)
	AccountNamed(ctx context.Context, username string) (Account, error)
	ClosedAccounts(ctx context.Context) (personIDs []string, err error)
	Session(ctx context.Context, idHash string) (Session, error)
	SessionsOf(ctx context.Context, personID string) ([]Session, error) // newest first
	DoorSecret(ctx context.Context) (string, error)
	FirstRun(ctx context.Context) (FirstRun, error)
	// AccountLink finds a link that an educator made, by the hash of its token; AccountLinks
	// are all that were not used.
	AccountLink(ctx context.Context, tokenHash string) (FirstRun, error)
	AccountLinks(ctx context.Context) ([]FirstRun, error)
	Tries(ctx context.Context, lane string) (Tries, error) // zero when none failed
}

// DoorWriter keeps what people sign in with.
type DoorWriter interface {
	AddAccount(ctx context.Context, a Account) error
	SetPassword(ctx context.Context, personID, hash string, firstUntil Instant) error
	SetDisabled(ctx context.Context, personID string, disabled bool) error
	// SetReset notes who gave an account a first password in place of another.
	SetReset(ctx context.Context, personID, by string, at Instant) error
	OpenSession(ctx context.Context, n Session) error
	SeeSession(ctx context.Context, idHash string, at Instant) error
	ProveSession(ctx context.Context, idHash string, at Instant) error
	// HandSession notes which demonstration a learner signs in a session, "" for none;
	// TakeBackSessions ends that in every session.
	HandSession(ctx context.Context, idHash, demonstrationID string) error
	TakeBackSessions(ctx context.Context, demonstrationID string) error
	EndSession(ctx context.Context, idHash string) error
	// EndSessions ends all sessions of a person but one ("" for all), all but the
	// newest, and those of everyone that began before a moment.
	EndSessions(ctx context.Context, personID, but string) error
	EndOldestSessions(ctx context.Context, personID string, keep int) error
	EndSessionsBefore(ctx context.Context, began Instant) error
	SetFirstRun(ctx context.Context, f FirstRun) error
	EndFirstRun(ctx context.Context) error
	SetAccountLink(ctx context.Context, f FirstRun) error // in place of the person's earlier one
	EndAccountLink(ctx context.Context, personID string) error
	SetTries(ctx context.Context, lane string, t Tries) error
	// SweepTries forgets lanes that were not tried since a moment, and keeps so
	// many at most.
	SweepTries(ctx context.Context, last Instant, most int) error
}

// PracticeReader finds what people practise.
type PracticeReader interface {
	Draft(ctx context.Context, id string) (Draft, error)
	DraftOf(ctx context.Context, personID, scenarioID string, guided bool) (Draft, error)
	// Drafts are without their steps and taps.
	Drafts(ctx context.Context, personID string) ([]Draft, error)
	Attempt(ctx context.Context, id string) (Attempt, error)
	// Attempts are a person's newest, without what only an attempt's own page
	// shows: log, result, steps and lines; guided practice only when asked for.
	Attempts(ctx context.Context, personID string, guided bool, most int) ([]Attempt, error)
}

// CourseReader finds what people did of the course.
type CourseReader interface {
	// CourseOf is what some people did of it, by their ids.
	CourseOf(ctx context.Context, personIDs []string) (map[string]*CourseDone, error)
	// MissedRules are the rules of which attempts were told something, by attempt.
	MissedRules(ctx context.Context, attemptIDs []string) (map[string][]string, error)
	// CourseAnswers are a person's answers in a part, oldest first.
	CourseAnswers(ctx context.Context, personID, module, part string) ([]CourseAnswer, error)
	OrientationOf(ctx context.Context, personID string) (Orientation, error)
	// OrientationsBy are those that a preceptor has now, the first to end first.
	OrientationsBy(ctx context.Context, preceptorID string) ([]Orientation, error)
}

// CourseWriter keeps what people did of the course.
type CourseWriter interface {
	AddCourseAnswer(ctx context.Context, a CourseAnswer) error
	AddCourseMark(ctx context.Context, m CourseMark) error
	AddOrientation(ctx context.Context, o Orientation) error
}

// PracticeWriter keeps what people practise.
type PracticeWriter interface {
	AddDraft(ctx context.Context, d Draft) error
	SaveDraft(ctx context.Context, d Draft, was int) error // ErrConflict unless its revision was that
	AddTap(ctx context.Context, draftID string, seq int, t simulate.Tap) error
	EndDraft(ctx context.Context, id string) error
	AddAttempt(ctx context.Context, a Attempt) error
}

// WatchReader finds what was watched.
type WatchReader interface {
	Demonstration(ctx context.Context, id string) (Demonstration, error)
	// Demonstrations are without their logs, newest first.
	Demonstrations(ctx context.Context, q DemonstrationQuery) ([]Demonstration, error)
	CountDemonstrations(ctx context.Context, q DemonstrationQuery) (int, error)
	Observations(ctx context.Context, demonstrationID string) ([]Observed, error)
	Watched(ctx context.Context, demonstrationID string) ([]Watched, error) // by device, in its order
	// Endings are how what began from one moment on and before another ended.
	Endings(ctx context.Context, from, before Instant) ([]Ending, error)
}

// WatchWriter keeps what was watched, and signed of it.
type WatchWriter interface {
	AddDemonstration(ctx context.Context, d Demonstration) error
	AddObserved(ctx context.Context, demonstrationID string, lines []Observed) error
	AddWatched(ctx context.Context, demonstrationID string, acts []Watched) error
	AddHolding(ctx context.Context, demonstrationID string, h Holding) error
	// CloseDemonstration adds the end state; only a recording one can be closed.
	CloseDemonstration(ctx context.Context, d Demonstration) error
	// AddDemonstrationEvent adds what became of a demonstration since: with what was
	// corrected, and how it was judged then, when it is judged anew.
	AddDemonstrationEvent(ctx context.Context, d Demonstration, e DemonstrationEvent, corrections []Correction) error
	AddSignature(ctx context.Context, n Signature) error
}

// PlanReader finds plans, the newest first, with what became of each.
type PlanReader interface {
	Plans(ctx context.Context, q PlanQuery) ([]Plan, error)
}

// PlanWriter keeps them.
type PlanWriter interface {
	AddPlan(ctx context.Context, p Plan) error // without events
	AddPlanEvent(ctx context.Context, planID string, e PlanEvent) error
}

// SignOffReader finds sign-offs, and what the next one rests on.
type SignOffReader interface {
	SignOff(ctx context.Context, id string) (SignOff, error)
	SignOffs(ctx context.Context, q SignOffQuery) ([]SignOff, error) // newest first
	// Corrected is what was put right from one moment on and before another, oldest first.
	Corrected(ctx context.Context, from, before Instant) ([]Corrected, error)
	// Histories are what standings follow from, by person, up to a moment.
	Histories(ctx context.Context, q HistoryQuery) (map[string]*History, error)
	// Requirements are all versions of every competency, oldest first.
	Requirements(ctx context.Context) ([]Requirements, error)
}

// AbsenceReader finds leaves, of a person or of all with "", each as it was entered last, the
// newest first.
type AbsenceReader interface {
	Absences(ctx context.Context, personID string) ([]Absence, error)
}

// AbsenceWriter keeps what was entered of leaves.
type AbsenceWriter interface {
	AddAbsence(ctx context.Context, a Absence) error
}

// SignOffWriter keeps sign-offs, and that one, or an entitlement, holds no longer.
type SignOffWriter interface {
	AddSignOff(ctx context.Context, o SignOff) error
	AddEnd(ctx context.Context, e End) error // once of each record
	AddRequirements(ctx context.Context, r Requirements) error
}

// DefinitionReader finds the texts that records cite.
type DefinitionReader interface {
	Definition(ctx context.Context, hash string) (Definition, error)
	Definitions(ctx context.Context) ([]Definition, error)
}

// DefinitionWriter keeps the texts that records cite.
type DefinitionWriter interface {
	// KeepDefinition keeps a text unless it is kept already. What a record cites
	// is kept before the record, in its transaction.
	KeepDefinition(ctx context.Context, d Definition) error
}

// SetReader finds the clinic's sets: versions, what became of them, and the draft.
type SetReader interface {
	// SetVersions are all versions, oldest first, with what became of each, without files.
	SetVersions(ctx context.Context) ([]SetVersion, error)
	SetFiles(ctx context.Context, version int) (map[string][]byte, error)
	SetDraft(ctx context.Context) (SetDraft, error) // ErrNotFound before the first
	// SetNames are the hashes of files by version and name; SetContents every kept file,
	// without a name.
	SetNames(ctx context.Context) (map[int]map[string]string, error)
	SetContents(ctx context.Context) iter.Seq2[SetFile, error]
}

// SetWriter keeps the clinic's sets.
type SetWriter interface {
	AddSetVersion(ctx context.Context, v SetVersion, files []SetFile) error // without events
	AddSetEvent(ctx context.Context, e SetEvent) error
	SaveSetDraft(ctx context.Context, d SetDraft, was int) error // ErrConflict unless its revision was that
}

// DutyReader finds what follows from versions, and what people have to do because of them.
type DutyReader interface {
	// FollowUps are those of a version, or of all with 0, oldest first.
	FollowUps(ctx context.Context, version int) ([]FollowUp, error)
	// Duties are by version and name, what an educator asked herself first.
	Duties(ctx context.Context, q DutyQuery) ([]Duty, error)
	// PassedSince are the passes of tests by who has a duty, of each the first and the first
	// after a moment, by duty and scenario.
	PassedSince(ctx context.Context, asked []ToPass) (map[string]map[string]Passes, error)
}

// DutyWriter keeps them.
type DutyWriter interface {
	AddFollowUp(ctx context.Context, f FollowUp, duties []Duty) error
	EndDuty(ctx context.Context, id string, e DutyEnd) error
	MoveDuty(ctx context.Context, id string, x DutyDate) error
}

// ActReader finds what was done under a key.
type ActReader interface {
	ActKey(ctx context.Context, personID, key string) (ActKey, error)
}

// ActWriter keeps what was done under a key.
type ActWriter interface {
	AddActKey(ctx context.Context, k ActKey) error
}

// LedgerReader finds the ledger.
type LedgerReader interface {
	Ledger(ctx context.Context) (LedgerHead, error)
	// LeavesOf are the newest leaves of a kind about one record, oldest first.
	LeavesOf(ctx context.Context, kind LeafKind, record string, most int) ([]StoredLeaf, error)
	// NamesEver are the names and staff numbers by which leaves have people, each once.
	NamesEver(ctx context.Context) ([]Named, error)
	// LeavesAt are leaves by their numbers, with who is named in each.
	LeavesAt(ctx context.Context, leaves []int64) (map[int64]LeafAbout, error)
	LeavesLike(ctx context.Context, q LeafQuery) ([]LeafPair, error)
	// LeavesFor are the leaves of sign-offs, entitlements and entries of items by the ids of these
	// records; of an earlier sign-off that of its batch. What has none is left out.
	LeavesFor(ctx context.Context, ids []string) (map[string][]byte, error)
	// LatestLeaf is the newest leaf of a kind.
	LatestLeaf(ctx context.Context, kind LeafKind) (LeafAbout, error)
	// LastLedgered is the latest moment that a leaf names since the clock was last
	// confirmed, and that confirmation; "" before the first.
	LastLedgered(ctx context.Context) (Instant, error)
}

// WholeReader reads records as a whole, many at once, for ledgering and verifying.
type WholeReader interface {
	// WholeAttempts are without steps and lines: Played says what they are.
	WholeAttempts(ctx context.Context, ids []string) ([]WholeAttempt, error)
	WholeDemonstrations(ctx context.Context, ids []string) ([]WholeDemonstration, error)
	// Unledgered are the next ids, after one, of what was finished, or ended and judged,
	// and has no leaf.
	UnledgeredAttempts(ctx context.Context, after string, most int) ([]string, error)
	UnledgeredDemonstrations(ctx context.Context, after string, most int) ([]string, error)
}

// AuditReader goes through everything that is stored, for checking it.
type AuditReader interface {
	LedgerLeaves(ctx context.Context) iter.Seq2[StoredLeaf, error]
	LedgerNodes(ctx context.Context) iter.Seq2[StoredNode, error]
	LedgerHeads(ctx context.Context) iter.Seq2[StoredHead, error]
	// LedgerKey is the verifier key, and the one that the data file names.
	LedgerKey(ctx context.Context) (key, inFile string, err error)
	SignaturesAt(ctx context.Context, leaves []int64) ([]Signature, error)
	SignOffsAt(ctx context.Context, leaves []int64) ([]SignOff, error)
	PlansAt(ctx context.Context, leaves []int64) ([]Plan, error)
	EndsAt(ctx context.Context, leaves []int64) ([]End, error)
	RequirementsAt(ctx context.Context, leaves []int64) ([]Requirements, error)
	AbsencesAt(ctx context.Context, leaves []int64) ([]Absence, error)
	NamedAt(ctx context.Context, leaves []int64) (map[int64][]Named, error)
	Accounts(ctx context.Context) ([]Account, error)
	// Strays names rows that no leaf stands behind; Soundness what is wrong with the file.
	Strays(ctx context.Context) ([]VerifyFault, error)
	Soundness(ctx context.Context) ([]VerifyFault, error)
}

// LedgerWriter grows the ledger.
type LedgerWriter interface {
	// AppendLeaf adds a leaf, and what it is of. The transaction ends with one newly
	// signed head over all that it added.
	AppendLeaf(ctx context.Context, leaf []byte, about LeafAbout) (index int64, err error)
}

// Reader finds records.
type Reader interface {
	PeopleReader
	DoorReader
	PracticeReader
	CourseReader
	WatchReader
	TapReader
	SignOffReader
	DefinitionReader
	SetReader
	DutyReader
	AssignmentReader
	PlanReader
	ItemReader
	EarlierReader
	AbsenceReader
	ObservationReader
	ActReader
	LedgerReader
	WholeReader
	AuditReader
	JudgedReader
}

// Writer keeps records.
type Writer interface {
	PeopleWriter
	DoorWriter
	PracticeWriter
	CourseWriter
	WatchWriter
	SignOffWriter
	DefinitionWriter
	SetWriter
	DutyWriter
	AssignmentWriter
	PlanWriter
	ItemWriter
	EarlierWriter
	AbsenceWriter
	ObservationWriter
	ActWriter
	LedgerWriter
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
