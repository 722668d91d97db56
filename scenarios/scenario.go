package scenarios

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
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
	ID        string   `yaml:"id"`
	Title     string   `yaml:"title"`
	Version   string   `yaml:"version"`
	Kind      string   `yaml:"kind"`
	Procedure string   `yaml:"procedure"`
	Level     int      `yaml:"level"`
	Product   string   `yaml:"product"`
	Pace      int      `yaml:"pace"`
	Story     string   `yaml:"story"`
	Start     []string `yaml:"start"`
	Steps     []string `yaml:"steps"`
}

func (l *loader) scenario(name string) {
	text, ok := l.read(name)
	if !ok {
		return
	}
	var y scenarioYAML
	d, ok := read(name, text, &y)
	if ok {
		l.checkScenario(name, d, &y)
	}
	l.faults = append(l.faults, d.faults...)
}

func (l *loader) checkScenario(name string, d *document, y *scenarioYAML) {
	p, ok := l.lib.procedures[y.Procedure]
	if !ok {
		d.fault("procedure", "unknown procedure %q", y.Procedure)
		return
	}
	sum := sha256.Sum256(d.text)
	s := &simulate.Scenario{
		ID: y.ID, Title: y.Title, Version: y.Version, Kind: simulate.Kind(y.Kind), Procedure: y.Procedure, Level: y.Level,
		Story: strings.TrimSpace(y.Story), Product: y.Product, Start: d.acts("start", y.Start, p.Words), Steps: y.Steps,
		Pace: max(1, y.Pace), Hash: hex.EncodeToString(sum[:]),
	}
	l.checkFields(name, d, y, p)
	model, ok := l.read(modelOf(name))
	if !ok || len(d.faults) > 0 {
		return
	}
	s.Model = string(model)
	l.faults = append(l.faults, proveModel(modelOf(name), s, p)...)
	l.lib.scenarios = append(l.lib.scenarios, s)
}

func (l *loader) checkFields(name string, d *document, y *scenarioYAML, p *procedure.Procedure) {
	if y.ID+".yaml" != name {
		d.fault("id", "%q must be the name of the file", y.ID)
	}
	for field, text := range map[string]string{"title": y.Title, "version": y.Version, "story": y.Story} {
		if strings.TrimSpace(text) == "" {
			d.fault(field, "must not be empty")
		}
	}
	if k := simulate.Kind(y.Kind); k != simulate.BuildOrder && k != simulate.TimedRun {
		d.fault("kind", "%q is none of build, run", y.Kind)
	}
	if y.Level < 1 || y.Level > 9 {
		d.fault("level", "%d is not between 1 and 9", y.Level)
	}
	if y.Pace < 0 || y.Pace > 10 || y.Pace > 0 && y.Kind == string(simulate.BuildOrder) {
		d.fault("pace", "%d is not between 1 and 10, or the scenario has no clock", y.Pace)
	}
	if p.ProductIndex(y.Product) < 0 {
		d.fault("product", "unknown product %q; nearest: %s", y.Product, action.Nearest(y.Product, p.Words[action.Product]))
	}
	seen := map[string]bool{}
	for i, id := range y.Steps {
		path := fmt.Sprintf("steps.%d", i)
		if p.StepIndex(id) < 0 {
			d.fault(path, "unknown step %q; nearest: %s", id, action.Nearest(id, p.StepIDs()))
		}
		if seen[id] {
			d.fault(path, "step %q is there twice", id)
		}
		seen[id] = true
	}
	l.coverSurfaces(d, y, p)
}

// coverSurfaces asks for a step for every surface that must be wiped: a
// scenario without it could not be solved.
func (l *loader) coverSurfaces(d *document, y *scenarioYAML, p *procedure.Procedure) {
	wiped := map[string]bool{}
	for _, id := range y.Steps {
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
			d.fault("steps", "no step wipes surface %q", s.ID)
		}
	}
}

// proveModel reports every way in which a model log falls short of full marks.
func proveModel(file string, s *simulate.Scenario, p *procedure.Procedure) []error {
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
	if want := slices.ContainsFunc(log.Acts, func(a action.Act) bool { return a.Verb == action.DeclareReady }); !want {
		fault(0, "the model log never declares the station ready")
	}
	if clock := s.Kind == simulate.TimedRun; clock != log.Witness.Has(action.Clock|action.Drying) {
		fault(0, "a model log witnesses %q when its scenario is a %s", log.Witness, s.Kind)
	}
	if result.Marks.Result != assess.Pass && len(faults) == 0 {
		fault(0, "the model log does not pass")
	}
	return faults
}

// The shape of programme.yaml.
type programmeYAML struct {
	Competencies []struct {
		ID             string   `yaml:"id"`
		Title          string   `yaml:"title"`
		Procedure      string   `yaml:"procedure"`
		Scenarios      []string `yaml:"scenarios"`
		Demonstrations int      `yaml:"demonstrations"`
		Recheck        int      `yaml:"recheck"`
		IntervalMonths int      `yaml:"interval_months"`
		NoticeDays     int      `yaml:"notice_days"`
		Basis          string   `yaml:"basis"`
	} `yaml:"competencies"`
}

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
		if _, ok := l.lib.procedures[c.Procedure]; !ok {
			d.fault(at("procedure"), "unknown procedure %q", c.Procedure)
		}
		for j, id := range c.Scenarios {
			if _, ok := l.lib.Scenario(id); !ok {
				d.fault(fmt.Sprintf("competencies.%d.scenarios.%d", i, j), "unknown scenario %q", id)
			}
		}
		for field, v := range map[string]int{"demonstrations": c.Demonstrations, "recheck": c.Recheck, "interval_months": c.IntervalMonths} {
			if v < 1 || v > 60 {
				d.fault(at(field), "%d is not between 1 and 60", v)
			}
		}
		if c.NoticeDays < 0 || c.NoticeDays > 365 {
			d.fault(at("notice_days"), "%d is not between 0 and 365", c.NoticeDays)
		}
		l.lib.competencies = append(l.lib.competencies, training.Competency{
			ID: c.ID, Title: c.Title, Procedure: c.Procedure, Scenarios: c.Scenarios, Demonstrations: c.Demonstrations,
			Recheck: c.Recheck, IntervalMonths: c.IntervalMonths, NoticeDays: c.NoticeDays, Basis: c.Basis,
		})
	}
	l.faults = append(l.faults, d.faults...)
}
