package training

import "context"

// People is everyone's standing in every competency, by name. Preceptors and
// educators only.
func (s *Service) People(ctx context.Context, actor Actor) ([]Standing, error) {
	return nil, errNotBuilt
}

// Record is one person's record with its evidence: one's own, or anyone's for
// preceptors and educators.
func (s *Service) Record(ctx context.Context, actor Actor, personID string) (PersonRecord, error) {
	return PersonRecord{}, errNotBuilt
}
