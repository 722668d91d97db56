package training

import (
	"cmp"
	"context"
	"slices"
	"time"

	"stillwet/internal/ledger"
)

// mostAssigned is how many people something may be asked of at once.
const mostAssigned = 2000

// Ask is one thing that is asked of people: to pass the tests of a module, to be watched once
// more, or to have another annual item.
type Ask struct {
	Kind DutyKind // ModuleDuty, DemonstrationDuty or ItemDuty
	Of   string   // id of the module, competency or item
	Due  Day      // the day by which it is to be done, that day included
	Why  string   // in a sentence, for whom it is asked of; may be ""
}

// Assignment is what an educator asked of several people at once.
type Assignment struct {
	ID           string
	At           Instant
	ByID, ByName string
	Ask
	Title  string // of the module, competency or item, as it stood
	People []Assigned
	Ends   []AssignmentEnd // oldest first
	Leaf   int64
}

// Assigned is one of those whom it was asked of, as they stood.
type Assigned struct {
	ID                      string // of what they have to do
	N                       int    // from 1
	PersonID, Name, StaffNo string
}

// AssignmentEnd says that it is asked no longer, of one of them by their number, or with 0 of
// all.
type AssignmentEnd struct {
	N                 int
	At                Instant
	ByID, ByName, Why string
	Leaf              int64
}

// UndoneWhy stands where a reason stands when what was asked is undone on the same day.
const UndoneWhy = "Undone on the day on which it was asked."

// undone is that all of it was taken back; the zero end when it was not.
func (a *Assignment) undone() AssignmentEnd {
	for _, e := range a.Ends {
		if e.N == 0 {
			return e
		}
	}
	return AssignmentEnd{}
}

// AssignmentReader finds what was asked of people.
type AssignmentReader interface {
	// Assignments are those of an id, or all with "", newest first.
	Assignments(ctx context.Context, id string) ([]Assignment, error)
	// AssignmentsAt are those that say they, or an end of them, are of these leaves.
	AssignmentsAt(ctx context.Context, leaves []int64) ([]Assignment, error)
}

// AssignmentWriter keeps it.
type AssignmentWriter interface {
	AddAssignment(ctx context.Context, a Assignment) error // without ends
	EndAssignment(ctx context.Context, id string, e AssignmentEnd) error
}

// assignmentFields is what was asked, with everybody it was asked of.
func assignmentFields(a Assignment) ledger.Fields {
	of := make([]ledger.Fields, len(a.People))
	for i, p := range a.People {
		of[i] = assignedFields(p)
	}
	f := a.askedFields()
	f["change"], f["by_id"], f["by_name"], f["why"], f["asked_of"], f["people_asked"] = "asked", a.ByID, a.ByName, a.Why, of, len(of)
	return f
}

func (a *Assignment) askedFields() ledger.Fields {
	return ledger.Fields{"asked": string(a.Kind), "subject": a.Of, "title": a.Title, "due": string(a.Due)}
}

func assignedFields(p Assigned) ledger.Fields {
	return ledger.Fields{"id": p.ID, "n": p.N, "person_id": p.PersonID, "name": p.Name, "staff_no": p.StaffNo}
}

// assignmentEndFields is that it is asked no longer: of whom, and what it was.
func assignmentEndFields(a Assignment, e AssignmentEnd) ledger.Fields {
	f := a.askedFields()
	f["change"], f["n"], f["by_id"], f["by_name"], f["why"] = "undone", e.N, e.ByID, e.ByName, e.Why
	if i := slices.IndexFunc(a.People, func(p Assigned) bool { return p.N == e.N }); i >= 0 {
		f["change"], f["asked_of"] = "taken back", assignedFields(a.People[i])
	}
	return f
}

// Where somebody or something changed since, nothing is asked. Educators only.
func (s *Service) Assign(ctx context.Context, actor Actor, key string, wanted Ask, ids []string, seen string) (Assignment, error) {
	if err := need(actor, Educator); err != nil {
		return Assignment{}, err
	}
	ids = eachOnce(ids)
	a, err := ask(actor.Person.ID, key, "ask something of people", wanted, ids, seen)
	if err != nil {
		return Assignment{}, err
	}
	id, _, err := s.once(ctx, a, func() error { return s.checkAsk(&wanted, ids) }, func(u Unit) (string, error) {
		p, err := s.previewed(ctx, u, wanted, ids)
		switch {
		case err != nil:
			return "", err
		case p.Seen != seen:
			return "", refuse(ErrConflict, "Something changed since you looked at this: a person, or what was asked of them. Nothing was asked. Look at it again.")
		case len(p.Asked) == 0:
			return "", refuse(ErrInvalid, "Everybody is left out: nothing would be asked. Choose other people.")
		}
		return s.keepAssignment(ctx, u, p, actor.Person)
	})
	if err != nil {
		return Assignment{}, err
	}
	return assignmentOf(ctx, s.Records, id)
}

