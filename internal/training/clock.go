package training

import (
	"context"

	"stillwet/internal/ledger"
)

// ClockBehind reports whether the server's clock stands more than an hour before what
// was ledgered last, and when that was. Nothing is refused for it: what is signed
// meanwhile carries a mark.
func (s *Service) ClockBehind(ctx context.Context) (last Instant, behind bool, err error) {
	last, err = s.Records.LastLedgered(ctx)
	return last, clockBehind(s.Now(), last), err
}

// ConfirmClock is the educator's word that the server's time is right, whatever was
// ledgered before. Later records are measured by it.
func (s *Service) ConfirmClock(ctx context.Context, actor Actor, key string) error {
	if err := need(actor, Educator); err != nil {
		return err
	}
	a, err := ask(actor.Person.ID, key, "confirm the clock")
	if err != nil {
		return err
	}
	_, _, err = s.once(ctx, a, nil, func(u Unit) (string, error) {
		last, err := u.LastLedgered(ctx)
		if err != nil {
			return "", err
		}
		now := s.Now()
		if !clockBehind(now, last) {
			return "", refuse(ErrConflict, "The server's clock is not behind any more.")
		}
		_, err = s.ledgered(ctx, u, LeafAbout{Kind: ClockLeaf, Record: "clock", At: now, People: []Named{named(PartBy, actor.Person)}},
			ledger.Fields{"last_ledgered": string(last)})
		return "clock", err
	})
	return err
}
