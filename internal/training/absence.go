package training

import (
	"context"
)

// Absence is a leave of a person, as it was entered last: rows of one id follow one another
// by Seq. It holds no reason of health.
type Absence struct {
	ID           string
	Seq          int // from 1
	PersonID     string
	From         Day
	Until        Day // its last day; "" while nobody knows
	Cancelled    bool
	At           Instant // when this was entered
	ByID, ByName string
	Why          string
	Leaf         int64
}

// maxAbsenceMonths is how far a leave may lie from today, either way.
const maxAbsenceMonths = 24

// lasts says until when, as the end of a phrase.
func (a *Absence) lasts() string {
	if a.Until == "" {
		return ""
	}
	return " until " + a.Until.Said()
}

// overlaps reports whether two leaves have a day in common.
func (a *Absence) overlaps(b Absence) bool {
	return (a.Until == "" || b.From <= a.Until) && (b.Until == "" || a.From <= b.Until)
}

// EnterAbsence keeps a leave of a person, or with an id another state of it: other days, or
// cancelled. Educators only. Of a the person, the days, Cancelled and Why are asked for.
func (s *Service) EnterAbsence(ctx context.Context, actor Actor, key string, a Absence) (Absence, error) {
	if err := need(actor, Educator); err != nil {
		return Absence{}, err
	}
	asked, err := ask(actor.Person.ID, key, "enter a leave", a.ID, a.PersonID, a.From, a.Until, a.Cancelled, a.Why)
	if err != nil {
		return Absence{}, err
	}
	before := func() (err error) {
		if a.Why, err = tidy("The remark", a.Why, maxReason); err == nil {
			err = s.mayBeAbsent(a)
		}
		return err
	}
	id, _, err := s.once(ctx, asked, before, func(u Unit) (string, error) {
		p, err := u.Person(ctx, a.PersonID)
		if err != nil {
			return "", said(err, ErrNotFound, "There is no such person.")
		}
		if err := s.followsOn(ctx, u, &a); err != nil {
			return "", err
		}
		return a.ID, s.keepAbsence(ctx, u, a, p, actor.Person)
	})
	if err != nil {
		return Absence{}, err
	}
	all, err := s.Records.Absences(ctx, a.PersonID)
	for _, x := range all {
		if x.ID == id {
			return x, nil
		}
	}
	return Absence{}, err
}

// mayBeAbsent refuses days that no leave has.
func (s *Service) mayBeAbsent(a Absence) error {
	if _, err := ParseDay(string(a.From)); err != nil {
		return refuse(ErrInvalid, "A leave needs its first day.")
	}
	if _, err := ParseDay(string(a.Until)); a.Until != "" && err != nil {
		return refuse(ErrInvalid, "%q is no day. Leave the last day empty while nobody knows it.", clip(string(a.Until)))
	}
	if a.Until != "" && a.Until < a.From {
		return refuse(ErrInvalid, "The last day, %s, is before the first, %s.", a.Until.Said(), a.From.Said())
	}
	for _, d := range []Day{a.From, a.Until} {
		old := d == a.From && a.ID != "" // of a leave that lasts for years only the end is new
		if d != "" && !old && (d < s.Today().AddMonths(-maxAbsenceMonths) || d > s.Today().AddMonths(maxAbsenceMonths)) {
			return refuse(ErrInvalid, "%s is more than two years away. Check the year.", d.Said())
		}
	}
	return nil
}

// followsOn gives a leave its id and number among the person's others.
func (s *Service) followsOn(ctx context.Context, u Unit, a *Absence) error {
	all, err := u.Absences(ctx, a.PersonID)
	if err != nil {
		return err
	}
	known := a.ID == ""
	for _, x := range all {
		switch {
		case x.ID == a.ID && x.Cancelled:
			return refuse(ErrConflict, "This leave was cancelled already.")
		case x.ID == a.ID && x.From == a.From && x.Until == a.Until && !a.Cancelled:
			return refuse(ErrInvalid, "It has these days already.")
		case x.ID == a.ID:
			known, a.Seq = true, x.Seq+1
		case !x.Cancelled && !a.Cancelled && a.overlaps(x):
			return refuse(ErrConflict, "There is a leave from %s%s already. Change that one.", x.From.Said(), x.lasts())
		}
	}
	if !known {
		return refuse(ErrNotFound, "There is no such leave.")
	}
	if a.ID == "" {
		a.ID, a.Seq = s.NewID(), 1
		if a.Cancelled {
			return refuse(ErrInvalid, "There is no leave to cancel.")
		}
	}
	return nil
}

func (s *Service) keepAbsence(ctx context.Context, u Unit, a Absence, p, by Person) (err error) {
	a.At, a.ByID, a.ByName = s.Now(), by.ID, by.Name
	about := LeafAbout{Kind: AbsenceLeaf, Record: a.ID, At: a.At, People: []Named{named(PartPerson, p), named(PartBy, by)}}
	if a.Leaf, err = s.ledgered(ctx, u, about, absenceFields(a)); err != nil {
		return err
	}
	return u.AddAbsence(ctx, a)
}

// AbsencesOf are a person's leaves, newest first. Educators and preceptors, and oneself.
func (s *Service) AbsencesOf(ctx context.Context, actor Actor, personID string) ([]Absence, error) {
	if err := need(actor, everybody...); err != nil {
		return nil, err
	}
	if personID == "" || !mayRead(actor, personID) {
		return nil, refuse(ErrNotFound, "There is no such person.")
	}
	return s.Records.Absences(ctx, personID)
}
