package training

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"

	"stillwet/internal/procedure"
)

var keyPattern = regexp.MustCompile(`^[!-~]{8,100}$`)

// asked is an act as it was asked for: by whom, under which key, and the hash
// of everything in it but passwords.
type asked struct {
	who, key, act, hash string
}

func ask(who, key, act string, body ...any) (asked, error) {
	if !keyPattern.MatchString(key) {
		return asked{}, refuse(ErrInvalid, "The form came without its key. Load the page again and repeat.")
	}
	text, err := json.Marshal(body)
	if err != nil {
		return asked{}, fmt.Errorf("key of %s: %w", act, err)
	}
	return asked{who, key, act, procedure.Digest(text)}, nil
}

// answered looks for the answer that an earlier sending of the same act got.
func (a asked) answered(ctx context.Context, r ActReader) (answer string, done bool, err error) {
	k, err := r.ActKey(ctx, a.who, a.key)
	switch {
	case errors.Is(err, ErrNotFound):
		return "", false, nil
	case err != nil:
		return "", false, err
	case k.Act != a.act || k.BodyHash != a.hash:
		return "", false, refuse(ErrKeyReused, "This page was sent before with other contents. Load it again and check what was saved.")
	}
	return k.AnswerID, true, nil
}

// once does an act in one transaction with the memory of its key. A repeat
// gets the first answer and does nothing, also while its twin is under way:
// whatever the act is refused for, the key is looked up once more, for the twin
// may have been done meanwhile, and what refuses is then only what it left.
//
// before, when there is one, is what must not hold up other writers: passwords
// are hashed and checked there. What it read of the records do reads again.
func (s *Service) once(ctx context.Context, a asked, before func() error, do func(Unit) (answer string, err error)) (answer string, repeated bool, err error) {
	if answer, repeated, err = a.answered(ctx, s.Records); err != nil || repeated {
		return answer, repeated, err
	}
	if s.probe != nil {
		s.probe(a.act)
	}
	if answer, repeated, err = s.doOnce(ctx, a, before, do); err == nil {
		return answer, repeated, nil
	}
	if first, done, again := a.answered(ctx, s.Records); again == nil && done {
		return first, true, nil
	}
	return "", false, err
}

func (s *Service) doOnce(ctx context.Context, a asked, before func() error, do func(Unit) (string, error)) (answer string, repeated bool, err error) {
	if before != nil {
		if err := before(); err != nil {
			return "", false, err
		}
	}
	err = s.Records.Write(ctx, func(u Unit) error {
		if answer, repeated, err = a.answered(ctx, u); err != nil || repeated {
			return err
		}
		if answer, err = do(u); err != nil {
			return err
		}
		return u.AddActKey(ctx, ActKey{a.who, a.key, a.act, a.hash, answer, s.Now()})
	})
	return answer, repeated, err
}

// everybody are all roles.
var everybody = []Role{Trainee, Preceptor, Educator, Manager}

// need refuses an actor who is nobody, has yet to choose a password, or has
// none of the roles; without any given, who only reads the clinic's numbers.
func need(actor Actor, roles ...Role) error {
	if len(roles) == 0 {
		roles = []Role{Trainee, Preceptor, Educator}
	}
	switch {
	case actor.Person.ID == "":
		return refuse(ErrForbidden, "Sign in first.")
	case actor.MustChange:
		return refuse(ErrForbidden, "Choose your own password first; the one you were given is only for the first time.")
	case !actor.Person.HasAny(roles...):
		return refuse(ErrForbidden, "Your role does not allow this. Ask the educator if it should.")
	}
	return nil
}

// readsWork reports whether somebody sees a person's practice and single demonstrations:
// managers do not.
func readsWork(actor Actor, personID string) bool {
	return actor.Person.ID == personID && actor.Person.HasAny(Trainee, Preceptor, Educator) || actor.Person.HasAny(Preceptor, Educator)
}

// mayRead lets people read their own records, and preceptors, educators and managers
// everyone's. To others a record is as absent as a missing one. Managers are kept from
// single records of practice by need.
func mayRead(actor Actor, personID string) bool {
	return actor.Person.ID == personID || actor.Person.HasAny(Preceptor, Educator, Manager)
}
