package training

import (
	"context"
	"crypto/subtle"
	"errors"
	"regexp"
	"strings"
	"time"

	"stillwet/internal/procedure"
)

const (
	firstRunFor = 24 * time.Hour
	firstRunWho = "first-run" // in place of a person in the key of the first act
	maxName     = 200
)

// FirstRunToken is the one-time token for making the first educator, and
// whether the clinic still has nobody (open). The token lives 24 hours; a new
// call gives a new one and ends the old.
func (s *Service) FirstRunToken(ctx context.Context) (token string, open bool, err error) {
	token, hash := newSecret()
	err = s.Records.Write(ctx, func(u Unit) error {
		people, err := u.People(ctx)
		if err != nil || len(people) > 0 {
			return err
		}
		open = true
		return u.SetFirstRun(ctx, FirstRun{TokenHash: hash, Until: s.Now().Add(firstRunFor)})
	})
	if err != nil || !open {
		return "", false, err
	}
	return token, true, nil
}

// checkFirstRun finds what a one-time link is for: ErrNotFound when it is no good.
func (s *Service) checkFirstRun(ctx context.Context, r DoorReader, token string) (FirstRun, error) {
	stale := refuse(ErrNotFound, "This link has been used or is too old. Start the program again for a new one.")
	f, err := r.FirstRun(ctx)
	if errors.Is(err, ErrNotFound) {
		return f, stale
	}
	if err != nil {
		return f, err
	}
	if subtle.ConstantTimeCompare([]byte(f.TokenHash), []byte(procedure.Digest([]byte(token)))) != 1 || s.Now() >= f.Until {
		return f, stale
	}
	return f, nil
}

// checkLink finds what a one-time link is for, also one that an educator made.
func (s *Service) checkLink(ctx context.Context, r Reader, token string) (FirstRun, error) {
	f, err := r.AccountLink(ctx, procedure.Digest([]byte(token)))
	if errors.Is(err, ErrNotFound) {
		return s.checkFirstRun(ctx, r, token)
	}
	if err != nil {
		return f, err
	}
	p, err := r.Person(ctx, f.PersonID)
	if err == nil && (s.Now() >= f.Until || s.gone(p)) {
		err = refuse(ErrNotFound, "This link has been used or is too old. Ask your educator for a new one.")
	}
	return f, err
}

// isFirst finds the link of the first educator, and refuses an owner's link.
func (s *Service) isFirst(ctx context.Context, r DoorReader, token string) error {
	f, err := s.checkFirstRun(ctx, r, token)
	if err == nil && f.PersonID != "" {
		err = refuse(ErrNotFound, "This link is for a new password, not for a new account.")
	}
	return err
}

// FirstEducator is what whoever sets the clinic up says of themself and of it.
type FirstEducator struct {
	Name, Username, Password string
	Zone                     string // in which days are counted; "" leaves that of the start
}

// CreateFirstEducator makes the first person, by the one-time token.
func (s *Service) CreateFirstEducator(ctx context.Context, token, key string, in FirstEducator) (Person, error) {
	p, username, err := s.newPerson(Person{Name: in.Name, Role: Educator}, in.Username)
	if err != nil {
		return Person{}, err
	}
	a, err := ask(firstRunWho, key, "make the first educator", procedure.Digest([]byte(token)), p.Name, username)
	if err != nil {
		return Person{}, err
	}
	var hash string
	before := func() (err error) {
		if err = s.isFirst(ctx, s.Records, token); err != nil { // a stranger's request is not worth a hash
			return err
		}
		if in.Zone != "" { // before anything is dated
			if err = s.setZone(in.Zone); err != nil {
				return err
			}
		}
		if err = checkNewPassword(in.Password, p.Name, username, s.Clinic); err == nil {
			hash, err = s.hash(ctx, in.Password)
		}
		return err
	}
	id, _, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		if err := s.isFirst(ctx, u, token); err != nil {
			return "", err
		}
		if err := u.EndFirstRun(ctx); err != nil {
			return "", err
		}
		return p.ID, s.keepPerson(ctx, u, p, Account{PersonID: p.ID, Username: username, PasswordHash: hash}, Person{}, s.Now())
	})
	return s.personOr(ctx, id, err)
}

func (s *Service) personOr(ctx context.Context, id string, err error) (Person, error) {
	if err != nil {
		return Person{}, err
	}
	return s.Records.Person(ctx, id)
}

const usernameRule = "The sign-in name needs 3 to 32 small letters, digits, dots, underscores or hyphens, and begins with a letter or digit."

var (
	usernamePattern = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]{2,31}$`)
	staffNoPattern  = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9./-]{0,19}$`)
)

// newPerson checks what was typed and gives the person an id.
func (s *Service) newPerson(p Person, username string) (Person, string, error) {
	p, wrong := s.checkedPerson(p)
	if username = normalName(username); !usernamePattern.MatchString(username) {
		wrong = append(wrong, usernameRule)
	}
	if len(wrong) > 0 {
		return p, "", refuse(ErrInvalid, "%s", strings.Join(wrong, " "))
	}
	p.ID = s.NewID()
	return p, username, nil
}

