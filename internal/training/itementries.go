package training

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/ledger"
)

// mostAttending is how many people a class list may have.
const mostAttending = 500

// ItemEntry says that somebody had an item on a day, on whose word and where the evidence
// lies. It is never changed: what is wrong is put right by another entry or withdrawn.
type ItemEntry struct {
	ID, ItemID, PersonID   string
	Version                int // of the item, under which it was entered
	On                     Day
	Job                    string // the person's on that day
	Trainer, Qualification string
	Content                string // what it was about
	Evidence               string // where the evidence lies
	Expires                Day    // of a credential; "" when it has no day of its own
	Corrects               string // id of the entry that it stands for, "" for none
	Why                    string // of a correction
	At                     Instant
	ByID, ByName           string // who entered it; nobody for the owner of the folder
	Leaf                   int64

	CorrectedBy string // id of the entry that stands for it, "" while there is none
	End         End    // it was withdrawn
}

// Holds reports whether an entry counts.
func (e ItemEntry) Holds() bool { return e.CorrectedBy == "" && e.End.At == "" }

func itemEntryFields(e ItemEntry) ledger.Fields {
	f := ledger.Fields{"item_id": e.ItemID, "item_seq": e.Version, "person_id": e.PersonID, "on_day": string(e.On), "job": e.Job, "trainer": e.Trainer,
		"qualification": e.Qualification, "content": e.Content, "evidence": e.Evidence, "expires": string(e.Expires), "by_id": e.ByID, "by_name": e.ByName}
	for name, text := range map[string]string{"corrects": e.Corrects, "why": e.Why} {
		if text != "" {
			f[name] = text
		}
	}
	return f
}

// EnterItem enters that people had an item: one class, one day. Of the entry what concerns a
// single person is not asked; their job titles are those of now, unless Job gives another.
// Who has an entry of that day already that holds is refused by name. Educators only.
func (s *Service) EnterItem(ctx context.Context, actor Actor, key string, e ItemEntry, people []string) error {
	if err := need(actor, Educator); err != nil {
		return err
	}
	a, err := ask(actor.Person.ID, key, "enter an item", e, people)
	if err != nil {
		return err
	}
	_, _, err = s.once(ctx, a, func() error { return s.checkEntry(&e) }, func(u Unit) (string, error) {
		item, err := s.item(ctx, u, e.ItemID)
		if err != nil {
			return "", err
		}
		if item.Retired {
			return "", refuse(ErrConflict, "%s is retired: nothing more is entered for it.", item.Title)
		}
		who, err := attending(ctx, u, people)
		if err != nil {
			return "", err
		}
		had, err := u.ItemEntries(ctx, ItemEntryQuery{ItemID: item.ID})
		if err != nil {
			return "", err
		}
		if err := classEnterable(who, e, had); err != nil {
			return "", err
		}
		for _, p := range who {
			e := e
			e.Version, e.PersonID = item.Seq, p.ID
			if err := s.keepEntry(ctx, u, e, p, Person{}, actor.Person); err != nil {
				return "", err
			}
		}
		return item.ID, nil
	})
	return err
}

func attending(ctx context.Context, r PeopleReader, ids []string) ([]Person, error) {
	if n := len(ids); n == 0 || n > mostAttending {
		return nil, refuse(ErrInvalid, "Tick who was there: 1 to %d people.", mostAttending)
	}
	who, err := r.PeopleOf(ctx, ids)
	if err == nil && len(who) != len(ids) {
		err = refuse(ErrNotFound, "Somebody who was ticked is not among the people here.")
	}
	return who, err
}

