package scenarios

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// mostCombinations of the facts of one scenario: each is proved at every start.
const mostCombinations = 16

type factYAML struct {
	Name    string       `yaml:"name"`
	Options []optionYAML `yaml:"options"`
}

type optionYAML struct {
	Value string `yaml:"value"` // in start, steps, events and cues
	Words string `yaml:"words"` // in the story
}

// facts reads what a seed decides, nothing when a fault makes it of no use.
func (y *scenarioYAML) facts(d *document) []simulate.Fact {
	var facts []simulate.Fact
	before, combinations := len(d.faults), 1
	for i, f := range y.Vary {
		at := func(field string) string { return fmt.Sprintf("vary.%d.%s", i, field) }
		if !action.ValidID(f.Name) || slices.ContainsFunc(facts, func(x simulate.Fact) bool { return x.Name == f.Name }) {
			d.fault(at("name"), "a fact needs a name of its own, of lower-case letters, digits and hyphens")
		}
		if len(f.Options) < 2 {
			d.fault(at("options"), "a fact has two options or more, or nothing varies")
		}
		facts = append(facts, simulate.Fact{Name: f.Name, Options: f.options(d, at("options"))})
		combinations *= max(1, len(f.Options))
		if !slices.ContainsFunc(y.texts(), func(s string) bool { return strings.Contains(s, "{"+f.Name+"}") }) {
			d.fault(at("name"), "{%s} stands nowhere in the scenario", f.Name)
		}
	}
	if combinations > mostCombinations {
		d.fault("vary", "%d combinations; %d is the most", combinations, mostCombinations)
	}
	if len(d.faults) > before {
		return nil
	}
	return facts
}

func (f *factYAML) options(d *document, path string) (options []simulate.Option) {
	for i, o := range f.Options {
		at := fmt.Sprintf("%s.%d", path, i)
		if !valuePattern.MatchString(o.Value) || strings.TrimSpace(o.Words) == "" {
			d.fault(at, "an option needs a value of lower-case letters, digits, hyphens and spaces, and words for the story")
		}
		if slices.ContainsFunc(options, func(x simulate.Option) bool { return x.Value == o.Value }) {
			d.fault(at, "option %q is there twice", o.Value)
		}
		options = append(options, simulate.Option(o))
	}
	return options
}

// texts are what the names of facts may stand in.
func (y *scenarioYAML) texts() []string {
	texts := slices.Concat([]string{y.Story}, y.Start, y.Steps, y.Without)
	for _, e := range y.Events {
		texts = append(texts, e.After, e.Happens)
	}
	return texts
}

// with is the scenario with facts put in.
func (y *scenarioYAML) with(facts []simulate.Fixed) *scenarioYAML {
	z := *y
	fill := func(list []string) (filled []string) {
		for _, s := range list {
			filled = append(filled, simulate.Fill(s, facts))
		}
		return filled
	}
	z.Story = simulate.FillWords(y.Story, facts)
	z.Start, z.Steps, z.Without, z.Events = fill(y.Start), fill(y.Steps), fill(y.Without), nil
	for _, e := range y.Events {
		z.Events = append(z.Events, eventYAML{simulate.Fill(e.After, facts), e.At, simulate.Fill(e.Happens, facts)})
	}
	return &z
}

var valuePattern = regexp.MustCompile(`^[a-z0-9][a-z0-9 -]{0,59}$`)

var named = regexp.MustCompile(`\{[^{}]*\}`)

// unfilled asks that no name of a fact is left in a story.
func (y *scenarioYAML) unfilled(d *document) {
	if name := named.FindString(y.Story); name != "" {
		d.fault("story", "%s is no fact that varies", name)
	}
}

// variants are a scenario's combinations, the first of which it is itself. The
// others' models are written from its cues when they are proved.
func (l *loader) variants(first *simulate.Scenario, d *document, y *scenarioYAML, p *procedure.Procedure) []*simulate.Scenario {
	all := []*simulate.Scenario{first}
	for _, facts := range simulate.Combinations(first.Vary)[1:] {
		filled := y.with(facts)
		s := filled.scenario(d, p, facts)
		l.checkFields(s.ID+".yaml", d, filled, p)
		all = append(all, s)
	}
	return all
}

// proveVariant writes the model of a variant and proves it. What its lines say wrong
// stands in no file, so the faults name the first line of the model that its cues
// are in.
func proveVariant(s *simulate.Scenario, model string, p *procedure.Procedure) (faults []error) {
	fault := func(err error) {
		faults = append(faults, &action.Fault{File: modelOf(s.ID + ".yaml"), Line: 1, Text: factWords(s.Facts) + ": " + err.Error()})
	}
	text, err := simulate.Model(p, s, simulate.CuesOf(model))
	if err != nil {
		fault(err)
		return faults
	}
	s.Model = text
	for _, err := range Prove(s, p) {
		fault(err)
	}
	return faults
}

func factWords(facts []simulate.Fixed) string {
	var words []string
	for _, f := range facts {
		words = append(words, f.Name+" = "+f.Value)
	}
	return "with " + strings.Join(words, ", ")
}
