package training

import (
	"context"
	"errors"
	"strings"
	"time"

	"golang.org/x/text/unicode/norm"

	"stillwet/internal/procedure"
)

// Throttling of wrong passwords. They are counted by lane (lanes.go): in each
// the first few cost nothing, then the wait doubles up to a quarter of an hour.
// The guesses of all strangers at one name are counted together besides, and
// forgiven one by one: no more than 50 in any hour, whether or not there is such
// a name. Whoever takes each of these as it is forgiven would keep everybody else
// out, so 45 more an hour are kept for addresses that did not guess wrong at the
// name lately: 30 at once, and 15 as they are forgiven. It takes some dozens of
// addresses to use them up once, and near two hundred to keep them used up.
// Nothing is ever closed for good by guessing.
const (
	freeTries    = 5
	longestWait  = 15 * time.Minute
	mostByAll    = 20
	forgiveOne   = 2 * time.Minute
	mostKept     = 30
	forgiveKept  = 4 * time.Minute
	cleanAfter   = 12 * time.Hour
	triesForgets = 30 * 24 * time.Hour
	mostTries    = 10_000 // rows kept
	maxUsername  = 200    // bytes typed as a name
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

// forgiven is a count from which some were taken since the last one.
func (t Tries) forgiven(now Instant, every time.Duration) int {
	return max(0, t.Failures-int(now.Time().Sub(t.Last.Time())/every))
}

// keptFor is how much of what is kept is open to an address with these failures:
// all when there were none lately, and half with each few: who mistypes can try
// again, and what repeats itself leaves enough for first tries.
func (t Tries) keptFor(now Instant) int {
	if now.Time().Sub(t.Last.Time()) > cleanAfter {
		return mostKept
	}
	return mostKept >> ((t.Failures + freeTries - 1) / freeTries)
}

func normalName(username string) string {
	return strings.ToLower(strings.TrimSpace(norm.NFC.String(username)))
}

// knock is a name and a password with where they come from.
type knock struct {
	username, password string
	actor              Actor  // in whose session, if anyone's
	from, known        string // address and cookie of a browser in which nobody is signed in
}

// checkPassword is the only way to a password: the account when name and
// password are good. The tries of one lane are counted one after another.
func (s *Service) checkPassword(ctx context.Context, k knock) (Account, error) {
	wrong := refuse(ErrPassword, "Name and password do not match.")
	k.username = normalName(k.username)
	if len(k.username) > maxUsername || len(k.password) > maxPasswordBytes || k.password == "" {
		return Account{}, wrong
	}
	account, err := s.Records.AccountNamed(ctx, k.username)
	if errors.Is(err, ErrNotFound) {
		account, err = Account{PasswordHash: s.HashCost.unknown(), Disabled: true}, nil
	}
	if err != nil {
		return Account{}, err
	}
	l, err := s.lanesOf(ctx, k, account)
	if err != nil {
		return Account{}, err
	}
	side := s.gates.side(l.all != "")
	leave, err := side.enter(ctx, l.gate(), k.from)
	if err != nil {
		return Account{}, err
	}
	defer leave()
	was, err := s.triesOf(ctx, l)
	if err != nil {
		return Account{}, err
	}
	good, err := side.matches(ctx, k.password, account.PasswordHash)
	if err != nil {
		return Account{}, err
	}
	if good && !account.Disabled && (account.FirstUntil == "" || s.Now() < account.FirstUntil) {
		return account, s.countGood(ctx, l, was)
	}
	return Account{}, errors.Join(wrong, s.countWrong(ctx, l, was))
}

// Knock is a name and a password given at the door.
type Knock struct {
	Username, Password string
	From               string // the address it comes from
	Known              string // what the browser was given at an earlier sign-in
	Browser            string // a short word for it
}

// Entry is a good sign-in.
type Entry struct {
	Actor  Actor
	Cookie string
	Known  string // for the browser to keep, so that strangers' guesses never keep it out
}

// Enter checks a name and password and opens a session. Wrong name and wrong
// password are the same ErrPassword; too many tries are ErrThrottled.
func (s *Service) Enter(ctx context.Context, k Knock) (Entry, error) {
	account, err := s.checkPassword(ctx, knock{username: k.Username, password: k.Password, from: k.From, known: k.Known})
	if err != nil {
		return Entry{}, err
	}
	actor, cookie, err := s.openSession(ctx, account, k.Browser, s.Now())
	if err != nil {
		return Entry{}, err
	}
	known, err := s.remember(ctx, k.Known, account)
	return Entry{actor, cookie, known}, err
}

// SignIn is Enter from a place that tells nothing of itself.
func (s *Service) SignIn(ctx context.Context, username, password string) (actor Actor, cookie string, err error) {
	in, err := s.Enter(ctx, Knock{Username: username, Password: password})
	return in.Actor, in.Cookie, err
}

// Named is whose sign-in name a text is, for the log; nobody's is no error.
func (s *Service) Named(ctx context.Context, username string) (Person, error) {
	username = normalName(username)
	if len(username) > maxUsername {
		return Person{}, nil
	}
	account, err := s.Records.AccountNamed(ctx, username)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return Person{}, err
	}
	p, err := s.Records.Person(ctx, account.PersonID) // of nobody's name too: both take the same time
	if errors.Is(err, ErrNotFound) {
		return Person{}, nil
	}
	return p, err
}

func digest(parts ...string) string { return procedure.Digest([]byte(strings.Join(parts, "\x00"))) }
