package training

import (
	"context"
	"fmt"
	"slices"
	"time"

	"stillwet/internal/ledger"
)

// EarlierWords are what an educator signs of a batch of earlier sign-offs.
const EarlierWords = "I have read this list and compared it with the papers it names. These sign-offs were given before."

// OneEarlierWords are what is signed of a single one.
const OneEarlierWords = "I have compared this entry with the paper it names. This sign-off was given before."

// WordsOfEarlier are what is signed of so many earlier sign-offs.
func WordsOfEarlier(n int) string {
	if n == 1 {
		return OneEarlierWords
	}
	return EarlierWords
}

// EarlierLine is a sign-off from before this program, as paper or another list has it.
type EarlierLine struct {
	ID, PersonID  string
	Name, StaffNo string // as they stood when it was confirmed
	Competency    string
	On            Day
	CountsAt      Instant // the last moment of that day: what was shown on it is not counted again
	Due           Day
	Requirements  int    // the version that held on that day
	SignedBy      string // as the paper has it
	Evidence      string // where the paper lies
	Site          string // the other site that it comes from, "" for this clinic
	Here          bool   // it was shown here
	Corrects, Why string // id of the one that it stands for, and why

	Batch EarlierBatch // without lines
	End   End          // it was withdrawn, or another stands for it
	By    string       // id of the one that stands for it
}

// EarlierBatch is what an educator has confirmed at once.
type EarlierBatch struct {
	ID           string
	At           Instant
	ByID, ByName string
	Lines        []EarlierLine
	Words        string // that were signed, as the leaf has them
	Leaf         int64
}

// EarlierDraft is a batch that waits for an educator, and counts for nothing.
type EarlierDraft struct {
	ID     string
	At     Instant
	ByName string // who brought it in; "" for who runs the server
	Lines  []EarlierLine
}

// EarlierReader finds earlier sign-offs.
type EarlierReader interface {
	// Earlier are those of a person, or of all with "", the latest day first.
	Earlier(ctx context.Context, personID string) ([]EarlierLine, error)
	EarlierLine(ctx context.Context, id string) (EarlierLine, error)
	EarlierAt(ctx context.Context, leaves []int64) ([]EarlierBatch, error)
	EarlierDrafts(ctx context.Context) ([]EarlierDraft, error) // oldest first
}

// EarlierWriter keeps them.
type EarlierWriter interface {
	AddEarlier(ctx context.Context, b EarlierBatch) error
	AddEarlierDraft(ctx context.Context, d EarlierDraft) error
	EndEarlierDraft(ctx context.Context, id string) error
}

// SignOff is an earlier sign-off as standings take it.
func (l EarlierLine) SignOff() SignOff {
	return SignOff{ID: l.ID, PersonID: l.PersonID, Competency: l.Competency, SignerName: l.SignedBy, On: l.On, SignedAt: l.CountsAt, Due: l.Due, Requirements: l.Requirements,
		Leaf: l.Batch.Leaf, End: l.End, EnteredAt: l.Batch.At, Elsewhere: !l.Here}
}

// FromPaper reports whether a sign-off was given before this program.
func (o *SignOff) FromPaper() bool { return o.EnteredAt != "" }

// Signer names who gave a sign-off, and that it is from paper.
func (o *SignOff) Signer() string {
	if o.FromPaper() {
		return o.SignerName + " (from paper)"
	}
	return o.SignerName
}

func earlierFields(b EarlierBatch) ledger.Fields {
	lines := make([]ledger.Fields, len(b.Lines))
	for i, l := range b.Lines {
		lines[i] = ledger.Fields{"id": l.ID, "n": i + 1, "person_id": l.PersonID, "name": l.Name, "staff_no": l.StaffNo, "competency": l.Competency, "on_day": string(l.On),
			"counts_at": string(l.CountsAt), "due": string(l.Due), "requirements": l.Requirements, "signed_by": l.SignedBy, "evidence": l.Evidence, "site": l.Site,
			"shown_here": l.Here, "corrects": l.Corrects, "why": l.Why}
	}
	return ledger.Fields{"source": "from paper", "by_id": b.ByID, "by_name": b.ByName, "words": b.Words, "lines": lines}
}

