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
	clockSlack  = 2 * time.Minute

	mostSessions = 10               // of one person; the oldest ends
	provedFor    = 15 * time.Minute // a given password is good for what asks for it again
)

// newSecret is a text nobody can guess, and its hash, which alone is kept.
func newSecret() (secret, hash string) {
	secret = rand.Text()
	return secret, procedure.Digest([]byte(secret))
}

// openSession signs an account's person in. proved is when the password was
// given, "" when it was not.
func (s *Service) openSession(ctx context.Context, account Account, browser string, proved Instant) (Actor, string, error) {
	p, err := s.Records.Person(ctx, account.PersonID)
	if err != nil {
		return Actor{}, "", err
	}
	if s.gone(p) {
		return Actor{}, "", refuse(ErrPassword, "Name and password do not match.")
	}
	cookie, n := s.newSession(account, browser, proved)
	err = s.Records.Write(ctx, func(u Unit) error {
		if err := unchanged(ctx, u, account); err != nil {
			return err
		}
		return keepSession(ctx, u, n)
	})
	if errors.Is(err, ErrUnsaved) { // who signs in now can read at least
		s.spare.keepSession(n, account.Generation)
		err = nil
	}
	if err != nil {
		return Actor{}, "", err
	}
	return actorOf(p, account, n), cookie, nil
}

func (s *Service) newSession(account Account, browser string, proved Instant) (cookie string, n Session) {
	cookie, hash := newSecret()
	now := s.Now()
	return cookie, Session{IDHash: hash, PersonID: account.PersonID, CreatedAt: now, LastSeen: now, Browser: browser, ProvedAt: proved}
}

// keepSession ends what is too old or one too many, and opens the session.
func keepSession(ctx context.Context, u Unit, n Session) error {
	if err := u.EndSessionsBefore(ctx, n.CreatedAt.Add(-sessionLife)); err != nil {
		return err
	}
	if err := u.EndOldestSessions(ctx, n.PersonID, mostSessions-1); err != nil {
		return err
	}
	return u.OpenSession(ctx, n)
}

func actorOf(p Person, account Account, n Session) Actor {
	return Actor{Person: p, Session: n.IDHash, MustChange: account.FirstUntil != "", ProvedAt: n.ProvedAt, Handed: n.Handed}
}

func (s *Service) gone(p Person) bool { return p.GoneOn(s.Today()) }

// DemoPeople are the people the demo's sign-in page offers: one of each
// role. Empty without Demo.
func (s *Service) DemoPeople(ctx context.Context) ([]Person, error) {
	if !s.Demo {
		return nil, nil
	}
	people, err := s.Records.People(ctx)
	if err != nil {
		return nil, err
	}
	var offers []Person
	for _, role := range everybody {
		if p, ok := s.offer(people, role); ok {
			offers = append(offers, p)
		}
	}
	return offers, nil
}

func (s *Service) offer(people []Person, role Role) (Person, bool) {
	for _, id := range s.DemoOffers {
		for _, p := range people {
			if p.ID == id && p.Has(role) {
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
func (s *Service) SignInDemo(ctx context.Context, personID, browser string) (actor Actor, cookie string, err error) {
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
			return s.openSession(ctx, account, browser, "")
		}
	}
	return Actor{}, "", refuse(ErrNotFound, "This is not one of the demo's people. Choose one on the sign-in page.")
}

// SignOut ends a session. An unknown cookie is no error.
func (s *Service) SignOut(ctx context.Context, cookie string) error {
	return s.endSession(ctx, procedure.Digest([]byte(cookie)))
}

// endSession ends a session in memory first: that lasts while nothing can be saved.
func (s *Service) endSession(ctx context.Context, idHash string) error {
	s.spare.endSession(idHash)
	err := s.Records.Write(ctx, func(u Unit) error { return u.EndSession(ctx, idHash) })
	if errors.Is(err, ErrUnsaved) {
		return nil
	}
	if err == nil {
		s.spare.forgetEnded(idHash)
	}
	return err
}

// Resume finds the session of a cookie: ErrExpired after 30 idle minutes, 10
// hours, sign-out, or when the account was disabled. Nothing that cannot be
// saved keeps anybody from reading.
func (s *Service) Resume(ctx context.Context, cookie string) (Actor, error) {
	expired := refuse(ErrExpired, "Your session has ended. Sign in again; what was saved is still there.")
	id := procedure.Digest([]byte(cookie))
	spared, inMemory, ended := s.spare.session(id)
	if ended {
		return Actor{}, expired
	}
	n, err := spared.Session, error(nil)
	if !inMemory {
		n, err = s.Records.Session(ctx, id)
	}
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
	if s.over(n) || account.Disabled || s.gone(p) || inMemory && spared.generation != account.Generation {
		_ = s.endSession(ctx, n.IDHash) // it is over all the same: the next look finds that again
		return Actor{}, expired
	}
	if err := s.seen(ctx, n, account.Generation, inMemory); err != nil {
		return Actor{}, expired
	}
	return actorOf(p, account, n), nil
}

// over reports whether a session has had its time, or is dated ahead: then the
// clock was wrong once, and nobody knows for how long it would last.
func (s *Service) over(n Session) bool {
	now := s.Now()
	ahead := now.Add(clockSlack)
	return now.Time().Sub(n.LastSeen.Time()) > idleLimit || now.Time().Sub(n.CreatedAt.Time()) > sessionLife ||
		n.CreatedAt > ahead || n.LastSeen > ahead
}

// seen notes that a session is used. It answers an error only when somebody
// ended it meanwhile.
func (s *Service) seen(ctx context.Context, n Session, generation int, inMemory bool) error {
	now := s.Now()
	if now.Time().Sub(n.LastSeen.Time()) < seenEvery {
		return nil
	}
	n.LastSeen = now
	err := s.Records.Write(ctx, func(u Unit) error {
		if inMemory {
			if _, err := u.Session(ctx, n.IDHash); errors.Is(err, ErrNotFound) { // begun while nothing could be saved
				return u.OpenSession(ctx, n)
			}
		}
		return u.SeeSession(ctx, n.IDHash, now)
	})
	switch {
	case errors.Is(err, ErrUnsaved):
		s.spare.keepSession(n, generation)
	case err == nil && inMemory:
		s.spare.dropSession(n.IDHash)
	}
	if errors.Is(err, ErrNotFound) {
		return err
	}
	return nil
}
