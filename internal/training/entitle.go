package training

import (
	"context"
	"fmt"
	"strings"
)

// Limits of an entitlement.
const (
	maxCredential  = 80
	maxReason      = 300
	foundingMonths = 24 // the longest that somebody who is not current may be entitled
	entitledMonths = 60 // the longest that anybody may be, in one entitlement
	fromMonths     = 12 // how far its first day may lie back or ahead
)

// SecondPerson is the name and password of who approves here and now.
type SecondPerson struct{ Username, Password string }

// Entitle lets a person watch or sign off a competency, or both, from a day to a day.
// Educators only, who have just given their
// password, with a second person's word. second counts when Approval says here.
func (s *Service) Entitle(ctx context.Context, actor Actor, key string, e Entitlement, second SecondPerson) (Entitlement, error) {
	if err := need(actor, Educator); err != nil {
		return Entitlement{}, err
	}
	a, err := ask(actor.Person.ID, key, "entitle", e.PersonID, e.Competency, e.From, e.Until, e.Watch, e.SignOff, e.Credential, e.Founding,
		e.Approval, normalName(second.Username))
	if err != nil {
		return Entitlement{}, err
	}
	if e, err = tidied(e); err != nil {
		return Entitlement{}, err
	}
	var by signer
	before := func() (err error) {
		if err = s.proved(actor); err == nil && e.Approval.How == ApprovedHere {
			by, err = s.signer(ctx, actor, second.Username, second.Password)
		}
		return err
	}
	e.ID, e.GrantedBy = s.NewID(), actor.Person.ID
	id, _, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		p, err := s.checkEntitlement(ctx, u, e)
		if err != nil {
			return "", err
		}
		if e.Approval, err = s.approved(ctx, u, e, actor, by); err != nil {
			return "", err
		}
		return e.ID, s.keepEntitlement(ctx, u, e, p, actor.Person, by.Person)
	})
	if err != nil {
		return Entitlement{}, err
	}
	e.ID = id
	return e, nil
}

func (s *Service) keepEntitlement(ctx context.Context, u Unit, e Entitlement, p, by, approver Person) error {
	now := s.Now()
	if err := u.AddEntitlement(ctx, e, now); err != nil {
		return err
	}
	holder := named(PartPerson, p)
	holder.Credential = e.Credential
	people := []Named{holder, named(PartBy, by)}
	if approver.ID != "" {
		people = append(people, named(PartApprover, approver))
	}
	_, err := s.ledgered(ctx, u, LeafAbout{Kind: EntitlementLeaf, Record: e.ID, At: now, People: people}, entitlementFields(e))
	return err
}

// tidied is an entitlement with its free text ready to be kept.
func tidied(e Entitlement) (_ Entitlement, err error) {
	if err = tidyLines(line{"The credential", &e.Credential, maxCredential}, line{"The reason", &e.Founding, maxReason}); err == nil {
		e.Approval, err = tidiedApproval(e.Approval)
	}
	return e, err
}

// tidiedApproval is the same of an approval.
func tidiedApproval(a Approval) (Approval, error) {
	err := tidyLines(line{"The approver's name", &a.By, maxName}, line{"The approver's role", &a.Role, maxName}, line{"The place of the paper", &a.Where, maxReason})
	return a, err
}

// line is free text of one line, and how long it may be.
type line struct {
	what string
	text *string
	most int
}

func tidyLines(lines ...line) error {
	for _, l := range lines {
		clean, err := tidy(l.what, *l.text, l.most)
		if err != nil {
			return err
		}
		*l.text = strings.Join(strings.Fields(clean), " ")
	}
	return nil
}

// checkEntitlement says what an entitlement lacks, all at once, and finds whose it is.
func (s *Service) checkEntitlement(ctx context.Context, r Reader, e Entitlement) (Person, error) {
	c, ok := s.competency(e.Competency)
	if !ok {
		return Person{}, refuse(ErrInvalid, "There is no competency %q.", clip(e.Competency))
	}
	p, err := r.Person(ctx, e.PersonID)
	if err != nil {
		return p, said(err, ErrNotFound, "There is no such person.")
	}
	wrong := s.wrongEntitlement(e)
	if double, err := s.entitledAlready(ctx, r, e); err != nil || double != "" {
		if err != nil {
			return p, err
		}
		wrong = append(wrong, double)
	}
	if !p.HasAny(Preceptor, Educator) {
		wrong = append(wrong, fmt.Sprintf("%s is a %s; only preceptors and educators can be entitled to sign.", p.Name, p.RoleTitle(p.Settled(false, s.Today()))))
	}
	current, err := s.isCurrent(ctx, r, p, c)
	if err != nil {
		return p, err
	}
	switch {
	case current:
	case e.Founding == "":
		wrong = append(wrong, fmt.Sprintf("%s is not current in “%s”. Somebody has to be the first, or stand in: then say why.", p.Name, c.Title))
	case e.Until > e.From.AddMonths(foundingMonths):
		wrong = append(wrong, fmt.Sprintf("Somebody who is not current can be entitled for %d months at most.", foundingMonths))
	}
	if len(wrong) > 0 {
		return p, refuse(ErrInvalid, "%s", strings.Join(wrong, " "))
	}
	return p, nil
}

