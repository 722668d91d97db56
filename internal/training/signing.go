package training

import (
	"context"
	"errors"

	"stillwet/internal/assess"
)

// maySign checks what must be so for the preceptor's signature: the outcome was chosen, and
// the learner has signed it or refuses to.
func (s *Service) maySign(ctx context.Context, r Reader, actor Actor, d Demonstration, m Meaning) error {
	if err := d.own(actor); err != nil {
		return err
	}
	switch {
	case d.Stage == Ended:
		return refuse(ErrConflict, "Choose the outcome first; then the learner signs, then you.")
	case d.Stage == Refused && m == WatchedMet:
		return refuse(ErrConflict, "The learner will not sign, so it cannot be signed as met.")
	case d.Stage == Reviewed && d.signed(LearnerDid) == nil:
		return refuse(ErrConflict, "The learner signs first.")
	}
	if err := d.may(outcomes[m]); err != nil {
		return err
	}
	if d.Chosen() != m {
		return refuse(ErrConflict, "You chose another sentence before. Load the page again.")
	}
	if m == WatchedMet {
		return s.mayBeMet(ctx, r, actor, d)
	}
	return nil
}

// signed is the signature of a meaning, nil when there is none.
func (d *Demonstration) signed(m Meaning) *Signature {
	for i := range d.Signatures {
		if d.Signatures[i].Meaning == m {
			return &d.Signatures[i]
		}
	}
	return nil
}

// Met reports whether both signatures are there and the preceptor's says met.
func (d *Demonstration) Met() bool {
	return d.State == Ended && d.counts() && d.Outcome == assess.Pass && !d.Prompted && d.signed(LearnerDid) != nil && d.signed(WatchedMet) != nil
}

// maxSaid is the longest sentence of a learner's own, in characters.
const maxSaid = 500

// Learner is what a learner gives with their signature. In their own session the name is
// theirs and left out.
type Learner struct{ Username, Password, Said string }

// SignAsLearner puts the trainee's signature on a demonstration whose outcome was chosen. It
// may be given on the preceptor's device, so the trainee's own name and password come with
// it; actor is whose session it is (the preceptor, or the trainee).
func (s *Service) SignAsLearner(ctx context.Context, actor Actor, key, demoID string, in Learner) (Demonstration, error) {
	if err := need(actor); err != nil {
		return Demonstration{}, err
	}
	said, err := tidy("The learner's sentence", in.Said, maxSaid)
	if err != nil {
		return Demonstration{}, err
	}
	body := []any{demoID, normalName(in.Username)}
	if said != "" { // so that a key of before there were sentences means what it meant
		body = append(body, said)
	}
	a, err := ask(actor.Person.ID, key, "sign as learner", body...)
	if err != nil {
		return Demonstration{}, err
	}
	var by signer
	before := func() (err error) {
		d, err := s.onDevice(ctx, s.Records, actor, demoID) // nobody else tries passwords here
		switch {
		case err != nil:
		case in.Username == "" && actor.Person.ID == d.TraineeID:
			by, err = s.ownSigner(ctx, actor, in.Password)
		default:
			by, err = s.signer(ctx, actor, in.Username, in.Password)
		}
		return err
	}
	return s.sign(ctx, a, &by, Signature{Meaning: LearnerDid, Said: said}, demoID, before, func(u Unit) (Demonstration, error) {
		d, err := s.onDevice(ctx, u, actor, demoID)
		switch {
		case err != nil:
			return d, err
		case by.ID != d.TraineeID:
			return d, refuse(ErrInvalid, "This signature has to be the learner's own. That name is somebody else's.")
		case d.signed(LearnerDid) != nil:
			return d, refuse(ErrConflict, "The learner has signed this demonstration already.")
		case d.Stage == Refused: // after all
			again := DemonstrationEvent{State: Reviewed, Meaning: d.Chosen(), Why: "The learner signs after all."}
			if err := s.comeTo(ctx, u, d, again, by.Person); err != nil {
				return d, err
			}
			return u.Demonstration(ctx, demoID)
		case d.Stage != Reviewed:
			return d, refuse(ErrConflict, "%s", d.whyStays())
		}
		return d, nil
	})
}

// onDevice finds a demonstration whose learner may sign in this session.
func (s *Service) onDevice(ctx context.Context, r WatchReader, actor Actor, demoID string) (Demonstration, error) {
	d, err := s.visible(ctx, r, actor, demoID)
	if err == nil && actor.Person.ID != d.PreceptorID && actor.Person.ID != d.TraineeID {
		err = refuse(ErrForbidden, "This is signed on the device of the preceptor who watched, or on the learner's own.")
	}
	return d, err
}

