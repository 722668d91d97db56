package scenarios

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
)

type moduleYAML struct {
	ID             string     `yaml:"id"`
	Title          string     `yaml:"title"`
	About          string     `yaml:"about"`
	CountsFor      string     `yaml:"counts_for"`
	Pass           string     `yaml:"pass"`
	StartsWithTest bool       `yaml:"starts_with_test"`
	Parts          []stepPart `yaml:"parts"`
}

// stepPart is one part: one of the four, and how long it takes.
type stepPart struct {
	Read     string `yaml:"read"` // lesson
	Watch    string `yaml:"watch"`
	Practise string `yaml:"practise"`
	Test     string `yaml:"test"`
	Minutes  int    `yaml:"minutes"`
}

func (c *courseReader) module(at string, y *moduleYAML) {
	m := course.Module{ID: y.ID, Title: y.Title, About: strings.TrimSpace(y.About), Pass: course.PassRule(y.Pass), CountsFor: y.CountsFor, StartsWithTest: y.StartsWithTest}
	_, taken := c.lib.Module(m.ID)
	c.names(at, m.ID, m.Title, taken)
	if m.About == "" {
		c.d.fault(at+"about", "must say in a sentence what the module teaches")
	}
	if m.Pass != course.EachOnce && m.Pass != course.EachTwice {
		c.d.fault(at+"pass", "%q is none of %s, %s", y.Pass, course.EachOnce, course.EachTwice)
	}
	if known := func(x training.Competency) bool { return x.ID == m.CountsFor }; m.CountsFor != "" && !slices.ContainsFunc(c.lib.competencies, known) {
		c.d.fault(at+"counts_for", "unknown competency %q", m.CountsFor)
	}
	for i, part := range y.Parts {
		if !c.partRests(&part, &m) {
			c.part(fmt.Sprintf("%sparts.%d", at, i), &part, &m)
		}
	}
	switch {
	case len(m.Tests()) == 0 && len(m.Parts) < len(y.Parts) && c.how == following && len(c.lib.resting) > 0:
		c.rest("module", m.ID, m.Title, "all of its tests rest"+shelved(&m))
		return
	case len(m.Tests()) == 0:
		c.d.fault(at+"parts", "a module needs a test")
	case m.StartsWithTest && m.Parts[0].Kind != course.Test:
		c.d.fault(at+"parts.0", "this module starts with its test")
	}
	c.lib.modules = append(c.lib.modules, m)
}

// shelved tells what goes with a module that cannot be passed: it would be gone unseen.
func shelved(m *course.Module) string {
	words := map[course.Kind]string{course.Read: "to read", course.Watch: "to watch", course.Practise: "to practise"}
	var left []string
	for _, p := range m.Parts {
		left = append(left, quote(p.Title())+" "+words[p.Kind])
	}
	if len(left) == 0 {
		return "" // there is nothing else
	}
	return "; not shown with them: " + strings.Join(left, ", ")
}

// partRests reports whether what a part needs rests; then it does as well.
func (c *courseReader) partRests(y *stepPart, m *course.Module) bool {
	of, kind, id := "scenario", string(course.Test), cmp.Or(y.Watch, y.Practise, y.Test)
	if y.Read != "" {
		of, kind, id = "lesson", string(course.Read), y.Read
		c.read[id] = true
	}
	switch id {
	case y.Watch:
		kind = string(course.Watch)
	case y.Practise:
		kind = string(course.Practise)
	}
	if !c.rests(of, id) {
		return false
	}
	c.rest("part", m.ID+"/"+kind+"-"+id, m.Title, fmt.Sprintf("it needs %s %q, which rests", of, id))
	return true
}

func (c *courseReader) part(at string, y *stepPart, m *course.Module) {
	var p course.Part
	named := 0
	for _, k := range []struct {
		kind course.Kind
		id   string
	}{{course.Read, y.Read}, {course.Watch, y.Watch}, {course.Practise, y.Practise}, {course.Test, y.Test}} {
		if k.id == "" {
			continue
		}
		named++
		p.Kind = k.kind
		if k.kind == course.Read {
			if p.Lesson = c.lessons[k.id]; p.Lesson == nil {
				c.d.fault(at+".read", "unknown lesson %q", k.id)
				return
			}
			c.read[k.id] = true
			continue
		}
		var over *procedure.Procedure
		if p.Scenario, over = c.situation(at+"."+string(k.kind), k.id); p.Scenario == nil {
			return
		}
		if k.kind == course.Watch && p.Scenario.Kind == simulate.FindWrong {
			c.d.fault(at+".watch", "there is nothing to watch in scenario %q: its work is not right", k.id)
			return
		}
		p.Over(over)
	}
	if named != 1 {
		c.d.fault(at, "a part is one of read, watch, practise, test")
		return
	}
	if p.Minutes = y.Minutes; p.Minutes < 1 || p.Minutes > 120 {
		c.d.fault(at, "%d minutes is not between 1 and 120", p.Minutes)
	}
	if m.Part(p.ID()) >= 0 {
		c.d.fault(at, "%s is there twice", p.ID())
	}
	m.Parts = append(m.Parts, p)
}

// tested asks that what a competency takes is a test of the modules that count for it:
// whoever goes through the course has then done it all.
func (c *courseReader) tested(need training.Competency) {
	if need.OnlyWatched {
		return
	}
	var tests []string
	for _, m := range c.lib.modules {
		if m.CountsFor == need.ID && !m.StartsWithTest {
			tests = append(tests, m.Tests()...)
		}
	}
	for _, id := range need.Scenarios {
		if !slices.Contains(tests, id) {
			c.d.fault("modules", "competency %q takes scenario %q, which is no test of a module that counts for it", need.ID, id)
		}
	}
}