// checkEarlier brings the texts of a line into order and says all that is wrong at once.
func (s *Service) checkEarlier(l *EarlierLine) error {
	var wrong []string
	for _, x := range []line{{"Who signed it", &l.SignedBy, maxName}, {"The evidence", &l.Evidence, maxReason}, {"The other site", &l.Site, maxJob}} {
		wrong = append(wrong, sentencesOf(tidyLines(x))...)
	}
	if _, err := ParseDay(string(l.On)); err != nil {
		wrong = append(wrong, "Give the day of the sign-off.")
	} else if l.On > s.Today() || l.On < firstHired {
		wrong = append(wrong, fmt.Sprintf("The day, %s, is still to come or before 1950. Correct it.", l.On.Said()))
	}
	if _, err := ParseDay(string(l.Due)); l.Due != "" && (err != nil || l.Due < l.On) {
		wrong = append(wrong, "“Due again on” is no day, or lies before the sign-off. Leave it empty when the clinic’s interval counts.")
	}
	wrong = append(wrong, illegible(l.SignedBy, "Who signed it", "Say who signed it, as the paper has it.")...)
	wrong = append(wrong, illegible(l.Evidence, "Where the paper lies", "Say where the paper lies.")...)
	if !l.Here {
		wrong = append(wrong, illegible(l.Site, "The other site", "Where it was not shown here, say at which other site.")...)
	}
	return refusedFor(wrong)
}

// refusedFor is a refusal with all that is wrong, nil when nothing is.
func refusedFor(wrong []string) error {
	if len(wrong) == 0 {
		return nil
	}
	text := ""
	for _, w := range wrong {
		text += " " + w
	}
	return refuse(ErrInvalid, "%s", text[1:])
}

// ready fills what follows from a line: who it is of as they stand, when it counts, and until
// when.
func (s *Service) ready(l EarlierLine, p Person, asked []Competency) (EarlierLine, error) {
	i := slices.IndexFunc(asked, func(c Competency) bool { return c.ID == l.Competency })
	if i < 0 {
		return l, refuse(ErrNotFound, "There is no competency %q that people are signed off for.", clip(l.Competency))
	}
	held := asked[i].Requirements(l.On)
	if l.ID == "" {
		l.ID = s.NewID()
	}
	l.Name, l.StaffNo, l.Requirements, l.CountsAt = p.Name, p.StaffNo, held.Version, l.On.End(s.Zone()).Add(-time.Millisecond)
	if l.Due == "" {
		l.Due = l.On.AddMonths(held.Terms.IntervalMonths)
	}
	return l, nil
}

// EnterEarlier enters one earlier sign-off by hand: a batch of one, read and confirmed by the
// educator's password.
func (s *Service) EnterEarlier(ctx context.Context, actor Actor, key string, l EarlierLine, password string) error {
	return s.byPassword(ctx, actor, key, "enter an earlier sign-off", []any{l}, password, func() error { return s.checkEarlier(&l) }, func(u Unit, by Person) error {
		return s.keepBatch(ctx, u, by, []EarlierLine{l})
	})
}

// ConfirmEarlier confirms a batch that waits, which the educator has read.
func (s *Service) ConfirmEarlier(ctx context.Context, actor Actor, key, draftID, password string) error {
	return s.byPassword(ctx, actor, key, "confirm earlier sign-offs", []any{draftID}, password, nil, func(u Unit, by Person) error {
		d, err := draftOf(ctx, u, draftID)
		if err != nil {
			return err
		}
		if err := s.keepBatch(ctx, u, by, d.Lines); err != nil {
			return err
		}
		return u.EndEarlierDraft(ctx, draftID)
	})
}

// CorrectEarlier puts another in the place of an earlier sign-off, with a reason.
func (s *Service) CorrectEarlier(ctx context.Context, actor Actor, key, id string, is EarlierLine, why, password string) error {
	check := func() (err error) {
		if why, err = s.reason(why, "Say what was wrong: it is kept, and whoever is named in it reads it."); err == nil {
			err = s.checkEarlier(&is)
		}
		return err
	}
	return s.byPassword(ctx, actor, key, "correct an earlier sign-off", []any{id, is, why}, password, check, func(u Unit, by Person) error {
		was, err := heldEarlier(ctx, u, id)
		if err != nil {
			return err
		}
		is.ID, is.Corrects, is.Why = "", was.ID, why
		return s.keepBatch(ctx, u, by, []EarlierLine{is})
	})
}

