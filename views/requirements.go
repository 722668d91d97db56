package views

import (
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/training"
)

// RequirementForm is what a competency takes: as it holds, how it came to that, and the form
// that changes it.
type RequirementForm struct {
	Of      training.RequirementsOf
	Typed   map[string]string // what stands in the fields, by their names
	Faults  map[string]string // what is wrong, by field
	Wrong   string
	Preview *training.RequirementsPreview // before it is confirmed
	InUse   training.InUse
}

// RequirementURL is the page of a competency's requirements.
func RequirementURL(competency string) string { return "/requirements/" + competency }

// cases are the four that each ask for something of their own.
var cases = []struct{ id, title, hint string }{
	{"first", "For the first sign-off", ""},
	{"annual", "For each later one, in time", ""},
	{"lapsed", "For one after a lapse", "When the due day has passed."},
	{"change", "After a change of the procedure", "When an educator asks for a new demonstration because of it. Which modules are read and passed again is said there."},
}

func takesOf(t *training.Terms, id string) *training.Takes {
	return map[string]*training.Takes{"first": &t.First, "annual": &t.Annual, "lapsed": &t.Lapsed, "change": &t.Change}[id]
}

// needsFields are the boxes of who needs it.
var needsFields = []struct{ name, text string }{
	{"need-new", "New hires"}, {"need-staff", "Staff: who was signed off before"}, {"need-preceptor", "Preceptors"}, {"need-educator", "Educators"},
}

var againOptions = []Option{{Value: string(training.AgainNone), Text: "None"}, {Value: string(training.AgainMissed), Text: "Those that train what was missed since"}, {Value: string(training.AgainAll), Text: "All"}}

var aloneFields = []struct{ name, text string }{
	{"alone-due", "Due: the last sign-off still holds"}, {"alone-plan", "On a plan to practise"}, {"alone-lapsed", "Lapsed: the due day has passed"},
	{"alone-elsewhere", "Signed off at another site, and not shown here yet"},
}

// TypedRequirements are terms as they stand in the fields of the form. replaces says that the
// new ones hold in place of these, not after them: then what these say of sign-offs of before is
// kept too.
func TypedRequirements(t training.Terms, from training.Day, replaces bool) map[string]string {
	in := map[string]string{"from": string(from), "signer": string(t.Signer), "hire_days": strconv.Itoa(t.HireDays), "interval_months": strconv.Itoa(t.IntervalMonths),
		"early_days": strconv.Itoa(t.EarlyDays), "notice_days": strconv.Itoa(t.NoticeDays), "jobs": strings.Join(t.Needs.Jobs, "\n"), "teams": strings.Join(t.Needs.Teams, "\n"), "recount": either(replaces && t.Recount, "all", "next")}
	for _, c := range cases {
		x := takesOf(&t, c.id)
		in[c.id+"-clean"], in[c.id+"-days"], in[c.id+"-preceptors"], in[c.id+"-again"] = strconv.Itoa(x.Clean), strconv.Itoa(x.Days), strconv.Itoa(x.Preceptors), string(x.Again)
	}
	for name, on := range map[string]bool{"need-new": t.Needs.New, "need-staff": t.Needs.Staff, "need-preceptor": slices.Contains(t.Needs.Roles, training.Preceptor),
		"need-educator": slices.Contains(t.Needs.Roles, training.Educator), "alone-due": t.Alone.Due, "alone-plan": t.Alone.OnPlan, "alone-lapsed": t.Alone.Lapsed, "alone-elsewhere": t.Alone.Elsewhere} {
		if on {
			in[name] = "yes"
		}
	}
	return in
}

// ReadRequirements are the terms that stand in the fields. What is no number is -1, which no
// value may be.
func ReadRequirements(in map[string]string) (t training.Terms) {
	number := func(name string) int {
		n, err := strconv.Atoi(strings.TrimSpace(in[name]))
		if err != nil {
			return -1
		}
		return n
	}
	for _, c := range cases {
		*takesOf(&t, c.id) = training.Takes{Clean: number(c.id + "-clean"), Days: number(c.id + "-days"), Preceptors: number(c.id + "-preceptors"), Again: training.Again(in[c.id+"-again"])}
	}
	t.First.Again, t.Change.Again = training.AgainNone, training.AgainNone // not asked: every module is passed once, and a change says its own
	t.HireDays, t.IntervalMonths, t.EarlyDays, t.NoticeDays = number("hire_days"), number("interval_months"), number("early_days"), number("notice_days")
	t.Recount, t.Signer = in["recount"] == "all", training.Signer(in["signer"])
	t.Alone = training.Alone{Due: in["alone-due"] != "", OnPlan: in["alone-plan"] != "", Lapsed: in["alone-lapsed"] != "", Elsewhere: in["alone-elsewhere"] != ""}
	t.Needs = training.Needs{New: in["need-new"] != "", Staff: in["need-staff"] != "", Jobs: lines(in["jobs"]), Teams: lines(in["teams"])}
	for name, role := range map[string]training.Role{"need-preceptor": training.Preceptor, "need-educator": training.Educator} {
		if in[name] != "" {
			t.Needs.Roles = append(t.Needs.Roles, role)
		}
	}
	slices.Sort(t.Needs.Roles)
	return t
}

