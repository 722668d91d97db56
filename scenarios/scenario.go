package scenarios

import (
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
)

type scenarioYAML struct {
	ID        string      `yaml:"id"`
	Title     string      `yaml:"title"`
	Version   string      `yaml:"version"`
	Kind      string      `yaml:"kind"`
	Procedure string      `yaml:"procedure"`
	Level     int         `yaml:"level"`
	Product   string      `yaml:"product"`
	Pace      int         `yaml:"pace"`
	Story     string      `yaml:"story"`
	Start     []string    `yaml:"start"`
	Steps     []string    `yaml:"steps"`
	Without   []string    `yaml:"without"`       // instead of steps: all of the procedure's but these
	NoAreas   []string    `yaml:"without_areas"` // and but those of these areas
	Events    []eventYAML `yaml:"events"`
	Teaches   string      `yaml:"teaches"`
	Hidden    bool        `yaml:"hidden"` // the clinic does not want it
	Vary      []factYAML  `yaml:"vary"`

	// Of a find scenario: see find.go.
	Spoils   string        `yaml:"spoils"`
	Mistakes []mistakeYAML `yaml:"mistakes"`
	Plants   int           `yaml:"plants"`
}

type eventYAML struct {
	After   string `yaml:"after"`
	At      string `yaml:"at"`
	Happens string `yaml:"happens"`
}

// offered are the steps of the scenario.
func (y *scenarioYAML) offered(p *procedure.Procedure) (ids []string) {
	if len(y.Steps) > 0 {
		return y.Steps
	}
	for _, s := range p.Steps {
		if !slices.Contains(y.Without, s.ID) && !slices.Contains(y.NoAreas, s.Area) {
			ids = append(ids, s.ID)
		}
	}
	return ids
}

func (l *loader) scenario(name string) {
	text, ok := l.read(name)
	if !ok {
		return
	}
	var y scenarioYAML
	d, ok := read(name, text, &y)
	switch find := y.Kind == string(simulate.FindWrong); {
	case ok && find != l.finds: // its turn is another
		return
	case ok && find:
		l.checkFind(name, d, &y)
	case ok:
		l.checkScenario(name, d, &y)
	case l.finds: // told already
		return
	}
	l.faults = append(l.faults, d.faults...)
}

func (l *loader) checkScenario(name string, d *document, y *scenarioYAML) {
	p, ok := l.lib.procedures[y.Procedure]
	if !ok {
		l.unknownProcedure(d, "procedure", y.Procedure)
		return
	}
	y.follows(p, y.Product)
	facts := y.facts(d)
	if why := l.kept(y, p); why != "" {
		l.rest("scenario", y.ID, y.Title, why)
		return
	}
	facts = y.left(facts)
	fixed := simulate.Combinations(facts)[0]
	first := y.with(fixed)
	s := first.scenario(d, p, fixed)
	s.Vary = facts
	l.checkFields(name, d, first, p)
	if len(d.faults) > 0 {
		return
	}
	model, err := fs.ReadFile(l.files, modelOf(name))
	s.Model = string(model)
	all := l.variants(s, d, y, p)
	if len(facts) > 0 && (err == nil || l.how.blind()) {
		s.Variants = all
	}
	switch {
	case l.hides(y):
		return
	case l.how.blind() || len(d.faults) > 0:
	case l.how == following && err == nil:
		if why := proved(all, p); len(why) > 0 {
			l.restScenario(s.ID, s.Title, why)
			return
		}
	case err != nil:
		l.faults = append(l.faults, err)
	default:
		l.faults = append(l.faults, proveAll(all, p, s.Model)...)
	}
	l.lib.scenarios = append(l.lib.scenarios, s)
}

// kept gives the reason for which a scenario rests whatever its model says.
func (l *loader) kept(y *scenarioYAML, p *procedure.Procedure) (why string) {
	if !l.how.lenient() {
		return ""
	}
	return y.meets(p, l.goneFrom(p.ID))
}

