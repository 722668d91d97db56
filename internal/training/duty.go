package training

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"stillwet/internal/course"
)

// FollowUp is an educator's word on what follows from a version that was approved: what is
// asked of whom, which may be nothing. A later one adds people who came since.
type FollowUp struct {
	Version, Seq int
	At           Instant
	ByID, ByName string  // as they stood
	InForceAt    Instant // what was done before it is no work under the version
	Why          string  // the version's
	Changes      string  // []Change as JSON, as they were shown
	Chosen       string  // []Chosen as JSON
	Leaf         int64
}

// Record names a follow-up among the records.
func (f FollowUp) Record() string { return fmt.Sprintf("%d/%d", f.Version, f.Seq) }

// Told are the changes that it was confirmed for.
func (f FollowUp) Told() (all []Change, err error) {
	if err := json.Unmarshal([]byte(f.Changes), &all); err != nil {
		return nil, fmt.Errorf("what version %d changed: %w", f.Version, err)
	}
	return all, nil
}

// DutyKind is what somebody has to do.
type DutyKind string

// The kinds, in the order in which they are done.
const (
	ReadDuty          DutyKind = "read"          // what changed, and the procedure: ends with a signature
	ModuleDuty        DutyKind = "module"        // its tests passed again
	DemonstrationDuty DutyKind = "demonstration" // a new one, met
	ItemDuty          DutyKind = "item"          // another annual item, had on a day since; no version asks for it
)

// DutyKinds are all of them.
var DutyKinds = []DutyKind{ReadDuty, ModuleDuty, DemonstrationDuty, ItemDuty}

// DutyEnding is how a duty ended, where no other record says it.
type DutyEnding string

// The endings.
const (
	DutyRead      DutyEnding = "read"
	DutyTakenBack DutyEnding = "taken back"
)

// ReadWords is the sentence that is signed by who has read what changed.
const ReadWords = "I have read what changed and the procedure as it now stands, and I will work by it."

// Duty is what somebody has to do: because a version came into force, or because an educator
// asked it of them.
type Duty struct {
	ID                      string
	Version, FollowUp       int    // 0 when an educator asked it
	Assignment              string // id of what it was asked with; "" of a version's
	N                       int    // its number there
	Leaf                    int64  // of the word with which it was given
	PersonID, Name, StaffNo string // as they stood
	Kind                    DutyKind
	Of, Title               string // module, competency or item, and how it was called; "" for reading
	FirstDue, Due           Day    // as it was given, and as it is now
	Dates                   []DutyDate
	AssignedAt              Instant
	AssignedBy, Why         string
	InForceAt               Instant
	End                     DutyEnd // zero while nobody ended it
}

// DutyDate is another day by which a duty is to be done, for a reason.
type DutyDate struct {
	Seq    int     `json:"seq"`
	Due    Day     `json:"due"`
	At     Instant `json:"at"`
	ByID   string  `json:"by_id"`
	ByName string  `json:"by_name"`
	Why    string  `json:"why"`
	Leaf   int64   `json:"leaf"`
}

// before is the day that held before one of its other days.
func (d *Duty) before(seq int) Day {
	if seq > 1 {
		return d.Dates[seq-2].Due
	}
	return d.FirstDue
}

// Moved is the last of its other days, with the day that held before it.
func (d *Duty) Moved() (last DutyDate, was Day, ok bool) {
	n := len(d.Dates)
	if n == 0 {
		return last, "", false
	}
	return d.Dates[n-1], d.before(n), true
}

// DutyEnd is the signature of who has read, or why it was taken back.
type DutyEnd struct {
	Ended        DutyEnding
	At           Instant
	ByID, ByName string
	Said         string // the words that were signed, or why
	Leaf         int64
}

// DutyQuery narrows Duties; empty fields do not.
type DutyQuery struct {
	Version      int
	PersonID, ID string
	Kind         DutyKind
	Of           string
	Versions     bool   // only what versions ask for
	Assigned     bool   // only what an educator asked
	Assignment   string // only what came with it
	DueBefore    Day    // only what an educator asked, whose day is before and that was not taken back
}

// ToPass is somebody who has to pass tests after a moment, for a duty.
type ToPass struct {
	Duty   string   `json:"duty"`
	Person string   `json:"person"`
	Since  Instant  `json:"since"`
	Tests  []string `json:"tests"` // ids of scenarios
}

