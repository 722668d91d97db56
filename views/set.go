package views

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// SetView is the clinic's set: what holds, what waits, what is being changed.
type SetView struct {
	Sets    training.Sets
	Changes []scenarios.Difference // of the draft
	Resting []scenarios.Rest       // of the draft, or of what holds
	Spoken  []scenarios.Spoken     // what lessons and stories still speak of
	Open    []scenarios.Value      // that nobody has confirmed
	Problem string
	Faults  string   // why the draft cannot be used yet
	Read    []Named  // the procedures of what holds
	InDraft []Named  // likewise of the draft
	Last    string   // what the draft's last change was of, "" where nobody can say
	Over    []string // products whose day has gone by
	NoSet   bool     // the clinic's set does not lie in its data file
}

// SetURL is where the set is looked after.
const SetURL = "/set"

// VersionURL is a version of the set.
func VersionURL(n int) string { return SetURL + "/versions/" + strconv.Itoa(n) }

// listTitles are the lists that can be changed, in the order of the page.
var listTitles = []struct{ List, Title, About string }{
	{"surfaces", "Surfaces", "What is wiped, its names, and what a watcher must see wet."},
	{"variants", "Stations of another kind", "A machine of another make, a bed: which surfaces they do not have."},
	{"products", "Products", "Contact times from the labels, how strong they are, where they may be used."},
	{"order", "What comes before what", "Pairs of steps with their reasons."},
	{"items", "Things", "What lies at the station, and where it may go."},
	{"places", "Places", "Where things go, and their names."},
	{"steps", "Steps", "The words on the buttons."},
	{"marks", "Mark sheet", "What each mark is worth, and which are critical."},
	{"settings", "Choices", "Where practice differs: gaps in wet time, wipes, hands, the lowest score."},
	{"closing", "End of the work", "What is asked for before the station is declared ready."},
	{"scenarios", "Scenarios", "Their titles and products, and which are offered."},
}

// Listed reports whether there is a list of a name.
func Listed(list string) bool { return ListTitle(list) != "" }

// ListTitle is what a list is called, "" for one that is not there.
func ListTitle(list string) string {
	for _, l := range listTitles {
		if l.List == list {
			return l.Title
		}
	}
	return ""
}

// EditURL is a list, or a row of it, to be changed.
func EditURL(list, procedureID, row string) string {
	url := SetURL + "/edit?list=" + list
	if procedureID != "" {
		url += "&procedure=" + procedureID
	}
	if row != "" {
		url += "&row=" + strings.ReplaceAll(row, " ", "+")
	}
	return url
}

func (v SetView) version(n int) (x training.SetVersion) {
	for _, x = range v.Sets.Versions {
		if x.Number == n {
			return x
		}
	}
	return training.SetVersion{}
}

func (v SetView) openOf(list string) (n int) {
	for _, x := range v.Open {
		if x.List == list {
			n++
		}
	}
	return n
}

var setStates = map[training.SetEventKind]string{
	training.SetStarted: "starting point, confirmed by nobody", training.SetProposed: "waits to be approved", training.SetApproved: "approved", training.SetWithdrawn: "taken back",
}

func versionState(v training.SetVersion, inForce int) string {
	text := setStates[v.State()]
	if from := v.InForceFrom(); from != "" && v.State() == training.SetApproved {
		text += ", from " + day(from)
	}
	if v.Number == inForce {
		text = "in force; " + text
	}
	return procedure.Capital(text)
}

func versionMade(f Frame, v training.SetVersion) string {
	e := v.Made()
	if e.ByName == "" {
		return f.day(e.At)
	}
	return f.day(e.At) + ", " + e.ByName
}

// SetVersionView is one version with what it changes.
type SetVersionView struct {
	Sets    training.Sets
	Version training.SetVersion
	Changes []scenarios.Difference // against the one it is based on
	Resting []scenarios.Rest
	Effect  *training.Effect // of a version that waits
	Read    []Named          // its procedures
	Follow  *FollowView      // what follows from an approved one; nil for any other
	Problem string
	Today   training.Day
	Approving
}

