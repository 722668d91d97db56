package training

import (
	"context"

	"stillwet/internal/action"
)

// Home is what a person sees first.
func (s *Service) Home(ctx context.Context, actor Actor) (Home, error) { return Home{}, errNotBuilt }

// OpenDraft is the person's unfinished build of a scenario, a new one when
// there is none.
func (s *Service) OpenDraft(ctx context.Context, actor Actor, scenarioID string) (Draft, error) {
	return Draft{}, errNotBuilt
}

// Draft is one's own unfinished work.
func (s *Service) Draft(ctx context.Context, actor Actor, draftID string) (Draft, error) {
	return Draft{}, errNotBuilt
}

// SaveSteps saves the whole list of a build. revision is the one the list was
// made from; when the draft has moved on it is ErrConflict. The same save sent
// twice is answered twice and counts once.
func (s *Service) SaveSteps(ctx context.Context, actor Actor, draftID string, revision int, steps []string) (Draft, error) {
	return Draft{}, errNotBuilt
}

// OpenRun is the person's unfinished run of a scenario, nil when there is none.
func (s *Service) OpenRun(ctx context.Context, actor Actor, scenarioID string) (*Draft, error) {
	return nil, errNotBuilt
}

// StartRun starts a run; an unfinished run of the scenario is ErrConflict.
// pace is 1 (real time) or the scenario's own.
func (s *Service) StartRun(ctx context.Context, actor Actor, key, scenarioID string, pace int) (Draft, error) {
	return Draft{}, errNotBuilt
}

// Tap adds a tap to a run, at the scenario's clock. Time may neither run
// backwards nor ahead of the server's clock (ErrInvalid).
func (s *Service) Tap(ctx context.Context, actor Actor, draftID, key, step string, at action.Millis) (Draft, error) {
	return Draft{}, errNotBuilt
}

// FinishBuild judges a build and ends its draft.
func (s *Service) FinishBuild(ctx context.Context, actor Actor, key, draftID string, revision int) (Attempt, error) {
	return Attempt{}, errNotBuilt
}

// FinishRun judges a run and ends its draft.
func (s *Service) FinishRun(ctx context.Context, actor Actor, key, draftID string, at action.Millis) (Attempt, error) {
	return Attempt{}, errNotBuilt
}

// DiscardDraft throws unfinished work away. Nothing of it is kept.
func (s *Service) DiscardDraft(ctx context.Context, actor Actor, draftID string) error {
	return errNotBuilt
}

// Attempt is a finished attempt: one's own, or anyone's for preceptors and
// educators.
func (s *Service) Attempt(ctx context.Context, actor Actor, id string) (Attempt, error) {
	return Attempt{}, errNotBuilt
}