// DutyState is a duty with how far it has come. That a module was passed, a demonstration was
// met or an item entered follows from attempts, signatures and entries and is never stored.
type DutyState struct {
	Duty
	DoneAt        Instant            // "" while it is not done
	Demonstration string             // id of the one that did it
	Passed        map[string]Instant // tests of a module that were passed for it, by scenario
	Again         bool               // of a module: all its tests were passed before it was asked for
}

// Passes are when somebody passed a test: ever for the first time, and since something was
// asked for. "" is never.
type Passes struct{ First, Since Instant }

// Open reports whether it is still to be done.
func (d DutyState) Open() bool { return d.DoneAt == "" && d.End.Ended != DutyTakenBack }

// FromVersion reports whether a version of the procedure asked for it, and no educator
// besides.
func (d DutyState) FromVersion() bool { return d.Assignment == "" }

// Overdue reports whether it is still to be done after its day.
func (d DutyState) Overdue(today Day) bool { return d.Open() && d.Due < today }

// begins is the moment after which what is done counts for a duty. A demonstration counts
// when it began under the version; tests are passed again after they were asked for.
func (d *Duty) begins() Instant {
	if d.Kind == ModuleDuty {
		return max(d.AssignedAt, d.InForceAt)
	}
	return d.InForceAt
}

// dutyStates says of duties how far each has come.
func (s *Service) dutyStates(ctx context.Context, r Reader, duties []Duty) ([]DutyState, error) {
	lib := s.present()
	passed, err := passedFor(ctx, r, lib, duties)
	if err != nil {
		return nil, err
	}
	met, err := metFor(ctx, r, duties)
	if err != nil {
		return nil, err
	}
	had, err := s.hadFor(ctx, r, duties)
	if err != nil {
		return nil, err
	}
	takes, err := s.changeTakes(ctx, r, len(met) > 0)
	if err != nil {
		return nil, err
	}
	states := make([]DutyState, len(duties))
	for i, d := range duties {
		states[i] = DutyState{Duty: d}
		switch {
		case d.End.Ended != "":
			if d.End.Ended == DutyRead {
				states[i].DoneAt = d.End.At
			}
		case d.Kind == ModuleDuty:
			if m, ok := lib.Module(d.Of); ok {
				states[i].passedTests(m, passed[d.ID])
			}
		case d.Kind == DemonstrationDuty:
			states[i].DoneAt, states[i].Demonstration = metAgain(d, takes(d), met[d.PersonID], s.Zone())
		case d.Kind == ItemDuty:
			states[i].DoneAt = hadSince(d, had[d.PersonID], s.Zone())
		}
	}
	return states, nil
}

func passedFor(ctx context.Context, r DutyReader, lib Library, duties []Duty) (map[string]map[string]Passes, error) {
	var asked []ToPass
	for _, d := range duties {
		if m, ok := lib.Module(d.Of); ok && d.Kind == ModuleDuty && d.End.Ended == "" {
			asked = append(asked, ToPass{d.ID, d.PersonID, d.begins(), m.Tests()})
		}
	}
	if len(asked) == 0 {
		return nil, nil
	}
	return r.PassedSince(ctx, asked)
}

// passedTests says how far a module has come: it is done with the last test that was passed
// for it, and passed again when each had been passed before.
func (d *DutyState) passedTests(m *course.Module, passes map[string]Passes) {
	var last Instant
	missing := false
	d.Passed, d.Again = map[string]Instant{}, true
	for _, id := range m.Tests() {
		x := passes[id]
		d.Again = d.Again && x.First != "" && x.First <= d.begins()
		missing = missing || x.Since == ""
		d.Passed[id], last = x.Since, max(last, x.Since)
	}
	if !missing {
		d.DoneAt = last
	}
}