// left are the facts with the options that are left of them.
func (y *scenarioYAML) left(facts []simulate.Fact) []simulate.Fact {
	for i := range facts {
		facts[i].Options = slices.DeleteFunc(facts[i].Options, func(o simulate.Option) bool {
			return !slices.Contains(y.Vary[i].Options, optionYAML(o))
		})
	}
	return facts
}

// scenario is what a file without open facts says.
func (y *scenarioYAML) scenario(d *document, p *procedure.Procedure, facts []simulate.Fixed) *simulate.Scenario {
	s := &simulate.Scenario{
		ID: y.ID, Title: y.Title, Version: y.Version, Kind: simulate.Kind(y.Kind), Procedure: y.Procedure, Level: y.Level,
		Story: strings.TrimSpace(y.Story), Product: y.Product, Start: d.acts("start", y.Start, p.Words), Steps: y.offered(p),
		Events: y.events(d, p), Pace: max(1, y.Pace), Teaches: strings.TrimSpace(y.Teaches), Facts: facts,
	}
	y.unfilled(d)
	if err := s.Seal(); err != nil {
		d.fault("id", "%v", err)
	}
	return s
}

// unknownProcedure is told only of what the set does not have: the faults of one
// that was refused are told already.
func (l *loader) unknownProcedure(d *document, path, id string) {
	if !l.there(id + procedureSuffix) {
		d.fault(path, "unknown procedure %q", id)
	}
}

// events reads what the world does.
func (y *scenarioYAML) events(d *document, p *procedure.Procedure) (all []simulate.Event) {
	for i, e := range y.Events {
		at := func(field string) string { return fmt.Sprintf("events.%d.%s", i, field) }
		event := simulate.Event{At: action.Untimed, After: e.After}
		act, err := action.ParseAct(e.Happens, p.Words)
		if err != nil {
			d.fault(at("happens"), "%v", err)
		} else if !simulate.Worldly(act) {
			d.fault(at("happens"), "%q is nothing that happens by itself, such as: the patient leaves or comes back, blood shows, an alarm sounds", e.Happens)
		}
		event.Act = act
		switch {
		case (e.After == "") == (e.At == ""):
			d.fault(at("happens"), "say after which step it happens, or at which time (m:ss)")
		case e.At != "" && y.Kind != string(simulate.TimedRun):
			d.fault(at("at"), "a scenario without a clock has no times; say after which step it happens")
		case e.At != "":
			var ok bool
			if event.At, ok = action.ParseTime(e.At); !ok {
				d.fault(at("at"), "%q is no time of the form m:ss", e.At)
			}
		case !slices.Contains(y.offered(p), e.After):
			d.fault(at("after"), "%q is no step that this scenario offers; nearest: %s", e.After, action.Nearest(e.After, y.offered(p)))
		}
		all = append(all, event)
	}
	return all
}

func (l *loader) checkFields(name string, d *document, y *scenarioYAML, p *procedure.Procedure) {
	if y.ID+".yaml" != name {
		d.fault("id", "%q must be the name of the file", y.ID)
	}
	y.checkWords(d)
	if k := simulate.Kind(y.Kind); k != simulate.BuildOrder && k != simulate.TimedRun {
		d.fault("kind", "%q is none of build, run, find", y.Kind)
	}
	if y.Spoils != "" || len(y.Mistakes) > 0 || y.Plants != 0 {
		d.fault("kind", "“spoils”, “mistakes” and “plants” are of a find scenario")
	}
	if y.Pace < 0 || y.Pace > 10 || y.Pace > 0 && y.Kind == string(simulate.BuildOrder) {
		d.fault("pace", "%d is not between 1 and 10, or the scenario has no clock", y.Pace)
	}
	if p.ProductIndex(y.Product) < 0 {
		d.fault("product", "unknown product %q; nearest: %s", y.Product, action.Nearest(y.Product, p.Words[action.Product]))
	}
	if (len(y.Steps) > 0) == (len(y.Without)+len(y.NoAreas) > 0) {
		d.fault("steps", "list the steps that are offered, or under “without” and “without_areas” those that are not")
	}
	checkNames(d, "steps", "step", y.Steps, p.StepIDs())
	checkNames(d, "without", "step", y.Without, p.StepIDs())
	checkNames(d, "without_areas", "area", y.NoAreas, areaIDs(p))
	l.coverSurfaces(d, y, p)
}