// lines are those of a text that say something.
func lines(text string) (all []string) {
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" {
			all = append(all, line)
		}
	}
	return all
}

// termFacts are terms in words.
func termFacts(t training.Terms) (all []Fact) {
	for _, l := range t.Lines() {
		all = append(all, Fact{Term: l.Term, Text: l.Text})
	}
	return all
}

// termChanges are the lines in which requirements differ from those before.
func termChanges(earlier, later training.Requirements) (all []string) {
	was, is := earlier.Terms, later.Terms
	before := was.Lines()
	for i, f := range is.Lines() {
		if f.Text != before[i].Text {
			all = append(all, f.Term+": "+f.Text+". Before: "+before[i].Text+".")
		}
	}
	switch replaced := earlier.From >= later.From; {
	case is.Recount && is.IntervalMonths != was.IntervalMonths, replaced && is.Recount && !was.Recount:
		all = append(all, "The interval counts for sign-offs of before as well.")
	case replaced && was.Recount && !is.Recount:
		all = append(all, "The interval counts from each person's next sign-off on. Before: for sign-offs of before as well.")
	}
	return all
}

// versionText says of a version from when it holds, and who made it.
func (f Frame) requirementText(r training.Requirements) string {
	if r.ByID == "" {
		return "The values that the clinic's set had"
	}
	return "From " + day(r.From) + "; " + r.ByName + ", " + f.Moment(r.At) + ": " + r.Why
}

// changesOf are the lines in which a version differs from the one before it.
func (p RequirementForm) changesOf(i int) []string {
	all := p.Of.Versions
	if i+1 >= len(all) {
		return nil
	}
	return termChanges(all[i+1], all[i])
}

// builtOn are the terms that a change builds on.
func (p RequirementForm) builtOn() training.Requirements {
	if len(p.Of.Versions) > 0 {
		return p.Of.Versions[0]
	}
	return p.Of.Now
}

// previewLines say in sentences what requirements would do if they held today.
func previewLines(p training.RequirementsPreview) (lines []string) {
	people := func(n int) string { return count(n, "person", "people") }
	tell := func(is func(training.StandingMove) bool, what string) {
		n := 0
		for _, m := range p.Moves {
			if is(m) {
				n++
			}
		}
		if n > 0 {
			lines = append(lines, people(n)+" "+what+".")
		}
	}
	for _, w := range training.StandingWords {
		tell(func(m training.StandingMove) bool { return m.Was != "" && m.Is == w && m.Was != w }, "would become “"+string(w)+"”")
	}
	tell(func(m training.StandingMove) bool { return m.Was == "" && m.Is != "" }, "would be asked for it who are not now")
	tell(func(m training.StandingMove) bool { return m.Was != "" && m.Is == "" }, "would not be asked for it any more")
	tell(func(m training.StandingMove) bool { return m.Was != "" && m.Is != "" && m.DueWas != m.DueIs }, "would be due on another day")
	tell(func(m training.StandingMove) bool { return m.AloneWas && !m.Alone }, "might not work alone any more")
	tell(func(m training.StandingMove) bool { return !m.AloneWas && m.Alone }, "might work alone who may not now")
	if len(lines) == 0 {
		return []string{"Nobody's standing would be another today."}
	}
	return lines
}

// hiddenTyped are the fields of a form, in a fixed order, to be sent on unseen.
func (p RequirementForm) hiddenTyped() (all []Option) {
	for name, value := range p.Typed {
		if name != "own" && name != "key" && name != "token" {
			all = append(all, Option{Value: name, Text: value})
		}
	}
	slices.SortFunc(all, func(a, b Option) int { return strings.Compare(a.Value, b.Value) })
	return all
}

// requirementState is the small line under a competency's name.
func requirementState(of training.RequirementsOf) string {
	if of.Now.Version == 0 {
		return "As the clinic's set has it"
	}
	return "Version " + strconv.Itoa(of.Now.Version)
}
