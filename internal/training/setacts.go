package training

import (
	"cmp"
	"context"
	"strconv"
	"strings"
)

// startingPoint makes version 1 where there is none: the built-in set as it is when a
// clinic begins, or when a clinic of before is first opened by this program. Nobody has
// confirmed it.
func (s *Service) startingPoint(ctx context.Context, u Unit) error {
	if s.StartingSet == nil {
		return nil
	}
	versions, err := u.SetVersions(ctx)
	if err != nil || len(versions) > 0 {
		return err
	}
	files, err := s.StartingSet()
	if err != nil {
		return err
	}
	v := SetVersion{Number: 1, Hash: SetHash(files), Origin: StartingPoint, Edits: noEdits}
	if err := u.AddSetVersion(ctx, v, setFiles(files)); err != nil {
		return err
	}
	return s.addSetEvent(ctx, u, v, SetEvent{Event: SetStarted}, Person{})
}

const noEdits = "[]"

// addSetEvent keeps what becomes of a version, with its leaf.
func (s *Service) addSetEvent(ctx context.Context, u Unit, v SetVersion, e SetEvent, by Person, approver ...Person) error {
	e.Version, e.Seq, e.At, e.ByID, e.ByName = v.Number, len(v.Events)+1, s.Now(), by.ID, by.Name
	var people []Named
	for i, p := range append([]Person{by}, approver...) {
		if p.ID == "" {
			continue
		}
		n, err := s.withCredential(ctx, u, []string{PartBy, PartApprover}[i], p)
		if err != nil {
			return err
		}
		people = append(people, n)
	}
	var err error
	if by.ID != "" && e.Event == SetApproved {
		signer := cmp.Or(e.Approval.ByID, by.ID)
		if people, err = withReset(ctx, u, people, signer); err != nil {
			return err
		}
	}
	if e.Leaf, err = s.ledgered(ctx, u, LeafAbout{Kind: SetLeaf, Record: recordOf(v), At: e.At, People: people}, setFields(v, e)); err != nil {
		return err
	}
	return u.AddSetEvent(ctx, e)
}

// withCredential names somebody with the credential that is on record of them today.
func (s *Service) withCredential(ctx context.Context, r PeopleReader, part string, p Person) (Named, error) {
	n := named(part, p)
	all, err := r.Entitlements(ctx, p.ID)
	for _, e := range all {
		if e.on(s.Today()) && e.Credential != "" {
			n.Credential = e.Credential
		}
	}
	return n, err
}

// ProposeSet makes the draft a version that waits to be approved; nothing holds yet. It is
// refused, with every fault, when it cannot be used, and when it changes nothing. why is
// told to whoever approves it, and kept. Educators only.
func (s *Service) ProposeSet(ctx context.Context, actor Actor, key string, revision int, why string) (SetVersion, error) {
	if err := need(actor, Educator); err != nil {
		return SetVersion{}, err
	}
	a, err := ask(actor.Person.ID, key, "propose the set", revision, why)
	if err != nil {
		return SetVersion{}, err
	}
	before := func() (err error) {
		if why, err = reason("The reason", why); err != nil {
			return err
		}
		d, _, err := s.openDraft(ctx, s.Records, revision)
		if err == nil {
			_, err = s.loadSet(d.Files)
		}
		return err
	}
	answer, _, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		d, base, err := s.openDraft(ctx, u, revision) // what was proved: its files are those of its revision
		if err != nil {
			return "", err
		}
		return s.propose(ctx, u, d, base, why, actor.Person)
	})
	return s.versionOr(ctx, answer, err)
}

func (s *Service) propose(ctx context.Context, u Unit, d SetDraft, base SetVersion, why string, by Person) (string, error) {
	versions, err := u.SetVersions(ctx)
	if err != nil {
		return "", err
	}
	v := SetVersion{Number: versions[len(versions)-1].Number + 1, Hash: SetHash(d.Files), BasedOn: base.Number, Origin: d.Origin, Why: why, Edits: d.Edits}
	if v.Hash == base.Hash {
		return "", refuse(ErrConflict, "The draft is the same as version %d: there is nothing to propose.", base.Number)
	}
	if _, err := s.closeDraft(ctx, u, d, by); err != nil {
		return "", err
	}
	if err := u.AddSetVersion(ctx, v, setFiles(d.Files)); err != nil {
		return "", err
	}
	return recordOf(v), s.addSetEvent(ctx, u, v, SetEvent{Event: SetProposed, Why: why}, by)
}

func reason(what, text string) (string, error) {
	clean, err := tidy(what, text, maxReason)
	if err == nil && !legible(clean) {
		err = refuse(ErrInvalid, "Say why: it is kept with the version, and shown to whoever approves it.")
	}
	return strings.Join(strings.Fields(clean), " "), err
}

// versionOr is the version that an act answered with.
func (s *Service) versionOr(ctx context.Context, answer string, err error) (SetVersion, error) {
	if err != nil {
		return SetVersion{}, err
	}
	versions, err := s.Records.SetVersions(ctx)
	if err != nil {
		return SetVersion{}, err
	}
	number, err := strconv.Atoi(answer)
	if err != nil {
		return SetVersion{}, err
	}
	return versionOf(versions, number)
}

// WithdrawSet takes back the version that waits to be approved: its files are the draft
// again, so that nothing is lost. Educators only.
func (s *Service) WithdrawSet(ctx context.Context, actor Actor, key string, version int, why string) (SetVersion, error) {
	if err := need(actor, Educator); err != nil {
		return SetVersion{}, err
	}
	a, err := ask(actor.Person.ID, key, "withdraw the set", version, why)
	if err != nil {
		return SetVersion{}, err
	}
	before := func() (err error) { why, err = reason("The reason", why); return err }
	answer, _, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		v, _, err := proposed(ctx, u, version)
		if err != nil {
			return "", err
		}
		files, err := u.SetFiles(ctx, version)
		if err != nil {
			return "", err
		}
		was, err := draftOrNone(ctx, u)
		if err != nil {
			return "", err
		}
		again := SetDraft{Open: true, Base: v.BasedOn, Origin: v.Origin, Edits: v.Edits, Files: files}
		if _, err := s.writeDraft(ctx, u, was, again, actor.Person); err != nil {
			return "", err
		}
		return recordOf(v), s.addSetEvent(ctx, u, v, SetEvent{Event: SetWithdrawn, Why: why}, actor.Person)
	})
	return s.versionOr(ctx, answer, err)
}