// checkWords looks at what every kind of scenario says of itself.
func (y *scenarioYAML) checkWords(d *document) {
	for field, text := range map[string]string{"title": y.Title, "version": y.Version, "story": y.Story} {
		if strings.TrimSpace(text) == "" {
			d.fault(field, "must not be empty")
		}
	}
	if y.Level < 1 || y.Level > 9 {
		d.fault("level", "%d is not between 1 and 9", y.Level)
	}
}

// checkNames asks that each name of a list is known and stands there once.
func checkNames(d *document, list, what string, names, known []string) {
	seen := map[string]bool{}
	for i, name := range names {
		path := fmt.Sprintf("%s.%d", list, i)
		if !slices.Contains(known, name) {
			d.fault(path, "unknown %s %q; nearest: %s", what, name, action.Nearest(name, known))
		}
		if seen[name] {
			d.fault(path, "%s %q is there twice", what, name)
		}
		seen[name] = true
	}
}

func areaIDs(p *procedure.Procedure) (ids []string) {
	for _, a := range p.Areas {
		ids = append(ids, a.ID)
	}
	return ids
}

// coverSurfaces asks for a step for every surface that must be wiped: a
// scenario without it could not be solved.
func (l *loader) coverSurfaces(d *document, y *scenarioYAML, p *procedure.Procedure) {
	wiped := map[string]bool{}
	for _, id := range y.offered(p) {
		if i := p.StepIndex(id); i >= 0 {
			for _, a := range p.Steps[i].Acts {
				if a.Verb == action.Wipe {
					wiped[a.Object] = true
				}
			}
		}
	}
	for _, s := range p.Surfaces {
		if !wiped[s.ID] {
			list := "steps"
			if len(y.Steps) == 0 {
				list = "without"
			}
			d.fault(list, "no step that is offered wipes surface %q", s.ID)
		}
	}
}

// Prove reports every way in which a scenario's model log falls short of full
// marks.
func Prove(s *simulate.Scenario, p *procedure.Procedure) []error {
	file := modelOf(s.ID + ".yaml")
	log, err := action.Parse(file, s.Model, p.Words)
	if err != nil {
		return []error{err}
	}
	var faults []error
	fault := func(act int, format string, args ...any) {
		line := 1
		if act > 0 {
			line = log.Acts[act-1].Line
		}
		faults = append(faults, &action.Fault{File: file, Line: line, Text: fmt.Sprintf(format, args...)})
	}
	result, err := rules.Assess(p, log, file)
	if err != nil {
		fault(0, "%v", err)
		return faults
	}
	for _, f := range result.Findings {
		fault(f.Act, "the model log breaks %s: %s", f.Rule, f.Message)
	}
	for _, g := range result.NotAssessed {
		fault(0, "the model log leaves %s open: %s", g.Rule, g.Reason)
	}
	if !ends(log) {
		fault(0, "the model log never declares the station ready, nor tags the machine out of use")
	}
	if clock := s.Clocked(); clock != log.Witness.Has(action.Clock|action.Drying) {
		fault(0, "a model log witnesses %q when its scenario is a %s", log.Witness, s.Kind)
	}
	if result.Marks.Result != assess.Pass && len(faults) == 0 {
		fault(0, "the model log does not pass")
	}
	return faults
}

// ends reports whether a log comes to an end: the station is ready, or may not be used.
func ends(log *action.Log) bool {
	return slices.ContainsFunc(log.Acts, func(a action.Act) bool { return a.Verb == action.DeclareReady || a.Verb == action.TagOut })
}

