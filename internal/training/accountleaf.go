package training

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"stillwet/internal/ledger"
)

// withBy names whose record a change is, and who made it when it was not the clinic's
// first link.
func withBy(p, by Person) []Named {
	if by.ID == "" {
		return []Named{named(PartPerson, p)}
	}
	return []Named{named(PartPerson, p), named(PartBy, by)}
}

// ledgerAccount adds a leaf of an account as it stands after a change.
func (s *Service) ledgerAccount(ctx context.Context, u Unit, p, by Person, change string, more ledger.Fields) error {
	account, err := u.AccountOf(ctx, p.ID)
	if err != nil {
		return err
	}
	f := accountFields(account)
	maps.Copy(f, more)
	f["change"] = change
	_, err = s.ledgered(ctx, u, LeafAbout{Kind: AccountLeaf, Record: p.ID, At: s.Now(), People: withBy(p, by)}, f)
	return err
}

// changeAccount makes a change of somebody's account and adds its leaf.
func (s *Service) changeAccount(ctx context.Context, u Unit, personID string, by Person, change string, do func() error) error {
	p, err := u.Person(ctx, personID)
	if err != nil {
		return said(err, ErrNotFound, "There is no such person.")
	}
	was, err := u.AccountOf(ctx, personID)
	if err != nil {
		return said(err, ErrNotFound, "%s has no account yet.", p.Name)
	}
	if err := asLedgered(ctx, u, was); err != nil { // a new leaf would cover what was put in
		return err
	}
	if err := do(); err != nil {
		return err
	}
	return s.ledgerAccount(ctx, u, p, by, change, nil)
}

// lastAccountLeaf is what the newest leaf of an account says of it: of its own, or of
// the baseline. It is empty for one that is in neither.
func lastAccountLeaf(ctx context.Context, r LedgerReader, personID string) (map[string]any, error) {
	own, err := r.LeavesOf(ctx, AccountLeaf, personID, 1)
	if err != nil {
		return nil, err
	}
	if len(own) > 0 {
		leaf, err := readLeaf(own[0].Bytes)
		return leaf.fields, err
	}
	base, err := r.LeavesOf(ctx, BaselineLeaf, baselineRecord, 1)
	if err != nil || len(base) == 0 {
		return nil, err
	}
	leaf, err := readLeaf(base[0].Bytes)
	if err != nil {
		return nil, err
	}
	all := newReplay()
	all.take(leaf)
	return all.accounts[personID], nil
}

// asLedgered refuses an account that is not as its newest leaf says: somebody changed it
// in the data file. Nothing is signed by it, and no leaf is written over it.
func asLedgered(ctx context.Context, r LedgerReader, a Account) error {
	signed, err := lastAccountLeaf(ctx, r, a.PersonID)
	if err != nil {
		return err
	}
	is := accountFields(a)
	for field, was := range signed {
		if now, ok := is[field]; ok && fmt.Sprint(now) != fmt.Sprint(was) {
			return refuse(ErrConflict, "This account is not as the ledger knows it (%s): somebody changed the data file. Whoever looks after the server runs stillwet verify.", field)
		}
	}
	return nil
}

// AccountChange is something that was done to an account.
type AccountChange struct {
	What string // the word in its leaf
	By   string // name as it stood; "" for the owner of the folder or the first link
	Own  bool   // by whose account it is
	At   Instant
}

// Of the newest changes of an account all by others are shown, and of one's own the last.
const (
	mostRead = 200
	mostOwn  = 5
)

// AccountChanges are the newest changes of the actor's own account, oldest first: whoever
// reads them sees when somebody else could get in.
func (s *Service) AccountChanges(ctx context.Context, actor Actor) ([]AccountChange, error) {
	if actor.Person.ID == "" {
		return nil, need(actor)
	}
	leaves, err := s.Records.LeavesOf(ctx, AccountLeaf, actor.Person.ID, mostRead)
	if err != nil {
		return nil, err
	}
	var changes []AccountChange
	own := 0
	for _, l := range slices.Backward(leaves) {
		text, err := readLeaf(l.Bytes)
		if err != nil {
			return nil, fmt.Errorf("leaf %d: %w", l.Leaf, err)
		}
		by := l.Named(PartBy)
		c := AccountChange{What: fmt.Sprint(text.fields["change"]), By: by.Name, Own: by.PersonID == actor.Person.ID, At: l.At}
		if c.Own {
			own++
		}
		if !c.Own || own <= mostOwn { // own changes never push out what others did
			changes = append(changes, c)
		}
	}
	slices.Reverse(changes)
	return changes, nil
}
