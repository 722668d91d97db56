package training

import (
	"context"
	"errors"
	"strings"

	"stillwet/internal/ledger"
	"stillwet/internal/procedure"
)

// ownerWho stands in place of a person in the key of what is done by an owner's link.
const ownerWho = "owner-link"

// OwnerLink is a one-time link by which an educator who cannot sign in any more chooses a
// new password: made by whoever owns the data folder, and ledgered. The old password and
// all sessions end at once; a closed account is opened. username may be "" while the
// clinic has one educator.
func (s *Service) OwnerLink(ctx context.Context, username string) (token string, p Person, err error) {
	token, hash := newSecret()
	err = s.Records.Write(ctx, func(u Unit) error {
		var account Account
		if p, account, err = s.educatorNamed(ctx, u, normalName(username)); err != nil {
			return err
		}
		if account.Disabled {
			if err := u.SetDisabled(ctx, p.ID, false); err != nil {
				return err
			}
		}
		return errors.Join(
			u.SetPassword(ctx, p.ID, s.HashCost.unknown(), ""), // whoever knows the old one may be the reason
			u.EndSessions(ctx, p.ID, ""),
			u.SetFirstRun(ctx, FirstRun{TokenHash: hash, Until: s.Now().Add(firstRunFor), PersonID: p.ID}),
			s.ledgerAccount(ctx, u, p, Person{}, "link made by the owner of the folder", ledger.Fields{"link": hash}))
	})
	return token, p, err
}

func (s *Service) educatorNamed(ctx context.Context, r Reader, username string) (Person, Account, error) {
	people, err := r.People(ctx)
	if err != nil {
		return Person{}, Account{}, err
	}
	var names []string
	for _, p := range people {
		if !p.Has(Educator) || s.gone(p) {
			continue
		}
		account, err := r.AccountOf(ctx, p.ID)
		if errors.Is(err, ErrNotFound) {
			continue // who came by a roster
		}
		if err != nil {
			return p, account, err
		}
		if account.Username == username {
			return p, account, nil
		}
		names = append(names, account.Username)
	}
	if username == "" && len(names) == 1 {
		return s.educatorNamed(ctx, r, names[0])
	}
	if len(names) == 0 {
		return Person{}, Account{}, refuse(ErrNotFound, "There is no educator here. Start the server: where nobody has an account yet it prints a link to make the first.")
	}
	return Person{}, Account{}, refuse(ErrNotFound, "Name the educator by their sign-in name. The clinic has: %s.", strings.Join(names, ", "))
}

// LinkHolder is who a one-time link is for.
type LinkHolder struct {
	Person
	Username string
	MadeBy   string // name of the educator who made it; "" for the owner of the folder
}

// LinkHolder is whose new password a one-time link is for; nobody for the link that makes
// the first educator. ErrNotFound says that the link is no good (any more).
func (s *Service) LinkHolder(ctx context.Context, token string) (h LinkHolder, err error) {
	f, err := s.checkLink(ctx, s.Records, token)
	if err != nil || f.PersonID == "" {
		return h, err
	}
	h.MadeBy = f.MadeBy
	if h.Person, err = s.Records.Person(ctx, f.PersonID); err != nil {
		return h, err
	}
	account, err := s.Records.AccountOf(ctx, f.PersonID)
	h.Username = account.Username
	return h, err
}

// UseLink sets the password that a one-time link is for, ends the link and all
// sessions of that account, and answers its sign-in name.
func (s *Service) UseLink(ctx context.Context, token, key, password string) (username string, err error) {
	a, err := ask(ownerWho, key, "use a link", procedure.Digest([]byte(token)))
	if err != nil {
		return "", err
	}
	var hash string
	before := func() error {
		h, err := s.LinkHolder(ctx, token)
		if err != nil {
			return err
		}
		if err = checkNewPassword(password, h.Name, h.Username, s.Clinic); err == nil {
			hash, err = s.hash(ctx, password)
		}
		return err
	}
	id, _, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		f, err := s.checkLink(ctx, u, token)
		if err != nil {
			return "", err
		}
		if err := linkLedgered(ctx, u, f); err != nil {
			return "", err
		}
		by, change, end := Person{}, "own password by the owner's link", u.EndFirstRun
		if f.MadeBy != "" {
			if by, err = u.Person(ctx, f.PersonID); err != nil {
				return "", err
			}
			change, end = "own password by a link", func(ctx context.Context) error { return u.EndAccountLink(ctx, f.PersonID) }
		}
		return f.PersonID, s.changeAccount(ctx, u, f.PersonID, by, change, func() error {
			return errors.Join(end(ctx), u.SetPassword(ctx, f.PersonID, hash, ""), u.EndSessions(ctx, f.PersonID, ""))
		})
	})
	if err != nil {
		return "", err
	}
	account, err := s.Records.AccountOf(ctx, id)
	return account.Username, err
}

// linkLedgered refuses a link that somebody put into the data file without a leaf.
func linkLedgered(ctx context.Context, r LedgerReader, f FirstRun) error {
	fields, err := lastAccountLeaf(ctx, r, f.PersonID)
	if err == nil && fields["link"] != f.TokenHash {
		err = refuse(ErrNotFound, "The ledger knows nothing of this link. Whoever looks after the server runs stillwet verify.")
	}
	return err
}