// Approving is what was typed to approve a version or to take it back, when it was refused;
// never a password.
type Approving struct {
	From    string // day; "" is today
	Word    Word
	Problem string
	Why     string // it was to be taken back
	NotBack string // and was not
}

// Word says whose an approval is.
type Word struct {
	training.Approval
	Second string // sign-in name of the other one
}

func (w Word) choice(how training.ApprovalHow) Choice {
	return Choice{Name: "approval", Value: string(how), Required: true, Chosen: w.How == how}
}

// told is what stands at the top of the page: a refused approval stands in its panel, while
// there is one.
func (v SetVersionView) told() string {
	if v.waits() {
		return v.Problem
	}
	return cmp.Or(v.Problem, v.Approving.Problem, v.NotBack)
}

// Named is a procedure by its title.
type Named struct{ ID, Title string }

func (n Named) url(in string) string {
	if in == "" {
		return ProcedureURL(n.ID, "")
	}
	return ProcedureIn(n.ID, in)
}

// holds says since when what holds does, and on whose word.
func (v SetView) holds() string {
	x := v.version(v.Sets.InForce)
	return "Version " + strconv.Itoa(x.Number) + ". " + versionState(x, 0) + "."
}

// canUndo reports whether the draft's last change may be taken back.
func (v SetView) canUndo() bool {
	d := v.Sets.Draft
	return d.Origin == training.EditedSet && d.Edits != "" && d.Edits != "[]"
}

// canBeTaken reports whether a draft may be made of the version. One of what stands begins
// by itself with the first change.
func (v SetVersionView) canBeTaken() bool {
	return v.Sets.Proposed == 0 && !v.Sets.Draft.Open && v.Version.Number != v.Sets.Base
}

func (v SetVersionView) waits() bool { return v.Version.State() == training.SetProposed }

func effectText(e *training.Effect) string {
	part := func(c training.EffectCount, one, many string) string {
		text := fmt.Sprintf("%d of %s would be judged differently", c.Different, count(c.All, one, many))
		if c.Signed > 0 {
			text += fmt.Sprintf(" (%d signed)", c.Signed)
		}
		return text
	}
	return part(e.Attempts, "attempt", "attempts") + "; " + part(e.Demonstrations, "demonstration", "demonstrations") + ". What is signed keeps its judgement."
}

func recordURL(r training.EffectRecord) string {
	return either(r.Kind == "demonstration", "/demonstrations/", "/attempts/") + r.ID
}

// Difference and Rest are what the set's own room says.
type (
	Difference = scenarios.Difference
	Rest       = scenarios.Rest
)

func restText(r Rest) string {
	if r.Hidden {
		return "Your clinic does not offer it."
	}
	return procedure.Capital(r.Of) + ": " + r.Why
}

func hideText(list string) string {
	if list == "scenarios" || list == "variants" {
		return "Do not offer it"
	}
	return "Our stations do not have it"
}

func (v SetVersionView) basedOn() string {
	if v.Version.BasedOn == 0 {
		return "It is what this program begins with."
	}
	return "Beside version " + strconv.Itoa(v.Version.BasedOn) + ":"
}

func (v SetVersionView) whoApproves() string {
	if v.Sets.TwoApprove {
		return "Your clinic asks for the word of somebody who did not propose it."
	}
	return "Your clinic asks for one person."
}

func effectRecord(r training.EffectRecord) string {
	return procedure.Capital(r.Kind) + either(r.Signed, ", signed", "")
}

func eventText(f Frame, e training.SetEvent) string {
	text := procedure.Capital(string(e.Event)) + ", " + f.Moment(e.At)
	if e.ByName != "" {
		text += ", by " + e.ByName
	}
	if e.Approval.By != "" {
		text += ": the word of " + e.Approval.By + either(e.Approval.Role == "", "", ", "+e.Approval.Role)
		text += paperText(e.Approval)
	}
	if e.From != "" {
		text += ". In force from " + day(e.From)
	}
	return text + "."
}
