package views

import (
	"time"

	"stillwet/internal/training"
)

// Section is the part of the program a page belongs to; it is marked in the
// navigation.
type Section string

// The sections.
const (
	AtPractice Section = "practice"
	AtWatch    Section = "watch"
	AtPeople   Section = "people"
	AtRecord   Section = "record"
	AtHelp     Section = "help"
	AtSet      Section = "set"
	AtToday    Section = "today"
)

// Frame is what every page needs besides its own content.
type Frame struct {
	Title     string
	Clinic    string
	Demo      bool
	Person    *training.Person // nil before signing in
	Token     string           // proves that a form came from our own page
	NewKey    func() string    // names one act, so that a repeat is answered, not repeated
	At        Section
	Script    string // name of the page's module, "" for none
	Zone      *time.Location
	Today     training.Day
	Message   string // what the last act did, shown once
	Unsaved   bool   // nothing can be saved now
	Path      string // of this page, to come back to
	Mirrored  bool   // this browser shows stations mirrored
	JudgedURL string // where that procedure is read
	Judged    string // by which procedure and rules what is shown was judged
	Handed    bool   // the device is in a learner's hands: there is nowhere to go
	Prove     bool   // forms that open or close somebody's way in ask for one's own password
}

func (f Frame) is(roles ...training.Role) bool {
	return f.Person != nil && f.Person.HasAny(roles...)
}

func (f Frame) key() string {
	if f.NewKey == nil {
		return ""
	}
	return f.NewKey()
}

// records reports whether a page is of somebody who records demonstrations.
func (f Frame) records() bool { return f.is(training.Preceptor, training.Educator) }

// printedBy says who had a page on the screen that is on paper now.
func (f Frame) printedBy() string {
	if f.Person == nil {
		return ""
	}
	return " by " + f.Person.Name
}

type navItem struct {
	href, text string
	at         Section
}

// sheet is the stylesheet of a page.
func (f Frame) sheet() string {
	if f.Script == "recorder.js" || f.Script == "run.js" {
		return "board.css"
	}
	return "app.css"
}

// roleTitle names the roles of somebody; who was signed off, or works here for longer than a
// year, is no new hire.
func (f Frame) roleTitle(p training.Person, signedOff bool) string {
	return p.RoleTitle(p.Settled(signedOff, f.Today))
}

// nav lists where a person can go, most needed first.
func (f Frame) nav() []navItem {
	if f.Person == nil || f.Handed {
		return nil
	}
	own := navItem{"/people/" + f.Person.ID, "My record", AtRecord}
	practice := navItem{"/practice", "Practice", AtPractice}
	switch {
	case f.is(training.Educator):
		return []navItem{{"/people", "People", AtPeople}, {"/watch", "Watch", AtWatch}, {SetURL, "Procedure", AtSet}, practice, own}
	case f.is(training.Preceptor):
		return []navItem{{"/watch", "Watch", AtWatch}, {"/people", "People", AtPeople}, practice, own}
	}
	var items []navItem
	if f.is(training.Manager) {
		items = append(items, navItem{"/people", "People", AtPeople})
	}
	if f.is(training.Trainee) {
		items = append(items, practice)
	}
	if f.Person.SeesToday {
		items = append(items, navItem{TodayURL, "Today", AtToday})
	}
	return append(items, own)
}