// keepPerson keeps a person with an account. by is nobody for the first educator.
func (s *Service) keepPerson(ctx context.Context, u Unit, p Person, a Account, by Person, now Instant) error {
	if err := u.AddPerson(ctx, p, now); err != nil {
		return said(err, ErrConflict, "The staff number %s is already another person's.", p.StaffNo)
	}
	f := personFields(p)
	f["change"] = "added"
	if _, err := s.ledgered(ctx, u, LeafAbout{Kind: PersonLeaf, Record: p.ID, At: now, People: withBy(p, by)}, f); err != nil {
		return err
	}
	return s.addAccount(ctx, u, p, a, by)
}

// AddPerson adds a person with an account and answers their first password,
// which is told once: a repeat of the same act answers it as "". Educators
// only. A username in use is ErrConflict.
func (s *Service) AddPerson(ctx context.Context, actor Actor, key string, p Person, username string) (added Person, firstPassword string, err error) {
	if err := need(actor, Educator); err != nil {
		return Person{}, "", err
	}
	p, username, err = s.newPerson(p, username)
	if err != nil {
		return Person{}, "", err
	}
	a, err := ask(actor.Person.ID, key, "add person", p.Name, p.StaffNo, p.Role, p.Hired, p.Left, username, p.Also, p.Job, p.Team, p.Email, p.Earlier, p.SeesToday)
	if err != nil {
		return Person{}, "", err
	}
	firstPassword = newFirstPassword()
	var hash string
	before := func() (err error) { hash, err = s.hash(ctx, firstPassword); return err }
	now := s.Now()
	id, repeated, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		account := Account{PersonID: p.ID, Username: username, PasswordHash: hash, FirstUntil: now.Add(FirstPasswordFor)}
		return p.ID, s.keepPerson(ctx, u, p, account, actor.Person, now)
	})
	if repeated {
		firstPassword = ""
	}
	added, err = s.personOr(ctx, id, err)
	if err != nil {
		return Person{}, "", err
	}
	return added, firstPassword, nil
}

// OpenAccount gives a person who has none an account, and answers their first password,
// which is told once: a repeat answers "". Educators only, who have just given their own.
func (s *Service) OpenAccount(ctx context.Context, actor Actor, key, personID, username string) (firstPassword string, err error) {
	if err := need(actor, Educator); err != nil {
		return "", err
	}
	username = normalName(username)
	if !usernamePattern.MatchString(username) {
		return "", refuse(ErrInvalid, "%s", usernameRule)
	}
	a, err := ask(actor.Person.ID, key, "open account", personID, username)
	if err != nil {
		return "", err
	}
	firstPassword = newFirstPassword()
	var hash string
	before := func() (err error) {
		if err = s.proved(actor); err == nil {
			hash, err = s.hash(ctx, firstPassword)
		}
		return err
	}
	_, repeated, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		p, err := u.Person(ctx, personID)
		if err != nil {
			return "", said(err, ErrNotFound, "There is no such person.")
		}
		if s.gone(p) {
			return "", refuse(ErrConflict, "%s does not work here any more.", p.Name)
		}
		if _, err := u.AccountOf(ctx, p.ID); !errors.Is(err, ErrNotFound) {
			return "", errors.Join(err, refuse(ErrConflict, "%s has an account already.", p.Name))
		}
		return p.ID, s.addAccount(ctx, u, p, Account{PersonID: p.ID, Username: username, PasswordHash: hash, FirstUntil: s.Now().Add(FirstPasswordFor)}, actor.Person)
	})
	if err != nil || repeated {
		return "", err
	}
	return firstPassword, nil
}

func (s *Service) addAccount(ctx context.Context, u Unit, p Person, a Account, by Person) error {
	if err := u.AddAccount(ctx, a); err != nil {
		return said(err, ErrConflict, "The sign-in name %q is already another person's. Names are never given twice.", a.Username)
	}
	return s.ledgerAccount(ctx, u, p, by, "opened", nil)
}

// NewFirstPassword replaces a forgotten password by a first one and ends the
// person's sessions; wrong tries before it count no more. Educators only, who
// have just given their own. A repeat answers "".
func (s *Service) NewFirstPassword(ctx context.Context, actor Actor, key, personID string) (firstPassword string, err error) {
	if err := need(actor, Educator); err != nil {
		return "", err
	}
	a, err := ask(actor.Person.ID, key, "new first password", personID)
	if err != nil {
		return "", err
	}
	firstPassword = newFirstPassword()
	var hash string
	before := func() (err error) {
		if err = s.proved(actor); err == nil {
			hash, err = s.hash(ctx, firstPassword)
		}
		return err
	}
	_, repeated, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		return personID, s.changeAccount(ctx, u, personID, actor.Person, "first password", func() error {
			now := s.Now()
			return errors.Join(
				u.SetPassword(ctx, personID, hash, now.Add(FirstPasswordFor)),
				u.SetReset(ctx, personID, actor.Person.ID, now),
				u.EndAccountLink(ctx, personID),
				u.EndSessions(ctx, personID, ""))
		})
	})
	if err != nil || repeated {
		return "", err
	}
	return firstPassword, nil
}

