package training

import (
	"context"

	"stillwet/internal/ledger"
)

// End says that a signed record holds no longer, since when, by whose word and why: a
// sign-off that was withdrawn, or an entitlement that ended before its last day. What was
// signed stays as it was signed.
type End struct {
	Of                LeafKind // SignOffLeaf, EntitlementLeaf, ItemEntryLeaf or EarlierLeaf
	Record            string   // id
	At                Instant
	ByID, ByName, Why string
	Leaf              int64
}

// Corrected is something that was put right: what, of which record of when, by whom and why.
type Corrected struct {
	What                         CorrectedWhat
	Record, PersonID, Competency string // Competency is an item's title where an item was put right; nobody is the person of an observation that names none
	OfAt, At                     Instant
	ByName, Why                  string
	Leaf                         int64
}

// CorrectedWhat is what was put right.
type CorrectedWhat string

// What is put right.
const (
	SignOffWithdrawn       CorrectedWhat = "sign-off withdrawn"
	EntitlementEnded       CorrectedWhat = "entitlement ended"
	DemonstrationWithdrawn CorrectedWhat = "demonstration withdrawn"
	LogCorrected           CorrectedWhat = "log corrected"
	EarlierCorrected       CorrectedWhat = "earlier sign-off corrected"
	EarlierWithdrawn       CorrectedWhat = "earlier sign-off withdrawn"
	ItemCorrected          CorrectedWhat = "item corrected"
	ItemWithdrawn          CorrectedWhat = "item withdrawn"
)

// by reports whether it had ended before a moment.
func (e End) by(before Instant) bool { return e.At != "" && e.At < before }

func endFields(e End) ledger.Fields {
	return ledger.Fields{"of": string(e.Of), "by_id": e.ByID, "by_name": e.ByName, "why": e.Why}
}

// WithdrawSignOff withdraws a sign-off that was given in error, with a reason, by an
// educator's password. Standing follows from what is left; everybody who is named in it
// sees that it was withdrawn.
func (s *Service) WithdrawSignOff(ctx context.Context, actor Actor, key, id, why, password string) (SignOff, error) {
	if err := need(actor, Educator); err != nil {
		return SignOff{}, err
	}
	a, err := ask(actor.Person.ID, key, "withdraw a sign-off", id, why)
	if err != nil {
		return SignOff{}, err
	}
	var by signer
	before := func() (err error) {
		if why, err = s.reason(why, "Say why it is withdrawn: it is kept, and whoever is named in it reads it."); err == nil {
			by, err = s.ownSigner(ctx, actor, password)
		}
		return err
	}
	_, _, err = s.once(ctx, a, before, func(u Unit) (string, error) {
		o, err := u.SignOff(ctx, id)
		if err != nil {
			return "", said(err, ErrNotFound, "There is no such sign-off.")
		}
		if o.End.At != "" {
			return "", refuse(ErrConflict, "%s withdrew it already.", o.End.ByName)
		}
		if err := unchanged(ctx, u, by.account); err != nil {
			return "", err
		}
		of, err := u.LeavesAt(ctx, []int64{o.Leaf})
		if err != nil {
			return "", err
		}
		p, err := u.Person(ctx, o.PersonID)
		if err != nil {
			return "", err
		}
		people := []Named{named(PartPerson, p), {Part: PartSigner, PersonID: o.SignerID, Name: o.SignerName, StaffNo: of[o.Leaf].Named(PartSigner).StaffNo}}
		return id, s.keepEnd(ctx, u, End{Of: SignOffLeaf, Record: id, Why: why}, by.Person, people)
	})
	if err != nil {
		return SignOff{}, err
	}
	return s.Records.SignOff(ctx, id)
}

// EndEntitlement ends an entitlement from now on, with a reason. Educators only, who have
// just given their password. What was signed under it stays.
func (s *Service) EndEntitlement(ctx context.Context, actor Actor, key, personID, id, why string) error {
	if err := need(actor, Educator); err != nil {
		return err
	}
	a, err := ask(actor.Person.ID, key, "end an entitlement", personID, id, why)
	if err != nil {
		return err
	}
	before := func() (err error) {
		if err = s.proved(actor); err == nil {
			why, err = s.reason(why, "Say why it ends: it is kept, and the person reads it.")
		}
		return err
	}
	_, _, err = s.once(ctx, a, before, func(u Unit) (string, error) {
		e, err := oneEntitlement(ctx, u, personID, id)
		switch {
		case err != nil:
			return "", err
		case e.End.At != "":
			return "", refuse(ErrConflict, "%s ended it already.", e.End.ByName)
		case e.Until < s.Today():
			return "", refuse(ErrConflict, "It ended by itself on %s.", e.Until.Said())
		}
		p, err := u.Person(ctx, personID)
		if err != nil {
			return "", err
		}
		return id, s.keepEnd(ctx, u, End{Of: EntitlementLeaf, Record: id, Why: why}, actor.Person, []Named{named(PartPerson, p)})
	})
	return err
}

func oneEntitlement(ctx context.Context, r PeopleReader, personID, id string) (Entitlement, error) {
	all, err := r.Entitlements(ctx, personID)
	if err != nil {
		return Entitlement{}, err
	}
	for _, e := range all {
		if e.ID == id && e.PersonID == personID {
			return e, nil
		}
	}
	return Entitlement{}, refuse(ErrNotFound, "There is no such entitlement.")
}

func (s *Service) keepEnd(ctx context.Context, u Unit, e End, by Person, people []Named) (err error) {
	e.At, e.ByID, e.ByName = s.Now(), by.ID, by.Name
	about := LeafAbout{Kind: EndLeaf, Record: e.Record, At: e.At, People: append(people, named(PartBy, by))}
	if e.Leaf, err = s.ledgered(ctx, u, about, endFields(e)); err != nil {
		return err
	}
	return u.AddEnd(ctx, e)
}
