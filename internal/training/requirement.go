package training

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
)

// Requirements is what it takes to be signed off for a competency and to stay so, as it
// holds from a day on: one version. Versions are never changed; the newest whose day has
// come holds.
type Requirements struct {
	Competency   string
	Version      int     // from 1; 0 is what the clinic's set says as long as nobody has changed it here
	From         Day     // its first day; "" of the starting values, which held always
	At           Instant // when it was made
	ByID, ByName string  // "" of the starting values
	Why          string
	Terms        Terms
	Text         string // the terms as they are stored and signed; "" of what is not kept yet
	Leaf         int64
}

// Terms are the values of a version. Their JSON is stored and signed: fields are only
// added, with omitempty.
type Terms struct {
	Needs  Needs `json:"needs"`
	First  Takes `json:"first"`  // for the first sign-off
	Annual Takes `json:"annual"` // for each later one that comes in time
	Change Takes `json:"change"` // where a change of the procedure asks for a new demonstration
	Lapsed Takes `json:"lapsed"` // for one that comes after its due day
	// HireDays are from the hire to the first day of a first sign-off. Who has no day of hire
	// waits for none.
	HireDays       int    `json:"hire_days,omitempty"`
	IntervalMonths int    `json:"interval_months"`   // from a sign-off to its due day
	EarlyDays      int    `json:"early_days"`        // so many days before it a renewal keeps the anniversary
	NoticeDays     int    `json:"notice_days"`       // "due" begins so many days before the due day
	Recount        bool   `json:"recount,omitempty"` // a new interval counts for sign-offs of before as well
	Signer         Signer `json:"signer"`            // who of the entitled may sign off
	Alone          Alone  `json:"alone"`             // when a person may work alone
}

// Takes is what a sign-off rests on.
type Takes struct {
	Clean      int   `json:"clean"`      // demonstrations that met the standard
	Days       int   `json:"days"`       // on so many different days at least
	Preceptors int   `json:"preceptors"` // watched by so many different people at least
	Again      Again `json:"again"`      // modules to pass once more
}

// Again says which modules are to be passed once more since the last sign-off. What was
// never passed is always to be passed.
type Again string

// The choices.
const (
	AgainNone   Again = "none"
	AgainMissed Again = "missed" // those that train what an unmet demonstration missed since
	AgainAll    Again = "all"
)

// Signer says who of those who are entitled may sign off.
type Signer string

// The choices.
const (
	SignerEntitled Signer = "entitled"
	SignerEducator Signer = "educator"
	// SignerOther: two different people. Whoever signs off watched none of the demonstrations
	// that it rests on.
	SignerOther Signer = "other"
)

// Alone says when a signed-off person may work alone, besides while they are current.
type Alone struct {
	Due    bool `json:"due"`
	OnPlan bool `json:"on_plan"`
	Lapsed bool `json:"lapsed"`
	// Elsewhere lets who was signed off at another site only, and did not show it here.
	Elsewhere bool `json:"elsewhere,omitempty"`
}

// Needs says of whom a competency is asked: of whoever is in any of these lists. Empty is
// everybody who is trained here.
type Needs struct {
	Roles []Role   `json:"roles,omitempty"`
	New   bool     `json:"new,omitempty"`   // new hires: trainees who were never signed off
	Staff bool     `json:"staff,omitempty"` // trainees who were
	Jobs  []string `json:"jobs,omitempty"`  // job titles, in any case
	Teams []string `json:"teams,omitempty"` // teams, in any case
}

// Everybody reports whether nobody is left out.
func (n Needs) Everybody() bool {
	return len(n.Roles) == 0 && !n.New && !n.Staff && len(n.Jobs) == 0 && len(n.Teams) == 0
}

// fits reports whether a competency is asked of a person.
func (n Needs) fits(p Person, signedOff bool) bool {
	switch {
	case n.Everybody(), p.HasAny(n.Roles...):
		return true
	case p.Has(Trainee) && (n.New && !signedOff || n.Staff && signedOff):
		return true
	}
	return slices.ContainsFunc(p.Jobs(), func(job string) bool { return hasWord(n.Jobs, job) }) || p.Team != "" && hasWord(n.Teams, p.Team)
}

func hasWord(all []string, word string) bool {
	return slices.ContainsFunc(all, func(x string) bool { return sameWord(x, word) })
}

// startingTerms are the values that a competency begins with: those of the clinic's set.
func (c *Competency) startingTerms() Terms {
	later := Takes{c.Recheck, c.Recheck, 1, AgainNone}
	return Terms{First: Takes{c.Demonstrations, c.Demonstrations, 1, AgainNone}, Annual: later, Lapsed: later, Change: Takes{1, 1, 1, AgainNone},
		IntervalMonths: c.IntervalMonths, NoticeDays: c.NoticeDays, Signer: SignerEntitled, Alone: Alone{Due: true}}
}

// text is the terms as they are stored and signed.
func (r *Requirements) text() (string, error) {
	if r.Text != "" {
		return r.Text, nil
	}
	terms, err := json.Marshal(r.Terms)
	if err != nil {
		return "", fmt.Errorf("requirements of %s: %w", r.Competency, err)
	}
	return string(terms), nil
}

// Requirements are those that hold on a day.
func (c *Competency) Requirements(day Day) Requirements {
	for _, r := range slices.Backward(c.kept) {
		if r.From <= day {
			return r
		}
	}
	return Requirements{Competency: c.ID, Terms: c.startingTerms()}
}

// under are the terms that a sign-off was given under.
func (c *Competency) under(version int) Terms {
	for _, r := range c.kept {
		if r.Version == max(version, 1) {
			return r.Terms
		}
	}
	return c.startingTerms()
}

// DueAfter is the due day of a sign-off that is given on a day, after one that was due on
// another ("" for none). Within the early window, that day included, the anniversary is
// kept: months count from the due day before. Else they count from the sign-off.
func (t *Terms) DueAfter(on, before Day) Day {
	if before != "" && before.AddDays(-t.EarlyDays) <= on && on <= before {
		on = before
	}
	return on.AddMonths(t.IntervalMonths)
}

// dueOf is the due day of a sign-off on a day: the one that it was signed with, unless a
// version that held since gave another interval also to sign-offs of before.
func (c *Competency) dueOf(o *SignOff, day Day) Day {
	due, months := o.Due, c.under(o.Requirements).IntervalMonths
	for i, r := range c.kept {
		overtaken := slices.ContainsFunc(c.kept[i+1:], func(n Requirements) bool { return n.From <= r.From })
		if r.Version <= max(o.Requirements, 1) || r.From > day || overtaken {
			continue
		}
		if r.Terms.Recount && r.Terms.IntervalMonths != months {
			due = o.On.AddMonths(r.Terms.IntervalMonths)
		}
		months = r.Terms.IntervalMonths
	}
	return due
}

// takes is what the next sign-off rests on: the first, one in time, or one after a lapse.
func (t *Terms) takes(last *SignOff, due, today Day) Takes {
	switch {
	case last == nil:
		return t.First
	case today > due:
		return t.Lapsed
	}
	return t.Annual
}

// sameWord compares names, job titles and teams as people write them.
func sameWord(a, b string) bool { return plainWords(a) == plainWords(b) }

// plainWords is a text whatever its letter case and blanks.
func plainWords(text string) string { return strings.ToLower(strings.Join(strings.Fields(text), " ")) }
