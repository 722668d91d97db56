package training

import "context"

// Learners are the people a preceptor may watch: everyone employed but themself.
func (s *Service) Learners(ctx context.Context, actor Actor) ([]Person, error) {
	return nil, errNotBuilt
}

// StartDemonstration opens a recording. The actor is the preceptor and must be
// entitled today for the competency.
func (s *Service) StartDemonstration(ctx context.Context, actor Actor, key, traineeID, competency, product string) (Demonstration, error) {
	return Demonstration{}, errNotBuilt
}

// Observe stores one tap of the recorder under o.Key. With o.Step and no
// o.Text it stores every act of that step, each its own line at the same time;
// with o.Text it stores that one line ("prompted", "not seen STEP", "still wet
// SURFACE", "pause" ...). Wipes are numbered here: a step that takes a wipe
// gets the next number and the demonstration's product. The lines come back
// with their numbers. Times may not run backwards by more than two seconds
// (less is set to the time before).
func (s *Service) Observe(ctx context.Context, actor Actor, demoID string, o Observed) ([]Observed, error) {
	return nil, errNotBuilt
}

// Undo takes back the tap whose line has number seq: every line of that tap
// stays and gets an "undone" line, which come back.
func (s *Service) Undo(ctx context.Context, actor Actor, demoID, key string, seq int, atMs int64) ([]Observed, error) {
	return nil, errNotBuilt
}

// Observations is a demonstration with every line recorded so far, for the
// recorder to go on after a reload. Its preceptor only.
func (s *Service) Observations(ctx context.Context, actor Actor, demoID string) (Demonstration, []Observed, error) {
	return Demonstration{}, nil, errNotBuilt
}

// EndDemonstration stops the recording and judges it.
func (s *Service) EndDemonstration(ctx context.Context, actor Actor, key, demoID string, atMs int64, comment string) (Demonstration, error) {
	return Demonstration{}, errNotBuilt
}

// AbandonDemonstration stops a recording that is not to be judged (the station
// was needed, the wrong person was chosen). Its lines are kept.
func (s *Service) AbandonDemonstration(ctx context.Context, actor Actor, key, demoID string) (Demonstration, error) {
	return Demonstration{}, errNotBuilt
}

// Demonstration is one demonstration with its signatures: for its trainee, and
// for preceptors and educators.
func (s *Service) Demonstration(ctx context.Context, actor Actor, id string) (Demonstration, error) {
	return Demonstration{}, errNotBuilt
}
