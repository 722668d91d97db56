// Package assess is the engine: it reads an action log against a procedure and
// says what was not right. It knows no mode, no clock and no storage; who wrote
// the log does not matter, only what the log can witness.
package assess

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// RulesVersion grows with every change that can alter a result.
const RulesVersion = 2

// Engine judges logs by a list of rules.
type Engine struct{ rules []*Rule }

// NewEngine makes an engine. The rules' order is the order of findings at the
// same act.
func NewEngine(rules []*Rule) *Engine { return &Engine{rules} }

// Names lists the names of the rules.
func (e *Engine) Names() []string {
	names := make([]string, len(e.rules))
	for i, r := range e.rules {
		names[i] = r.Name
	}
	return names
}

// Rules is the list of rules, not to be changed.
func (e *Engine) Rules() []*Rule { return e.rules }

// Assess judges a log. name is only repeated in the result. An error means that
// the log does not belong to the procedure.
func (e *Engine) Assess(p *procedure.Procedure, log *action.Log, name string) (*Result, error) {
	if log.Procedure != p.ID {
		return nil, fmt.Errorf("the log is of procedure %q, not of %q", log.Procedure, p.ID)
	}
	if log.Hash != "-" && log.Hash != p.Hash {
		return nil, fmt.Errorf("the log is of another version of procedure %q: its hash is %.12s…, this one's is %.12s…", p.ID, log.Hash, p.Hash)
	}
	acts, err := station.Bind(p, log)
	if err != nil {
		return nil, err
	}
	c := e.newCollector(p, log, name)
	e.run(p, log.Witness, acts, station.NewTrace(), c)
	return c.finish(), nil
}

// running says of each rule whether it runs: rules without a mark in the
// procedure do not, nor those whose needs the log cannot witness.
func (e *Engine) running(p *procedure.Procedure, witness action.Witness) []bool {
	runs := make([]bool, len(e.rules))
	for i, r := range e.rules {
		runs[i] = p.Judged(r.Name) && witness.Has(r.Needs)
	}
	return runs
}

// run applies the acts one by one and lets every rule look at each.
func (e *Engine) run(p *procedure.Procedure, witness action.Witness, acts []station.Act, trace *station.Trace, s sink) {
	m := &station.Machine{P: p, Witness: witness, Trace: trace}
	runs := e.running(p, witness)
	after := station.Start(p)
	before := after
	v := View{Machine: m, Before: &before, After: &after, sink: s}
	for i := range acts {
		before = after
		m.Apply(&after, &acts[i])
		v.Act = &acts[i]
		for r, rule := range e.rules {
			if rule.Step != nil && runs[r] {
				v.rule = r
				rule.Step(&v)
			}
		}
	}
	v.Act, v.Before = nil, &after
	for r, rule := range e.rules {
		if rule.End != nil && runs[r] {
			v.rule = r
			rule.End(&v)
		}
	}
}

// say puts the procedure's words in; most sentences have no place for one.
func (c *collector) say(text string) string {
	if !strings.Contains(text, "{") {
		return text
	}
	said, ok := c.said[text]
	if !ok {
		said = c.words.Replace(text)
		c.said[text] = said
	}
	return said
}

// Words puts a procedure's own words into what rules say: {station} for what is
// disinfected, {bucket} for its bucket.
func Words(p *procedure.Procedure) *strings.Replacer {
	bucket := "bucket"
	for _, it := range p.Items {
		if it.Kind == procedure.BucketItem {
			bucket = procedure.Within(it.Title)
		}
	}
	return strings.NewReplacer("{station}", p.Station, "{bucket}", bucket)
}

// collector is the sink that makes a result.
type collector struct {
	e         *Engine
	p         *procedure.Procedure
	witness   action.Witness
	result    *Result
	occasions []uint64 // by rule: bit 63 for the rule itself, the others by surface
	words     *strings.Replacer
	said      map[string]string // sentences with the words put in: many findings share one
}

func (e *Engine) newCollector(p *procedure.Procedure, log *action.Log, name string) *collector {
	c := &collector{e: e, p: p, witness: log.Witness, occasions: make([]uint64, len(e.rules)), words: Words(p), said: map[string]string{}}
	c.result = &Result{
		Log: name, Procedure: p.ID, ProcedureHash: p.Hash, RulesVersion: RulesVersion,
		Findings: []Finding{}, NotAssessed: []Gap{}, Notes: []Note{},
	}
	return c
}

const anySurface = 63

func bit(surface int) uint64 {
	if surface == None {
		return 1 << anySurface
	}
	return 1<<anySurface | 1<<surface
}

func (c *collector) surfaceID(i int) string {
	if i == None {
		return ""
	}
	return c.p.Surfaces[i].ID
}

func (c *collector) breach(v *View, b Breach) {
	r := c.e.rules[v.rule]
	c.occasions[v.rule] |= bit(b.Surface)
	f := Finding{
		Rule: r.Name, Surface: c.surfaceID(b.Surface), Message: c.say(b.Message), Why: c.say(cmp.Or(b.Why, r.Why)),
		Next: c.say(cmp.Or(b.Next, r.Next)), Source: cmp.Or(b.Source, r.Source), Critical: c.isCritical(r.Name, c.surfaceID(b.Surface)), Chain: b.Chain,
	}
	at := v.After.Now
	if v.Act != nil {
		f.Act, at = v.Act.Number, v.Act.At
	}
	if c.witness.Has(action.Clock) && at >= 0 {
		s := float64(at) / 1000
		f.AtS = &s
	}
	c.result.Findings = append(c.result.Findings, f)
}

// isCritical reports whether a critical mark covers the finding.
func (c *collector) isCritical(rule, surface string) bool {
	return slices.ContainsFunc(c.p.MarkSheet.Marks, func(m procedure.Mark) bool {
		return m.Critical && m.Rule == rule && (m.Surface == "" || m.Surface == surface)
	})
}

func (c *collector) unknown(v *View, surface int, reason string) {
	c.occasions[v.rule] |= bit(surface)
	g := Gap{Rule: c.e.rules[v.rule].Name, Surface: c.surfaceID(surface), Reason: c.say(reason)}
	if !slices.Contains(c.result.NotAssessed, g) {
		c.result.NotAssessed = append(c.result.NotAssessed, g)
	}
}

func (c *collector) occasion(v *View, surface int) { c.occasions[v.rule] |= bit(surface) }

func (c *collector) note(v *View, surface int, text string) {
	n := Note{Surface: c.surfaceID(surface), Text: c.say(text)}
	if v.Act != nil {
		n.Act = v.Act.Number
	}
	c.result.Notes = append(c.result.Notes, n)
}

func (c *collector) finish() *Result {
	for _, r := range c.e.rules {
		if c.p.Judged(r.Name) && !c.witness.Has(r.Needs) {
			c.result.NotAssessed = append(c.result.NotAssessed, Gap{Rule: r.Name, Reason: "the log does not witness " + (r.Needs &^ c.witness).String()})
		}
	}
	c.result.Marks = c.marks()
	return c.result
}
