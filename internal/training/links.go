package training

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"stillwet/internal/ledger"
)

const (
	linkFor   = 72 * time.Hour
	mostLinks = 200 // in one act
)

// WaitingAccount is somebody who has not signed in with a password of their own yet.
type WaitingAccount struct {
	Person   Person
	Username string  // as it is, or as the program proposes it
	Has      bool    // there is an account
	Link     bool    // a link was made and not used
	Until    Instant // the end of the link, or of the first password; "" where there is none
}

// WaitingAccounts are the people here who have no account yet, or have not chosen their own
// password. Educators only.
func (s *Service) WaitingAccounts(ctx context.Context, actor Actor) (all []WaitingAccount, err error) {
	if err := need(actor, Educator); err != nil {
		return nil, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		people, err := r.People(ctx)
		if err == nil {
			all, err = s.accountsOf(ctx, r, people)
		}
		return err
	})
	return all, err
}

func (s *Service) accountsOf(ctx context.Context, r Reader, people []Person) ([]WaitingAccount, error) {
	accounts, err := r.Accounts(ctx)
	if err != nil {
		return nil, err
	}
	links, err := r.AccountLinks(ctx)
	return s.waiting(people, accounts, links), err
}

func (s *Service) waiting(people []Person, accounts []Account, links []FirstRun) (all []WaitingAccount) {
	of, taken, made := map[string]Account{}, map[string]bool{}, map[string]FirstRun{}
	for _, a := range accounts {
		of[a.PersonID], taken[a.Username] = a, true
	}
	for _, l := range links {
		made[l.PersonID] = l
	}
	for _, p := range people {
		a, has := of[p.ID]
		if s.gone(p) || a.Disabled || has && a.FirstUntil == "" {
			continue
		}
		w := WaitingAccount{Person: p, Username: a.Username, Has: has, Until: a.FirstUntil}
		if !has {
			w.Username = proposedName(p, taken)
			taken[w.Username] = true
		}
		if l, ok := made[p.ID]; ok {
			w.Link, w.Until = true, l.Until
		}
		all = append(all, w)
	}
	return all
}

// proposedName is a sign-in name that nobody has: the first and the last name without their
// marks, or else the staff number.
func proposedName(p Person, taken map[string]bool) string {
	words := strings.FieldsFunc(bareName(p.Name), func(r rune) bool { return r == ' ' })
	name := strings.ToLower(p.StaffNo)
	if len(words) > 0 {
		name = words[0]
	}
	if len(words) > 1 {
		name += "." + words[len(words)-1]
	}
	name = strings.Trim(name[:min(len(name), 28)], "./-_")
	if !usernamePattern.MatchString(name) {
		name = "staff"
	}
	for n, free := 2, name; ; n++ {
		if !taken[free] {
			return free
		}
		free = fmt.Sprintf("%s%d", name, n)
	}
}

// bareName leaves small Latin letters and blanks of a name.
func bareName(name string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z':
			return r
		case unicode.IsSpace(r) || r == '-':
			return ' '
		}
		return -1
	}, strings.ToLower(norm.NFD.String(name)))
}

// WantedLink asks for a link for somebody; the sign-in name counts for who has no account.
type WantedLink struct{ PersonID, Username string }

// GivenLink is a link that was made. Token is told once.
type GivenLink struct {
	Person   Person
	Username string
	Token    string
	Until    Instant
}

// GiveLinks makes links by which people choose their own passwords, for as many as are asked
// for or for none: who has no account gets one, and of who has the old password and all sessions
// end. The links are told once: a repeat answers none. Educators only, who have just given their
// password.
func (s *Service) GiveLinks(ctx context.Context, actor Actor, key string, wanted []WantedLink) (given []GivenLink, err error) {
	if err := need(actor, Educator); err != nil {
		return nil, err
	}
	a, err := ask(actor.Person.ID, key, "give links", wanted)
	if err != nil {
		return nil, err
	}
	before := func() error {
		if n := len(wanted); n == 0 || n > mostLinks {
			return refuse(ErrInvalid, "Choose at least one person, and at most %d.", mostLinks)
		}
		return s.proved(actor)
	}
	_, repeated, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		given = nil
		for _, w := range wanted {
			g, err := s.giveLink(ctx, u, w, actor.Person)
			if err != nil {
				return "", err
			}
			given = append(given, g)
		}
		return actor.Person.ID, nil
	})
	if err != nil || repeated {
		return nil, err
	}
	slices.SortStableFunc(given, func(a, b GivenLink) int { return strings.Compare(a.Person.Name, b.Person.Name) })
	return given, nil
}

func (s *Service) giveLink(ctx context.Context, u Unit, w WantedLink, by Person) (g GivenLink, err error) {
	if g.Person, err = u.Person(ctx, w.PersonID); err != nil {
		return g, said(err, ErrNotFound, "There is no such person.")
	}
	switch {
	case g.Person.ID == by.ID:
		return g, refuse(ErrForbidden, "You change your own password under “Your account”.")
	case s.gone(g.Person):
		return g, refuse(ErrConflict, "%s does not work here any more.", g.Person.Name)
	}
	now := s.Now()
	token, hash := newSecret()
	g.Token, g.Until = token, now.Add(linkFor)
	account, err := u.AccountOf(ctx, g.Person.ID)
	switch {
	case errors.Is(err, ErrNotFound):
		g.Username = normalName(w.Username)
		if !usernamePattern.MatchString(g.Username) {
			return g, refuse(ErrInvalid, "%s: %s", g.Person.Name, usernameRule)
		}
		account = Account{PersonID: g.Person.ID, Username: g.Username, PasswordHash: s.HashCost.unknown(), FirstUntil: g.Until}
		if err := u.AddAccount(ctx, account); err != nil {
			return g, said(err, ErrConflict, "%s: the sign-in name %q is already another person's. Names are never given twice.", g.Person.Name, g.Username)
		}
		return g, errors.Join(s.keepLink(ctx, u, g, hash, by), s.ledgerAccount(ctx, u, g.Person, by, "opened by a link", ledger.Fields{"link": hash}))
	case err != nil:
		return g, err
	case account.Disabled:
		return g, refuse(ErrConflict, "The account of %s is closed. Reopen it first.", g.Person.Name)
	}
	if err := asLedgered(ctx, u, account); err != nil {
		return g, err
	}
	g.Username = account.Username
	return g, errors.Join(
		u.SetPassword(ctx, g.Person.ID, s.HashCost.unknown(), g.Until),
		u.SetReset(ctx, g.Person.ID, by.ID, now),
		u.EndSessions(ctx, g.Person.ID, ""),
		s.keepLink(ctx, u, g, hash, by),
		s.ledgerAccount(ctx, u, g.Person, by, "link given", ledger.Fields{"link": hash}))
}

func (s *Service) keepLink(ctx context.Context, u Unit, g GivenLink, hash string, by Person) error {
	return u.SetAccountLink(ctx, FirstRun{TokenHash: hash, Until: g.Until, PersonID: g.Person.ID, MadeBy: by.Name})
}
