package views

import (
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/course"
	"stillwet/internal/training"
)

// DutyURL is a duty of somebody.
func DutyURL(id string) string { return "/duties/" + id }

// DutyList is what somebody has to do because the procedure changed, or because an educator
// asked it.
type DutyList []training.DutyState

// open are those that are still to be done, by their day.
func (l DutyList) open() (all []training.DutyState) {
	for _, d := range l {
		if d.Open() {
			all = append(all, d)
		}
	}
	return all
}

// asked reports whether an educator asked some of it.
func (l DutyList) asked() bool {
	return slices.ContainsFunc(l, func(d training.DutyState) bool { return d.Assignment != "" })
}

// dutyText says what is to be done.
func dutyText(d training.DutyState) string {
	switch d.Kind {
	case training.ModuleDuty:
		return "Pass “" + d.Title + "”" + either(d.Again, " again", "")
	case training.DemonstrationDuty:
		return "Be watched: " + d.Title
	case training.ItemDuty:
		return itemAskText(d.Title)
	}
	return "Read what changed, and sign that you did"
}

func itemAskText(title string) string { return "Have “" + title + "” done" }

// askText is the same as an educator asks it, of those who passed before and of others.
func askText(kind training.DutyKind, title string) string {
	switch kind {
	case training.ModuleDuty:
		return "Pass “" + title + "”"
	case training.DemonstrationDuty:
		return "A new demonstration: " + title
	case training.ItemDuty:
		return itemAskText(title)
	}
	return "Read what changed and sign it"
}

var dutyVerbs = map[training.DutyKind]string{training.ReadDuty: "Read it", training.ModuleDuty: "See its tests", training.DemonstrationDuty: "See what to ask for",
	training.ItemDuty: "See what to do"}

func (f Frame) byText(d training.DutyState) string {
	if d.Overdue(f.Today) {
		return "overdue" + wasDue(d.Duty)
	}
	return f.until(d.Due) + wasDue(d.Duty)
}

// wasDue says by which day a duty was to be done before it got another, "" for none.
func wasDue(d training.Duty) string {
	if _, was, moved := d.Moved(); moved {
		return ", was " + day(was)
	}
	return ""
}

// dayText says which day took the place of which, on whose word and why.
func (f Frame) dayText(d training.Duty, i int) string {
	x, was := d.Dates[i], d.FirstDue
	if i > 0 {
		was = d.Dates[i-1].Due
	}
	return day(x.Due) + " instead of " + day(was) + ": " + x.Why + " (" + x.ByName + ", " + f.day(x.At) + ")"
}

// dutyState is how far a duty has come, in words.
func (f Frame) dutyState(d training.DutyState) string {
	switch {
	case d.End.Ended == training.DutyTakenBack:
		return "Taken back by " + d.End.ByName + ", " + f.day(d.End.At) + ": " + d.End.Said
	case d.DoneAt != "" && d.Kind == training.ReadDuty:
		return "Read and signed " + f.day(d.DoneAt)
	case d.DoneAt != "" && d.Kind == training.ModuleDuty:
		return "Passed " + f.day(d.DoneAt)
	case d.DoneAt != "" && d.Kind == training.ItemDuty:
		return "Done " + f.day(d.DoneAt)
	case d.DoneAt != "":
		return "Met, signed " + f.day(d.DoneAt)
	case d.Overdue(f.Today):
		return "Overdue since " + day(d.Due) + wasDue(d.Duty)
	}
	return "To do by " + day(d.Due) + wasDue(d.Duty)
}

func dutyReason(d training.Duty) string {
	if d.Assignment != "" {
		return joinedWhy("Asked by "+d.AssignedBy, d.Why)
	}
	return joinedWhy("Version "+strconv.Itoa(d.Version)+" of the procedure", d.Why)
}

func joinedWhy(text, why string) string {
	if why == "" {
		return text
	}
	return text + ": " + why
}

// DutyName is what its page is called.
func DutyName(d training.Duty) string {
	return either(d.Assignment == "", "Because the procedure changed", "To do")
}

// dutyGiven says who gave it, and when.
func (f Frame) dutyGiven(d training.Duty) string {
	return either(d.Assignment == "", "Given by ", "Asked by ") + d.AssignedBy + ", " + f.day(d.AssignedAt) + "."
}

// dutyKicker stands over its page.
func dutyKicker(d training.Duty) string {
	if d.Assignment != "" {
		return d.Why
	}
	return dutyReason(d)
}

// countsSince says of what an educator asked what counts.
func (f Frame) countsSince(d training.Duty) string {
	since := f.day(d.AssignedAt)
	switch d.Kind {
	case training.ModuleDuty:
		return "Every test of the module, passed after it was asked on " + since + ". What was passed before does not count."
	case training.DemonstrationDuty:
		return "One demonstration that began after it was asked on " + since + ", and that both have signed as met."
	}
	return "That it was had on " + since + " or a later day. An educator enters it, with its evidence."
}