// metFor are the signed demonstrations that may count for some duties, by person.
func metFor(ctx context.Context, r WatchReader, duties []Duty) (map[string][]Demonstration, error) {
	q := DemonstrationQuery{List: ListDone}
	people := map[string]bool{}
	for _, d := range duties {
		if d.Kind == DemonstrationDuty && d.End.Ended == "" {
			if len(people) == 0 || d.begins() < q.From {
				q.From = d.begins()
			}
			people[d.PersonID], q.TraineeID = true, d.PersonID
		}
	}
	if len(people) == 0 {
		return nil, nil
	}
	if len(people) > 1 {
		q.TraineeID = ""
	}
	all, err := r.Demonstrations(ctx, q)
	of := map[string][]Demonstration{}
	for _, d := range all {
		of[d.TraineeID] = append(of[d.TraineeID], d)
	}
	return of, err
}

// changeTakes says what a demonstration duty takes: after a change what the requirements asked
// for on the day that it was given, and one where an educator asked it.
func (s *Service) changeTakes(ctx context.Context, r SignOffReader, any bool) (func(Duty) Takes, error) {
	if !any {
		return func(Duty) Takes { return Takes{} }, nil
	}
	kept, err := r.Requirements(ctx)
	asked := s.asked(kept, s.Today())
	return func(d Duty) Takes {
		if d.Assignment != "" {
			return Takes{Clean: 1, Days: 1}
		}
		for i := range asked {
			if c := &asked[i]; c.ID == d.Of {
				return c.Requirements(d.AssignedAt.Day(s.Zone())).Terms.Change
			}
		}
		return (&Competency{}).startingTerms().Change
	}, err
}

// metAgain is the demonstration with which a duty was done: of those that were met, and
// begun under its version or a later one, the one that made them all that is asked for. It
// is done with the last of their signatures.
func metAgain(d Duty, takes Takes, newestFirst []Demonstration, zone *time.Location) (at Instant, id string) {
	t := newTally(takes)
	for _, x := range slices.Backward(newestFirst) {
		if x.Competency != d.Of || x.StartedAt < d.begins() || !x.Met() || !t.take(x.StartedAt.Day(zone), x.PreceptorID) {
			continue
		}
		if at = max(at, x.signed(WatchedMet).SignedAt); t.full() {
			return at, x.ID
		}
	}
	return "", ""
}

// DutiesOf is what a person has or had to do because procedures changed, or because it was
// asked of them: what is open first, by its day. One's own, or anyone's for preceptors and
// educators.
func (s *Service) DutiesOf(ctx context.Context, actor Actor, personID string) (all []DutyState, err error) {
	if err := need(actor); err != nil {
		return nil, err
	}
	if !mayRead(actor, personID) {
		return nil, refuse(ErrNotFound, "There is no such person.")
	}
	return s.duties(ctx, DutyQuery{PersonID: personID})
}

func (s *Service) duties(ctx context.Context, q DutyQuery) (all []DutyState, err error) {
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		duties, err := r.Duties(ctx, q)
		if err == nil {
			all, err = s.dutyStates(ctx, r, duties)
		}
		return err
	})
	slices.SortStableFunc(all, func(a, b DutyState) int {
		return cmp.Or(-cmp.Compare(btoi(a.Open()), btoi(b.Open())), cmp.Compare(a.Due, b.Due))
	})
	return all, err
}

// DutyPage is a duty with what its version changed.
type DutyPage struct {
	DutyState
	Changes []Change
	NewHire bool // hired when the version was in force: what was before it they never knew
}

// Duty is one duty: one's own, or anyone's for preceptors and educators.
func (s *Service) Duty(ctx context.Context, actor Actor, id string) (DutyPage, error) {
	if err := need(actor); err != nil {
		return DutyPage{}, err
	}
	all, err := s.duties(ctx, DutyQuery{ID: id})
	if err != nil {
		return DutyPage{}, err
	}
	if id == "" || len(all) != 1 || !mayRead(actor, all[0].PersonID) {
		return DutyPage{}, errNoDuty()
	}
	page := DutyPage{DutyState: all[0]}
	who, err := s.Records.Person(ctx, page.PersonID)
	if err != nil {
		return page, err
	}
	if page.Assignment != "" {
		return page, nil
	}
	page.NewHire = who.Hired >= page.InForceAt.Day(s.Zone())
	ups, err := s.Records.FollowUps(ctx, page.Version)
	if err != nil {
		return page, err
	}
	for _, f := range ups {
		if f.Seq == page.FollowUp {
			page.Changes, err = f.Told()
		}
	}
	return page, err
}

func errNoDuty() error {
	return refuse(ErrNotFound, "There is no such duty. Your first page shows what you have to do.")
}

