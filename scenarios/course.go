package scenarios

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"regexp"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess/rules"
	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

const courseFile = "course.yaml"

// leastQuestions is how many a lesson is written with at the least: fewer are guessed. Where
// a clinic does without what some of them ask for, one that is left is better than no lesson.
const leastQuestions = 3

// The shape of course.yaml.
type courseYAML struct {
	Words   []wordYAML   `yaml:"words"`
	Lessons []lessonYAML `yaml:"lessons"`
	Modules []moduleYAML `yaml:"modules"`
}

// wordYAML is a word of the trade. A lesson that uses it, or another form of it, shows it.
type wordYAML struct {
	Word  string   `yaml:"word"`
	Forms []string `yaml:"forms"`
	Means string   `yaml:"means"`
}

type lessonYAML struct {
	ID        string         `yaml:"id"`
	Title     string         `yaml:"title"`
	Scenario  string         `yaml:"scenario"`
	Text      []string       `yaml:"text"`
	Steps     []string       `yaml:"steps"`
	Pairs     [][]string     `yaml:"pairs"` // earlier, later
	Rules     []string       `yaml:"rules"`
	Questions []questionYAML `yaml:"questions"`
}

// questionYAML asks in one of two ways.
type questionYAML struct {
	ID    string   `yaml:"id"`
	Next  *askYAML `yaml:"next"`
	Wrong *askYAML `yaml:"wrong"`
}

type askYAML struct {
	Until   string   `yaml:"until"` // before: the model up to the first such step
	After   []string `yaml:"after"` // and then these
	Options []string `yaml:"options"`
	Steps   []string `yaml:"steps"`
}

// courseReader puts the course together.
type courseReader struct {
	*loader
	d       *document
	lessons map[string]*course.Lesson
	read    map[string]bool // lessons that a module reads
	words   []wordYAML
}

// course reads the course, where the set has one.
func (l *loader) course() {
	text, err := fs.ReadFile(l.files, courseFile)
	if errors.Is(err, fs.ErrNotExist) || l.how.blind() { // its keys rest on the models
		return
	}
	if err != nil {
		l.faults = append(l.faults, err)
		return
	}
	var y courseYAML
	d, ok := read(courseFile, text, &y)
	if ok && len(l.faults) == 0 {
		c := &courseReader{l, d, map[string]*course.Lesson{}, map[string]bool{}, y.Words}
		c.all(&y)
	}
	l.faults = append(l.faults, d.faults...)
}

func (c *courseReader) all(y *courseYAML) {
	c.explained()
	for i := range y.Lessons {
		c.lesson(fmt.Sprintf("lessons.%d.", i), &y.Lessons[i])
	}
	for i := range y.Modules {
		c.module(fmt.Sprintf("modules.%d.", i), &y.Modules[i])
	}
	for i, n := range y.Lessons {
		if !c.read[n.ID] {
			c.d.fault(fmt.Sprintf("lessons.%d.id", i), "no module reads lesson %q", n.ID)
		}
	}
	for i, w := range c.words {
		if c.how == following {
			break // a surface that is called otherwise is no fault of the words
		}
		uses := func(n *course.Lesson) bool {
			return slices.ContainsFunc(n.Words, func(x course.Word) bool { return x.Word == w.Word })
		}
		if !slices.ContainsFunc(slices.Collect(maps.Values(c.lessons)), uses) {
			c.d.fault(fmt.Sprintf("words.%d.word", i), "no lesson uses %q", w.Word)
		}
	}
	for _, need := range c.lib.competencies {
		c.tested(need)
	}
}

// explained asks that each word says what it means, once.
func (c *courseReader) explained() {
	seen := map[string]bool{}
	for i, w := range c.words {
		at := fmt.Sprintf("words.%d.word", i)
		if strings.TrimSpace(w.Word) == "" || strings.TrimSpace(w.Means) == "" {
			c.d.fault(at, "a word needs what it means")
		}
		if seen[w.Word] {
			c.d.fault(at, "%q is explained twice", w.Word)
		}
		seen[w.Word] = true
	}
}

// used are the words that a lesson uses in its text, its steps, what it asks for or its
// questions, by alphabet.
func (c *courseReader) used(n *course.Lesson) (all []course.Word) {
	ids := slices.Clone(n.Steps)
	for _, q := range n.Questions {
		for _, o := range q.Options {
			ids = append(ids, o.Step)
		}
	}
	texts := slices.Clone(n.Text)
	for _, id := range ids {
		texts = append(texts, n.Procedure.Title(id))
	}
	for _, d := range n.Demands() {
		texts = append(texts, d.What, d.Why)
	}
	text := strings.Join(texts, "\n")
	for _, w := range c.words {
		if stands(text, slices.Concat(w.Forms, []string{w.Word})) {
			all = append(all, course.Word{Word: w.Word, Means: w.Means})
		}
	}
	slices.SortFunc(all, func(a, b course.Word) int { return strings.Compare(a.Word, b.Word) })
	return all
}