// SignAsPreceptor puts the preceptor's signature on what they chose, after the learner's;
// where the learner refuses, on what says nothing good of them.
func (s *Service) SignAsPreceptor(ctx context.Context, actor Actor, key, demoID string, m Meaning, password string) (Demonstration, error) {
	if err := need(actor); err != nil {
		return Demonstration{}, err
	}
	if outcomes[m] == "" {
		return Demonstration{}, refuse(ErrInvalid, "Choose the sentence that you sign.")
	}
	a, err := ask(actor.Person.ID, key, "sign as preceptor", demoID, m)
	if err != nil {
		return Demonstration{}, err
	}
	var by signer
	before := func() (err error) { by, err = s.ownSigner(ctx, actor, password); return err }
	return s.sign(ctx, a, &by, Signature{Meaning: m}, demoID, before, func(u Unit) (Demonstration, error) {
		d, err := s.visible(ctx, u, actor, demoID)
		if err == nil {
			err = s.maySign(ctx, u, actor, d, m)
		}
		return d, err
	})
}

// sign keeps signature, leaf, head and key together. before finds who signs, by
// their password; may finds what they sign, or says why they may not.
func (s *Service) sign(ctx context.Context, a asked, by *signer, n Signature, demoID string, before func() error, may func(Unit) (Demonstration, error)) (Demonstration, error) {
	_, _, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		d, err := may(u)
		if err != nil {
			return "", err
		}
		if err := unchanged(ctx, u, by.account); err != nil {
			return "", err
		}
		n.Record, n.SignerID, n.SignerName, n.SignedAt = d.ID, by.ID, by.Name, s.Now()
		if err := s.keepSignature(ctx, u, d, n); err != nil {
			return "", err
		}
		return d.ID, s.decided(ctx, u, d, n, by.Person)
	})
	if err != nil {
		return Demonstration{}, err
	}
	return s.Records.Demonstration(ctx, demoID)
}

// decided brings a demonstration to the outcome that its preceptor signed.
func (s *Service) decided(ctx context.Context, u Unit, d Demonstration, n Signature, by Person) error {
	state := outcomes[n.Meaning]
	if state == "" {
		return nil // the learner's
	}
	if err := u.TakeBackSessions(ctx, d.ID); err != nil {
		return err
	}
	e := DemonstrationEvent{State: state, Meaning: n.Meaning}
	if err := s.comeTo(ctx, u, d, e, by); err != nil || state != NotMet {
		return err
	}
	return s.proposePlan(ctx, u, d, by)
}

func (s *Service) keepSignature(ctx context.Context, u Unit, d Demonstration, n Signature) error {
	lines, err := u.Observations(ctx, d.ID)
	if err != nil {
		return err
	}
	f, err := signatureFields(d, lines, n)
	if err != nil {
		return err
	}
	people, err := s.watchers(ctx, u, d)
	if err != nil {
		return err
	}
	if people, err = withReset(ctx, u, people, n.SignerID); err != nil {
		return err
	}
	if n.Leaf, err = s.ledgered(ctx, u, LeafAbout{Kind: SignatureLeaf, Record: d.ID, At: n.SignedAt, People: people}, f); err != nil {
		return err
	}
	return u.AddSignature(ctx, n)
}

// watchers names learner and preceptor of a demonstration as they stand now.
func (s *Service) watchers(ctx context.Context, r PeopleReader, d Demonstration) ([]Named, error) {
	preceptor, err := s.entitledPerson(ctx, r, PartPreceptor, d.PreceptorID, d.Competency)
	if err != nil || d.TraineeID == "" {
		return []Named{preceptor}, err
	}
	learner, err := r.Person(ctx, d.TraineeID)
	return []Named{named(PartLearner, learner), preceptor}, err
}

// entitledPerson names somebody with the credential that entitles them today.
func (s *Service) entitledPerson(ctx context.Context, r PeopleReader, part, personID, competency string) (Named, error) {
	p, err := r.Person(ctx, personID)
	if err != nil {
		return Named{}, err
	}
	n := named(part, p)
	all, err := r.Entitlements(ctx, personID)
	for _, e := range all {
		if e.Competency == competency && e.on(s.Today()) {
			n.Credential = e.Credential
		}
	}
	return n, err
}

// withReset adds whoever had given the signer a new first password, when that one stands
// in the same record or had given another of its people one as well: they could have
// signed in the signer's place.
func withReset(ctx context.Context, r Reader, people []Named, signerID string) ([]Named, error) {
	account, err := r.AccountOf(ctx, signerID)
	if err != nil {
		return nil, err
	}
	if err := asLedgered(ctx, r, account); err != nil {
		return nil, err
	}
	if account.ResetBy == "" {
		return people, nil
	}
	for _, n := range people {
		other, err := r.AccountOf(ctx, n.PersonID)
		if err != nil && !errors.Is(err, ErrNotFound) { // who has no account gave nobody a password, and got none
			return nil, err
		}
		if n.PersonID != signerID && (n.PersonID == account.ResetBy || other.ResetBy == account.ResetBy) {
			by, err := r.Person(ctx, account.ResetBy)
			n = named(PartResetBy, by)
			n.At = account.ResetAt
			return append(people, n), err
		}
	}
	return people, nil
}

// signer is a person who proved by their password who they are, with the
// account as it was then.
type signer struct {
	Person
	account Account
}

