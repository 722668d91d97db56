package training

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"strings"

	"stillwet/internal/procedure"
)

// Limits of what is kept of a person.
const (
	maxJob     = 200
	maxTeam    = 80
	maxEmail   = 254
	firstHired = Day("1950-01-01")
	mostAhead  = 12  // months that a first day may lie ahead
	mostEnds   = 120 // months that a last day may
	forever    = Day("9999-12-31")
)

var emailPattern = regexp.MustCompile(`^[^\s@,;<>]+@[^\s@,;<>]+$`)

// checkedPerson is a person with texts ready to be kept, and all that is wrong, at once: a
// form sent back once for each field is a nuisance.
func (s *Service) checkedPerson(p Person) (Person, []string) {
	wrong := wrongName(&p)
	for _, l := range []line{{"The job title", &p.Job, maxJob}, {"The team", &p.Team, maxTeam}, {"The e-mail address", &p.Email, maxEmail}} {
		wrong = append(wrong, sentencesOf(tidyLines(l))...)
	}
	p.Job = strings.Join(p.Jobs(), ", ")
	if p.StaffNo != "" && !staffNoPattern.MatchString(p.StaffNo) {
		wrong = append(wrong, "The staff number may have up to 20 letters, digits, dots, strokes and hyphens.")
	}
	if p.Email != "" && !emailPattern.MatchString(p.Email) {
		wrong = append(wrong, "The e-mail address is none: it needs an @ with something before and behind it. It can stay empty.")
	}
	if p = p.WithRoles(p.Roles()...); p.Role == "" {
		wrong = append(wrong, "Choose a role: new hire or staff, preceptor, educator or manager.")
	}
	return p, append(wrong, s.wrongDays(p)...)
}

// wrongName brings the name into order and says what is wrong with it.
func wrongName(p *Person) []string {
	name, err := tidy("The name", p.Name, maxName)
	if err != nil {
		return sentencesOf(err)
	}
	switch p.Name = name; {
	case name == "":
		return []string{"The name is missing."}
	case !legible(name):
		return []string{"The name shows no letter. Write it as it is to be read."}
	case strings.Contains(name, "\n"):
		return []string{"The name goes over several lines. Write it in one."}
	}
	return nil
}

func sentencesOf(err error) []string {
	if err == nil {
		return nil
	}
	return []string{sentenceOf(err)}
}

func (s *Service) wrongDays(p Person) (wrong []string) {
	if _, err := ParseDay(string(p.Hired)); p.Hired != "" && err != nil {
		wrong = append(wrong, "“Works here since” needs a day.")
	}
	if _, err := ParseDay(string(p.Left)); p.Left != "" && err != nil {
		wrong = append(wrong, "The last day is no day.")
	}
	if len(wrong) > 0 {
		return wrong
	}
	before := Day("")
	for _, x := range p.Earlier.All() {
		before = x.Left
	}
	switch today := s.Today(); {
	case p.Hired != "" && p.Hired < firstHired:
		wrong = append(wrong, fmt.Sprintf("“Works here since” is %s. Nobody works here since before 1950. Correct the day.", p.Hired.Said()))
	case p.Hired > today.AddMonths(mostAhead):
		wrong = append(wrong, fmt.Sprintf("“Works here since” is %s, more than a year ahead. Correct the day.", p.Hired.Said()))
	case before != "" && p.Hired <= before:
		wrong = append(wrong, fmt.Sprintf("The first day, %s, is not behind the last day of the time before, %s.", p.Hired.Said(), before.Said()))
	case p.Left != "" && p.Left < p.Hired:
		wrong = append(wrong, "The last day is before the first.")
	case p.Left > today.AddMonths(mostEnds):
		wrong = append(wrong, fmt.Sprintf("The last day is %s, more than ten years ahead. Leave it empty while it is not known.", p.Left.Said()))
	}
	return wrong
}

// SeenPerson stands for a person as a page shows them, so that a change is of what was read.
func SeenPerson(p Person) string {
	text, err := json.Marshal(p)
	if err != nil {
		return "" // texts can always be written
	}
	return procedure.Digest(text)
}

