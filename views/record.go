package views

import (
	"cmp"
	"slices"
	"strconv"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Record is one person's record with its evidence.
type Record struct {
	Stations map[string]string // of procedures that are variants, what the station is called
	Record   training.PersonRecord
	Title    func(scenarioID string) string
	Titles   map[string]string // of competencies
	Ready    []ReadyCard
	Offers   []training.Competency // that an entitlement can be for
	Own      bool
	Wrong    string
	WrongFor string // competency of a sign-off, "entitle" or AccountCard
	Password *Added // a new first password, told once
	Username string // for educators

	NewUsername string               // of an account that was refused
	Seconds     int                  // educators who could approve an entitlement here
	Draft       training.Entitlement // that was refused

	Preceptors []training.Person      // who can look after a new hire; for educators
	Given      training.Orientation   // that was refused
	Why        string                 // that was written where something was refused
	Sure       string                 // of that, what was warned of
	Duties     DutyList               // because procedures changed
	Plans      []training.Plan        // after demonstrations that were not met, newest first
	Leaves     []training.Absence     // newest first
	Leave      training.Absence       // that was refused
	Typed      map[string]string      // with it
	Gone       bool                   // they left
	Papers     []training.EarlierLine // sign-offs from before this program, the latest day first
	Items      training.ItemsOf       // other annual items
}

// AccountCard, OrientationCard and LeaveCard are WrongFor at their forms.
const (
	AccountCard     = "account"
	OrientationCard = "orientation"
	LeaveCard       = "leave"
)

// wroteFor is the reason that was written at a form that was refused.
func (r Record) wroteFor(form string) string {
	if r.WrongFor != form {
		return ""
	}
	return r.Why
}

// lostEvidence says that a sign-off rests on what was withdrawn since.
func (r Record) lostEvidence(o training.SignOff) string {
	n := 0
	for _, d := range r.Record.Demonstrations {
		if d.Stage == training.Withdrawn && slices.Contains(o.Demonstrations, d.ID) {
			n++
		}
	}
	if n == 0 {
		return ""
	}
	return count(n, "demonstration", "demonstrations") + " that it rests on " + either(n == 1, "was", "were") + " withdrawn since. An educator decides whether it still holds."
}

// showsCourse reports whether there is anything to say of the course.
func (r Record) showsCourse() bool {
	return len(r.Record.Ways) > 0 && (r.Record.Person.Has(training.Trainee) || r.Own || r.Record.Orientation.Seq > 0)
}

// orientationDraft is what the form of the orientation begins with.
func (r Record) orientationDraft() training.Orientation {
	if r.Given.PersonID != "" {
		return r.Given
	}
	return r.Record.Orientation
}

// setText says who set an orientation, as they were called then.
func (f Frame) setText(o training.Orientation) string {
	return "Set by " + o.SetByName + " on " + f.day(o.SetAt) + "."
}

// hasCard reports whether what went wrong is told at its own card.
func (r Record) hasCard() bool {
	return r.WrongFor == "entitle" || r.endsAt(r.WrongFor) || r.WrongFor == AccountCard || r.WrongFor == OrientationCard || r.WrongFor == LeaveCard || slices.ContainsFunc(r.Ready, func(c ReadyCard) bool { return c.Standing.Competency.ID == r.WrongFor })
}

// endsAt reports whether a form is one that ends a sign-off or an entitlement here.
func (r Record) endsAt(form string) bool {
	return slices.ContainsFunc(r.Record.SignOffs, func(o training.SignOff) bool { return o.ID == form }) ||
		slices.ContainsFunc(r.Record.Entitlements, func(e training.Entitlement) bool { return e.ID == form })
}

// ReadyCard is a sign-off that waits: its standing, and why the reader may not
// give it.
type ReadyCard struct {
	Standing training.Standing
	WhyNot   string
}

func (f Frame) personText(r training.PersonRecord) string {
	text := f.personKicker(r.Person, signedOff(r.Standings))
	if r.NoAccount {
		text += " · no account yet"
	}
	if r.Closed {
		text += " · account closed"
	}
	return text
}

// signedOff reports whether somebody was signed off in any competency, here or on paper.
func signedOff(all []training.Standing) bool {
	return slices.ContainsFunc(all, func(s training.Standing) bool { return s.LastSignOff != nil })
}

// personKicker says who somebody is in one line.
func (f Frame) personKicker(p training.Person, signedOff bool) string {
	text := joined(procedure.Capital(f.roleTitle(p, signedOff)), p.Job, p.Team)
	if p.StaffNo != "" {
		text += " · staff number " + p.StaffNo
	}
	if p.Hired != "" {
		text += " · here since " + day(p.Hired)
	}
	if p.Left != "" {
		text += " · last day " + day(p.Left)
	}
	return text
}

// signedLines is what stands under a signature: who is named in it as they stood then,
// where that is not how they are shown here, and what has to be known about it.
func (f Frame) signedLines(a training.LeafAbout, shown map[string]string) (lines []string) {
	for _, n := range a.People {
		if n.Part == training.PartResetBy || n.Name == shown[n.PersonID] {
			continue
		}
		lines = append(lines, "Signed with "+n.Name+" as "+n.Part+".")
	}
	return append(lines, a.Marks(f.Moment)...)
}

// signerText is the signer with the credential as signed.
func signerText(name string, a training.LeafAbout) string {
	for _, part := range []string{training.PartSigner, training.PartPreceptor} {
		if n := a.Named(part); n.Name == name && n.Credential != "" {
			return name + ", " + n.Credential
		}
	}
	return name
}

// entitlementText says what a person may do, on what it rests and who approved it.
func (r Record) entitlementText(e training.Entitlement) string { return entitledBy(e, r.Record.Names) }

// entitledBy is that with the names of people by their ids.
func entitledBy(e training.Entitlement, names map[string]string) string {
	text := "granted by " + names[e.GrantedBy]
	switch a := e.Approval; a.How {
	case training.ApprovedHere:
		text += ", approved here by " + a.By
	case training.ApprovedPaper:
		text += ", approved on paper by " + a.By + ", " + a.Role + ", " + day(a.On) + " (" + a.Where + ")"
	case training.ApprovedAlone:
		text += ", there being no second educator"
	}
	if e.Founding != "" {
		text += ". Not current in it when it was granted: " + e.Founding
	}
	return text
}

// unusable says why nobody can use an entitlement of somebody, "" when they can.
func (r Record) unusable() string {
	name := firstName(r.Record.Person.Name)
	switch {
	case r.Gone:
		return "Of no use: " + name + " does not work here now."
	case !r.Record.Person.HasAny(training.Preceptor, training.Educator):
		return "Of no use: " + name + " is neither preceptor nor educator any more."
	}
	return ""
}

func mayText(e training.Entitlement) string {
	switch {
	case e.Watch && e.SignOff:
		return "may watch and sign off"
	case e.SignOff:
		return "may sign off"
	}
	return "may watch"
}

// fewText says what a handful of clean demonstrations does and does not show.
func fewText(n int) string {
	if n == 1 {
		return "One clean demonstration says what was seen on that day; it proves little about every day to come."
	}
	return strconv.Itoa(n) + " clean demonstrations say what was seen on those days; they prove little about every day to come."
}

// title names a competency; one that the programme no longer has keeps its id.
func (r Record) title(competency string) string { return cmp.Or(r.Titles[competency], competency) }

// several reports whether the demonstrations are of more than one competency.
func (r Record) several() bool {
	all := r.Record.Demonstrations
	return slices.ContainsFunc(all, func(d training.Demonstration) bool { return d.Competency != all[0].Competency })
}

// caption names the one competency where there is no column for it.
func (r Record) caption() string {
	if len(r.Record.Demonstrations) == 0 || r.several() {
		return ""
	}
	return r.title(r.Record.Demonstrations[0].Competency)
}

func (r Record) demonstrationColumns() []Column {
	if r.several() {
		return heads("When", "Competency", "Watched by", "Result", "Signatures")
	}
	return heads("When", "Watched by", "Result", "Signatures")
}

// leaveText is a leave in words.
func leaveText(a training.Absence) string {
	text := "From " + day(a.From)
	if a.Until == "" {
		text += ", the last day not known yet"
	} else {
		text += " until " + day(a.Until)
	}
	if a.Cancelled {
		text += ": cancelled"
	}
	return text
}