// stands reports whether one of some words stands in a text as a word of its own.
func stands(text string, words []string) bool {
	for i, w := range words {
		words[i] = regexp.QuoteMeta(w)
	}
	return regexp.MustCompile(`(?i)\b(` + strings.Join(words, "|") + `)\b`).MatchString(text)
}

// names asks for an id of its own and for words.
func (c *courseReader) names(at, id, title string, taken bool) {
	if !action.ValidID(id) || strings.TrimSpace(title) == "" {
		c.d.fault(at+"id", "an id of lower-case letters, digits and hyphens is needed, and a title")
	}
	if taken {
		c.d.fault(at+"id", "%q is there twice", id)
	}
}

func (c *courseReader) lesson(at string, y *lessonYAML) {
	_, taken := c.lessons[y.ID]
	c.names(at, y.ID, y.Title, taken)
	if c.rests("scenario", y.Scenario) {
		c.rest("lesson", y.ID, y.Title, fmt.Sprintf("it is about scenario %q, which rests", y.Scenario))
		return
	}
	s, p := c.situation(at+"scenario", y.Scenario)
	if s == nil {
		return
	}
	c.d.knows = c.knowing(p.ID)
	y.Steps = c.shown(y.ID, p.ID, y.Steps)
	n := &course.Lesson{ID: y.ID, Title: y.Title, Scenario: s, Procedure: p, Steps: y.Steps, Rules: y.Rules}
	for _, text := range y.Text {
		n.Text = append(n.Text, strings.TrimSpace(text))
	}
	if len(n.Text) == 0 || slices.Contains(n.Text, "") {
		c.d.fault(at+"text", "a lesson needs its text, and no empty paragraph")
	}
	checkNames(c.d, at+"steps", "step", y.Steps, p.StepIDs())
	checkNames(c.d, at+"rules", "rule", y.Rules, rules.Names())
	c.pairs(at, y, n)
	c.questions(at, y, n)
	if len(n.Questions) == 0 && len(y.Questions) > 0 && c.how == following {
		c.rest("lesson", n.ID, n.Title, "none of its questions is left")
		return
	}
	n.Words = c.used(n)
	c.lessons[n.ID] = n
}

// shown are the steps that a lesson shows, without those that are gone, which are kept to be
// told.
func (c *courseReader) shown(lesson, procedure string, steps []string) []string {
	if c.how != following {
		return steps
	}
	return slices.DeleteFunc(steps, func(step string) bool {
		title := c.goneFrom(procedure)[step]
		if title != "" {
			c.lib.unshown[lesson] = append(c.lib.unshown[lesson], title)
		}
		return title != ""
	})
}

// situation finds a scenario with its procedure.
func (c *courseReader) situation(at, id string) (*simulate.Scenario, *procedure.Procedure) {
	s, ok := c.lib.Scenario(id)
	if !ok {
		c.d.fault(at, "unknown scenario %q; nearest: %s", id, action.Nearest(id, c.scenarioIDs()))
		return nil, nil
	}
	return s, c.lib.procedures[s.Procedure]
}

func (c *courseReader) scenarioIDs() (ids []string) {
	for _, s := range c.lib.scenarios {
		ids = append(ids, s.ID)
	}
	return ids
}

func (c *courseReader) pairs(at string, y *lessonYAML, n *course.Lesson) {
	for i, pair := range y.Pairs {
		known := len(pair) == 2 && slices.ContainsFunc(n.Procedure.Order, func(o procedure.Pair) bool { return o.Earlier == pair[0] && o.Later == pair[1] })
		if !known && len(pair) == 2 && c.how == following && c.d.knows(pair[0]) && c.d.knows(pair[1]) {
			continue // the clinic has dropped it
		}
		if !known {
			c.d.fault(fmt.Sprintf("%spairs.%d", at, i), "%v is no pair of the order of procedure %q", pair, n.Procedure.ID)
			continue
		}
		n.Pairs = append(n.Pairs, [2]string{pair[0], pair[1]})
	}
}

