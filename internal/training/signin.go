package training

import (
	"context"
	"errors"
	"strings"
	"time"

	"golang.org/x/text/unicode/norm"

	"stillwet/internal/procedure"
)

// Throttling of wrong passwords, by name, whether or not the name exists: the
// first few cost nothing, then the wait doubles up to a quarter of an hour, and
// after a hundred the name is closed until an educator gives a first password
// (NIST SP 800-63B: no more than 100 in a row).
const (
	freeTries    = 5
	longestWait  = 15 * time.Minute
	closedAfter  = 100
	triesForgets = 30 * 24 * time.Hour
)

func (t Tries) wait(now Instant) time.Duration {
	if t.Failures < freeTries {
		return 0
	}
	wait := longestWait
	if n := t.Failures - freeTries; n < 10 {
		wait = min(wait, time.Second<<n)
	}
	return t.Last.Add(wait).Time().Sub(now.Time())
}

func normalName(username string) string {
	return strings.ToLower(strings.TrimSpace(norm.NFC.String(username)))
}

func nameHash(username string) string { return procedure.Digest([]byte("name " + username)) }

// checkPassword is the only way to a password: the account when name and
// password are good. Its tries are counted one after another.
func (s *Service) checkPassword(ctx context.Context, username, password string) (Account, error) {
	wrong := refuse(ErrPassword, "Name and password do not match.")
	username = normalName(username)
	if len(username) > 200 || len(password) > maxPasswordBytes || password == "" {
		return Account{}, wrong
	}
	hash := nameHash(username)
	leave, err := s.gates.name(ctx, hash)
	if err != nil {
		return Account{}, err
	}
	defer leave()
	tries, err := s.Records.Tries(ctx, hash)
	if err != nil {
		return Account{}, err
	}
	if err := throttled(tries, s.Now()); err != nil {
		return Account{}, err
	}
	account, err := s.Records.AccountNamed(ctx, username)
	if errors.Is(err, ErrNotFound) {
		account, err = Account{PasswordHash: s.HashCost.unknown(), Disabled: true}, nil
	}
	if err != nil {
		return Account{}, err
	}
	good, err := s.matches(ctx, password, account.PasswordHash)
	if err != nil {
		return Account{}, err
	}
	if good && !account.Disabled && (account.FirstUntil == "" || s.Now() < account.FirstUntil) {
		return account, s.countTries(ctx, hash, tries, 0)
	}
	return Account{}, errors.Join(wrong, s.countTries(ctx, hash, tries, tries.Failures+1))
}

func throttled(t Tries, now Instant) error {
	if t.Failures >= closedAfter {
		return refuse(ErrThrottled, "Too many wrong passwords for this name. It is closed until the educator gives it a new first password.")
	}
	if wait := t.wait(now); wait > 0 {
		return refuse(ErrThrottled, "Too many wrong passwords for this name. Try again in %s.", wait.Round(time.Second)+time.Second)
	}
	return nil
}

func (s *Service) countTries(ctx context.Context, hash string, was Tries, failures int) error {
	if failures == was.Failures {
		return nil
	}
	now := s.Now()
	return s.Records.Write(ctx, func(u Unit) error {
		if err := u.SetTries(ctx, hash, Tries{failures, now}); err != nil {
			return err
		}
		return u.ForgetTriesBefore(ctx, now.Add(-triesForgets), freeTries)
	})
}

// SignIn checks a name and password and opens a session. Wrong name and wrong
// password are the same ErrPassword; too many tries are ErrThrottled.
func (s *Service) SignIn(ctx context.Context, username, password string) (actor Actor, cookie string, err error) {
	account, err := s.checkPassword(ctx, username, password)
	if err != nil {
		return Actor{}, "", err
	}
	return s.openSession(ctx, account)
}
