package views

import (
	"fmt"
	"slices"
	"strconv"

	"stillwet/internal/assess"
	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Lesson is a page of the procedure with its questions.
type Lesson struct {
	Page    training.PartPage
	Said    string // id of the question just answered, "" for none
	Problem string
	Onward  *Onward // what comes next in the course, nil for nothing
}

// Onward is the way to go on.
type Onward struct {
	Href, Text, Title string
}

// OnwardOf is the way on through the course, nil when there is none.
func OnwardOf(ways []training.ModuleWay) *Onward {
	w, p, ok := training.GoOn(ways)
	if !ok {
		return nil
	}
	return &Onward{PartURL(w.Module, p.Part), goOnText(p.Part), w.Module.Title + ". " + partText(w, p)}
}

// Teaching are the lessons of the modules with a scenario that teach what some findings
// are about, each once.
func Teaching(modules []course.Module, scenario string, findings []assess.Finding) (all []Onward) {
	missed := map[string]bool{}
	for _, f := range findings {
		missed[f.Rule] = true
	}
	told := map[string]bool{}
	for i := range modules {
		m := &modules[i]
		has := slices.ContainsFunc(m.Parts, func(p course.Part) bool { return p.Kind != course.Read && p.Scenario.ID == scenario })
		for j := range m.Parts {
			if p := &m.Parts[j]; has && p.Kind == course.Read && !told[p.Lesson.ID] && p.Lesson.Teaches(missed) {
				told[p.Lesson.ID] = true
				all = append(all, Onward{PartURL(m, p), p.Title(), m.Title})
			}
		}
	}
	return all
}

func (l Lesson) part() training.PartWay { return l.Page.Way.Parts[l.Page.Part] }

func (l Lesson) lesson() *course.Lesson { return l.part().Part.Lesson }

// partTitle is the first row of a part's page.
func partTitle(p training.PartPage) Title {
	part := p.Way.Parts[p.Part]
	return Title{Kicker: fmt.Sprintf("%s · part %d of %d · %s, about %s", p.Way.Module.Title, p.Part+1, len(p.Way.Parts), kindTitle(part.Part),
		count(part.Part.Minutes, "minute", "minutes")), Heading: part.Part.Title()}
}

// asked is a question with what was answered last.
type asked struct {
	*course.Question
	No, Of int
	Answer training.CourseAnswer // zero while there is none
	Right  bool                  // at some time
}

// url is where an answer is sent to.
func (l Lesson) url() string { return "/course/" + l.Page.Way.Module.ID + "/" + l.part().Part.ID() }

// questions are all of the lesson.
func (l Lesson) questions() (all []asked) {
	n := l.lesson()
	for i := range n.Questions {
		q := asked{Question: &n.Questions[i], No: i + 1, Of: len(n.Questions)}
		q.Answer, _ = l.Page.Latest(q.ID)
		q.Right = slices.ContainsFunc(l.Page.Answers, func(a training.CourseAnswer) bool { return a.Question == q.ID && a.Right })
		all = append(all, q)
	}
	return all
}

// now is the question to be answered next, nil when all were answered rightly.
func (l Lesson) now() *asked {
	all := l.questions()
	if i := slices.IndexFunc(all, func(q asked) bool { return !q.Right }); i >= 0 {
		return &all[i]
	}
	return nil
}

// just is the question that was answered rightly a moment ago.
func (l Lesson) just() *asked {
	all := l.questions()
	if i := slices.IndexFunc(all, func(q asked) bool { return q.ID == l.Said && q.Right }); i >= 0 {
		return &all[i]
	}
	return nil
}

// before are the questions answered rightly, but for the one just answered.
func (l Lesson) before() []asked {
	return slices.DeleteFunc(l.questions(), func(q asked) bool { return !q.Right || q.ID == l.Said })
}

func (q asked) title() string {
	text := "Which of these may come next?"
	if q.Ask == course.Wrong {
		text = "One row is wrong. Which one?"
	}
	return text
}

func (q asked) place() string { return fmt.Sprintf("Question %d of %d", q.No, q.Of) }

// lead says where the question begins.
func (q asked) lead() string {
	switch {
	case len(q.Before) == 0 && q.Ask == course.Next:
		return "You come to the station. The patient is still there, and nothing is done yet."
	case len(q.Before) == 0:
		return "Read the rows from the top."
	case q.Ask == course.Wrong:
		return "What came before is right."
	}
	return "What you did so far is right."
}

// mostBefore is how many rows of what came before are in sight.
const mostBefore = 4

// far and near are what came before: the rows that are looked up, and the last ones.
func (q asked) far() []string { return q.Before[:max(0, len(q.Before)-mostBefore)] }

func (q asked) near() []string { return q.Before[len(q.far()):] }

// label is an option; rows have their numbers.
func (q asked) label(p *procedure.Procedure, i int) string {
	text := p.Title(q.Options[i].Step)
	if q.Ask == course.Wrong {
		return strconv.Itoa(len(q.Before)+i+1) + ". " + text
	}
	return text
}

// chosen is the option that was chosen last.
func (q asked) chosen() *course.Option {
	if q.Answer.Choice < 1 || q.Answer.Choice > len(q.Options) {
		return nil
	}
	return &q.Options[q.Answer.Choice-1]
}

// verdict says of an answer whether it was right.
func (q asked) verdict(p *procedure.Procedure) string {
	o := q.chosen()
	said := "“" + p.Title(o.Step) + "”"
	switch {
	case o.Right && q.Ask == course.Next:
		return "Right: " + said + " may come next."
	case o.Right:
		return "Right: the fault is at " + said + "."
	case q.Ask == course.Next:
		return "Not yet: " + said + " may not come next."
	}
	return "Not yet: nothing is wrong with " + said + " where it stands. Look at what each row needs before it."
}

// others are the options that might not come next.
func (q asked) others() (all []course.Option) {
	for _, o := range q.Options {
		if q.Ask == course.Next && !o.Right && o.Breaks != nil {
			all = append(all, o)
		}
	}
	return all
}

// breaksFacts are the reasons of what the engine finds.
func breaksFacts(b *course.Finding) []Fact {
	return []Fact{{Term: "Why it matters", Text: b.Why}, {Term: "Next time", Text: b.Next}, {Term: "Rests on", Text: b.RestsOn(), Wide: true}}
}

// partDoneText says how the first answers were.
func partDoneText(p training.PartWay) string {
	if p.Mark.Questions == 0 {
		return ""
	}
	return fmt.Sprintf("%d of %d first answers were right. Every reason stays here to be read again.", p.Mark.RightFirst, p.Mark.Questions)
}
