package scenarios

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// A find scenario has a story of its own, and everything else from the scenario that it
// spoils. Of its mistakes each try has as many as it plants; its seed decides which:
//
//	kind: find
//	spoils: ordinary-turnover
//	plants: 3
//	mistakes:
//	  - {id: bare, drop: {step: rub-hands, before: gloves-on, nth: 2}}
//	  - {id: screen, put: {step: touch-screen, after: wipe-front}}
//	  - {id: bucket, move: {step: bucket-back, before: wipe-top}}
//	  - {id: hurry, change: {step: "until-reached:counter", to: "+20s"}}
//
// An edit is one of the cues of the model: drop and change name a step (or a wait), the
// nth that stands directly before or after another one, put and move a step and the nth
// place before or after which it goes. Nobody writes down what is wrong: the engine says
// it of every choice of mistakes, and the loader asks that it is clear.
type mistakeYAML struct {
	ID     string    `yaml:"id"`
	Drop   *editYAML `yaml:"drop"`
	Put    *editYAML `yaml:"put"`
	Move   *editYAML `yaml:"move"`
	Change *editYAML `yaml:"change"`
}

type editYAML struct {
	Step   string `yaml:"step"`
	To     string `yaml:"to"`
	Before string `yaml:"before"`
	After  string `yaml:"after"`
	Nth    int    `yaml:"nth"` // 0 is the first
}

// mostFindings that one mistake may have as its consequences.
const mostFindings = 2

func (l *loader) checkFind(name string, d *document, y *scenarioYAML) {
	if y.ID+".yaml" != name {
		d.fault("id", "%q must be the name of the file", y.ID)
	}
	y.checkWords(d)
	for field, has := range map[string]bool{"procedure": y.Procedure != "", "product": y.Product != "", "pace": y.Pace != 0, "start": len(y.Start) > 0,
		"steps": len(y.Steps) > 0, "without": len(y.Without) > 0, "without_areas": len(y.NoAreas) > 0, "events": len(y.Events) > 0, "vary": len(y.Vary) > 0} {
		if has {
			d.fault(field, "a find scenario has this from the scenario that it spoils")
		}
	}
	if l.rests("scenario", y.Spoils) {
		l.rest("scenario", y.ID, y.Title, fmt.Sprintf("it spoils scenario %q, which rests", y.Spoils))
		return
	}
	base := l.spoilt(d, y)
	if base == nil || len(d.faults) > 0 {
		return
	}
	d.knows = l.knowing(base.Procedure)
	y.follows(l.lib.procedures[base.Procedure], base.Product)
	first := l.found(d, y, base)
	switch {
	case len(d.faults) > 0 || first == nil && len(d.rests) == 0:
	case len(d.rests) > 0:
		l.restScenario(y.ID, y.Title, d.rests)
	case l.hides(y):
	default:
		l.lib.scenarios = append(l.lib.scenarios, first)
	}
}

// found is a find scenario that is clear, unless there are faults or reasons to rest.
func (l *loader) found(d *document, y *scenarioYAML, base *simulate.Scenario) *simulate.Scenario {
	mistakes := y.mistakes(d, base)
	if len(d.faults) > 0 {
		return nil
	}
	f := &finder{d: d, p: l.lib.procedures[base.Procedure], base: base, all: mistakes, alone: map[string][]string{}}
	first := y.find(d, base, mistakes)
	if len(d.rests) == 0 {
		f.proveAll(first)
	}
	if len(d.rests) > 0 {
		return f.fewer(y, first)
	}
	return first
}

// fewer is the scenario without the mistakes that are none any more, with as many planted as
// those that are left allow; the reasons stay where there is no choice between them.
func (f *finder) fewer(y *scenarioYAML, first *simulate.Scenario) *simulate.Scenario {
	why := f.d.rests
	left := f.clear(first)
	less := *y
	for less.Plants = min(y.Plants, len(left)-1); less.Plants > 0; less.Plants-- {
		for i := range len(left) + 1 { // all of them, then without one
			some := slices.Clone(left)
			if i > 0 {
				some = slices.Delete(some, i-1, i)
			}
			if len(some) <= less.Plants { // every try would be the same
				continue
			}
			f.d.rests, f.all = nil, some
			s := less.find(f.d, f.base, some)
			if f.proveAll(s); !f.failed() {
				return s
			}
		}
	}
	f.d.rests = why
	return nil
}

// clear are the mistakes that are breaches by themselves.
func (f *finder) clear(first *simulate.Scenario) (left []simulate.Mistake) {
	for _, m := range f.all {
		f.d.rests = nil
		one := []simulate.Mistake{m}
		if found := len(f.breaches(first, one)); m.Out+m.In > -2 && found > 0 && found <= mostFindings && !f.failed() {
			left = append(left, m)
		}
	}
	return left
}

