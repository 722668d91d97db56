package views

import (
	"strings"

	"stillwet/internal/training"
)

// PersonForm is what is typed of a person.
type PersonForm struct {
	Name, StaffNo, Hired, Job, Team, Email string
	Roles                                  []training.Role
	SeesToday                              bool
	Teams                                  []string // that there are
	Doubts                                 []string // what may be a slip, in sentences
	Sure                                   string   // says that these doubts were read
	Problem                                string
}

func (p PersonForm) has(r training.Role) bool { return training.Person{}.WithRoles(p.Roles...).Has(r) }

// FormOf is a form as somebody stands in the records.
func FormOf(p training.Person) PersonForm {
	return PersonForm{Name: p.Name, StaffNo: p.StaffNo, Hired: string(p.Hired), Job: p.Job, Team: p.Team, Email: p.Email, Roles: p.Roles(), SeesToday: p.SeesToday}
}

// Person is who is typed.
func (p PersonForm) Person() training.Person {
	return training.Person{Name: p.Name, StaffNo: p.StaffNo, Job: p.Job, Team: p.Team, Email: p.Email, Hired: training.Day(p.Hired), SeesToday: p.SeesToday}.WithRoles(p.Roles...)
}

// NewPerson is the page that adds somebody.
type NewPerson struct {
	PersonForm
	Username, Left string
	Added          *Added // who was just added
}

// EditPerson is the page that changes what is kept of somebody.
type EditPerson struct {
	PersonForm
	Person           training.Person
	Today            training.Day
	Gone             bool
	Seen             string // what the correction is of
	First, Last, Why string
	SureWords        string // what was asked of the words of LeaveForm
	Until            string // the last day of the time that begins now
	WrongFor         string // the form that Problem is of
	Changes          ChangeLogPageData
}

// Overtaken tells what pressing once more would change of what somebody else made of it since
// the page was loaded.
func (p EditPerson) Overtaken() string {
	is := p.PersonForm.Person()
	return overtaken(p.Person.Name, training.RosterRow{Was: p.Person, Is: is}.Changes())
}

// overtaken is said of a form that was filled before somebody else changed the same.
func overtaken(whose, would string) string {
	text := "Somebody changed " + whose + " since this page was loaded; nothing of yours was kept. "
	if would == "" {
		return text + "What you wrote is what stands now."
	}
	return text + "Press again to change it once more: " + would + "."
}

// The forms of the page, as WrongFor names them.
const (
	CorrectForm = "correct"
	LeaveForm   = "leaves"
	ReturnForm  = "returns"
)

func (p EditPerson) wrong(form string) string {
	if p.WrongFor != form {
		return ""
	}
	return p.Problem
}

// roleSays is what somebody of a role does here.
var roleSays = map[training.Role]string{
	training.Trainee:   "practises, is watched and signed off",
	training.Preceptor: "the same, and watches others; signing needs an entitlement",
	training.Educator:  "runs the program: people, procedure, entitlements",
	training.Manager:   "reads where everybody stands and the workbook; changes nothing",
}

// joined are those of some texts that say something.
func joined(texts ...string) string {
	var said []string
	for _, t := range texts {
		if t != "" {
			said = append(said, t)
		}
	}
	return strings.Join(said, " · ")
}

func spellText(s training.Spell, today training.Day) string {
	since := "since before the records"
	if s.Hired != "" {
		since = "since " + day(s.Hired)
		if s.Left != "" {
			since = "from " + day(s.Hired)
		}
	}
	switch {
	case s.Left == "":
		return since
	case s.Left < today:
		return since + " until " + day(s.Left)
	}
	return since + " until " + day(s.Left) + ", the last day"
}

func leaveTitle(p training.Person) string {
	if p.Left == "" {
		return firstName(p.Name) + " leaves"
	}
	return "Another last day, or none"
}

func leaveHint(p training.Person) string {
	if p.Left == "" {
		return "Today or later; an earlier day closes the account now."
	}
	return "Said: " + day(p.Left) + ". Empty: " + firstName(p.Name) + " stays."
}

// roleWords are roles as a sentence has them.
func roleWords(roles []training.Role) string {
	var all []string
	for _, r := range roles {
		all = append(all, r.Title(false))
	}
	return strings.Join(all, ", ")
}

// spellWords are times that are over, as a sentence has them.
func spellWords(spells []training.Spell) string {
	var all []string
	for _, s := range spells {
		all = append(all, day(s.Hired)+" to "+day(s.Left))
	}
	return strings.Join(all, ", ")
}