// checkEntry brings the texts of an entry into order and says all that is wrong at once.
func (s *Service) checkEntry(e *ItemEntry) error {
	var wrong []string
	for _, l := range []line{{"The trainer’s name", &e.Trainer, maxName}, {"The qualification", &e.Qualification, maxJob}, {"The job title", &e.Job, maxJob},
		{"The content", &e.Content, maxContent}, {"The evidence", &e.Evidence, maxReason}} {
		wrong = append(wrong, sentencesOf(tidyLines(l))...)
	}
	e.Job = strings.Join(words(e.Job, ","), ", ")
	if _, err := ParseDay(string(e.On)); err != nil {
		wrong = append(wrong, "Give the day on which it was.")
	} else if e.On > s.Today() {
		wrong = append(wrong, fmt.Sprintf("The day, %s, is still to come. Enter it when it was.", e.On.Said()))
	} else if e.On < firstHired {
		wrong = append(wrong, fmt.Sprintf("The day, %s, is before 1950. Correct it.", e.On.Said()))
	}
	if _, err := ParseDay(string(e.Expires)); e.Expires != "" && (err != nil || e.Expires < e.On) {
		wrong = append(wrong, "The expiry day is no day behind that. Leave it empty when the item’s own interval counts.")
	}
	wrong = append(wrong, illegible(e.Evidence, "Where the evidence lies", "Say where the evidence lies: a sign-in sheet in a folder, a certificate.")...)
	if len(wrong) > 0 {
		return refuse(ErrInvalid, "%s", strings.Join(wrong, " "))
	}
	return nil
}

// classEnterable refuses a class in which somebody has an entry of that day already, and names
// all of them.
func classEnterable(who []Person, e ItemEntry, had []ItemEntry) error {
	var names []string
	for _, p := range who {
		if e.PersonID = p.ID; enterable(p, e, had) != nil {
			names = append(names, p.Name)
		}
	}
	switch len(names) {
	case 0:
		return nil
	case 1:
		return refuse(ErrConflict, "%s has an entry of %s already. Nothing was entered. Take the tick away there, or choose another day. If something in that entry is wrong, correct it.", names[0], e.On.Said())
	}
	last := len(names) - 1
	return refuse(ErrConflict, "%s and %s have an entry of %s already. Nothing was entered. Take these ticks away, or choose another day. If something in such an entry is wrong, correct it.",
		strings.Join(names[:last], ", "), names[last], e.On.Said())
}

// enterable refuses a second entry of a person on one day.
func enterable(p Person, e ItemEntry, had []ItemEntry) error {
	if slices.ContainsFunc(had, func(x ItemEntry) bool {
		return x.ItemID == e.ItemID && x.PersonID == p.ID && x.On == e.On && x.Holds() && x.ID != e.Corrects
	}) {
		return refuse(ErrConflict, "%s has an entry of %s already. Nothing was entered. If something in it is wrong, correct that entry.", p.Name, e.On.Said())
	}
	return nil
}

// keepEntry keeps an entry with its leaf. before is whose record it was, of a correction that
// gives it to somebody else.
func (s *Service) keepEntry(ctx context.Context, u Unit, e ItemEntry, p, before, by Person) (err error) {
	if e.Job == "" {
		e.Job = p.Job
	}
	e.ID, e.At, e.ByID, e.ByName = s.NewID(), s.Now(), by.ID, by.Name
	people := withBy(p, by)
	if before.ID != "" && before.ID != p.ID {
		people = append(people, named(PartBefore, before))
	}
	if e.Leaf, err = s.ledgered(ctx, u, LeafAbout{Kind: ItemEntryLeaf, Record: e.ID, At: e.At, People: people}, itemEntryFields(e)); err != nil {
		return err
	}
	return u.AddItemEntry(ctx, e)
}

// CorrectItemEntry puts another entry in the place of one, with a reason, by an educator's
// password: of another day, item or person, or with other evidence. Both stay to be read. The
// entry that stands for it comes back.
func (s *Service) CorrectItemEntry(ctx context.Context, actor Actor, key, id string, is ItemEntry, why, password string) (ItemEntry, error) {
	a, err := s.askOfEntry(actor, key, "correct an item", id, is, why)
	if err != nil {
		return ItemEntry{}, err
	}
	var by signer
	before := func() (err error) {
		if why, err = s.reason(why, "Say what was wrong: it is kept, and whoever is named in it reads it."); err == nil {
			err = s.checkEntry(&is)
		}
		if err == nil {
			by, err = s.ownSigner(ctx, actor, password)
		}
		return err
	}
	_, _, err = s.once(ctx, a, before, func(u Unit) (string, error) {
		was, err := s.holding(ctx, u, id, by)
		if err != nil {
			return "", err
		}
		return id, s.correctEntry(ctx, u, was, is, why, by.Person)
	})
	if err != nil {
		return ItemEntry{}, err
	}
	all, err := s.Records.ItemEntries(ctx, ItemEntryQuery{Corrects: id})
	if err == nil && len(all) != 1 {
		err = fmt.Errorf("%d entries correct %s", len(all), id)
	}
	if err != nil {
		return ItemEntry{}, err
	}
	return all[0], nil
}

