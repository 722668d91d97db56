package views

import (
	"cmp"
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
	Titles map[string]string // of competencies and items
}

// changeGroup is a group of changes as it is chosen.
type changeGroup struct{ value, title string }

var changeGroups = []changeGroup{{"", "Everything"}, {training.ChangesOfPeople, "People"}, {training.ChangesOfAccounts, "Accounts"}, {training.ChangesOfRights, "Entitlements and withdrawals"},
	{training.ChangesOfRequirements, "Requirements"}, {training.ChangesOfProcedure, "Procedure"}, {training.ChangesOfItems, "Other annual items"}, {training.ChangesOfAsks, "What was asked of people"}, {training.ChangesOfServer, "The server's time"}}

// changeTitles say what was changed; what a leaf calls the change stands behind it.
var changeTitles = map[training.LeafKind]string{
	training.PersonLeaf: "Person", training.AccountLeaf: "Account", training.EntitlementLeaf: "Entitlement granted", training.RequirementsLeaf: "What the clinic’s set asks, as it stood",
	training.EarlierLeaf: "Sign-off from paper confirmed", training.ItemLeaf: "Other annual item", training.ItemEntryLeaf: "Item entered",
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
	case c.Kind == training.EarlierLeaf && c.Is["corrects"] != "":
		return "Sign-off from paper corrected"
	case c.Kind == training.EndLeaf:
		return "Entitlement ended"
	case c.Said == "":
		return title
	}
	return title + ": " + cmp.Or(saidWords[c.Kind][c.Said], c.Said)
}

// saidWords write what leaves call a change, where that is no plain word.
var saidWords = map[training.LeafKind]map[string]string{
	training.PersonLeaf: {"last day": "a last day said"},
	training.AccountLeaf: {"first password": "a first password given", "own password": "own password chosen", "link given": "a link for a new password made",
		"link made by the owner of the folder": "a link for a new password made", "own password by the owner's link": "a new password chosen by that link", "own password by a link": "own password chosen by a link"},
	training.SetLeaf: {string(training.TwoApprove): "two people approve from now on", string(training.OnlyOneNeeded): "one person approves from now on"},
}

// changeField is what a reader is told of a record: its key in the leaf and its words.
type changeField struct {
	key, words string
	gone       string // what is said when there is none any more; "" is made of the words
	anew       bool   // it is of the change, and is not compared with what was before
	always     bool   // it says what the change is of, and is told also where it is as before
}

// changeFields are told in this order.
var changeFields = []changeField{
	{key: "item_id", words: "item", always: true}, {key: "competency", words: "for", always: true}, {key: "name", words: "name"}, {key: "staff_no", words: "staff number"}, {key: "role", words: "role"}, {key: "job", words: "job title"}, {key: "team", words: "team"}, {key: "email", words: "e-mail"},
	{key: "hired", words: "here since"}, {key: "left", words: "last day"}, {key: "earlier", words: "here before that", gone: "not here before that"}, {key: "sees_today", words: "sees the list of today", gone: "does not see the list of today any more"},
	{key: "username", words: "sign-in name"}, {key: "disabled", words: "closed"}, {key: "first_until", words: "first password good until", gone: "the first password is used"},
	{key: "may_watch", words: "may watch"}, {key: "may_sign_off", words: "may sign off"},
	{key: "from", words: "from"}, {key: "until", words: "until", gone: "no end any more"}, {key: "cancelled", words: "cancelled"}, {key: "credential", words: "credential"},
	{key: "founding", words: "not current then", anew: true}, {key: "approver", words: "approved by", anew: true}, {key: "approver_role", words: "their role", anew: true},
	{key: "approved_on", words: "approved on", anew: true}, {key: "number", words: "version"}, {key: "in_force_from", words: "in force from", anew: true},
	{key: "title", words: "title"}, {key: "every_months", words: "interval"}, {key: "notice_days", words: "notice"}, {key: "everybody", words: "everybody needs it"},
	{key: "roles", words: "for roles"}, {key: "jobs", words: "for job titles"}, {key: "teams", words: "for teams"}, {key: "keep_years", words: "kept for"}, {key: "retired", words: "retired"},
	{key: "on_day", words: "day"}, {key: "signed_on", words: "signed off on"}, {key: "signed_by", words: "signed by"}, {key: "signer_name", words: "signed by"}, {key: "shown_here", words: "shown here"},
	{key: "site", words: "other site"}, {key: "due", words: "due"}, {key: "content", words: "content"}, {key: "trainer", words: "trainer"}, {key: "qualification", words: "qualification"},
	{key: "evidence", words: "evidence"}, {key: "expires", words: "expires", gone: "no expiry day any more"},
	{key: "people_asked", words: "people asked", anew: true}, {key: "monthly", words: "target"},
	{key: "why", words: "why", anew: true}, {key: "event_why", words: "why", anew: true}, {key: "through", words: "by", anew: true},
}

