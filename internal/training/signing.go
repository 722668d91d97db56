package training

import (
	"context"
	"errors"

	"stillwet/internal/assess"
)

// Choice is a meaning a preceptor may or may not sign, and why not.
type Choice struct {
	Meaning Meaning
	Words   string
	WhyNot  string // "" when it may be signed
}

// Choices are the meanings for the actor's signature as preceptor on a
// demonstration, in the order in which they are shown.
func (s *Service) Choices(ctx context.Context, actor Actor, d Demonstration) ([]Choice, error) {
	if err := need(actor); err != nil {
		return nil, err
	}
	var choices []Choice
	for _, m := range []Meaning{WatchedMet, WatchedNotMet, WatchedPractice} {
		c := Choice{Meaning: m, Words: m.Words()}
		var r *Refusal
		if err := s.maySign(ctx, s.Records, actor, d, m); errors.As(err, &r) {
			c.WhyNot = r.Sentence
		} else if err != nil {
			return nil, err
		}
		choices = append(choices, c)
	}
	return choices, nil
}

// maySign checks what must be so for the preceptor's signature of a meaning.
func (s *Service) maySign(ctx context.Context, r Reader, actor Actor, d Demonstration, m Meaning) error {
	switch {
	case d.PreceptorID != actor.Person.ID:
		return refuse(ErrForbidden, "Only the preceptor who watched can sign here.")
	case d.State != Ended:
		return refuse(ErrConflict, "The recording has to be finished before it can be signed.")
	case d.signed(LearnerDid) == nil:
		return refuse(ErrConflict, "The learner signs first.")
	case len(d.Signatures) > 1:
		return refuse(ErrConflict, "You have signed this demonstration already.")
	}
	if m != WatchedMet {
		return nil
	}
	if d.Prompted {
		return refuse(ErrConflict, "A prompt was given, so this was practice and cannot be signed as met.")
	}
	switch d.Outcome {
	case assess.NotPass:
		return refuse(ErrConflict, "It did not pass, so it cannot be signed as met.")
	case assess.Incomplete:
		return refuse(ErrConflict, "A critical mark could not be assessed, so it cannot be signed as met.")
	}
	why, err := s.overtaken(ctx, r, d)
	if err != nil {
		return err
	}
	if why != "" {
		return refuse(ErrConflict, "%s", why)
	}
	c, ok := s.competency(d.Competency)
	if !ok {
		c.ID = d.Competency // of one that is no more: who was entitled for it
	}
	ok, err = entitled(ctx, r, actor.Person.ID, c, s.Today(), mayWatchBy)
	if err == nil && !ok {
		return refuse(ErrForbidden, "You are not entitled to watch this competency today. The educator can entitle you.")
	}
	return err
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
	return d.State == Ended && d.Outcome == assess.Pass && !d.Prompted && d.signed(LearnerDid) != nil && d.signed(WatchedMet) != nil
}

// SignAsLearner puts the trainee's signature on a demonstration. It is given
// on the preceptor's device, so the trainee's own name and password come with
// it; actor is whose session it is (the preceptor, or the trainee).
func (s *Service) SignAsLearner(ctx context.Context, actor Actor, key, demoID, username, password string) (Demonstration, error) {
	if err := need(actor); err != nil {
		return Demonstration{}, err
	}
	a, err := ask(actor.Person.ID, key, "sign as learner", demoID, normalName(username))
	if err != nil {
		return Demonstration{}, err
	}
	var by signer
	before := func() (err error) {
		if _, err = s.onDevice(ctx, s.Records, actor, demoID); err != nil { // nobody else tries passwords here
			return err
		}
		by, err = s.signer(ctx, actor, username, password)
		return err
	}
	return s.sign(ctx, a, &by, LearnerDid, demoID, before, func(u Unit) (Demonstration, error) {
		d, err := s.onDevice(ctx, u, actor, demoID)
		switch {
		case err != nil:
		case by.ID != d.TraineeID:
			err = refuse(ErrInvalid, "This signature has to be the learner's own. That name is somebody else's.")
		case d.State != Ended:
			err = refuse(ErrConflict, "The recording has to be finished before it can be signed.")
		case d.signed(LearnerDid) != nil:
			err = refuse(ErrConflict, "The learner has signed this demonstration already.")
		}
		return d, err
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

// SignAsPreceptor puts the preceptor's signature on a demonstration, after the
// learner's.
func (s *Service) SignAsPreceptor(ctx context.Context, actor Actor, key, demoID string, m Meaning, password string) (Demonstration, error) {
	if err := need(actor); err != nil {
		return Demonstration{}, err
	}
	if m != WatchedMet && m != WatchedNotMet && m != WatchedPractice {
		return Demonstration{}, refuse(ErrInvalid, "Choose the sentence that you sign.")
	}
	a, err := ask(actor.Person.ID, key, "sign as preceptor", demoID, m)
	if err != nil {
		return Demonstration{}, err
	}
	var by signer
	before := func() (err error) { by, err = s.ownSigner(ctx, actor, password); return err }
	return s.sign(ctx, a, &by, m, demoID, before, func(u Unit) (Demonstration, error) {
		d, err := s.visible(ctx, u, actor, demoID)
		if err == nil {
			err = s.maySign(ctx, u, actor, d, m)
		}
		return d, err
	})
}

// sign keeps signature, leaf, head and key together. before finds who signs, by
// their password; may finds what they sign, or says why they may not.
func (s *Service) sign(ctx context.Context, a asked, by *signer, m Meaning, demoID string, before func() error, may func(Unit) (Demonstration, error)) (Demonstration, error) {
	_, _, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		d, err := may(u)
		if err != nil {
			return "", err
		}
		if err := unchanged(ctx, u, by.account); err != nil {
			return "", err
		}
		return d.ID, s.keepSignature(ctx, u, d, Signature{Record: d.ID, SignerID: by.ID, SignerName: by.Name, Meaning: m, SignedAt: s.Now()})
	})
	if err != nil {
		return Demonstration{}, err
	}
	return s.Records.Demonstration(ctx, demoID)
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
	learner, err := r.Person(ctx, d.TraineeID)
	if err != nil {
		return nil, err
	}
	preceptor, err := s.entitledPerson(ctx, r, PartPreceptor, d.PreceptorID, d.Competency)
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
		if err != nil {
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
		return Standing{}, refuse(ErrForbidden, "You are not entitled to sign people off for “%s” today. The educator can entitle you.", c.Title)
	}
	h, err := s.history(ctx, r, p)
	if err != nil {
		return Standing{}, err
	}
	st := Fold(p, c, h, s.Today(), s.Zone)
	switch {
	case s.gone(p):
		return st, refuse(ErrConflict, "%s left on %s.", p.Name, p.Left)
	case len(st.MissingScenarios) > 0:
		return st, refuse(ErrConflict, "%s still has %d of %d scenarios to pass.", p.Name, len(st.MissingScenarios), len(c.Scenarios))
	case !st.Ready:
		return st, refuse(ErrConflict, "%s has %d of %d clean demonstrations on different days.", p.Name, len(st.Clean), st.Needed)
	}
	return st, nil
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
		On: now.Day(s.Zone), SignedAt: now, Due: now.Day(s.Zone).AddMonths(st.Competency.IntervalMonths), Attempts: st.passing}
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