func (s *Service) correctEntry(ctx context.Context, u Unit, was, is ItemEntry, why string, by Person) error {
	item, err := s.item(ctx, u, is.ItemID)
	if err != nil {
		return err
	}
	p, err := u.Person(ctx, is.PersonID)
	if err != nil {
		return said(err, ErrNotFound, "There is no such person.")
	}
	old, err := u.Person(ctx, was.PersonID)
	if err != nil {
		return err
	}
	had, err := u.ItemEntries(ctx, ItemEntryQuery{PersonID: p.ID})
	if err != nil {
		return err
	}
	is.Corrects, is.Why, is.Version = was.ID, why, item.Seq
	if is.saysAsMuchAs(was) {
		return refuse(ErrInvalid, "Nothing differs from the entry as it is. Change what was wrong, or withdraw it.")
	}
	if err := enterable(p, is, had); err != nil {
		return err
	}
	return s.keepEntry(ctx, u, is, p, old, by)
}

// saysAsMuchAs reports whether an entry says nothing else than another.
func (e ItemEntry) saysAsMuchAs(o ItemEntry) bool {
	return e.ItemID == o.ItemID && e.PersonID == o.PersonID && e.On == o.On && e.Job == o.Job && e.Trainer == o.Trainer && e.Qualification == o.Qualification &&
		e.Content == o.Content && e.Evidence == o.Evidence && e.Expires == o.Expires
}

// WithdrawItemEntry withdraws an entry with a reason, by an educator's password.
func (s *Service) WithdrawItemEntry(ctx context.Context, actor Actor, key, id, why, password string) error {
	a, err := s.askOfEntry(actor, key, "withdraw an item", id, why)
	if err != nil {
		return err
	}
	var by signer
	before := func() (err error) {
		if why, err = s.reason(why, "Say why it is withdrawn: it is kept, and whoever is named in it reads it."); err == nil {
			by, err = s.ownSigner(ctx, actor, password)
		}
		return err
	}
	_, _, err = s.once(ctx, a, before, func(u Unit) (string, error) {
		e, err := s.holding(ctx, u, id, by)
		if err != nil {
			return "", err
		}
		p, err := u.Person(ctx, e.PersonID)
		if err != nil {
			return "", err
		}
		return id, s.keepEnd(ctx, u, End{Of: ItemEntryLeaf, Record: id, Why: why}, by.Person, []Named{named(PartPerson, p)})
	})
	return err
}

// askOfEntry is an educator's act on an entry.
func (s *Service) askOfEntry(actor Actor, key, act string, body ...any) (asked, error) {
	if err := need(actor, Educator); err != nil {
		return asked{}, err
	}
	return ask(actor.Person.ID, key, act, body...)
}

// holding is an entry that counts, while who signs is who they were.
func (s *Service) holding(ctx context.Context, u Unit, id string, by signer) (ItemEntry, error) {
	if err := unchanged(ctx, u, by.account); err != nil {
		return ItemEntry{}, err
	}
	e, err := entryOf(ctx, u, id)
	switch {
	case err != nil:
		return e, err
	case e.CorrectedBy != "":
		return e, refuse(ErrConflict, "It was corrected already; what holds is the entry that stands for it.")
	case e.End.At != "":
		return e, refuse(ErrConflict, "%s withdrew it already.", e.End.ByName)
	}
	return e, nil
}

func entryOf(ctx context.Context, r ItemReader, id string) (ItemEntry, error) {
	all, err := r.ItemEntries(ctx, ItemEntryQuery{ID: id})
	if err == nil && len(all) == 0 {
		err = refuse(ErrNotFound, "There is no such entry.")
	}
	if err != nil {
		return ItemEntry{}, err
	}
	return all[0], nil
}
