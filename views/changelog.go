package views

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// ChangeLogPageData is who changed what, the newest first.
type ChangeLogPageData struct {
	Log    training.ChangeLog
	Query  training.ChangeQuery
	Titles map[string]string // of competencies
}

// changeGroup is a group of changes as it is chosen.
type changeGroup struct{ value, title string }

var changeGroups = []changeGroup{{"", "Everything"}, {training.ChangesOfPeople, "People"}, {training.ChangesOfAccounts, "Accounts"}, {training.ChangesOfRights, "Entitlements and withdrawals"},
	{training.ChangesOfRequirements, "Requirements"}, {training.ChangesOfProcedure, "Procedure"}, {training.ChangesOfItems, "Other annual items"}, {training.ChangesOfAsks, "What was asked of people"}, {training.ChangesOfServer, "The server's time"}}

// changeTitles say what was changed; what a leaf calls the change stands behind it.
var changeTitles = map[training.LeafKind]string{
	training.PersonLeaf: "Person", training.AccountLeaf: "Account", training.EntitlementLeaf: "Entitlement granted", training.RequirementsLeaf: "Requirements",
	training.EarlierLeaf: "Sign-offs from paper confirmed", training.ItemLeaf: "Other annual item", training.ItemEntryLeaf: "Item entered",
	training.SetLeaf: "Procedure", training.FollowUpLeaf: "What follows from a version", training.ClockLeaf: "The server's time was confirmed",
	training.RequirementLeaf: "What a sign-off takes", training.AbsenceLeaf: "Leave",
	training.ObservationTargetLeaf: "Station observations a month",
}

func changeTitle(c training.ChangeLine) string {
	title := changeTitles[c.Kind]
	switch {
	case c.Kind == training.EndLeaf && c.Is["of"] == string(training.SignOffLeaf):
		return "Sign-off withdrawn"
	case c.Kind == training.EndLeaf && c.Is["of"] == string(training.EarlierLeaf):
		return "Sign-off from paper withdrawn"
	case c.Kind == training.EndLeaf && c.Is["of"] == string(training.ItemEntryLeaf):
		return "Item withdrawn"
	case c.Kind == training.ItemEntryLeaf && c.Is["corrects"] != "":
		return "Item corrected"
	case c.Kind == training.AssignmentLeaf:
		return either(c.Said == "asked", "Asked of people", "What was asked: "+c.Said)
	case c.Kind == training.EndLeaf:
		return "Entitlement ended"
	case c.Said == "":
		return title
	}
	return title + ": " + c.Said
}

// changeFields are what a reader is told of a record, in this order, each by its words.
var changeFields = []struct{ key, words string }{
	{"name", "name"}, {"staff_no", "staff number"}, {"role", "role"}, {"also", "also"}, {"job", "job title"}, {"team", "team"}, {"email", "e-mail"}, {"hired", "here since"}, {"left", "last day"}, {"earlier", "before that"}, {"sees_today", "sees the list of today"},
	{"username", "sign-in name"}, {"disabled", "closed"}, {"first_until", "first password good until"},
	{"competency", "for"}, {"may_watch", "may watch"}, {"may_sign_off", "may sign off"}, {"from", "from"}, {"until", "until"}, {"cancelled", "cancelled"}, {"credential", "credential"}, {"founding", "not current then"},
	{"approver", "approved by"}, {"approver_role", "their role"}, {"approved_on", "approved on"}, {"number", "version"}, {"in_force_from", "in force from"},
	{"title", "title"}, {"every_months", "comes again after months"}, {"notice_days", "days of notice"}, {"everybody", "everybody needs it"}, {"roles", "for roles"}, {"jobs", "for jobs"}, {"teams", "for teams"},
	{"content", "content"}, {"keep_years", "kept for years"}, {"retired", "retired"}, {"on_day", "day"}, {"trainer", "trainer"}, {"qualification", "qualification"}, {"evidence", "evidence"}, {"expires", "expires"},
	{"people_asked", "people asked"}, {"due", "to be done by"},
	{"monthly", "target"},
	{"why", "why"}, {"event_why", "why"}, {"through", "through"},
}

// changeDetails tell what is so since; with what was, where that was something else.
func (p ChangeLogPageData) changeDetails(f Frame, c training.ChangeLine) (lines []string) {
	if c.Kind == training.AssignmentLeaf {
		lines = append(lines, askText(training.DutyKind(c.Is["asked"]), c.Is["title"]))
	}
	for _, x := range changeFields {
		if c.Kind == training.AssignmentLeaf && (x.key == "title" || x.key == "people_asked" && c.Is[x.key] == "") {
			continue // what was asked stands first; a taking back is of what stands before it
		}
		is, was := p.changeWords(f, x.key, c.Is[x.key]), p.changeWords(f, x.key, c.Was[x.key])
		switch {
		case x.words == "why": // said anew each time
			if line := "why " + is; is != "" && !slices.Contains(lines, line) {
				lines = append(lines, line)
			}
		case c.Was == nil && is != "" && is != "no":
			if x.key != "name" && x.key != "staff_no" { // they stand beside it
				lines = append(lines, x.words+" "+is)
			}
		case c.Was == nil || is == was:
		case is == "":
			lines = append(lines, "no "+x.words+" any more, was "+was)
		case was == "":
			lines = append(lines, x.words+" "+is)
		default:
			lines = append(lines, x.words+" "+is+", was "+was)
		}
	}
	return lines
}

// changeWords write a value for people.
func (p ChangeLogPageData) changeWords(f Frame, key, value string) string {
	switch {
	case value == "":
		return ""
	case key == "competency" && p.Titles[value] != "":
		return "“" + p.Titles[value] + "”"
	case key == "why" || key == "event_why" || key == "founding":
		return "“" + value + "”"
	case key == "role" || key == "also" || key == "roles":
		return roleWords(training.Roles(value).All())
	case key == "earlier":
		return spellWords(training.Spells(value).All())
	case key == "first_until":
		return f.Moment(training.Instant(value))
	}
	if d, err := training.ParseDay(value); err == nil {
		return day(d)
	}
	return value
}

// about names whose record it is, by name as it stood.
func changeAbout(c training.ChangeLine) training.Named { return c.Named(training.PartPerson) }

// changedBy names who did it.
func changedBy(c training.ChangeLine) string {
	if n := c.Named(training.PartBy); n.Name != "" {
		return n.Name
	}
	if name := c.Is["by_name"]; name != "" {
		return name
	}
	if n := c.Named(training.PartPerson); c.Kind == training.AccountLeaf && n.Name != "" {
		return n.Name
	}
	return "who runs the server"
}

// older is the address of what comes before.
func (p ChangeLogPageData) older() string {
	q := p.Query
	values := url.Values{}
	for key, value := range map[string]string{"kind": q.Group, "name": q.Name, "from": string(q.From), "to": string(q.To)} {
		if value != "" {
			values.Set(key, value)
		}
	}
	values.Set("under", strconv.FormatInt(p.Log.All[len(p.Log.All)-1].Leaf, 10))
	return "/changes?" + values.Encode()
}

func changeLead(n int, more bool) string {
	return "Who changed people, accounts, entitlements, requirements or the procedure: " + either(more, "the newest ", "") + count(n, "change", "changes") + ", each with its number in the ledger."
}

func joinedDetails(lines []string) string { return procedure.Capital(strings.Join(lines, "; ")) }
