package training

import (
	"fmt"
	"slices"
	"strings"
)

// Person works in the clinic, or did. It is comparable: two are the same when nothing of
// them differs.
type Person struct {
	ID, Name, StaffNo string
	Role              Role   // the first of their roles
	Also              Roles  // the others
	Job               string // titles, several with commas between them
	Team              string // a shift or another free word
	Email             string
	Hired             Day    // of the latest spell
	Left              Day    // its last day, also one to come; "" while there is none
	Earlier           Spells // spells before it
	SeesToday         bool   // the list of who may work alone today, besides what their roles let them see
}

// Has reports whether somebody has a role, first or further.
func (p Person) Has(r Role) bool { return p.Role == r || p.Also.has(r) }

// HasAny reports whether somebody has one of some roles.
func (p Person) HasAny(roles ...Role) bool { return slices.ContainsFunc(roles, p.Has) }

// Roles are all of somebody's, the first first.
func (p Person) Roles() []Role { return append([]Role{p.Role}, p.Also.All()...) }

// monthsNew is how long somebody is called a new hire who was not signed off yet (common
// practice, no source: the year in which everybody is checked again).
const monthsNew = 12

// Settled reports whether somebody is staff, not a new hire: they were signed off, work here
// for longer than a new hire does, or have worked here before.
func (p Person) Settled(signedOff bool, today Day) bool {
	return signedOff || p.Earlier != "" || p.Hired != "" && p.Hired.AddMonths(monthsNew) <= today
}

// RoleTitle names all roles for people.
func (p Person) RoleTitle(settled bool) string {
	var titles []string
	for _, r := range p.Roles() {
		titles = append(titles, r.Title(settled))
	}
	return strings.Join(titles, ", ")
}

// InTraining reports whether the program trains somebody: it asks nothing of who only
// teaches or only reads.
func (p Person) InTraining() bool { return p.HasAny(Trainee, Preceptor) }

// Jobs are somebody's job titles.
func (p Person) Jobs() []string { return words(p.Job, ",") }

// rank is the order of roles, the one that may most first.
var rank = []Role{Educator, Preceptor, Trainee, Manager}

// WithRoles is a person with these roles, in one order however they were named. A preceptor
// is trained like staff, so that the word says nothing beside it.
func (p Person) WithRoles(roles ...Role) Person {
	p.Role, p.Also = "", ""
	for _, r := range rank {
		switch {
		case !slices.Contains(roles, r), r == Trainee && slices.Contains(roles, Preceptor):
		case p.Role == "":
			p.Role = r
		default:
			p.Also = Roles(strings.TrimSpace(string(p.Also) + " " + string(r)))
		}
	}
	return p
}

// Roles are further roles with blanks between them, in their order. WithRoles makes them.
type Roles string

// All are the roles one by one.
func (s Roles) All() (all []Role) {
	for w := range strings.FieldsSeq(string(s)) {
		all = append(all, Role(w))
	}
	return all
}

func (s Roles) has(r Role) bool { return s != "" && slices.Contains(s.All(), r) }

// Spell is a time in which somebody works here, both days included; Left is "" while it
// has no end.
type Spell struct{ Hired, Left Day }

// Spells are spells that are over, oldest first: HIRED/LEFT with blanks between them.
type Spells string

// All are the spells one by one.
func (s Spells) All() (all []Spell) {
	for w := range strings.FieldsSeq(string(s)) {
		hired, left, _ := strings.Cut(w, "/")
		all = append(all, Spell{Day(hired), Day(left)})
	}
	return all
}

func (s Spells) and(x Spell) Spells {
	return Spells(strings.TrimSpace(fmt.Sprintf("%s %s/%s", s, x.Hired, x.Left)))
}

// Spells are all of somebody's, oldest first, the latest one last.
func (p Person) Spells() []Spell { return append(p.Earlier.All(), Spell{p.Hired, p.Left}) }

// GoneOn reports whether somebody worked here before a day and does not on it. Who is hired
// for a day to come is not gone.
func (p Person) GoneOn(day Day) (gone bool) {
	for _, s := range p.Spells() {
		switch {
		case s.Left != "" && s.Left < day:
			gone = true
		case s.Hired <= day:
			return false
		}
	}
	return gone
}

// EmployedIn reports whether somebody worked here on a day of those from one to another.
func (p Person) EmployedIn(from, to Day) bool {
	return slices.ContainsFunc(p.Spells(), func(s Spell) bool { return s.Hired <= to && (s.Left == "" || s.Left >= from) })
}

// words are the parts of a list that say something, without blanks around them.
func words(text, between string) (all []string) {
	for w := range strings.SplitSeq(text, between) {
		if w = strings.TrimSpace(w); w != "" {
			all = append(all, w)
		}
	}
	return all
}