func (c *courseReader) questions(at string, y *lessonYAML, n *course.Lesson) {
	if len(y.Questions) < leastQuestions {
		c.d.fault(at+"id", "the lesson asks %d questions; %d are the least", len(y.Questions), leastQuestions)
	}
	for i, q := range y.Questions {
		path := fmt.Sprintf("%squestions.%d.", at, i)
		if _, taken := n.Question(q.ID); taken || !action.ValidID(q.ID) {
			c.d.fault(path+"id", "a question needs an id of its own in its lesson")
		}
		if (q.Next == nil) == (q.Wrong == nil) {
			c.d.fault(path+"id", "a question asks in one way: next or wrong")
			continue
		}
		keyed := c.question(path, &q, n)
		if len(c.d.rests) > 0 {
			c.rest("question", n.ID+"/"+q.ID, n.Title, reason(c.d.rests[0]))
			c.d.rests = nil
			continue
		}
		n.Questions = append(n.Questions, keyed)
	}
}

func (c *courseReader) question(at string, y *questionYAML, n *course.Lesson) course.Question {
	q, asked := course.Question{ID: y.ID, Ask: course.Next}, y.Next
	if y.Wrong != nil {
		q.Ask, asked = course.Wrong, y.Wrong
	}
	at += string(q.Ask)
	lost, ok := c.leaveOutOf(asked, n.Procedure.ID)
	about := fmt.Errorf("it asks about “%s”, which the procedure does not have any more", lost)
	if !ok {
		c.d.rests = append(c.d.rests, about)
		return q
	}
	steps, other := asked.Options, asked.Steps
	if q.Ask == course.Wrong {
		steps, other = other, steps
	}
	if len(steps) < 2 || len(other) > 0 {
		c.d.fault(at, "“next” has options and “wrong” has steps, two at the least")
		return q
	}
	for _, step := range steps {
		q.Options = append(q.Options, course.Option{Step: step})
	}
	if err := c.key(at, &q, asked, n); err != nil && lost != "" {
		c.d.rests = append(c.d.rests, about)
	} else if err != nil {
		c.d.cannot(at, fmt.Errorf("the key is not clear: %w", err), slices.Concat(asked.After, steps)...)
	}
	return q
}

// key asks the engine what is right, after what the model does before and what follows.
func (c *courseReader) key(at string, q *course.Question, asked *askYAML, n *course.Lesson) error {
	if asked.Until != "" {
		before, ok := course.Until(n.Scenario, asked.Until)
		if !ok {
			c.d.cannot(at+".until", fmt.Errorf("the model of scenario %q never does %q", n.Scenario.ID, asked.Until), asked.Until)
			return nil
		}
		q.Before = before
	}
	q.Before = append(q.Before, asked.After...)
	return q.Key(n.Procedure, n.Scenario, n.Rules)
}

// leaveOutOf takes the steps that a clinic does without out of what is asked, and tells the
// first of them; the engine says whether the rest has an answer. It reports whether there is
// a rest.
func (c *courseReader) leaveOutOf(asked *askYAML, procedure string) (lost string, ok bool) {
	gone := c.goneFrom(procedure)
	if c.how != following || len(gone) == 0 {
		return "", true
	}
	lost, ok = gone[asked.Until], gone[asked.Until] == ""
	left := func(steps []string) []string {
		return slices.DeleteFunc(slices.Clone(steps), func(step string) bool {
			lost = cmp.Or(lost, gone[step])
			return gone[step] != ""
		})
	}
	was := len(asked.Options) + len(asked.Steps)
	asked.After, asked.Options, asked.Steps = left(asked.After), left(asked.Options), left(asked.Steps)
	is := len(asked.Options) + len(asked.Steps)
	return lost, ok && (is > 1 || is == was)
}

// Modules returns the course.
func (l *Library) Modules() []course.Module { return l.modules }

// Module returns a module by id.
func (l *Library) Module(id string) (*course.Module, bool) {
	for i := range l.modules {
		if l.modules[i].ID == id {
			return &l.modules[i], true
		}
	}
	return nil, false
}

// confirmedCourse is the course over the confirmed procedures: what was advice there is a
// breach here.
func (l *Library) confirmedCourse() (modules []course.Module) {
	lessons := map[string]*course.Lesson{}
	for _, m := range l.modules {
		m.Parts = slices.Clone(m.Parts)
		for i := range m.Parts {
			n := m.Parts[i].Lesson
			if n == nil {
				m.Parts[i].Over(l.procedures[m.Parts[i].Scenario.Procedure])
				continue
			}
			if lessons[n.ID] == nil {
				under, err := n.Under(l.procedures[n.Procedure.ID])
				if err != nil {
					panic(fmt.Errorf("confirming the course: %w", err))
				}
				lessons[n.ID] = under
			}
			m.Parts[i].Lesson = lessons[n.ID]
		}
		modules = append(modules, m)
	}
	return modules
}
