package training

import "context"

// SignInName is what a person signs in with: for educators, who hand accounts
// out, and in a demo clinic for everybody, since nobody there knows their own.
func (s *Service) SignInName(ctx context.Context, actor Actor, personID string) (string, error) {
	if !s.Demo {
		if err := need(actor, Educator); err != nil {
			return "", err
		}
	}
	a, err := s.Records.AccountOf(ctx, personID)
	if err != nil {
		return "", said(err, ErrNotFound, "There is no such account.")
	}
	return a.Username, nil
}