// DutyView is the page of a duty.
type DutyView struct {
	training.DutyPage
	Own        bool
	Procedures []Link     // those that changed, as they now stand
	Tests      []DutyTest // of a module
	Holds      bool       // the version has come into force
	Problem    string
	TakeBack   string // why a taking back was refused
	NotMoved   string // likewise another day, with what was typed
	NewDay     string
	WhyMoved   string
}

// DutyTest is a test of a module that is to be passed again.
type DutyTest struct {
	Link
	Passed training.Instant // "" while it was not
}

// DutyTests are the tests of a module, as far as a duty has come.
func DutyTests(m *course.Module, d training.DutyState) (all []DutyTest) {
	for i := range m.Parts {
		if p := &m.Parts[i]; p.Kind == course.Test {
			all = append(all, DutyTest{Link{PartURL(m, p), p.Title()}, d.Passed[p.Scenario.ID]})
		}
	}
	return all
}

// readFirst says what is read before it is signed.
func (v DutyView) readFirst() string {
	return either(v.NewHire, "Read the procedure first.", "Read what changed and the procedure first.") + " These are the words you sign:"
}

func (v DutyView) heading() string {
	text := dutyText(v.DutyState)
	if v.NewHire && v.Kind == training.ReadDuty {
		text = "Read the procedure, and sign that you did"
	}
	if !v.Own {
		return v.Name + ": " + strings.ToLower(text[:1]) + text[1:]
	}
	return text
}

// weighed are the changes that people do something otherwise for, and the others.
func weighed(all []training.Change) (heavy, light []training.Change) {
	for _, c := range all {
		if c.Weight == training.NoWeight {
			light = append(light, c)
		} else {
			heavy = append(heavy, c)
		}
	}
	return heavy, light
}

// FollowView is what follows from a version, with what the educator chose when it was
// refused.
type FollowView struct {
	training.Following
	Chosen  map[string]bool // by the names of the boxes; nil shows what is proposed
	Days    map[training.DutyKind]string
	Problem string
}

// NewFollowView offers what is proposed.
func NewFollowView(f training.Following) *FollowView {
	v := &FollowView{Following: f, Days: map[training.DutyKind]string{}}
	for kind, by := range f.By {
		v.Days[kind] = string(by)
	}
	return v
}

// dayFields are the days by which things have to be done, each kind with its own: a module
// is done alone, a demonstration takes a second person and a station.
var dayFields = []struct {
	Kind        training.DutyKind
	Name, Label string
}{
	{training.ReadDuty, "read-by", "Read by"},
	{training.ModuleDuty, "modules-by", "Modules by"},
	{training.DemonstrationDuty, "shown-by", "Demonstrations by"},
}

// DaysIn are the days that a form gave.
func DaysIn(in map[string]string) map[training.DutyKind]string {
	days := map[training.DutyKind]string{}
	for _, x := range dayFields {
		days[x.Kind] = in[x.Name]
	}
	return days
}

// AskName is the name of a box in the form.
func AskName(r training.Role, kind training.DutyKind, of string) string {
	return "ask " + string(r) + " " + string(kind) + " " + of
}

func (v *FollowView) checked(r training.Role, a training.Asking) bool {
	if v.Chosen != nil {
		return v.Chosen[AskName(r, a.Kind, a.Of)]
	}
	if len(v.FollowUps) > 0 { // what was confirmed goes on for who came since
		return a.Asked
	}
	return a.Proposed
}

func (v *FollowView) heading() string {
	if len(v.FollowUps) > 0 {
		return "Add people to it"
	}
	return "What follows from it?"
}

func (v *FollowView) lead() string {
	if len(v.FollowUps) > 0 {
		return "Only who has it not yet is given it: who came since, or what you add now. Nobody gets it twice."
	}
	return "What is proposed is chosen already; change what you see otherwise. Tests that were passed before do not count. With nothing chosen you confirm that nothing follows."
}

// watchLead says what to say to who watches, and what counts.
func (v DutyView) watchLead() string {
	because := ", because the procedure changed. It counts when it begins under the new procedure and both of you have signed it as met."
	if v.Assignment != "" {
		because = ", because " + v.AssignedBy + " asked for it. It counts when it begins after that and both of you have signed it as met."
	}
	return "Say: I need a new demonstration of “" + v.Title + "”" + because
}

// testsLead says of a module what counts.
func (v DutyView) testsLead() string {
	if v.Again {
		return "Pass its tests again. What you passed before does not count for this."
	}
	return "Pass its tests. What was passed before it was asked for does not count for this."
}

var groupTitles = map[training.Role]string{training.Trainee: "New hires and staff", training.Preceptor: "Preceptors", training.Educator: "Educators"}

func groupText(g training.FollowGroup) string {
	var names []string
	for _, p := range g.People {
		names = append(names, p.Name)
	}
	if len(names) == 0 {
		return "Nobody works here in this role."
	}
	return strings.Join(names, ", ")
}