// entitledAlready tells the entitlement that allows all of this already, on each of its days.
func (s *Service) entitledAlready(ctx context.Context, r Reader, e Entitlement) (string, error) {
	all, err := r.Entitlements(ctx, e.PersonID)
	if err != nil {
		return "", err
	}
	for _, x := range all {
		if x.allows(e) && x.From <= e.From && e.Until <= x.Until {
			return fmt.Sprintf("There is an entitlement to all of this already, from %s until %s. End that one first, or give other days.", x.From.Said(), x.Until.Said()), nil
		}
	}
	return "", nil
}

func (s *Service) wrongEntitlement(e Entitlement) (wrong []string) {
	days := true
	for _, d := range []Day{e.From, e.Until} {
		if _, err := ParseDay(string(d)); err != nil {
			days = false
			wrong = append(wrong, "An entitlement needs a first and a last day.")
			break
		}
	}
	if days && e.Until < e.From {
		wrong = append(wrong, fmt.Sprintf("The last day, %s, is before the first, %s.", e.Until.Said(), e.From.Said()))
	}
	if today := s.Today(); days && (e.From < today.AddMonths(-fromMonths) || e.From > today.AddMonths(fromMonths)) {
		wrong = append(wrong, fmt.Sprintf("The first day, %s, has to lie within a year of today.", e.From.Said()))
	}
	if days && e.Until > e.From.AddMonths(entitledMonths) {
		wrong = append(wrong, fmt.Sprintf("The last day, %s, lies too far ahead: an entitlement is for %d years at most, and can be given again.", e.Until.Said(), entitledMonths/12))
	}
	if !e.Watch && !e.SignOff {
		wrong = append(wrong, "Choose what the person may do: watch demonstrations, sign people off, or both.")
	}
	if e.SignOff && e.Credential == "" {
		wrong = append(wrong, "Whoever signs people off needs a credential here, such as registered nurse: it is printed on what they sign.")
	}
	return wrong
}

// isCurrent reports whether a person is signed off for a competency today.
func (s *Service) isCurrent(ctx context.Context, r Reader, p Person, c Competency) (bool, error) {
	if c.OnlyWatched {
		return false, nil // nobody is signed off for it
	}
	k, err := s.known(ctx, r, s.Today(), p.ID)
	if err != nil {
		return false, err
	}
	st, ok := k.in(p, c.ID)
	return ok && (st.Word == Current || st.Word == DueSoon), nil
}

// approved is the second person's word as it is kept, or why there is none.
func (s *Service) approved(ctx context.Context, r Reader, e Entitlement, actor Actor, by signer) (Approval, error) {
	switch a := e.Approval; a.How {
	case ApprovedHere:
		if !by.Has(Educator) || by.ID == actor.Person.ID || by.ID == e.PersonID {
			return a, refuse(ErrInvalid, "The second person has to be another educator, and not the one who is entitled. A manager or medical director without an account approves on paper.")
		}
		return Approval{How: ApprovedHere, ByID: by.ID, By: by.Name, Role: string(Educator), On: s.Today()}, unchanged(ctx, r, by.account)
	case ApprovedPaper:
		return onPaper(a)
	case ApprovedAlone:
		others, err := r.EducatorsBut(ctx, s.Today(), actor.Person.ID, e.PersonID)
		if err == nil && others > 0 {
			err = refuse(ErrInvalid, "There is another educator, who can approve this here, or a manager can on paper.")
		}
		return Approval{How: ApprovedAlone}, err
	}
	return e.Approval, refuse(ErrInvalid, "Say who else approves this: another educator here, or a manager or medical director on paper.")
}

// onPaper is an approval that was given on paper and is entered here.
func onPaper(a Approval) (Approval, error) {
	if _, err := ParseDay(string(a.On)); err != nil || a.By == "" || a.Role == "" || a.Where == "" {
		return a, refuse(ErrInvalid, "An approval on paper needs who gave it, their role, its day, and where the paper lies.")
	}
	return Approval{How: ApprovedPaper, By: a.By, Role: a.Role, On: a.On, Where: a.Where}, nil
}

// SecondEducators counts the educators besides the actor who could approve an
// entitlement of a person.
func (s *Service) SecondEducators(ctx context.Context, actor Actor, personID string) (int, error) {
	if err := need(actor, Educator); err != nil {
		return 0, err
	}
	return s.Records.EducatorsBut(ctx, s.Today(), actor.Person.ID, personID)
}

// What an entitlement may allow.
func mayWatchBy(e Entitlement) bool   { return e.Watch }
func maySignOffBy(e Entitlement) bool { return e.SignOff }

// whoEntitles says where to go on for somebody who may not sign today.
func whoEntitles(actor Actor) string {
	if actor.Person.Has(Educator) {
		return "You can grant it on your own record, with a second person's word."
	}
	return "The educator can entitle you."
}

func (e Entitlement) on(day Day) bool { return e.From <= day && day <= e.Until && e.End.At == "" }

// allows reports whether an entitlement that goes on lets its person do all that another one
// does, whatever their days.
func (e Entitlement) allows(x Entitlement) bool {
	return e.Competency == x.Competency && e.End.At == "" && (e.Watch || !x.Watch) && (e.SignOff || !x.SignOff)
}

// entitled reports whether a person may do something for a competency on a day. What
// is only watched may be signed by whoever is entitled for anything.
func entitled(ctx context.Context, r PeopleReader, personID string, c Competency, day Day, may func(Entitlement) bool) (bool, error) {
	all, err := r.Entitlements(ctx, personID)
	if err != nil {
		return false, err
	}
	for _, e := range all {
		if (e.Competency == c.ID || c.OnlyWatched) && e.on(day) && may(e) {
			return true, nil
		}
	}
	return false, nil
}
