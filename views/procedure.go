package views

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// ProcedureView is a procedure as a person reads it: what a new hire reads first and what
// a surveyor is handed.
type ProcedureView struct {
	Procedure *procedure.Procedure
	Steps     []course.StepRow // a right order; empty where no scenario has one
	Base      *Link            // the procedure that a station of another kind is of, nil for none
	Asked     []course.Demand
	Older     string              // a sentence when it is not the one in force
	Version   training.SetVersion // of the clinic's, when it is the one in force
}

// versionText says by which version of the clinic's procedure it is in force, since when,
// and on whose word: a surveyor asks for it.
func (v ProcedureView) versionText() string {
	x := v.Version
	text := "Version " + strconv.Itoa(x.Number) + " of the clinic's procedure"
	e, ok := x.Approved()
	switch {
	case x.Number == 0:
		return ""
	case !ok:
		return text + ": " + setStates[x.State()] + "."
	}
	return text + ", in force from " + day(e.From) + ", approved by " + e.Approval.By + either(e.Approval.Role == "", "", " ("+e.Approval.Role+")") + paperText(e.Approval) + "."
}

// paperText says of a word on paper of which day it is and where it lies.
func paperText(a training.Approval) string {
	if a.How != training.ApprovedPaper {
		return ""
	}
	return ", on paper of " + day(a.On) + " (" + a.Where + ")"
}

// procedureParts are the parts of the page in their order, each with its heading.
var procedureParts = []struct{ ID, Heading string }{
	{"order", "One right order, step by step"}, {"pairs", "What comes before what"}, {"closing", "What the end of the work asks for"}, {"asked", "What is asked all the time"},
	{"surfaces", "The surfaces"}, {"products", "Products and their contact times"}, {"items", "Things, and where they may go"}, {"settings", "The clinic's choices"}, {"marks", "How it is marked"},
}

// headingOf is that of a part.
func headingOf(id string) string {
	for _, x := range procedureParts {
		if x.ID == id {
			return x.Heading
		}
	}
	return ""
}

// contents lead to the parts that the page has.
func (v ProcedureView) contents() (all []Link) {
	without := map[string]bool{"order": len(v.Steps) == 0, "closing": len(v.Procedure.Closing) == 0}
	for _, x := range procedureParts {
		if !without[x.ID] {
			all = append(all, Link{"#" + x.ID, x.Heading})
		}
	}
	return all
}

// ProcedureURL is where a procedure is read; "" for the hash is the one in force.
func ProcedureURL(id, hash string) string {
	if hash == "" {
		return "/procedures/" + id
	}
	return "/procedures/" + id + "?as=" + hash
}

// InDraft is the draft, where versions are named by number.
const InDraft = "draft"

// ProcedureIn is where a procedure is read as a version has it.
func ProcedureIn(id, in string) string { return "/procedures/" + id + "?in=" + in }

// DraftNote says on a page that the draft is read there.
const DraftNote = "This is the draft. It holds for nobody yet."

// VersionNote says on a page which version is read there.
func VersionNote(v training.SetVersion, inForce int) string {
	return "This is as version " + strconv.Itoa(v.Number) + " of the clinic's procedure has it. " + versionState(v, inForce) + "."
}

func (v ProcedureView) facts() []Fact {
	p := v.Procedure
	return []Fact{{Term: "Version", Text: p.Version}, {Term: "Owner", Text: p.Owner}, {Term: "Review by", Text: day(training.Day(p.ReviewBy))}, {Term: "Fingerprint", Text: short(p.Hash), Code: true}}
}

// standing says on what a value rests, or who of the clinic made it its own.
func standing(b procedure.Basis, c procedure.Confirmed) string {
	if c.By != "" {
		return "confirmed by " + c.By + ", " + day(training.Day(c.On))
	}
	if b.Kind == procedure.Published {
		return b.Source
	}
	if b.Kind == procedure.CommonPractice {
		return "common practice, no published source: advice until the clinic confirms it"
	}
	return "clinic to confirm"
}

