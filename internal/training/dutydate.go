package training

import "context"

// MoveDuty gives a duty another day, for a reason that is kept; the day of before is told
// beside it. Educators only.
func (s *Service) MoveDuty(ctx context.Context, actor Actor, key, id string, due Day, why string) (Duty, error) {
	if err := need(actor, Educator); err != nil {
		return Duty{}, err
	}
	a, err := ask(actor.Person.ID, key, "move a duty", id, due, why)
	if err != nil {
		return Duty{}, err
	}
	before := func() (err error) {
		if why, err = tidy("The reason", why, maxReason); err == nil && !legible(why) {
			err = refuse(ErrInvalid, "Say why it gets another day: it is kept.")
		}
		if err == nil {
			err = s.mayBeDue(due)
		}
		return err
	}
	_, _, err = s.once(ctx, a, before, func(u Unit) (string, error) {
		d, err := s.stillToDo(ctx, u, id)
		if err == nil && d.Assignment != "" {
			err = refuse(ErrConflict, "Its day stands. Take it back, and ask it anew by another day.")
		}
		if err == nil && d.Due == due {
			err = refuse(ErrInvalid, "It is to be done by this day already.")
		}
		if err != nil {
			return "", err
		}
		return id, s.keepDutyDate(ctx, u, d, DutyDate{Seq: len(d.Dates) + 1, Due: due, At: s.Now(), ByID: actor.Person.ID, ByName: actor.Person.Name, Why: why})
	})
	if err != nil {
		return Duty{}, err
	}
	return oneDuty(ctx, s.Records, id)
}

// stillToDo is a duty that is neither done nor taken back.
func (s *Service) stillToDo(ctx context.Context, u Unit, id string) (Duty, error) {
	d, err := oneDuty(ctx, u, id)
	if err != nil {
		return d, err
	}
	states, err := s.dutyStates(ctx, u, []Duty{d})
	if err == nil && !states[0].Open() {
		err = refuse(ErrConflict, "It is done already, or taken back.")
	}
	return d, err
}

func (s *Service) keepDutyDate(ctx context.Context, u Unit, d Duty, x DutyDate) error {
	by, err := u.Person(ctx, x.ByID)
	if err != nil {
		return err
	}
	people := []Named{{Part: PartPerson, PersonID: d.PersonID, Name: d.Name, StaffNo: d.StaffNo}, named(PartBy, by)}
	if x.Leaf, err = s.ledgered(ctx, u, LeafAbout{Kind: DutyLeaf, Record: d.ID, At: x.At, People: people}, dutyDateFields(d, x)); err != nil {
		return err
	}
	return u.MoveDuty(ctx, d.ID, x)
}

// mayBeDue refuses a day by which nothing can be asked for.
func (s *Service) mayBeDue(due Day) error {
	if _, err := ParseDay(string(due)); err != nil {
		return refuse(ErrInvalid, "Say by which day it has to be done.")
	}
	if due < s.Today() || due > s.Today().AddMonths(maxDutyMonths) {
		return refuse(ErrInvalid, "%s is no day for this: it has to be done from today on, within two years.", due.Said())
	}
	return nil
}
