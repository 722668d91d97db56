package training

import "context"

// Choice is a meaning a preceptor may or may not sign, and why not.
type Choice struct {
	Meaning Meaning
	Words   string
	WhyNot  string // "" when it may be signed
}

// Choices are the meanings for the actor's signature as preceptor on a
// demonstration, in the order in which they are shown.
func (s *Service) Choices(ctx context.Context, actor Actor, d Demonstration) ([]Choice, error) {
	return nil, errNotBuilt
}

// SignAsLearner puts the trainee's signature on a demonstration. It is given
// on the preceptor's device, so the trainee's own name and password come with
// it; actor is whose session it is (the preceptor, or the trainee).
func (s *Service) SignAsLearner(ctx context.Context, actor Actor, key, demoID, username, password string) (Demonstration, error) {
	return Demonstration{}, errNotBuilt
}

// SignAsPreceptor puts the preceptor's signature on a demonstration, after the
// learner's.
func (s *Service) SignAsPreceptor(ctx context.Context, actor Actor, key, demoID string, m Meaning, password string) (Demonstration, error) {
	return Demonstration{}, errNotBuilt
}

// MaySignOff reports whether the actor could sign the person off for the
// competency today: nil, or an error with the reason.
func (s *Service) MaySignOff(ctx context.Context, actor Actor, personID, competency string) error {
	return errNotBuilt
}

// SignOff signs a person off for a competency on the evidence that is there.
func (s *Service) SignOff(ctx context.Context, actor Actor, key, personID, competency, password string) (SignOff, error) {
	return SignOff{}, errNotBuilt
}
