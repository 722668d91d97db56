package views

import (
	"fmt"
	"slices"
	"strconv"

	"stillwet/internal/assess"
	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
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

// OnwardFrom is the way on through the course from a part of a module, nil when there is
// none.
func OnwardFrom(ways []training.ModuleWay, module string, part int) *Onward {
	w, p, ok := training.GoOnFrom(ways, module, part)
	if !ok {
		return nil
	}
	return &Onward{PartURL(w.Module, w.Parts[p].Part), goOnText(w.Parts[p].Part), w.Module.Title + ". " + partText(w, p)}
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
	return Title{Up: &Link{ModuleURL(p.Way.Module), p.Way.Module.Title}, Kicker: fmt.Sprintf("Part %d of %d · %s, about %s", p.Part+1, len(p.Way.Parts), kindTitle(part.Part),
		count(part.Part.Minutes, "minute", "minutes")), Heading: part.Part.Title()}
}

// asked is a question with what was answered last.
type asked struct {
	*course.Question
	No, Of int
	Answer training.CourseAnswer // the newest, zero while there is none
	First  training.CourseAnswer // the first of all
	Tries  int
	Right  bool   // at some time
	seed   string // the order of its options
}

// url is where an answer is sent to.
func (l Lesson) url() string { return partPageURL(l.Page) }

func partPageURL(p training.PartPage) string {
	return PartURL(p.Way.Module, p.Way.Parts[p.Part].Part)
}

func allParts(m *course.Module) Link { return Link{ModuleURL(m), "All parts of “" + m.Title + "”"} }

// questions are all of the lesson.
func (l Lesson) questions() (all []asked) {
	n := l.lesson()
	for i := range n.Questions {
		q := asked{Question: &n.Questions[i], No: i + 1, Of: len(n.Questions)}
		q.Answer, _ = l.Page.Latest(q.ID)
		q.First, q.Tries = l.Page.First(q.ID)
		q.seed = l.Page.PersonID + " " + n.ID + " " + q.ID
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
		return "Read the rows from the top. The wrong one is the first that may not come yet, or not like this."
	case q.Ask == course.Wrong:
		return "What came before is right. The wrong row is the first that may not come yet, or not like this."
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

// shown are the places of the options as they stand on the page. Those of what may come
// next stand for each person in an order of her own: nobody learns an answer by its place.
func (q asked) shown() []int {
	places, steps := make([]int, len(q.Options)), make([]string, len(q.Options))
	for i, o := range q.Options {
		places[i], steps[i] = i, o.Step
	}
	if q.Ask == course.Next {
		for i, step := range simulate.Shuffled(q.seed, steps, nil) {
			places[i] = slices.Index(steps, step)
		}
	}
	return places
}

// chosenText says of an option what became of it.
func (q asked) chosenText(i int) string {
	switch first, last := q.First.Choice == i+1, q.Answer.Choice == i+1; {
	case first && q.Tries == 1:
		return "your answer"
	case first && last:
		return "your first answer, and your last"
	case first:
		return "your first answer"
	case last:
		return "your last answer"
	}
	return ""
}

// heading is a question that was answered, in one line.
func (q asked) heading() string {
	how := "right at once"
	if !q.First.Right {
		how = "right after " + count(q.Tries, "answer", "answers")
	}
	return q.place() + " · " + q.title() + " · " + how
}

// wordFacts are words of the trade with what they mean.
func wordFacts(all []course.Word) (facts []Fact) {
	for _, w := range all {
		facts = append(facts, Fact{Term: procedure.Capital(w.Word), Text: w.Means})
	}
	return facts
}

// breaksFacts are the reasons of what the engine finds.
func breaksFacts(b *course.Finding) []Fact {
	return []Fact{{Term: "Why it matters", Text: b.Why}, {Term: "Next time", Text: b.Next}}
}

// partDoneText says how the first answers were.
func partDoneText(p training.PartWay) string {
	if p.Mark.Questions == 0 {
		return ""
	}
	return fmt.Sprintf("%d of %d first answers were right. Every reason stays here to be read again.", p.Mark.RightFirst, p.Mark.Questions)
}

// ModuleView is a module as one person has it.
type ModuleView struct{ Way training.ModuleWay }

// state says how far the module has come.
func (m ModuleView) state() string {
	text := wayState(m.Way) + "."
	if n := m.Way.Open(); n > 0 && m.Way.Next >= 0 {
		text += " About " + count(n, "minute", "minutes") + " are left, in paid time."
	}
	return text
}

// passTexts say what it takes to pass a module.
var passTexts = map[course.PassRule]string{course.EachOnce: "Each test passed once. Try as often as you like.", course.EachTwice: "Each test passed on two different days. Try as often as you like."}

func (m ModuleView) facts() []Fact {
	return []Fact{{Term: "To pass", Text: passTexts[m.Way.Module.Pass]}, {Term: "All of it takes", Text: "about " + count(m.Way.Module.Minutes(), "minute", "minutes")},
		{Term: "Practice", Text: "It counts for nothing but practice, and you may leave it out. You, your preceptor and the educator see it."}}
}

// stationNames is the picture of a station with nothing but names.
func stationNames(p *procedure.Procedure, mirrored bool) Drawing {
	d := Drawing{Picture: pictureOf(p), Title: "The " + p.Station + " and its parts", Desc: "The names of the surfaces that are wiped.", Mirrored: mirrored && mirrors(p)}
	for _, x := range p.Surfaces {
		d.Shapes = append(d.Shapes, Shape{ID: x.ID, Title: x.Title, Name: p.NameOf(x.ID)})
	}
	return d
}