// AcknowledgeDuty is the signature of who has read what changed: their own, with their
// password.
func (s *Service) AcknowledgeDuty(ctx context.Context, actor Actor, key, id, password string) (Duty, error) {
	if err := need(actor); err != nil {
		return Duty{}, err
	}
	a, err := ask(actor.Person.ID, key, "acknowledge a change", id)
	if err != nil {
		return Duty{}, err
	}
	var by signer
	before := func() (err error) { by, err = s.ownSigner(ctx, actor, password); return err }
	return s.endDuty(ctx, a, id, before, func(u Unit, d Duty) (DutyEnd, error) {
		switch {
		case d.PersonID != actor.Person.ID && !mayRead(actor, d.PersonID):
			return DutyEnd{}, errNoDuty()
		case d.PersonID != actor.Person.ID:
			return DutyEnd{}, refuse(ErrForbidden, "Only %s can sign this.", d.Name)
		case d.Kind != ReadDuty:
			return DutyEnd{}, refuse(ErrConflict, "This is not ended by a signature.")
		}
		return DutyEnd{Ended: DutyRead, ByID: by.ID, ByName: by.Name, Said: ReadWords}, unchanged(ctx, u, by.account)
	})
}

// TakeBackDuty lets somebody off a duty, for a reason that is kept. Educators only.
func (s *Service) TakeBackDuty(ctx context.Context, actor Actor, key, id, why string) (Duty, error) {
	if err := need(actor, Educator); err != nil {
		return Duty{}, err
	}
	a, err := ask(actor.Person.ID, key, "take back a duty", id, why)
	if err != nil {
		return Duty{}, err
	}
	before := func() (err error) {
		if why, err = tidy("The reason", why, maxReason); err == nil && !legible(why) {
			err = refuse(ErrInvalid, "Say why it is taken back: it is kept.")
		}
		return err
	}
	return s.endDuty(ctx, a, id, before, func(u Unit, d Duty) (DutyEnd, error) {
		_, err := s.stillToDo(ctx, u, id)
		return DutyEnd{Ended: DutyTakenBack, ByID: actor.Person.ID, ByName: actor.Person.Name, Said: why}, err
	})
}

// endDuty keeps how a duty ended, with its leaf.
func (s *Service) endDuty(ctx context.Context, a asked, id string, before func() error, how func(Unit, Duty) (DutyEnd, error)) (Duty, error) {
	_, _, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		d, err := oneDuty(ctx, u, id)
		if err != nil {
			return "", err
		}
		e, err := how(u, d)
		if err == nil && d.End.Ended != "" {
			err = refuse(ErrConflict, "It was %s already, by %s.", d.End.Ended, d.End.ByName)
		}
		if err != nil {
			return "", err
		}
		return id, s.keepDutyEnd(ctx, u, d, e)
	})
	if err != nil {
		return Duty{}, err
	}
	return oneDuty(ctx, s.Records, id)
}

func (s *Service) keepDutyEnd(ctx context.Context, u Unit, d Duty, e DutyEnd) error {
	if d.Assignment != "" {
		return s.keepTakenBack(ctx, u, d, e)
	}
	e.At = s.Now()
	by, err := u.Person(ctx, e.ByID)
	if err != nil {
		return err
	}
	people := []Named{{Part: PartPerson, PersonID: d.PersonID, Name: d.Name, StaffNo: d.StaffNo}}
	if e.Ended == DutyTakenBack {
		people = append(people, named(PartBy, by))
	} else {
		people[0] = named(PartPerson, by)
		if people, err = withReset(ctx, u, people, by.ID); err != nil {
			return err
		}
	}
	if e.Leaf, err = s.ledgered(ctx, u, LeafAbout{Kind: DutyLeaf, Record: d.ID, At: e.At, People: people}, dutyEndFields(d, e)); err != nil {
		return err
	}
	return u.EndDuty(ctx, d.ID, e)
}

func oneDuty(ctx context.Context, r DutyReader, id string) (Duty, error) {
	all, err := r.Duties(ctx, DutyQuery{ID: id})
	if err == nil && (id == "" || len(all) != 1) {
		err = errNoDuty()
	}
	if err != nil {
		return Duty{}, err
	}
	return all[0], nil
}
