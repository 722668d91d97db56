package views

import (
	"strconv"

	"stillwet/internal/training"
)

// EarlierPageData is the batches of earlier sign-offs that wait to be read and confirmed.
type EarlierPageData struct {
	Waiting []training.EarlierDraft
	Titles  map[string]string // of competencies
	Wrong   string
	WrongAt string // id of a batch
}

func (p EarlierPageData) listed(d training.EarlierDraft) (all []training.Listed) {
	for _, l := range d.Lines {
		all = append(all, training.Listed{Person: training.Person{ID: l.PersonID, Name: l.Name, StaffNo: l.StaffNo}, On: l.On, Of: p.Titles[l.Competency], Facts: l.Facts()})
	}
	return all
}

func (p EarlierPageData) broughtBy(f Frame, d training.EarlierDraft) string {
	return "Brought in " + f.Moment(d.At) + " by " + either(d.ByName == "", "who runs the server", d.ByName) + ". It counts for nothing until you confirm it."
}

// PaperForm is an earlier sign-off as it is typed by hand, or corrected.
type PaperForm struct {
	Person       training.Person
	Line         training.EarlierLine // that is corrected; the zero line of a new one
	ByInterval   bool                 // it is due by the clinic's interval
	Competencies []training.Competency
	Typed        map[string]string
	Wrong        string
	WrongAt      string // PaperEnter, EntryCorrect or EntryWithdraw
}

// PaperEnter is WrongAt at the form of a new one.
const PaperEnter = "enter"

func (p PaperForm) options() (all []Option) {
	for _, c := range p.Competencies {
		all = append(all, Option{Value: c.ID, Text: c.Title})
	}
	return all
}

func (p PaperForm) title() string {
	for _, c := range p.Competencies {
		if c.ID == p.Line.Competency {
			return c.Title
		}
	}
	return p.Line.Competency
}

// is is a field: as it was typed, else as the line has it.
func (p PaperForm) is(name, was string) string {
	if p.WrongAt != PaperEnter && p.WrongAt != EntryCorrect {
		return was
	}
	return p.Typed[name]
}

// dueAsTyped is the due day that was on the paper: a day that follows from the clinic's interval
// follows from another day otherwise.
func (p PaperForm) dueAsTyped() string {
	if p.ByInterval {
		return ""
	}
	return string(p.Line.Due)
}

func (p PaperForm) typedAt(form, name string) string {
	if p.WrongAt != form {
		return ""
	}
	return p.Typed[name]
}

func (p PaperForm) here() string {
	return p.is("here", either(p.Line.ID == "" || p.Line.Here, "yes", "no"))
}

func (p PaperForm) facts(f Frame) []Fact {
	l := p.Line
	return []Fact{{Term: "Signed off on", Text: day(l.On)}, {Term: "By", Text: l.SignedBy + ", as the paper has it"}, {Term: "The paper lies", Text: l.Evidence}, {Term: "Due again", Text: day(l.Due)},
		{Term: "Other site", Text: l.Site}, {Term: "Shown here", Text: either(l.Here, "yes", "no")}, {Term: "Confirmed", Text: f.Moment(l.Batch.At) + " by " + l.Batch.ByName},
		{Term: "Ledger number", Text: strconv.FormatInt(l.Batch.Leaf, 10)}}
}

// whereText is where the paper lies, and from where it comes.
func whereText(l training.EarlierLine) string {
	return joined("paper: "+l.Evidence, l.Site, either(l.Here, "", "not shown here"))
}
