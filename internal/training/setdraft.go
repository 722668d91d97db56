package training

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"strconv"
)

// SetSaving is a draft as it is to be saved, and the revision that it was made of.
type SetSaving struct {
	Revision int // of the draft as it was read, open or not; 0 before the first
	Files    map[string][]byte
	Edits    string // what was done to its base so far, as JSON; "" for nothing
	Imported bool   // the files came from elsewhere as a whole
}

// SaveSetDraft keeps the draft, which begins with its first saving. Educators only. A draft
// that was changed, proposed or discarded since it was read is ErrConflict, and nothing of
// it is written over; so is one beside a version that waits to be approved. What is saved
// may still have faults: they are told when it is proposed.
func (s *Service) SaveSetDraft(ctx context.Context, actor Actor, key string, d SetSaving) (SetDraft, error) {
	if err := need(actor, Educator); err != nil {
		return SetDraft{}, err
	}
	a, err := ask(actor.Person.ID, key, "save the draft of the set", d.Revision, SetHash(d.Files), d.Edits, d.Imported)
	if err != nil {
		return SetDraft{}, err
	}
	_, _, err = s.once(ctx, a, func() error { return checkDraft(&d) }, func(u Unit) (string, error) { return s.saveDraft(ctx, u, actor.Person, d) })
	if err != nil {
		return SetDraft{}, err
	}
	return s.Records.SetDraft(ctx)
}

func checkDraft(d *SetSaving) error {
	d.Edits = cmp.Or(d.Edits, noEdits)
	if !json.Valid([]byte(d.Edits)) {
		return refuse(ErrInvalid, "The list of changes cannot be read. Load the page again.")
	}
	return checkSet(d.Files, d.Edits)
}

func (s *Service) saveDraft(ctx context.Context, u Unit, by Person, d SetSaving) (string, error) {
	was, base, err := s.draftFor(ctx, u, d.Revision)
	if err != nil {
		return "", err
	}
	next := SetDraft{Open: true, Base: base.Number, Origin: EditedSet, Edits: d.Edits, Files: d.Files}
	if was.Open {
		next.Origin = was.Origin
	}
	if d.Imported {
		next.Origin = ImportedSet
	}
	return s.writeDraft(ctx, u, was, next, by)
}

// writeDraft writes the draft in the place of the last one.
func (s *Service) writeDraft(ctx context.Context, u Unit, was, next SetDraft, by Person) (string, error) {
	next.Revision, next.UpdatedAt, next.ByID, next.ByName = was.Revision+1, s.Now(), by.ID, by.Name
	return strconv.Itoa(next.Revision), u.SaveSetDraft(ctx, next, was.Revision)
}

// draftFor is the draft as it is, when it is the one that was read, and the version it
// builds on.
func (s *Service) draftFor(ctx context.Context, r Reader, revision int) (d SetDraft, base SetVersion, err error) {
	versions, err := r.SetVersions(ctx)
	if err != nil {
		return d, base, err
	}
	base = newestStanding(versions)
	if base.Number == 0 {
		return d, base, errNoSets
	}
	if waits, ok := proposal(versions); ok {
		return d, base, refuse(ErrConflict, "Version %d waits to be approved. Nothing else is changed until it is approved, or taken back to go on with it.", waits.Number)
	}
	if d, err = draftOrNone(ctx, r); err != nil || d.Revision == revision {
		return d, base, err
	}
	return d, base, refuse(ErrConflict, "%s", s.changedDraft(d))
}

// changedDraft tells whoever comes too late what happened, and that nothing is lost.
func (s *Service) changedDraft(d SetDraft) string {
	who := cmp.Or(d.ByName, "Whoever keeps the data folder")
	at := d.UpdatedAt.Time().In(s.Zone()).Format("15:04 on 2 January")
	if !d.Open {
		return fmt.Sprintf("%s proposed or discarded the draft at %s, after you had opened it. Nothing was written over; load the page again and see where it stands.", who, at)
	}
	return fmt.Sprintf("%s changed the draft at %s, after you had opened it. Their change is kept and yours was not saved over it; load the page again and repeat it.", who, at)
}

// openDraft is the draft that was read, and is still open.
func (s *Service) openDraft(ctx context.Context, r Reader, revision int) (SetDraft, SetVersion, error) {
	d, base, err := s.draftFor(ctx, r, revision)
	if err == nil && !d.Open {
		err = refuse(ErrConflict, "There is no draft.")
	}
	return d, base, err
}

// ImportSet makes files the draft, for whoever has the data folder. An open draft is not
// written over.
func (s *Service) ImportSet(ctx context.Context, files map[string][]byte) (d SetDraft, err error) {
	saving := SetSaving{Files: files, Imported: true}
	if err := checkDraft(&saving); err != nil {
		return d, err
	}
	if _, err := s.loadSet(files); err != nil {
		return d, err
	}
	err = s.Records.Write(ctx, func(u Unit) error {
		if d, err = draftOrNone(ctx, u); err != nil {
			return err
		}
		if d.Open {
			return refuse(ErrConflict, "There is a draft already (%s, %s). Propose or discard it first.", cmp.Or(d.ByName, "imported"), d.UpdatedAt.Day(s.Zone()).Said())
		}
		saving.Revision = d.Revision
		_, err := s.saveDraft(ctx, u, Person{}, saving)
		return err
	})
	if err != nil {
		return SetDraft{}, err
	}
	return s.Records.SetDraft(ctx)
}

// TakeVersionAsDraft makes the files of a version the draft, to go back to it or to go on
// from it. Educators only; a draft that is open is written over when its revision is given.
func (s *Service) TakeVersionAsDraft(ctx context.Context, actor Actor, key string, version, revision int) (SetDraft, error) {
	if err := need(actor, Educator); err != nil {
		return SetDraft{}, err
	}
	a, err := ask(actor.Person.ID, key, "take a version as the draft", version, revision)
	if err != nil {
		return SetDraft{}, err
	}
	_, _, err = s.once(ctx, a, nil, func(u Unit) (string, error) {
		files, err := u.SetFiles(ctx, version)
		if err != nil {
			return "", said(err, ErrNotFound, "There is no version %d of the set.", version)
		}
		was, base, err := s.draftFor(ctx, u, revision)
		if err != nil {
			return "", err
		}
		return s.writeDraft(ctx, u, was, SetDraft{Open: true, Base: base.Number, Origin: EditedSet, Edits: noEdits, Files: files}, actor.Person)
	})
	if err != nil {
		return SetDraft{}, err
	}
	return s.Records.SetDraft(ctx)
}

// DiscardSetDraft gives the draft up. Educators only.
func (s *Service) DiscardSetDraft(ctx context.Context, actor Actor, key string, revision int) error {
	if err := need(actor, Educator); err != nil {
		return err
	}
	a, err := ask(actor.Person.ID, key, "discard the draft of the set", revision)
	if err != nil {
		return err
	}
	_, _, err = s.once(ctx, a, nil, func(u Unit) (string, error) {
		d, _, err := s.openDraft(ctx, u, revision)
		if err != nil {
			return "", err
		}
		return s.closeDraft(ctx, u, d, actor.Person)
	})
	return err
}

func (s *Service) closeDraft(ctx context.Context, u Unit, d SetDraft, by Person) (string, error) {
	return s.writeDraft(ctx, u, d, SetDraft{Base: d.Base, Origin: d.Origin, Edits: noEdits}, by)
}