// proveAll proves the variants up to the first that is not clear: one choice is enough to
// mend.
func (f *finder) proveAll(first *simulate.Scenario) {
	for _, s := range first.Variants {
		if f.prove(s); f.failed() {
			return
		}
	}
}

// spoilt is the scenario that is spoilt, nil when there is none to use: the faults of
// one that was refused are told already.
func (l *loader) spoilt(d *document, y *scenarioYAML) *simulate.Scenario {
	base, ok := l.lib.Scenario(y.Spoils)
	switch {
	case !ok && (len(l.faults) == 0 || !l.there(y.Spoils+".yaml")):
		d.fault("spoils", "there is no build or run scenario %q", y.Spoils)
		return nil
	case !ok || base.Model == "":
		return nil
	case base.Kind == simulate.FindWrong:
		d.fault("spoils", "scenario %q is one to find in itself", y.Spoils)
		return nil
	case len(base.Vary) > 0:
		d.fault("spoils", "scenario %q varies, which its mistakes alone may do: take one that does not", y.Spoils)
		return nil
	}
	return base
}

func (y *scenarioYAML) mistakes(d *document, base *simulate.Scenario) (all []simulate.Mistake) {
	cues := simulate.CuesOf(base.Model)
	for i := range y.Mistakes {
		at := fmt.Sprintf("mistakes.%d", i)
		m := y.Mistakes[i].read(d, at, base, cues)
		if !action.ValidID(m.ID) || slices.ContainsFunc(all, func(x simulate.Mistake) bool { return x.ID == m.ID }) {
			d.fault(at+".id", "a mistake needs an id of its own, of lower-case letters, digits and hyphens")
		}
		all = append(all, m)
	}
	if y.Plants < 1 || y.Plants > len(all) {
		d.fault("plants", "%d is not between 1 and the %d mistakes that there are", y.Plants, len(all))
		return nil
	}
	switch n := len(simulate.Plantings(all, y.Plants).Options); {
	case n > mostCombinations:
		d.fault("plants", "%d combinations; %d is the most", n, mostCombinations)
	case n < 2:
		d.fault("plants", "every try is the same: plant fewer, or think of more mistakes")
	}
	return all
}

// read finds the places of an edit in the model's cues.
func (y *mistakeYAML) read(d *document, at string, base *simulate.Scenario, cues []string) simulate.Mistake {
	m := simulate.Mistake{ID: y.ID, Out: -1, In: -1}
	var verb string
	var e *editYAML
	for name, edit := range map[string]*editYAML{"drop": y.Drop, "put": y.Put, "move": y.Move, "change": y.Change} {
		if edit != nil && e != nil {
			e = nil
			break
		}
		if edit != nil {
			verb, e = name, edit
		}
	}
	if e == nil {
		d.fault(at, "a mistake is one of drop, put, move, change")
		return m
	}
	at += "." + verb
	if (e.To != "") != (verb == "change") {
		d.fault(at, "“change” says to what, and nothing else does")
		return m
	}
	if err := e.places(&m, verb, base, cues); err != nil {
		d.cannot(at, err, e.Step, e.To, e.Before, e.After)
	}
	return m
}

// places are where a mistake takes out, and where it puts in.
func (e *editYAML) places(m *simulate.Mistake, verb string, base *simulate.Scenario, cues []string) (err error) {
	nth := max(1, e.Nth)
	switch verb {
	case "drop", "change":
		if m.Out, err = simulate.Place(cues, e.Step, e.Before, e.After, nth); err != nil {
			return err
		}
		if verb == "change" {
			m.In, m.Cue = m.Out, e.To
			return offered(base, e.To)
		}
		return nil
	case "move":
		if m.Out, err = simulate.Place(cues, e.Step, "", "", 1); err != nil {
			return err
		}
		if _, again := simulate.Place(cues, e.Step, "", "", 2); again == nil {
			return fmt.Errorf("%s stands more than once in the model; move takes what stands once", e.Step)
		}
	}
	if (e.Before == "") == (e.After == "") {
		return errors.New("say before or after what it goes")
	}
	m.Cue = e.Step
	m.In, err = simulate.Place(cues, e.Before+e.After, "", "", nth)
	if e.After != "" {
		m.In++
	}
	return errors.Join(err, offered(base, e.Step))
}