func (s *Service) keepAssignment(ctx context.Context, u Unit, p AssignmentPreview, by Person) (id string, err error) {
	a := Assignment{ID: s.NewID(), At: s.Now(), ByID: by.ID, ByName: by.Name, Ask: p.Ask, Title: p.Title}
	for i, x := range p.Asked {
		a.People = append(a.People, Assigned{s.NewID(), i + 1, x.Person.ID, x.Person.Name, x.Person.StaffNo})
	}
	about := LeafAbout{Kind: AssignmentLeaf, Record: a.ID, At: a.At, People: []Named{named(PartBy, by)}}
	if a.Leaf, err = s.ledgered(ctx, u, about, assignmentFields(a)); err != nil {
		return "", err
	}
	return a.ID, u.AddAssignment(ctx, a)
}

func assignmentOf(ctx context.Context, r AssignmentReader, id string) (Assignment, error) {
	all, err := r.Assignments(ctx, id)
	if err == nil && (id == "" || len(all) != 1) {
		err = refuse(ErrNotFound, "There is nothing like this that was asked.")
	}
	if err != nil {
		return Assignment{}, err
	}
	return all[0], nil
}

// UndoAssignment takes back what was asked of everybody, on the day on which it was asked.
// Educators only.
func (s *Service) UndoAssignment(ctx context.Context, actor Actor, key, id string) error {
	if err := need(actor, Educator); err != nil {
		return err
	}
	a, err := ask(actor.Person.ID, key, "undo what was asked", id)
	if err != nil {
		return err
	}
	_, _, err = s.once(ctx, a, nil, func(u Unit) (string, error) {
		a, err := assignmentOf(ctx, u, id)
		switch {
		case err != nil:
			return "", err
		case a.undone().At != "":
			return "", refuse(ErrConflict, "%s undid it already.", a.undone().ByName)
		case !s.mayUndo(&a):
			return "", refuse(ErrConflict, "It was asked on %s: only on that day can it be undone for all. Take it back for single people, with a reason.", a.At.Day(s.Zone()).Said())
		}
		return id, s.endAssignment(ctx, u, a, AssignmentEnd{Why: UndoneWhy}, actor.Person, nil)
	})
	return err
}

// mayUndo reports whether something can still be undone for all.
func (s *Service) mayUndo(a *Assignment) bool {
	return a.undone().At == "" && a.At.Day(s.Zone()) == s.Today()
}

// keepTakenBack keeps that something is asked of somebody no longer.
func (s *Service) keepTakenBack(ctx context.Context, u Unit, d Duty, e DutyEnd) error {
	a, err := assignmentOf(ctx, u, d.Assignment)
	if err != nil {
		return err
	}
	by, err := u.Person(ctx, e.ByID)
	if err != nil {
		return err
	}
	of := []Named{{Part: PartPerson, PersonID: d.PersonID, Name: d.Name, StaffNo: d.StaffNo}}
	return s.endAssignment(ctx, u, a, AssignmentEnd{N: d.N, Why: e.Said}, by, of)
}

func (s *Service) endAssignment(ctx context.Context, u Unit, a Assignment, e AssignmentEnd, by Person, of []Named) (err error) {
	e.At, e.ByID, e.ByName = s.Now(), by.ID, by.Name
	about := LeafAbout{Kind: AssignmentLeaf, Record: a.ID, At: e.At, People: append(of, named(PartBy, by))}
	if e.Leaf, err = s.ledgered(ctx, u, about, assignmentEndFields(a, e)); err != nil {
		return err
	}
	return u.EndAssignment(ctx, a.ID, e)
}

// hadFor are the entries that may count for some duties, by person, the latest day first.
func (s *Service) hadFor(ctx context.Context, r ItemReader, duties []Duty) (map[string][]ItemEntry, error) {
	var q ItemEntryQuery
	people := map[string]bool{}
	for _, d := range duties {
		if d.Kind == ItemDuty && d.End.Ended == "" {
			people[d.PersonID], q.PersonID = true, d.PersonID
			day := d.AssignedAt.Day(s.Zone())
			q.Since = min(cmp.Or(q.Since, day), day)
		}
	}
	if len(people) == 0 {
		return nil, nil
	}
	if len(people) > 1 {
		q.PersonID = ""
	}
	all, err := r.ItemEntries(ctx, q)
	of := map[string][]ItemEntry{}
	for _, e := range all {
		of[e.PersonID] = append(of[e.PersonID], e)
	}
	return of, err
}

// hadSince is when somebody had an item that was asked of them: with the first entry of the
// day on which it was asked, or a later one, that holds.
func hadSince(d Duty, latestFirst []ItemEntry, zone *time.Location) Instant {
	for _, e := range slices.Backward(latestFirst) {
		if e.ItemID == d.Of && e.Holds() && e.On >= d.AssignedAt.Day(zone) {
			return min(e.At, e.On.End(zone).Add(-time.Millisecond))
		}
	}
	return ""
}
