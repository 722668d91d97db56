package training

import (
	"context"
	"crypto/rand"
	"errors"
	"time"

	"stillwet/internal/procedure"
)

// Limits of a session.
const (
	idleLimit   = 30 * time.Minute
	sessionLife = 10 * time.Hour
	seenEvery   = time.Minute // last seen is written no more often
)

// newSecret is a text nobody can guess, and its hash, which alone is kept.
func newSecret() (secret, hash string) {
	secret = rand.Text()
	return secret, procedure.Digest([]byte(secret))
}

func (s *Service) openSession(ctx context.Context, account Account) (Actor, string, error) {
	p, err := s.Records.Person(ctx, account.PersonID)
	if err != nil {
		return Actor{}, "", err
	}
	if s.gone(p) {
		return Actor{}, "", refuse(ErrPassword, "Name and password do not match.")
	}
	cookie, hash := newSecret()
	now := s.Now()
	err = s.Records.Write(ctx, func(u Unit) error {
		if err := u.EndSessionsBefore(ctx, now.Add(-sessionLife)); err != nil {
			return err
		}
		return u.OpenSession(ctx, Session{IDHash: hash, PersonID: p.ID, CreatedAt: now, LastSeen: now})
	})
	if err != nil {
		return Actor{}, "", err
	}
	return Actor{Person: p, Session: hash, MustChange: account.FirstUntil != ""}, cookie, nil
}

func (s *Service) gone(p Person) bool { return p.Left != "" && p.Left < s.Today() }

// DemoPeople are the people the demo's sign-in page offers: one new hire, one
// preceptor, one educator. Empty without Demo.
func (s *Service) DemoPeople(ctx context.Context) ([]Person, error) {
	if !s.Demo {
		return nil, nil
	}
	people, err := s.Records.People(ctx)
	if err != nil {
		return nil, err
	}
	var offers []Person
	for _, role := range []Role{Trainee, Preceptor, Educator} {
		if p, ok := s.offer(people, role); ok {
			offers = append(offers, p)
		}
	}
	return offers, nil
}

func (s *Service) offer(people []Person, role Role) (Person, bool) {
	for _, id := range s.DemoOffers {
		for _, p := range people {
			if p.ID == id && p.Role == role {
				return p, true
			}
		}
	}
	for _, p := range people {
		if p.Role == role && !s.gone(p) {
			return p, true
		}
	}
	return Person{}, false
}

// SignInDemo opens a session for one of DemoPeople without a password.
func (s *Service) SignInDemo(ctx context.Context, personID string) (actor Actor, cookie string, err error) {
	offers, err := s.DemoPeople(ctx)
	if err != nil {
		return Actor{}, "", err
	}
	for _, p := range offers {
		if p.ID == personID {
			account, err := s.Records.AccountOf(ctx, p.ID)
			if err != nil {
				return Actor{}, "", err
			}
			return s.openSession(ctx, account)
		}
	}
	return Actor{}, "", refuse(ErrNotFound, "This is not one of the demo's people. Choose one on the sign-in page.")
}

// SignOut ends a session. An unknown cookie is no error.
func (s *Service) SignOut(ctx context.Context, cookie string) error {
	return s.Records.Write(ctx, func(u Unit) error { return u.EndSession(ctx, procedure.Digest([]byte(cookie))) })
}

// Resume finds the session of a cookie: ErrExpired after 30 idle minutes, 10
// hours, sign-out, or when the account was disabled.
func (s *Service) Resume(ctx context.Context, cookie string) (Actor, error) {
	expired := refuse(ErrExpired, "Your session has ended. Sign in again; what was saved is still there.")
	n, err := s.Records.Session(ctx, procedure.Digest([]byte(cookie)))
	if errors.Is(err, ErrNotFound) {
		return Actor{}, expired
	}
	if err != nil {
		return Actor{}, err
	}
	p, err := s.Records.Person(ctx, n.PersonID)
	if err != nil {
		return Actor{}, err
	}
	account, err := s.Records.AccountOf(ctx, n.PersonID)
	if err != nil {
		return Actor{}, err
	}
	now := s.Now()
	idle := now.Time().Sub(n.LastSeen.Time())
	if idle > idleLimit || now.Time().Sub(n.CreatedAt.Time()) > sessionLife || account.Disabled || s.gone(p) {
		err := s.Records.Write(ctx, func(u Unit) error { return u.EndSession(ctx, n.IDHash) })
		return Actor{}, errors.Join(expired, err)
	}
	if idle >= seenEvery {
		err := s.Records.Write(ctx, func(u Unit) error { return u.SeeSession(ctx, n.IDHash, now) })
		if errors.Is(err, ErrNotFound) {
			return Actor{}, expired
		}
		if err != nil {
			return Actor{}, err
		}
	}
	return Actor{Person: p, Session: n.IDHash, MustChange: account.FirstUntil != ""}, nil
}