// WithdrawEarlier withdraws an earlier sign-off with a reason.
func (s *Service) WithdrawEarlier(ctx context.Context, actor Actor, key, id, why, password string) error {
	check := func() (err error) {
		why, err = s.reason(why, "Say why it is withdrawn: it is kept, and whoever is named in it reads it.")
		return err
	}
	return s.byPassword(ctx, actor, key, "withdraw an earlier sign-off", []any{id, why}, password, check, func(u Unit, by Person) error {
		l, err := heldEarlier(ctx, u, id)
		if err != nil {
			return err
		}
		p, err := u.Person(ctx, l.PersonID)
		if err != nil {
			return err
		}
		return s.keepEnd(ctx, u, End{Of: EarlierLeaf, Record: id, Why: why}, by, []Named{named(PartPerson, p)})
	})
}

// byPassword is an educator's act on earlier sign-offs, by their password.
func (s *Service) byPassword(ctx context.Context, actor Actor, key, act string, body []any, password string, check func() error, do func(Unit, Person) error) error {
	a, err := s.askOfEntry(actor, key, act, body...)
	if err != nil {
		return err
	}
	var by signer
	before := func() (err error) {
		if check != nil {
			if err = check(); err != nil {
				return err
			}
		}
		by, err = s.ownSigner(ctx, actor, password)
		return err
	}
	_, _, err = s.once(ctx, a, before, func(u Unit) (string, error) {
		if err := unchanged(ctx, u, by.account); err != nil {
			return "", err
		}
		return act, do(u, by.Person)
	})
	return err
}

// keepBatch keeps lines as one batch with its leaf.
func (s *Service) keepBatch(ctx context.Context, u Unit, by Person, lines []EarlierLine) (err error) {
	kept, err := u.Requirements(ctx)
	if err != nil {
		return err
	}
	asked := s.asked(kept, s.Today())
	b := EarlierBatch{ID: s.NewID(), At: s.Now(), ByID: by.ID, ByName: by.Name, Words: WordsOfEarlier(len(lines))}
	had, err := u.Earlier(ctx, "")
	if err != nil {
		return err
	}
	for _, l := range lines {
		p, err := u.Person(ctx, l.PersonID)
		if err != nil {
			return said(err, ErrNotFound, "There is no such person.")
		}
		if slices.ContainsFunc(had, func(x EarlierLine) bool { return x.sameAs(l) && x.End.At == "" && x.ID != l.Corrects }) {
			return refuse(ErrConflict, "%s has this earlier sign-off of %s already. Nothing was confirmed. If something in it is wrong, correct that one.", p.Name, l.On.Said())
		}
		if l, err = s.ready(l, p, asked); err != nil {
			return err
		}
		b.Lines = append(b.Lines, l)
	}
	people, err := withReset(ctx, u, []Named{named(PartSigner, by)}, by.ID)
	if err != nil {
		return err
	}
	if b.Leaf, err = s.ledgered(ctx, u, LeafAbout{Kind: EarlierLeaf, Record: b.ID, At: b.At, People: people}, earlierFields(b)); err != nil {
		return err
	}
	return u.AddEarlier(ctx, b)
}

// sameAs reports whether two lines are of one person, competency and day.
func (l EarlierLine) sameAs(o EarlierLine) bool {
	return l.PersonID == o.PersonID && l.Competency == o.Competency && l.On == o.On
}

func heldEarlier(ctx context.Context, r EarlierReader, id string) (EarlierLine, error) {
	l, err := r.EarlierLine(ctx, id)
	switch {
	case err != nil:
		return l, said(err, ErrNotFound, "There is no such earlier sign-off.")
	case l.By != "":
		return l, refuse(ErrConflict, "It was corrected already; what holds is the one that stands for it.")
	case l.End.At != "":
		return l, refuse(ErrConflict, "%s withdrew it already.", l.End.ByName)
	}
	return l, nil
}

func draftOf(ctx context.Context, r EarlierReader, id string) (EarlierDraft, error) {
	all, err := r.EarlierDrafts(ctx)
	if err != nil {
		return EarlierDraft{}, err
	}
	for _, d := range all {
		if d.ID == id {
			return d, nil
		}
	}
	return EarlierDraft{}, refuse(ErrNotFound, "There is no such batch that waits. It was confirmed or set aside.")
}