// offered asks that a cue is a step of the scenario; a wait is looked at when it is played.
func offered(base *simulate.Scenario, cue string) error {
	if strings.ContainsAny(cue, "+:") || slices.Contains(base.Steps, cue) {
		return nil
	}
	return fmt.Errorf("%q is no step that scenario %q offers; nearest: %s", cue, base.ID, action.Nearest(cue, base.Steps))
}

// find is the first of a scenario's choices of mistakes, with all of them.
func (y *scenarioYAML) find(d *document, base *simulate.Scenario, mistakes []simulate.Mistake) *simulate.Scenario {
	which := simulate.Plantings(mistakes, y.Plants)
	var all []*simulate.Scenario
	for _, facts := range simulate.Combinations([]simulate.Fact{which}) {
		s := *base
		s.ID, s.Title, s.Version, s.Kind, s.Level = y.ID, y.Title, y.Version, simulate.FindWrong, y.Level
		s.Story, s.Teaches = strings.TrimSpace(y.Story), strings.TrimSpace(y.Teaches)
		s.Spoils, s.Timed, s.Facts = base.ID, base.Clocked(), facts
		s.Planted = simulate.Planting(mistakes, facts[0].Option)
		s.Cues = simulate.Spoil(simulate.CuesOf(base.Model), s.Planted)
		if err := s.Seal(); err != nil {
			d.fault("id", "%v", err)
		}
		all = append(all, &s)
	}
	all[0].Vary, all[0].Variants = []simulate.Fact{which}, all
	return all[0]
}

// finder proves that what is to be found in a work is clear.
type finder struct {
	d    *document
	p    *procedure.Procedure
	base *simulate.Scenario
	all  []simulate.Mistake

	alone map[string][]string // breaches of one mistake by itself, which choices share
}

// fault is told at a mistake's line where it is one's, and with the names of all planted.
func (f *finder) fault(planted []simulate.Mistake, format string, args ...any) {
	at, names := "mistakes", ""
	for _, m := range planted {
		names += " " + m.ID
	}
	if len(planted) == 1 {
		at = fmt.Sprintf("mistakes.%d", slices.IndexFunc(f.all, func(m simulate.Mistake) bool { return m.ID == planted[0].ID }))
	}
	f.d.cannot(at, fmt.Errorf("with%s: %s", names, fmt.Sprintf(format, args...)))
}

func (f *finder) failed() bool { return len(f.d.faults)+len(f.d.rests) > 0 }

// prove asks that each mistake of a variant is a breach by itself, at a row, that it has
// few consequences, and that no two of them hide or change one another.
func (f *finder) prove(s *simulate.Scenario) {
	var apart []string
	for _, m := range s.Planted {
		one := []simulate.Mistake{m}
		switch alone := f.ofOne(s, one); {
		case f.failed():
			return
		case len(alone) == 0:
			f.fault(one, "this is no breach")
		case len(alone) > mostFindings:
			f.fault(one, "this is %d breaches, %d is the most: %s", len(alone), mostFindings, strings.Join(alone, "; "))
		default:
			apart = append(apart, alone...)
		}
	}
	together := f.breaches(s, s.Planted)
	if slices.Sort(apart); !f.failed() && !slices.Equal(apart, together) {
		f.fault(s.Planted, "together they are told otherwise than apart: %s, not %s", strings.Join(together, "; "), strings.Join(apart, "; "))
	}
}

func (f *finder) ofOne(s *simulate.Scenario, one []simulate.Mistake) []string {
	found, ok := f.alone[one[0].ID]
	if !ok {
		found = f.breaches(s, one)
		f.alone[one[0].ID] = found
	}
	return found
}

// breaches are what is found in the base with some mistakes, each by rule and target: the
// rows and times move with the other mistakes.
func (f *finder) breaches(s *simulate.Scenario, planted []simulate.Mistake) (all []string) {
	with := *s
	with.Cues = simulate.Spoil(simulate.CuesOf(f.base.Model), planted)
	played, _, err := simulate.Play(f.p, &with, with.Cues)
	if err != nil {
		f.fault(planted, "%v", err)
		return nil
	}
	whole, err := rules.Assess(f.p, played.Log, s.ID)
	if err != nil {
		f.fault(planted, "%v", err)
		return nil
	}
	for _, g := range whole.NotAssessed {
		f.fault(planted, "this leaves %s open: %s", g.Rule, g.Reason)
	}
	for _, same := range assess.SaidOnce(whole.Breaches()) {
		if same[0].Act == 0 {
			f.fault(planted, "this is told only at the end, at no row: %s", same[0].Message)
		}
		all = append(all, strings.TrimSpace(same[0].Rule+" "+same[0].Surface+same[0].Worn))
	}
	slices.Sort(all)
	return all
}