// Doubts are what may be a slip in a person who is to be added or changed under a key, in
// sentences; a person may be so all the same. What was done under the key already is doubted
// no more. Educators only.
func (s *Service) Doubts(ctx context.Context, actor Actor, under string, p Person) (all []string, err error) {
	if err := need(actor, Educator); err != nil {
		return nil, err
	}
	people, err := s.Records.People(ctx)
	if err != nil {
		return nil, err
	}
	if _, err := s.Records.ActKey(ctx, actor.Person.ID, under); !errors.Is(err, ErrNotFound) {
		return nil, err
	}
	_ = wrongName(&p) // only brings it into order here: what is wrong is told when it is kept
	for _, x := range people {
		if x.ID == p.ID {
			continue
		}
		if sameWord(x.Name, p.Name) {
			all = append(all, fmt.Sprintf("There is somebody called %s already%s.", x.Name, s.knownBy(x)))
		}
		if x.StaffNo != p.StaffNo && x.StaffNo != "" && p.StaffNo != "" && bareNo(x.StaffNo) == bareNo(p.StaffNo) {
			all = append(all, fmt.Sprintf("%s has the staff number %s, which differs from %s in the zeros before it only.", x.Name, x.StaffNo, p.StaffNo))
		}
	}
	return all, nil
}

// knownBy tells two people of one name apart.
func (s *Service) knownBy(p Person) string {
	text := " (" + p.RoleTitle(p.Settled(false, s.Today()))
	if p.StaffNo != "" {
		text += ", staff number " + p.StaffNo
	}
	if s.gone(p) {
		text += ", left " + p.Left.Said()
	}
	return text + ")"
}

// CorrectPerson puts what is right in place of a person's name, staff number, roles, job,
// team, e-mail and first day; is has the id. What was signed keeps what stood there then.
// why is needed when a role is taken away. seen is SeenPerson of what was read: ErrConflict
// when it changed meanwhile. Educators only, who have just given their password.
func (s *Service) CorrectPerson(ctx context.Context, actor Actor, key string, is Person, seen, why string) error {
	return s.changePerson(ctx, actor, key, "corrected", is.ID, []any{is, seen}, why, func(u Unit, was Person, why string) (Person, error) {
		if SeenPerson(was) != seen {
			return is, refuse(ErrConflict, "Somebody changed what is kept of %s since this page was loaded. Look at it again; nothing was changed.", was.Name)
		}
		is.Left, is.Earlier = was.Left, was.Earlier
		is, wrong := s.checkedPerson(is)
		for _, r := range was.Roles() {
			if !is.Has(r) && is.Role != "" && why == "" && !(r == Trainee && is.Has(Preceptor)) {
				wrong = append(wrong, fmt.Sprintf("%s would not be %s any more. Say why.", was.Name, r.Title(true)))
			}
		}
		if len(wrong) > 0 {
			return is, refuse(ErrInvalid, "%s", strings.Join(wrong, " "))
		}
		if was.Has(Educator) && !is.Has(Educator) {
			return is, s.keepsAnEducator(ctx, u, s.Today(), was.ID)
		}
		return is, nil
	})
}

// LetGo says on which day somebody works here last, that one included: nobody signs in after
// it. With "" they stay after all. why is needed to change a last day that was said before.
// Educators only, who have just given their password.
func (s *Service) LetGo(ctx context.Context, actor Actor, key, personID string, last Day, why string) error {
	return s.changePerson(ctx, actor, key, "last day", personID, []any{last}, why, func(u Unit, was Person, why string) (Person, error) {
		is := was
		switch is.Left = last; {
		case last == "" && was.Left == "":
			return is, refuse(ErrInvalid, "Give the last day.")
		case was.Left != "" && last != was.Left && why == "":
			return is, refuse(ErrInvalid, "The last day was said to be %s. Say why that is not right.", was.Left.Said())
		}
		if wrong := s.wrongDays(is); len(wrong) > 0 {
			return is, refuse(ErrInvalid, "%s", strings.Join(wrong, " "))
		}
		if is.Has(Educator) && last != "" {
			if err := s.keepsAnEducator(ctx, u, max(s.Today(), last.AddDays(1)), was.ID); err != nil {
				return is, err
			}
		}
		if s.gone(is) {
			return is, s.shut(ctx, u, was, actor.Person)
		}
		return is, nil
	})
}

