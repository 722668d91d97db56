package training

import (
	"cmp"
	"context"
	"errors"
	"slices"
)

// OwnSessions are the actor's sessions, newest first.
func (s *Service) OwnSessions(ctx context.Context, actor Actor) ([]Session, error) {
	if actor.Person.ID == "" {
		return nil, need(actor)
	}
	kept, err := s.Records.SessionsOf(ctx, actor.Person.ID)
	if err != nil {
		return nil, err
	}
	all := slices.DeleteFunc(s.spare.withMemory(actor.Person.ID, kept), s.over)
	slices.SortStableFunc(all, func(a, b Session) int { return cmp.Compare(b.CreatedAt, a.CreatedAt) })
	return all, nil
}

// EndOwnSession ends one of the actor's sessions, or with "" all but this one.
// One that is not among them is over, or another's; either way nothing is done.
func (s *Service) EndOwnSession(ctx context.Context, actor Actor, idHash string) error {
	own, err := s.OwnSessions(ctx, actor)
	for _, n := range own {
		if n.IDHash == idHash || idHash == "" && n.IDHash != actor.Session {
			err = errors.Join(err, s.endSession(ctx, n.IDHash))
		}
	}
	return err
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
