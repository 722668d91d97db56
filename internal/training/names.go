package training

import (
	"context"
	"errors"
)

// SignInName is what a person signs in with: for educators, who hand accounts
// out, and in a demo clinic for everybody, since nobody there knows their own. It is "" for
// who has no account.
func (s *Service) SignInName(ctx context.Context, actor Actor, personID string) (string, error) {
	if !s.Demo {
		if err := need(actor, Educator); err != nil {
			return "", err
		}
	}
	a, err := s.Records.AccountOf(ctx, personID)
	if errors.Is(err, ErrNotFound) {
		return "", nil
	}
	return a.Username, err
}