// modules checks the scenarios of a competency.
func (l *loader) modules(d *document, i int, c competencyYAML) {
	for j, id := range c.Scenarios {
		path := fmt.Sprintf("competencies.%d.scenarios.%d", i, j)
		s, ok := l.lib.Scenario(id)
		switch {
		case !ok && l.rests("scenario", id):
			l.rest("competency", c.ID, c.Title, fmt.Sprintf("it does not ask for scenario %q, which rests", id))
		case !ok && l.there(id+".yaml"): // its faults are told
		case !ok:
			d.fault(path, "unknown scenario %q", id)
		case s.Procedure != c.Procedure:
			d.fault(path, "scenario %q is of procedure %q, not of %q", id, s.Procedure, c.Procedure)
		case slices.Contains(c.Scenarios[:j], id):
			d.fault(path, "scenario %q is there twice", id)
		}
	}
}

// The shape of programme.yaml.
type programmeYAML struct {
	Competencies []competencyYAML `yaml:"competencies"`
}

type competencyYAML struct {
	ID             string   `yaml:"id"`
	Title          string   `yaml:"title"`
	Procedure      string   `yaml:"procedure"`
	Scenarios      []string `yaml:"scenarios"`
	Demonstrations int      `yaml:"demonstrations"`
	Recheck        int      `yaml:"recheck"`
	IntervalMonths int      `yaml:"interval_months"`
	NoticeDays     int      `yaml:"notice_days"`
	Basis          string   `yaml:"basis"`
	OnlyWatched    bool     `yaml:"only_watched"` // no standing and no sign-off
	Variants       string   `yaml:"variants"`     // of the station: one covers all, or each is shown
}

// What a competency says of the variants of its station.
const (
	oneCoversAll = "one covers all"
	eachVariant  = "each"
)

func (l *loader) programme() {
	text, ok := l.read(programmeFile)
	if !ok {
		return
	}
	var y programmeYAML
	d, ok := read(programmeFile, text, &y)
	if !ok {
		l.faults = append(l.faults, d.faults...)
		return
	}
	for i, c := range y.Competencies {
		at := func(field string) string { return fmt.Sprintf("competencies.%d.%s", i, field) }
		if !action.ValidID(c.ID) || c.Title == "" {
			d.fault(at("id"), "a competency needs an id of lower-case letters, digits and hyphens, and a title")
		}
		if slices.ContainsFunc(l.lib.competencies, func(x training.Competency) bool { return x.ID == c.ID }) {
			d.fault(at("id"), "%q is there twice", c.ID)
		}
		if _, ok := l.lib.procedures[c.Procedure]; !ok {
			l.unknownProcedure(d, at("procedure"), c.Procedure)
		}
		if !slices.Contains([]string{"", oneCoversAll, eachVariant}, c.Variants) {
			d.fault(at("variants"), "%q is none of %q, %q", c.Variants, oneCoversAll, eachVariant)
		}
		l.modules(d, i, c)
		for field, v := range map[string]int{"demonstrations": c.Demonstrations, "recheck": c.Recheck, "interval_months": c.IntervalMonths} {
			switch {
			case c.OnlyWatched && v != 0:
				d.fault(at(field), "what is only watched asks for nothing")
			case !c.OnlyWatched && (v < 1 || v > 60):
				d.fault(at(field), "%d is not between 1 and 60", v)
			}
		}
		if c.NoticeDays < 0 || c.NoticeDays > 365 {
			d.fault(at("notice_days"), "%d is not between 0 and 365", c.NoticeDays)
		}
		l.lib.competencies = append(l.lib.competencies, training.Competency{
			ID: c.ID, Title: c.Title, Procedure: c.Procedure, Scenarios: l.notResting(c.Scenarios), Demonstrations: c.Demonstrations,
			Recheck: c.Recheck, IntervalMonths: c.IntervalMonths, NoticeDays: c.NoticeDays, Basis: c.Basis, OnlyWatched: c.OnlyWatched,
			Variants: l.lib.variantIDs(c.Procedure), EachVariant: c.Variants == eachVariant,
		})
	}
	l.faults = append(l.faults, d.faults...)
}
