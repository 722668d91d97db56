// Package course is what a new hire goes through before somebody watches them: modules
// of parts to read, watch, practise and be tested in. Lessons are made from a
// procedure's own rows; their questions are keyed by the engine, so that no answer here
// can differ from what a scenario would say. It has no clock and no storage.
package course

import (
	"slices"
	"strings"
	"sync"

	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// Module is a piece of the course with its parts in order.
type Module struct {
	ID, Title string
	About     string // what it teaches, in a sentence
	Parts     []Part
	Pass      PassRule
	CountsFor string // competency id, "" for none
	// StartsWithTest: the tests come first, and only what they missed opens lessons.
	StartsWithTest bool
}

// PassRule is what it takes to pass the tests of a module.
type PassRule string

// The pass rules. Tries are unlimited.
const (
	EachOnce  PassRule = "each test once"
	EachTwice PassRule = "each test twice on different days"
)

// Kind of a part.
type Kind string

// The kinds.
const (
	Read     Kind = "read"
	Watch    Kind = "watch"
	Practise Kind = "practise"
	Test     Kind = "test"
)

// Kinds are all of them, in the order in which they are usually done.
var Kinds = []Kind{Read, Watch, Practise, Test}

// Part is one thing to do: a lesson to read, or a scenario to watch, practise or be
// tested in.
type Part struct {
	Kind     Kind
	Minutes  int
	Lesson   *Lesson            // of read
	Scenario *simulate.Scenario // of the others
	// Example is the scenario's model, act by act: made when it is first asked for, which
	// takes as many judgements as it has acts.
	Example func() ([]Shown, error)
}

// Over lets a part that is watched be played over a procedure.
func (p *Part) Over(of *procedure.Procedure) {
	if s := p.Scenario; p.Kind == Watch {
		p.Example = sync.OnceValues(func() ([]Shown, error) { return Example(of, s) })
	}
}

// ID names a part within its module.
func (p *Part) ID() string { return string(p.Kind) + "-" + p.of() }

func (p *Part) of() string {
	if p.Kind == Read {
		return p.Lesson.ID
	}
	return p.Scenario.ID
}

// Title is that of what is read, watched or done.
func (p *Part) Title() string {
	if p.Kind == Read {
		return p.Lesson.Title
	}
	return p.Scenario.Title
}

// Minutes is how long the parts of a module take together.
func (m *Module) Minutes() (n int) {
	for i := range m.Parts {
		n += m.Parts[i].Minutes
	}
	return n
}

// Part finds a part by its id, -1 when there is none.
func (m *Module) Part(id string) int {
	return slices.IndexFunc(m.Parts, func(p Part) bool { return p.ID() == id })
}

// Tests are the scenarios that are tests of the module.
func (m *Module) Tests() (ids []string) {
	for i := range m.Parts {
		if m.Parts[i].Kind == Test {
			ids = append(ids, m.Parts[i].Scenario.ID)
		}
	}
	return ids
}

// Lessons are those that are read in the module.
func (m *Module) Lessons() (all []*Lesson) {
	for i := range m.Parts {
		if m.Parts[i].Kind == Read {
			all = append(all, m.Parts[i].Lesson)
		}
	}
	return all
}

// Words are those of the lessons of a module, each once.
func (m *Module) Words() (all []Word) {
	for _, l := range m.Lessons() {
		for _, w := range l.Words {
			if !slices.Contains(all, w) {
				all = append(all, w)
			}
		}
	}
	slices.SortFunc(all, func(a, b Word) int { return strings.Compare(a.Word, b.Word) })
	return all
}

// Lesson is a page of the procedure with questions.
type Lesson struct {
	ID, Title string
	Text      []string // paragraphs
	// Scenario is the situation in which its questions are asked; its procedure is the
	// one that the page is made from.
	Scenario  *simulate.Scenario
	Procedure *procedure.Procedure
	Steps     []string    // of the procedure, shown
	Pairs     [][2]string // order pairs, earlier and later, shown
	Rules     []string    // shown with their reasons; a breach of one opens the lesson again
	Words     []Word      // of the trade, that it uses
	Questions []Question
}

// Word is a word of the trade with what it means.
type Word struct{ Word, Means string }

// Ask is how a question asks.
type Ask string

// The ways: which of the options may come next; which of the rows is wrong.
const (
	Next  Ask = "next"
	Wrong Ask = "wrong"
)

// Question is one question with its key.
type Question struct {
	ID      string
	Ask     Ask
	Before  []string // what was done before, rightly: step ids
	Sees    []string // sentences: how the station then is, as far as anybody sees it
	Options []Option // what may be chosen; the rows in their order when one of them is wrong
}

// Option is one answer with what the engine says of it.
type Option struct {
	Step   string
	Right  bool     // the one to choose, or one of those
	Breaks *Finding // what the engine finds in it, nil for nothing
}

// Finding is what the engine says, for the learner.
type Finding struct {
	Rule, Message, Why, Next, Source string
	Advice                           bool
}

// Question finds a question by its id.
func (l *Lesson) Question(id string) (*Question, bool) {
	for i := range l.Questions {
		if l.Questions[i].ID == id {
			return &l.Questions[i], true
		}
	}
	return nil, false
}

// Teaches reports whether a lesson speaks of one of some rules.
func (l *Lesson) Teaches(rules map[string]bool) bool {
	return slices.ContainsFunc(l.Rules, func(r string) bool { return rules[r] })
}
