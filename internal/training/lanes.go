package training

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"time"
)

// lanes are where the wrong passwords of one try are counted. Whoever is inside
// has a lane of their own, which no stranger comes to: a live session, and a
// browser in which the account was signed in before. A stranger is counted by
// address and name, and with all other strangers by name: in the common lane, or,
// when that is full, in the one kept for addresses that did nothing wrong.
type lanes struct {
	own  string
	all  string // of all strangers at the name; "" inside
	kept string // likewise
}

// gate is what makes tries wait for one another.
func (l lanes) gate() string {
	if l.all != "" {
		return l.all
	}
	return l.own
}

// lanesOf finds the lanes of a try at an account, which is empty for an unknown
// name. An account's generation is in them: a new first password begins anew.
func (s *Service) lanesOf(ctx context.Context, k knock, a Account) (lanes, error) {
	who := k.actor.Person.ID
	switch {
	case who != "" && who == a.PersonID:
		return lanes{own: digest("session", k.actor.Session)}, nil
	case who != "": // by person: a new session brings no new tries at another's password
		return lanes{own: digest("person", who, k.username)}, nil
	}
	browser, err := s.knownIn(ctx, k.known, a)
	if err != nil {
		return lanes{}, err
	}
	if browser != "" {
		return lanes{own: digest("browser", browser, a.PersonID)}, nil
	}
	name := digest("name", k.username, strconv.Itoa(a.Generation))
	return lanes{own: digest("from", k.from, name), all: name, kept: digest("kept", name)}, nil
}

// counted is what stands in the lanes of a try.
type counted struct {
	own       Tries
	lane      string // in which of the strangers' lanes the try counts; "" inside
	strangers int    // in that lane
}

// triesOf reads the lanes of a try, or says how long it has to wait.
func (s *Service) triesOf(ctx context.Context, l lanes) (c counted, err error) {
	now := s.Now()
	if c.own, err = s.triesIn(ctx, l.own); err != nil {
		return c, err
	}
	wait := c.own.wait(now)
	if l.all != "" {
		if c.lane, c.strangers, err = s.amongStrangers(ctx, l, c.own.keptFor(now)); err != nil {
			return c, err
		}
		if c.lane == "" {
			wait = max(wait, forgiveOne)
		}
	}
	switch {
	case wait <= 0:
		return c, nil
	case l.all == "":
		return c, refuse(ErrThrottled, "Too many wrong passwords. Try again in %s.", inWords(wait))
	}
	return c, refuse(ErrThrottled, "Too many wrong passwords for this name. Try again in %s, or at once in a browser in which you signed in with your present password before.", inWords(wait))
}

// amongStrangers finds the strangers' lane that has room for a try and what stands
// in it; no lane when neither has.
func (s *Service) amongStrangers(ctx context.Context, l lanes, kept int) (lane string, count int, err error) {
	now := s.Now()
	for _, room := range []struct {
		lane  string
		most  int
		every time.Duration
	}{{l.all, mostByAll, forgiveOne}, {l.kept, kept, forgiveKept}} {
		t, err := s.triesIn(ctx, room.lane)
		if err != nil {
			return "", 0, err
		}
		if n := t.forgiven(now, room.every); n < room.most {
			return room.lane, n, nil
		}
	}
	return "", 0, nil
}

// inWords is a wait that is over when it has passed.
func inWords(wait time.Duration) string {
	if wait < time.Second {
		return "1 second"
	}
	if wait < 2*time.Minute {
		return fmt.Sprintf("%d seconds", wait/time.Second+1)
	}
	return fmt.Sprintf("%d minutes", wait/time.Minute+1)
}

func (s *Service) triesIn(ctx context.Context, lane string) (Tries, error) {
	if t, ok := s.spare.triesIn(lane); ok {
		return t, nil
	}
	return s.Records.Tries(ctx, lane)
}

// countGood sets the own lane back. What strangers guessed together stays: it
// goes by itself.
func (s *Service) countGood(ctx context.Context, l lanes, was counted) error {
	if was.own.Failures == 0 {
		return nil
	}
	return s.keepTries(ctx, map[string]Tries{l.own: {}})
}

func (s *Service) countWrong(ctx context.Context, l lanes, was counted) error {
	now := s.Now()
	one := 1
	if was.lane == l.kept && l.kept != "" {
		one = freeTries // dear, and so not soon swept away by a flood of other names
	}
	counts := map[string]Tries{l.own: {was.own.Failures + one, now}}
	if was.lane != "" {
		counts[was.lane] = Tries{was.strangers + 1, now}
	}
	return s.keepTries(ctx, counts)
}

// keepTries counts in memory when nothing can be saved: a full disk must not
// make guessing free.
func (s *Service) keepTries(ctx context.Context, counts map[string]Tries) error {
	err := s.Records.Write(ctx, func(u Unit) error {
		for lane, t := range counts {
			if err := u.SetTries(ctx, lane, t); err != nil {
				return err
			}
		}
		return u.SweepTries(ctx, s.Now().Add(-triesForgets), mostTries)
	})
	if errors.Is(err, ErrUnsaved) {
		s.spare.keepTries(counts)
		return nil
	}
	s.spare.forgetTries(counts)
	return err
}