// changeDetails tell what is so since; with what was, where that was something else.
func (p ChangeLogPageData) changeDetails(f Frame, c training.ChangeLine) (lines []string) {
	if c.Kind == training.AssignmentLeaf {
		lines = append(lines, askText(training.DutyKind(c.Is["asked"]), c.Is["title"]))
	}
	for _, x := range changeFields {
		if c.Kind == training.AssignmentLeaf {
			if x.key == "title" { // what was asked stands first
				continue
			}
			if x.key == "due" {
				x.words = "to be done by"
			}
		}
		line := ""
		if yes := c.Is[x.key] == "yes"; yes || c.Is[x.key] == "no" || c.Was[x.key] == "yes" {
			line = yesNoChange(x, yes, c.Was != nil, c.Was[x.key] == "yes")
		} else {
			line = x.change(p.changeWords(f, x.key, c.Is), p.changeWords(f, x.key, c.Was), c.Was != nil)
		}
		if line != "" && !slices.Contains(lines, line) {
			lines = append(lines, line)
		}
	}
	return lines
}

// yesNoChange tells what is so or is not.
func yesNoChange(x changeField, yes, before, was bool) string {
	switch {
	case yes && !was:
		return x.words
	case !yes && was:
		return cmp.Or(x.gone, "not "+x.words+" any more")
	case !yes && !before && x.key == "shown_here":
		return "not " + x.words
	}
	return ""
}

// change tells a value, and what it was before.
func (x changeField) change(is, was string, before bool) string {
	switch {
	case x.anew || !before:
		if is == "" || !before && (x.key == "name" || x.key == "staff_no") { // these stand beside it
			return ""
		}
		return x.words + " " + is
	case is == was && x.always && is != "":
		return x.words + " " + is
	case is == was:
		return ""
	case is == "":
		return cmp.Or(x.gone, "no "+x.words+" any more") + ", was " + was
	case was == "":
		return x.words + " " + is
	}
	return x.words + " " + is + ", was " + was
}

// changeWords write a value of a record for people.
func (p ChangeLogPageData) changeWords(f Frame, key string, of map[string]string) string {
	value := of[key]
	switch {
	case value == "":
		return ""
	case (key == "competency" || key == "item_id") && p.Titles[value] != "":
		return "“" + p.Titles[value] + "”"
	case key == "why" || key == "event_why" || key == "founding":
		return "“" + value + "”"
	case key == "role":
		return roleWords(training.Roles(value + " " + of["also"]).All())
	case key == "roles":
		return roleWords(training.Roles(value).All())
	case key == "earlier":
		return spellWords(training.Spells(value).All())
	case key == "first_until":
		return f.Moment(training.Instant(value))
	case key == "through":
		return cmp.Or(throughWords[value], value)
	}
	if n, err := strconv.Atoi(value); err == nil && numberWords[key] != nil {
		return numberWords[key](n)
	}
	if d, err := training.ParseDay(value); err == nil {
		return day(d)
	}
	return value
}

// throughWords say how a change came about.
var throughWords = map[string]string{"roster": "a list of people"}

// numberWords write numbers with what they count.
var numberWords = map[string]func(int) string{
	"every_months": func(n int) string {
		if n == 0 {
			return "once"
		}
		return count(n, "month", "months")
	},
	"notice_days": func(n int) string { return count(n, "day", "days") },
	"keep_years":  func(n int) string { return count(n, "year", "years") },
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
	if c.Kind == training.RequirementLeaf || c.Kind == training.RequirementsLeaf {
		return "the clinic’s set"
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