func (v ProcedureView) openText() string {
	if n := len(scenarios.UnconfirmedOf(v.Procedure)); n > 0 {
		return procedure.Capital(count(n, "value is", "values are")) + " the clinic's to confirm: they rest on custom, or are a starting point. Each says so where it stands."
	}
	return ""
}

func surfaceText(s procedure.Surface) string {
	var all []string
	if s.MustSee {
		all = append(all, "a watcher must see it wet")
	}
	if s.ChairSide {
		all = append(all, "within reach of the chair")
	}
	if s.HighTouch {
		all = append(all, "often touched")
	}
	if s.DriesS > 0 {
		all = append(all, "dries after "+clock(s.DriesS))
	}
	return procedure.Capital(strings.Join(all, ", "))
}

func productText(p *procedure.Procedure, x procedure.Product) string {
	all := []string{string(x.Level) + " level"}
	if len(x.Claims) > 0 {
		all = append(all, claimsText(x))
	}
	if x.CountsDry() {
		all = append(all, readingText(x))
	}
	if x.Registration != "" {
		all = append(all, "number "+x.Registration)
	}
	if x.GoodUntil != "" {
		all = append(all, "good until "+day(training.Day(x.GoodUntil)))
	}
	if x.GoodH > 0 {
		all = append(all, fmt.Sprintf("good for %d hours", x.GoodH))
	}
	if x.MadeH > 0 {
		all = append(all, fmt.Sprintf("a dilution, made %d hours before", x.MadeH))
	}
	if x.PastDate {
		all = append(all, "its date is over")
	}
	if len(x.NotOn) > 0 {
		all = append(all, "not on: "+titles(p, x.NotOn))
	}
	return procedure.Capital(strings.Join(all, "; "))
}

func titles(p *procedure.Procedure, ids []string) string {
	var all []string
	for _, id := range ids {
		all = append(all, procedure.Within(thing(p, id)))
	}
	return strings.Join(all, ", ")
}

// settingFacts are the clinic's choices in words.
func settingFacts(p *procedure.Procedure) []Fact {
	s := p.Settings
	all := []Fact{
		{Term: "A dry gap", Text: either(s.WetAddsUp, "wet times add up over it", "starts the contact time anew")},
		{Term: "One wipe", Text: oneWipeTexts[s.OneWipe]},
		{Term: "Hands", Text: either(s.Hands == procedure.WHOHands, "rubbed for 20 seconds or washed for 40 (WHO)", "rubbed for 20 seconds or washed for 15 (CDC)")},
		{Term: "Staging surface", Text: either(s.StagingWithPatient, "may be wiped while the patient is there", "is wiped when the patient has left")},
	}
	if s.PatientFreeS > 0 {
		all = append(all, Fact{Term: "Between patients", Text: clock(s.PatientFreeS) + " at the least"})
	}
	if s.SeeOneFaceOf != "" {
		all = append(all, Fact{Term: "A watcher sees", Text: "one whole side of the " + s.SeeOneFaceOf + " wet for its time"})
	}
	if s.Board == procedure.ListBoard {
		all = append(all, Fact{Term: "Boards", Text: "a list in groups, in place of the picture"})
	}
	return append(all, Fact{Term: "To pass", Text: strconv.Itoa(p.MarkSheet.CutPercent) + " % and every critical mark"}, Fact{Term: "Rests on", Text: standing(s.Basis, s.Confirmed)})
}

var oneWipeTexts = map[procedure.OneWipe]string{
	procedure.FaceAdvice: "a fresh one for each side is advised", procedure.FaceBreach: "a fresh one for each side is asked",
	procedure.ThingBreach: "a fresh one for each thing is asked", procedure.AnyWipe: "not judged",
}

func either(is bool, yes, no string) string {
	if is {
		return yes
	}
	return no
}

// things are the things of the station with their surfaces, as they come first.
func (v ProcedureView) things() (all []string) {
	for i := range v.Procedure.Surfaces {
		if t := v.Procedure.Surfaces[i].ThingOf(); !slices.Contains(all, t) {
			all = append(all, t)
		}
	}
	return all
}
