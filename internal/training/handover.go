package training

import "context"

// HandOver lets a learner sign on the preceptor's device: until it is taken back with the
// preceptor's password, or signed by them, the session shows that page and nothing else.
func (s *Service) HandOver(ctx context.Context, actor Actor, demoID string) error {
	if err := need(actor); err != nil {
		return err
	}
	return s.Records.Write(ctx, func(u Unit) error {
		d, err := s.visible(ctx, u, actor, demoID)
		if err == nil {
			err = d.own(actor)
		}
		switch {
		case err != nil:
			return err
		case d.Stage != Reviewed && d.Stage != Refused:
			return refuse(ErrConflict, "%s", d.whyStays())
		case d.signed(LearnerDid) != nil:
			return refuse(ErrConflict, "The learner has signed this demonstration already.")
		}
		return u.HandSession(ctx, actor.Session, d.ID)
	})
}

// TakeBack ends that, with the password of whose session it is.
func (s *Service) TakeBack(ctx context.Context, actor Actor, password string) error {
	if err := need(actor); err != nil {
		return err
	}
	if _, err := s.ownSigner(ctx, actor, password); err != nil {
		return err
	}
	return s.Records.Write(ctx, func(u Unit) error { return u.HandSession(ctx, actor.Session, "") })
}
