package training

import (
	"context"
	"errors"
)

// OwnSessions are the actor's sessions, newest first.
func (s *Service) OwnSessions(ctx context.Context, actor Actor) ([]Session, error) {
	if actor.Person.ID == "" {
		return nil, need(actor)
	}
	all, err := s.Records.SessionsOf(ctx, actor.Person.ID)
	if err != nil {
		return nil, err
	}
	var going []Session
	for _, n := range all {
		if !s.over(n) {
			going = append(going, n)
		}
	}
	return going, nil
}

// EndOwnSession ends one of the actor's sessions, or with "" all but this one.
func (s *Service) EndOwnSession(ctx context.Context, actor Actor, idHash string) error {
	if actor.Person.ID == "" {
		return need(actor)
	}
	s.spare.dropSessions(actor.Person.ID, idHash, actor.Session)
	return s.Records.Write(ctx, func(u Unit) error {
		if idHash == "" {
			return u.EndSessions(ctx, actor.Person.ID, actor.Session)
		}
		n, err := u.Session(ctx, idHash)
		if errors.Is(err, ErrNotFound) { // ended already
			return nil
		}
		if err == nil && n.PersonID != actor.Person.ID {
			return refuse(ErrNotFound, "This is not one of your sessions.")
		}
		return errors.Join(err, u.EndSession(ctx, idHash))
	})
}

// Prove checks the actor's own password once more and answers the actor who has
// just given it.
func (s *Service) Prove(ctx context.Context, actor Actor, password string) (Actor, error) {
	if _, err := s.checkOwn(ctx, actor, password); errors.Is(err, ErrPassword) {
		return actor, refuse(ErrPassword, "Your own password is not right. Nothing was done.")
	} else if err != nil {
		return actor, err
	}
	actor.ProvedAt = s.Now()
	return actor, s.Records.Write(ctx, func(u Unit) error { return u.ProveSession(ctx, actor.Session, actor.ProvedAt) })
}

// MustProve reports whether what opens accounts asks for the actor's password
// again: it was not given in this session within the last quarter of an hour.
func (s *Service) MustProve(actor Actor) bool {
	return actor.ProvedAt == "" || s.Now() > actor.ProvedAt.Add(provedFor) || actor.ProvedAt > s.Now().Add(clockSlack)
}

// proved refuses an actor who has to give the password again.
func (s *Service) proved(actor Actor) error {
	if s.MustProve(actor) {
		return refuse(ErrProve, "Give your own password as well: this opens or closes somebody's way in, and yours was given too long ago.")
	}
	return nil
}
