package training

import (
	"context"
)

// proposed is a version that waits to be approved, with all others.
func proposed(ctx context.Context, r Reader, number int) (SetVersion, []SetVersion, error) {
	versions, err := r.SetVersions(ctx)
	if err != nil {
		return SetVersion{}, nil, err
	}
	v, err := versionOf(versions, number)
	if err == nil && v.State() != SetProposed {
		err = refuse(ErrConflict, "Version %d was %s; it does not wait to be approved.", number, v.State())
	}
	return v, versions, err
}

// SetApproving is what is approved, from when, and whose word it is. Approval is paper
// (who, role, day, where it lies), or here: the actor's own word, or that of a second
// person who gives name and password.
type SetApproving struct {
	Version  int
	Hash     string // of what was shown to whoever approves
	From     Day    // the first day; today or later
	Approval Approval
}

// ApproveSet lets a version come into force from a day. Educators only, with their own
// password, as for a signature; where the clinic asks for two, the word is that of
// somebody who did not propose it. A version that this program cannot use is refused
// again. It is on the shelf at once, and holds when its day has come.
func (s *Service) ApproveSet(ctx context.Context, actor Actor, key string, ap SetApproving, password string, second SecondPerson) (SetVersion, error) {
	if err := need(actor, Educator); err != nil {
		return SetVersion{}, err
	}
	a, err := ask(actor.Person.ID, key, "approve the set", ap, normalName(second.Username))
	if err != nil {
		return SetVersion{}, err
	}
	var by approvers
	var lib Library
	before := func() (err error) {
		if by, err = s.approvers(ctx, actor, &ap.Approval, password, second); err != nil {
			return err
		}
		files, err := s.versionFiles(ctx, ap.Version)
		if err == nil {
			lib, err = s.loadSet(files)
		}
		return err
	}
	answer, _, err := s.once(ctx, a, before, func(u Unit) (string, error) { return s.approve(ctx, u, ap, by) })
	v, err := s.versionOr(ctx, answer, err)
	if shelf, ok := s.Library.(*Shelf); ok && err == nil && lib != nil {
		shelf.put(v, lib)
	}
	return v, err
}

func (s *Service) approve(ctx context.Context, u Unit, ap SetApproving, by approvers) (string, error) {
	v, versions, err := proposed(ctx, u, ap.Version)
	if err != nil {
		return "", err
	}
	if err := s.mayHold(v, newestStanding(versions), ap); err != nil {
		return "", err
	}
	word, err := by.word(ctx, u, s, ap.Approval)
	if err != nil {
		return "", err
	}
	if twoApprove(versions) && word.ByID != "" && word.ByID == v.Made().ByID {
		return "", refuse(ErrInvalid, "Two people are asked for here, and %s proposed it. Another educator approves it here, or a manager or medical director on paper.", word.By)
	}
	return recordOf(v), s.addSetEvent(ctx, u, v, SetEvent{Event: SetApproved, Approval: word, From: ap.From}, by.actor.Person, by.second.Person)
}

// mayHold says why a version cannot come into force from a day.
func (s *Service) mayHold(v, base SetVersion, ap SetApproving) error {
	if v.Hash != ap.Hash {
		return refuse(ErrConflict, "This is not what was shown to you. Load the page again and read what you approve.")
	}
	if _, err := ParseDay(string(ap.From)); err != nil {
		return refuse(ErrInvalid, "Say from which day it holds.")
	}
	switch {
	case ap.From < s.Today():
		return refuse(ErrInvalid, "It cannot hold from %s: that day is over. Today, %s, is the first that it can.", ap.From.Said(), s.Today().Said())
	case ap.From < base.InForceFrom():
		return refuse(ErrInvalid, "It builds on version %d, which holds from %s, and cannot hold before it.", base.Number, base.InForceFrom().Said())
	}
	return nil
}

// approvers are the people who gave their passwords for an approval.
type approvers struct {
	actor  signer
	second signer // of nobody where it is the actor's own word, or on paper
}

func (s *Service) approvers(ctx context.Context, actor Actor, a *Approval, password string, second SecondPerson) (by approvers, err error) {
	if *a, err = tidiedApproval(*a); err != nil {
		return by, err
	}
	if by.actor, err = s.ownSigner(ctx, actor, password); err == nil && a.How == ApprovedHere && second.Username != "" {
		by.second, err = s.signer(ctx, actor, second.Username, second.Password)
	}
	return by, err
}

// word is the approval as it is kept, or why there is none.
func (by approvers) word(ctx context.Context, r Reader, s *Service, a Approval) (Approval, error) {
	if err := unchanged(ctx, r, by.actor.account); err != nil {
		return a, err
	}
	if a.How == ApprovedPaper {
		if a.On > s.Today() {
			return a, refuse(ErrInvalid, "The paper is said to be of %s, which is still to come.", a.On.Said())
		}
		return onPaper(a)
	}
	if a.How != ApprovedHere {
		return a, refuse(ErrInvalid, "Say who approves this: you or another educator here, or a manager or medical director on paper.")
	}
	who := by.actor
	if by.second.ID != "" {
		who = by.second
		if err := unchanged(ctx, r, who.account); err != nil {
			return a, err
		}
	}
	if !who.Has(Educator) {
		return a, refuse(ErrInvalid, "Who approves this here has to be an educator. A manager or medical director without an account approves on paper.")
	}
	return Approval{How: ApprovedHere, ByID: who.ID, By: who.Name, Role: string(Educator), On: s.Today()}, nil
}

// AskTwoToApprove says whether versions need somebody's word who did not propose them.
// Educators only, with their own password; asking for one person again needs a second one
// as well, here or on paper.
func (s *Service) AskTwoToApprove(ctx context.Context, actor Actor, key string, two bool, paper Approval, password string, second SecondPerson) error {
	if err := need(actor, Educator); err != nil {
		return err
	}
	a, err := ask(actor.Person.ID, key, "ask two to approve", two, paper, normalName(second.Username))
	if err != nil {
		return err
	}
	var by approvers
	before := func() (err error) {
		by, err = s.approvers(ctx, actor, &paper, password, second)
		return err
	}
	_, _, err = s.once(ctx, a, before, func(u Unit) (string, error) {
		versions, err := u.SetVersions(ctx)
		if err != nil {
			return "", err
		}
		v := newestStanding(versions)
		switch {
		case v.Number == 0:
			return "", errNoSets
		case two == twoApprove(versions):
			return "", refuse(ErrConflict, "It is so already.")
		}
		e := SetEvent{Event: TwoApprove}
		if !two {
			e.Event = OnlyOneNeeded
			if e.Approval, err = by.word(ctx, u, s, paper); err == nil && e.Approval.ByID == actor.Person.ID {
				err = refuse(ErrInvalid, "A second person has to agree: another educator here, or a manager or medical director on paper.")
			}
		} else {
			err = unchanged(ctx, u, by.actor.account)
		}
		if err != nil {
			return "", err
		}
		return recordOf(v), s.addSetEvent(ctx, u, v, e, by.actor.Person, by.second.Person)
	})
	return err
}