func groupTitle(g training.FollowGroup) string {
	return groupTitles[g.Role] + " (" + strconv.Itoa(len(g.People)) + ")"
}

// askedText says whom a choice would reach.
func askedText(a training.Asking) string {
	switch {
	case a.Has > 0 && a.New == 0:
		return count(a.Has, "person has", "people have") + " it already"
	case a.Has > 0:
		return strconv.Itoa(a.New) + " to add, " + strconv.Itoa(a.Has) + " already"
	}
	return ""
}

func followUpText(f Frame, x training.FollowUp, all []training.DutyState) string {
	n := 0
	for _, d := range all {
		if d.FollowUp == x.Seq {
			n++
		}
	}
	text := "Confirmed by " + x.ByName + ", " + f.Moment(x.At) + ": "
	if n == 0 {
		return text + "nothing follows."
	}
	return text + count(n, "thing to do was", "things to do were") + " given."
}

// doneText counts how far people have come.
func (v *FollowView) doneText(today training.Day) string {
	open, overdue, done := 0, 0, 0
	for i := range v.Duties {
		d := &v.Duties[i]
		switch {
		case d.Overdue(today):
			overdue++
			open++
		case d.Open():
			open++
		case d.DoneAt != "":
			done++
		}
	}
	text := strconv.Itoa(done) + " done, " + strconv.Itoa(open) + " still to do"
	if overdue > 0 {
		text += ", " + strconv.Itoa(overdue) + " of them overdue"
	}
	return text + "."
}

// waits reports whether somebody has to say what follows, or for whom else.
func (v *FollowView) waits() bool {
	if len(v.FollowUps) == 0 || v.Problem != "" {
		return true
	}
	for _, g := range v.Groups {
		for _, a := range g.Asks {
			if a.New > 0 && v.checked(g.Role, a) {
				return true
			}
		}
	}
	return false
}

// asked is each thing that somebody was given, once, in the order in which it is done.
func (v *FollowView) asked() (all []training.Duty) {
	for _, kind := range training.DutyKinds {
		for _, d := range v.Duties {
			same := func(x training.Duty) bool { return x.Kind == d.Kind && x.Of == d.Of }
			if d.Kind == kind && !slices.ContainsFunc(all, same) {
				all = append(all, d.Duty)
			}
		}
	}
	return all
}

// mostColumns is how many things have room beside each other.
const mostColumns = 3

// columnText heads what people were given; one demonstration needs no name.
func (v *FollowView) columnText(d training.Duty) string {
	several := slices.ContainsFunc(v.Duties, func(x training.DutyState) bool { return x.Kind == d.Kind && x.Of != d.Of })
	switch {
	case d.Kind == training.ModuleDuty:
		return d.Title
	case d.Kind == training.DemonstrationDuty && several:
		return "Demonstration: " + d.Title
	case d.Kind == training.DemonstrationDuty:
		return "Demonstration"
	}
	return "Read and signed"
}

func (v *FollowView) columns() []Column {
	titles := []string{"Name"}
	for _, d := range v.asked() {
		titles = append(titles, v.columnText(d))
	}
	return heads(titles...)
}

// people are the duties of each person: who is late first, then who has something open.
func (v *FollowView) people(today training.Day) (all [][]training.DutyState) {
	for _, d := range v.Duties {
		at := slices.IndexFunc(all, func(p []training.DutyState) bool { return p[0].PersonID == d.PersonID })
		if at < 0 {
			all = append(all, nil)
			at = len(all) - 1
		}
		all[at] = append(all[at], d)
	}
	rank := func(p []training.DutyState) int {
		switch {
		case slices.ContainsFunc(p, func(d training.DutyState) bool { return d.Overdue(today) }):
			return 0
		case slices.ContainsFunc(p, training.DutyState.Open):
			return 1
		}
		return 2
	}
	slices.SortStableFunc(all, func(a, b []training.DutyState) int { return rank(a) - rank(b) })
	return all
}

func ofKind(c training.Duty, of []training.DutyState) (training.DutyState, bool) {
	i := slices.IndexFunc(of, func(d training.DutyState) bool { return d.Kind == c.Kind && d.Of == c.Of })
	if i < 0 {
		return training.DutyState{}, false
	}
	return of[i], true
}

// shortState is how far a duty has come, in a cell of its own.
func (f Frame) shortState(d training.DutyState) string {
	switch {
	case d.End.Ended == training.DutyTakenBack:
		return "taken back"
	case !d.Open():
		return f.day(d.DoneAt)
	}
	return "by " + day(d.Due) + wasDue(d.Duty)
}

// mostAsked is how many demonstrations that are asked for stand on the watch page.
const mostAsked = 8

// DeskLine is something that waits for an educator.
type DeskLine struct {
	Text, Href, Do string
	Look           bool // late already
}