// SetDisabled closes or reopens an account; closing ends its sessions.
// Educators only, who have just given their password, and never one's own.
func (s *Service) SetDisabled(ctx context.Context, actor Actor, key, personID string, disabled bool) error {
	if err := need(actor, Educator); err != nil {
		return err
	}
	if personID == actor.Person.ID {
		return refuse(ErrForbidden, "Your own account can only be closed by another educator.")
	}
	a, err := ask(actor.Person.ID, key, "close account", personID, disabled)
	if err != nil {
		return err
	}
	change := map[bool]string{true: "closed", false: "reopened"}[disabled]
	_, _, err = s.once(ctx, a, func() error { return s.proved(actor) }, func(u Unit) (string, error) {
		if err := s.mayBeSet(ctx, u, personID, disabled); err != nil {
			return "", err
		}
		return personID, s.changeAccount(ctx, u, personID, actor.Person, change, func() error {
			if err := u.SetDisabled(ctx, personID, disabled); err != nil || !disabled {
				return err
			}
			return errors.Join(u.EndSessions(ctx, personID, ""), u.EndAccountLink(ctx, personID))
		})
	})
	return err
}

// mayBeSet refuses to close the account of the last educator who can sign in, and to reopen
// that of somebody who left.
func (s *Service) mayBeSet(ctx context.Context, r PeopleReader, personID string, closed bool) error {
	p, err := r.Person(ctx, personID)
	switch {
	case err != nil:
		return said(err, ErrNotFound, "There is no such person.")
	case !closed && s.gone(p):
		return refuse(ErrConflict, "%s does not work here any more. Say first that they came back.", p.Name)
	case !closed || !p.Has(Educator):
		return nil
	}
	n, err := r.EducatorsBut(ctx, s.Today(), personID)
	if err == nil && n == 0 {
		err = refuse(ErrConflict, "%s is the last educator who can sign in. Make somebody else an educator first.", p.Name)
	}
	return err
}

// ChangePassword sets one's own password and ends one's sessions, this one too:
// it goes on under the new cookie, which a repeat does not learn.
func (s *Service) ChangePassword(ctx context.Context, actor Actor, key, old, new string) (cookie string, err error) {
	if actor.Person.ID == "" {
		return "", need(actor)
	}
	a, err := ask(actor.Person.ID, key, "change password")
	if err != nil {
		return "", err
	}
	var was Account
	var hash string
	var next Session
	before := func() (err error) {
		if was, err = s.checkOwn(ctx, actor, old); err != nil {
			return err
		}
		if err = checkNewPassword(new, actor.Person.Name, was.Username, s.Clinic); err != nil {
			return err
		}
		if new == old {
			return refuse(ErrInvalid, "The new password is the present one.")
		}
		hash, err = s.hash(ctx, new)
		return err
	}
	_, repeated, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		if err := unchanged(ctx, u, was); err != nil {
			return "", err
		}
		here, err := u.Session(ctx, actor.Session)
		if errors.Is(err, ErrNotFound) {
			return "", refuse(ErrExpired, "Your session has ended. Sign in again; what was saved is still there.")
		}
		cookie, next = s.newSession(was, here.Browser, s.Now())
		if err != nil {
			return "", err
		}
		return actor.Person.ID, s.changeAccount(ctx, u, actor.Person.ID, actor.Person, "own password", func() error {
			return errors.Join(
				u.SetPassword(ctx, actor.Person.ID, hash, ""),
				u.EndSessions(ctx, actor.Person.ID, ""),
				u.OpenSession(ctx, next))
		})
	})
	if err != nil || repeated {
		return "", err
	}
	return cookie, nil
}

// checkOwn checks the actor's own password.
func (s *Service) checkOwn(ctx context.Context, actor Actor, password string) (Account, error) {
	account, err := s.Records.AccountOf(ctx, actor.Person.ID)
	if err != nil {
		return Account{}, err
	}
	good, err := s.checkPassword(ctx, knock{username: account.Username, password: password, actor: actor})
	if errors.Is(err, ErrPassword) {
		return Account{}, refuse(ErrPassword, "The present password is not right.")
	}
	return good, err
}

// unchanged refuses an account that was closed or given another password since
// its own was checked.
func unchanged(ctx context.Context, r DoorReader, was Account) error {
	is, err := r.AccountOf(ctx, was.PersonID)
	if err == nil && is != was {
		return refuse(ErrConflict, "The account was changed in the meantime. Sign in again.")
	}
	return err
}

func (s *Service) competency(id string) (Competency, bool) { return competencyOf(s.Library, id) }

func competencyOf(in Library, id string) (Competency, bool) {
	for _, c := range in.Competencies() {
		if c.ID == id {
			return c, true
		}
	}
	return Competency{}, false
}
