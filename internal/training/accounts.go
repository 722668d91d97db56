package training

import "context"

// FirstRunToken is the one-time token for making the first educator, and
// whether the clinic still has nobody (open). The token lives 24 hours; a new
// call gives a new one and ends the old.
func (s *Service) FirstRunToken(ctx context.Context) (token string, open bool, err error) {
	return "", false, errNotBuilt
}

// CheckFirstRun reports whether a first-run token is good: nil, or ErrNotFound.
func (s *Service) CheckFirstRun(ctx context.Context, token string) error { return errNotBuilt }

// CreateFirstEducator makes the first person, by the one-time token.
func (s *Service) CreateFirstEducator(ctx context.Context, token, key, name, username, password string) (Person, error) {
	return Person{}, errNotBuilt
}

// SignIn checks a name and password and opens a session. Wrong name and wrong
// password are the same ErrPassword; too many tries are ErrThrottled.
func (s *Service) SignIn(ctx context.Context, username, password string) (actor Actor, cookie string, err error) {
	return Actor{}, "", errNotBuilt
}

// DemoPeople are the people the demo's sign-in page offers, with what they
// show: one new hire, one preceptor, one educator. Empty without Demo.
func (s *Service) DemoPeople(ctx context.Context) ([]Person, error) { return nil, errNotBuilt }

// SignInDemo opens a session for one of DemoPeople without a password.
func (s *Service) SignInDemo(ctx context.Context, personID string) (actor Actor, cookie string, err error) {
	return Actor{}, "", errNotBuilt
}

// SignOut ends a session. An unknown cookie is no error.
func (s *Service) SignOut(ctx context.Context, cookie string) error { return errNotBuilt }

// Resume finds the session of a cookie: ErrExpired after 30 idle minutes, 10
// hours, sign-out, or when the account was disabled.
func (s *Service) Resume(ctx context.Context, cookie string) (Actor, error) {
	return Actor{}, errNotBuilt
}

// AddPerson adds a person with an account and answers their first password,
// which is told once. Educators only. A username in use is ErrConflict.
func (s *Service) AddPerson(ctx context.Context, actor Actor, key string, p Person, username string) (added Person, firstPassword string, err error) {
	return Person{}, "", errNotBuilt
}

// NewFirstPassword replaces a forgotten password by a first one. Educators only.
func (s *Service) NewFirstPassword(ctx context.Context, actor Actor, key, personID string) (firstPassword string, err error) {
	return "", errNotBuilt
}

// SetDisabled closes or reopens an account; closing ends its sessions. Educators only.
func (s *Service) SetDisabled(ctx context.Context, actor Actor, key, personID string, disabled bool) error {
	return errNotBuilt
}

// ChangePassword sets one's own password and ends one's other sessions. The
// present session goes on under the same cookie.
func (s *Service) ChangePassword(ctx context.Context, actor Actor, old, new string) error {
	return errNotBuilt
}

// Entitle lets a person sign a competency from a day to a day. Educators only.
func (s *Service) Entitle(ctx context.Context, actor Actor, key string, e Entitlement) (Entitlement, error) {
	return Entitlement{}, errNotBuilt
}