// signer is the person of a name and password given in the actor's session to
// sign with.
func (s *Service) signer(ctx context.Context, actor Actor, username, password string) (signer, error) {
	account, err := s.checkPassword(ctx, knock{username: username, password: password, actor: actor})
	if err != nil {
		return signer{}, err
	}
	if account.FirstUntil != "" {
		return signer{}, refuse(ErrForbidden, "A first password cannot sign. Sign in and choose your own first.")
	}
	p, err := s.Records.Person(ctx, account.PersonID)
	if err == nil && s.gone(p) {
		err = refuse(ErrPassword, "Name and password do not match.")
	}
	return signer{p, account}, err
}

// ownSigner is the actor as a signer.
func (s *Service) ownSigner(ctx context.Context, actor Actor, password string) (signer, error) {
	account, err := s.Records.AccountOf(ctx, actor.Person.ID)
	if err != nil {
		return signer{}, err
	}
	return s.signer(ctx, actor, account.Username, password)
}

// MaySignOff reports whether the actor could sign the person off for the
// competency today: nil, or an error with the reason.
func (s *Service) MaySignOff(ctx context.Context, actor Actor, personID, competency string) error {
	if err := need(actor, Preceptor, Educator); err != nil {
		return err
	}
	_, err := s.readyFor(ctx, s.Records, actor, personID, competency)
	return err
}

// readyFor is the standing that a sign-off rests on, or why there can be none.
func (s *Service) readyFor(ctx context.Context, r Reader, actor Actor, personID, competency string) (Standing, error) {
	c, ok := s.competency(competency)
	if !ok {
		return Standing{}, refuse(ErrNotFound, "There is no competency %q.", clip(competency))
	}
	if c.OnlyWatched {
		return Standing{}, refuse(ErrConflict, "“%s” is watched and signed by both; nobody is signed off for it.", c.Title)
	}
	p, err := r.Person(ctx, personID)
	if err != nil {
		return Standing{}, said(err, ErrNotFound, "There is no such person.")
	}
	if p.ID == actor.Person.ID {
		return Standing{}, refuse(ErrForbidden, "Nobody signs themself off. Another entitled person has to.")
	}
	may, err := entitled(ctx, r, actor.Person.ID, c, s.Today(), maySignOffBy)
	if err != nil {
		return Standing{}, err
	}
	if !may {
		return Standing{}, refuse(ErrForbidden, "You are not entitled to sign people off for “%s” today. %s", c.Title, whoEntitles(actor))
	}
	k, err := s.known(ctx, r, s.Today(), p.ID)
	if err != nil {
		return Standing{}, err
	}
	st, ok := k.in(p, c.ID)
	switch {
	case s.gone(p):
		return st, refuse(ErrConflict, "%s left on %s.", p.Name, p.Left.Said())
	case !ok:
		return st, refuse(ErrConflict, "“%s” is not asked of %s.", c.Title, p.Name)
	}
	return st, st.mayBeSigned(actor)
}

// SignOff signs a person off for a competency on the evidence that is there.
func (s *Service) SignOff(ctx context.Context, actor Actor, key, personID, competency, password string) (SignOff, error) {
	if err := need(actor, Preceptor, Educator); err != nil {
		return SignOff{}, err
	}
	a, err := ask(actor.Person.ID, key, "sign off", personID, competency)
	if err != nil {
		return SignOff{}, err
	}
	var by signer
	before := func() (err error) { by, err = s.ownSigner(ctx, actor, password); return err }
	id, _, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		st, err := s.readyFor(ctx, u, actor, personID, competency)
		if err != nil {
			return "", err
		}
		if err := unchanged(ctx, u, by.account); err != nil {
			return "", err
		}
		return s.keepSignOff(ctx, u, st, by.Person)
	})
	if err != nil {
		return SignOff{}, err
	}
	return s.Records.SignOff(ctx, id)
}

func (s *Service) keepSignOff(ctx context.Context, u Unit, st Standing, signer Person) (string, error) {
	now := s.Now()
	o := SignOff{ID: s.NewID(), PersonID: st.Person.ID, Competency: st.Competency.ID, SignerID: signer.ID, SignerName: signer.Name,
		On: now.Day(s.Zone()), SignedAt: now, Due: st.Requirements.Terms.DueAfter(now.Day(s.Zone()), st.Due), Attempts: st.passing,
		Requirements: st.Requirements.Version}
	for _, d := range st.Clean {
		o.Demonstrations = append(o.Demonstrations, d.ID)
	}
	found, err := evidenceOf(ctx, u, o.Demonstrations, o.Attempts)
	if err != nil {
		return "", err
	}
	f, err := found.signed(o)
	if err != nil {
		return "", err
	}
	by, err := s.entitledPerson(ctx, u, PartSigner, signer.ID, o.Competency)
	if err != nil {
		return "", err
	}
	people, err := withReset(ctx, u, []Named{named(PartPerson, st.Person), by}, signer.ID)
	if err != nil {
		return "", err
	}
	if o.Leaf, err = s.ledgered(ctx, u, LeafAbout{Kind: SignOffLeaf, Record: o.ID, At: o.SignedAt, People: people}, f); err != nil {
		return "", err
	}
	return o.ID, u.AddSignOff(ctx, o)
}