// Return says from which day on somebody who left works here again, and until when if that
// is known. What they did before counts. Their account stays closed until it is reopened.
// Educators only, who have just given their password.
func (s *Service) Return(ctx context.Context, actor Actor, key, personID string, hired, last Day) error {
	return s.changePerson(ctx, actor, key, "came back", personID, []any{hired, last}, "", func(u Unit, was Person, _ string) (Person, error) {
		if !s.gone(was) {
			return was, refuse(ErrConflict, "%s has not left. Change the last day instead.", was.Name)
		}
		is := was
		is.Earlier, is.Hired, is.Left = was.Earlier.and(Spell{was.Hired, was.Left}), hired, last
		wrong := s.wrongDays(is)
		if hired == "" {
			wrong = append(wrong, "Give the first day of the new time here.")
		}
		if len(wrong) > 0 {
			return is, refuse(ErrInvalid, "%s", strings.Join(wrong, " "))
		}
		return is, s.shut(ctx, u, was, actor.Person)
	})
}

// changePerson is what changes of a person have in common; change answers who they are then.
func (s *Service) changePerson(ctx context.Context, actor Actor, key, act, personID string, body []any, why string, change func(Unit, Person, string) (Person, error)) error {
	if err := need(actor, Educator); err != nil {
		return err
	}
	if err := tidyLines(line{"The reason", &why, maxReason}); err != nil {
		return err
	}
	a, err := ask(actor.Person.ID, key, act, append(body, personID, why)...)
	if err != nil {
		return err
	}
	_, _, err = s.once(ctx, a, func() error { return s.proved(actor) }, func(u Unit) (string, error) {
		was, err := u.Person(ctx, personID)
		if err != nil {
			return "", said(err, ErrNotFound, "There is no such person.")
		}
		is, err := change(u, was, why)
		if err != nil || is == was {
			return personID, err
		}
		return personID, s.keepChange(ctx, u, is, actor.Person, act, why)
	})
	return err
}

// keepChange keeps a person as they are now, with the leaf.
func (s *Service) keepChange(ctx context.Context, u Unit, is, by Person, act, why string) error {
	if err := u.SavePerson(ctx, is); err != nil {
		return said(err, ErrConflict, "The staff number %s is already another person's.", is.StaffNo)
	}
	f := personFields(is)
	if f["change"] = act; why != "" {
		f["why"] = why
	}
	_, err := s.ledgered(ctx, u, LeafAbout{Kind: PersonLeaf, Record: is.ID, At: s.Now(), People: withBy(is, by)}, f)
	return err
}

// shut closes an account that is open and ends its sessions.
func (s *Service) shut(ctx context.Context, u Unit, p, by Person) error {
	account, err := u.AccountOf(ctx, p.ID)
	if errors.Is(err, ErrNotFound) || err == nil && account.Disabled {
		return nil
	}
	if err != nil {
		return err
	}
	return s.changeAccount(ctx, u, p.ID, by, "closed", func() error {
		return errors.Join(u.SetDisabled(ctx, p.ID, true), u.EndSessions(ctx, p.ID, ""))
	})
}

// keepsAnEducator refuses what would leave nobody to run the program: from a day on there is
// another educator who can sign in, and one who has no last day.
func (s *Service) keepsAnEducator(ctx context.Context, r PeopleReader, from Day, ids ...string) error {
	for _, day := range []Day{from, forever} {
		n, err := r.EducatorsBut(ctx, day, ids...)
		if err != nil {
			return err
		}
		if n == 0 {
			return refuse(ErrConflict, "There would be no educator any more who can sign in and has no last day. Make somebody else an educator first, and open their account.")
		}
	}
	return nil
}
