package training

import (
	"context"
	"errors"
)

// Orientation is who looks after a new hire, and the last day of it.
type Orientation struct {
	PersonID                   string
	Seq                        int // the last one of a person counts
	PreceptorID, PreceptorName string
	LastDay                    Day
	SetBy, SetByName           string // who set it, as they were called then
	SetAt                      Instant
}

// NewHire is somebody in orientation as their preceptor sees them.
type NewHire struct {
	Person      Person
	Orientation Orientation
	Ways        []ModuleWay
	Standings   []Standing
}

// SetOrientation says who looks after a person, and until which day, that one included.
// Educators only. Of o the person, the preceptor and the day are asked for.
func (s *Service) SetOrientation(ctx context.Context, actor Actor, key string, o Orientation) (Orientation, error) {
	if err := need(actor, Educator); err != nil {
		return Orientation{}, err
	}
	a, err := ask(actor.Person.ID, key, "set orientation", o.PersonID, o.PreceptorID, o.LastDay)
	if err != nil {
		return Orientation{}, err
	}
	if _, err := ParseDay(string(o.LastDay)); err != nil {
		return Orientation{}, refuse(ErrInvalid, "The orientation needs its last day.")
	}
	_, _, err = s.once(ctx, a, nil, func(u Unit) (string, error) {
		preceptor, err := s.checkOrientation(ctx, u, o)
		if err != nil {
			return "", err
		}
		was, err := u.OrientationOf(ctx, o.PersonID)
		if err != nil && !errors.Is(err, ErrNotFound) {
			return "", err
		}
		o.Seq, o.PreceptorName, o.SetBy, o.SetByName, o.SetAt = was.Seq+1, preceptor.Name, actor.Person.ID, actor.Person.Name, s.Now()
		return o.PersonID, u.AddOrientation(ctx, o)
	})
	if err != nil {
		return Orientation{}, err
	}
	return s.Records.OrientationOf(ctx, o.PersonID)
}

// checkOrientation finds the preceptor of an orientation that can be.
func (s *Service) checkOrientation(ctx context.Context, r PeopleReader, o Orientation) (Person, error) {
	p, err := r.Person(ctx, o.PersonID)
	if err != nil {
		return Person{}, said(err, ErrNotFound, "There is no such person.")
	}
	by, err := r.Person(ctx, o.PreceptorID)
	switch {
	case errors.Is(err, ErrNotFound), err == nil && (!by.HasAny(Preceptor, Educator) || s.gone(by) || by.ID == p.ID):
		return Person{}, refuse(ErrInvalid, "Choose a preceptor or an educator who works here, and not the person themself.")
	case err != nil:
		return Person{}, err
	case p.Hired != "" && o.LastDay < p.Hired:
		return Person{}, refuse(ErrInvalid, "The last day of the orientation, %s, is before %s began to work here, on %s.", o.LastDay.Said(), p.Name, p.Hired.Said())
	}
	return by, nil
}

// Preceptors are the people who can look after a new hire, by name. Educators only.
func (s *Service) Preceptors(ctx context.Context, actor Actor) (all []Person, err error) {
	if err := need(actor, Educator); err != nil {
		return nil, err
	}
	people, err := s.Records.People(ctx)
	for _, p := range people {
		if p.HasAny(Preceptor, Educator) && !s.gone(p) {
			all = append(all, p)
		}
	}
	return all, err
}

// seesPractice reports whether somebody may see a person's guided practice: the person
// themself, their primary preceptor, and educators.
func seesPractice(actor Actor, personID string, o Orientation) bool {
	return actor.Person.ID == personID || actor.Person.Has(Educator) || o.PreceptorID == actor.Person.ID
}

func (s *Service) maySeePractice(ctx context.Context, actor Actor, personID string) error {
	if seesPractice(actor, personID, Orientation{}) {
		return nil
	}
	o, err := orientationOf(ctx, s.Records, personID)
	if err == nil && !seesPractice(actor, personID, o) {
		err = ErrNotFound
	}
	return err
}

// orientationOf is the zero Orientation of whoever has none.
func orientationOf(ctx context.Context, r CourseReader, personID string) (Orientation, error) {
	o, err := r.OrientationOf(ctx, personID)
	if errors.Is(err, ErrNotFound) {
		return Orientation{}, nil
	}
	return o, err
}

// newHires are those whom a preceptor looks after, but for who is signed off: the first
// whose orientation ends first.
func (s *Service) newHires(ctx context.Context, r Reader, self string, standings []Standing) (all []NewHire, err error) {
	own, err := r.OrientationsBy(ctx, self)
	if err != nil {
		return nil, err
	}
	var ids []string
	for _, o := range own {
		h := NewHire{Orientation: o}
		for _, st := range standings {
			if st.Person.ID == o.PersonID {
				h.Person, h.Standings = st.Person, append(h.Standings, st)
			}
		}
		if _, signedOff := lastSignOff(h.Standings); h.Person.ID != "" && !signedOff {
			all, ids = append(all, h), append(ids, o.PersonID)
		}
	}
	if len(all) == 0 {
		return nil, nil
	}
	by, err := r.CourseOf(ctx, ids)
	if err != nil {
		return nil, err
	}
	for i := range all {
		if all[i].Ways, err = s.ways(ctx, r, by[all[i].Person.ID], all[i].Standings); err != nil {
			return nil, err
		}
	}
	return all, nil
}

func lastSignOff(standings []Standing) (at Instant, ok bool) {
	for _, st := range standings {
		if st.LastSignOff != nil {
			at, ok = max(at, st.LastSignOff.SignedAt), true
		}
	}
	return at, ok
}
