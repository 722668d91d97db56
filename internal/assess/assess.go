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
const RulesVersion = 4

// Engine judges logs by a list of rules.
type Engine struct {
	rules []*Rule
	index map[string]int // of rules by name
}

// NewEngine makes an engine. The rules' order is the order of findings at the
// same act.
func NewEngine(rules []*Rule) *Engine {
	e := &Engine{rules, make(map[string]int, len(rules))}
	for i, r := range rules {
		e.index[r.Name] = i
	}
	return e
}

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
		return nil, &action.Fault{File: name, Line: max(1, log.ProcedureLine),
			Text: fmt.Sprintf("the log is of another version of procedure %q: its hash is %.12s…, this one's is %.12s…", p.ID, log.Hash, p.Hash)}
	}
	acts, err := station.Bind(p, log)
	if err != nil {
		return nil, err
	}
	c := e.newCollector(p, log, name)
	m := station.MachineFor(p, log, station.NewTrace())
	end := e.run(m, acts, c)
	return c.finish(&end), nil
}

// running lists the rules that run, by index: those without a mark in the
// procedure do not, but for advice and those that are critical by default; nor do
// those whose needs the log cannot witness.
func (e *Engine) running(p *procedure.Procedure, witness action.Witness) []int {
	runs := make([]int, 0, len(e.rules))
	for i, r := range e.rules {
		if witness.Has(r.Needs) && e.judged(p, r) {
			runs = append(runs, i)
		}
	}
	return runs
}

func (e *Engine) judged(p *procedure.Procedure, r *Rule) bool {
	return p.Judged(r.Name) || r.Soft || r.Critical
}

// run applies the acts one by one and lets every rule look at each. It gives the
// last state.
func (e *Engine) run(m *station.Machine, acts []station.Act, s sink) station.State {
	after := station.Start(m.P)
	before := after
	v := View{Machine: m, Before: &before, After: &after, rules: e.rules, sink: s}
	runs := e.running(m.P, m.Witness)
	for i := range acts {
		before.CopyFrom(&after, m.P)
		m.Apply(&after, &acts[i])
		v.Act = &acts[i]
		v.look(runs, func(r *Rule) func(*View) { return r.Step }, after.Ready && !before.Ready)
	}
	v.Act, v.Before = nil, &after
	v.look(runs, func(r *Rule) func(*View) { return r.End }, !after.Ready)
	return after
}

// look lets the rules that run look in their order; closes is the work's close.
func (v *View) look(runs []int, how func(*Rule) func(*View), closes bool) {
	for _, r := range runs {
		v.rule = r
		if see := how(v.rules[r]); see != nil {
			see(v)
		}
		if see := v.rules[r].Close; closes && see != nil {
			see(v)
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
	log       *action.Log
	result    *Result
	occasions []uint64 // by rule: a bit for each target
	misses    []uint64 // likewise, of demands that were not met
	broken    []bool   // by rule: it has a finding that is no advice
	open      []bool   // by rule: it has a gap
	known     map[key]int
	pending   []pending
	words     *strings.Replacer
	said      map[string]string // sentences with the words put in: many findings share one
}

// key is what makes two breaches one finding.
type key struct {
	rule, target int
	cause        string
}

// pending is a finding that is said otherwise when steps were never done.
type pending struct {
	finding int
	never   string
	steps   procedure.StepSet
}

func (e *Engine) newCollector(p *procedure.Procedure, log *action.Log, name string) *collector {
	c := &collector{e: e, p: p, log: log, occasions: make([]uint64, len(e.rules)), misses: make([]uint64, len(e.rules)),
		broken: make([]bool, len(e.rules)), open: make([]bool, len(e.rules)),
		words: Words(p), said: map[string]string{}, known: map[key]int{}}
	c.result = &Result{
		Log: name, Procedure: p.ID, ProcedureHash: p.Hash, RulesVersion: RulesVersion,
		Findings: make([]Finding, 0, usualFindings), NotAssessed: []Gap{}, Notes: []Note{},
	}
	return c
}

// usualFindings is how many findings most logs have at the most.
const usualFindings = 12

// Targets of findings: surfaces by index, protective equipment after them, and one
// bit for the rule as such.
const (
	firstWorn = procedure.MaxSurfaces
	anyTarget = 63
)

// targetOf is the target of a surface or of protective equipment.
func targetOf(surface int, worn string) int {
	if i := slices.Index(action.ProtectiveEquipment, worn); i >= 0 {
		return firstWorn + i
	}
	return surface
}

func bit(target int) uint64 {
	if target == None {
		return 1 << anyTarget
	}
	return 1<<anyTarget | 1<<target
}

func (v *View) surfaceID(i int) string {
	if i == None {
		return ""
	}
	return v.P.Surfaces[i].ID
}

func (c *collector) breach(v *View, b Breach) {
	r := c.e.rules[v.rule]
	target := targetOf(b.Surface, b.Worn)
	c.occasions[v.rule] |= bit(target)
	for _, s := range b.Surfaces {
		c.occasions[v.rule] |= bit(s)
	}
	act, at := b.Act, b.At
	if act == 0 {
		at = v.After.Now
		if v.Act != nil {
			act, at = v.Act.Number, v.Act.At
		}
	}
	k := key{v.rule, target, cmp.Or(b.Cause, b.Message)}
	if i, told := c.known[k]; told {
		c.repeat(&c.result.Findings[i], act)
		return
	}
	c.known[k] = len(c.result.Findings)
	f := Finding{
		Rule: r.Name, Act: act, Surface: v.surfaceID(b.Surface), Worn: b.Worn, Message: c.say(b.Message), Why: c.say(cmp.Or(b.Why, r.Why)),
		Next: c.say(cmp.Or(b.Next, r.Next)), Source: cmp.Or(b.Source, r.Source), Level: c.level(r, &b), Count: 1,
		Chain: station.Lines(c.p, b.Way), Way: c.way(b.Way), Line: c.line(act),
	}
	f.Critical = !f.Advice() && (b.Critical || c.isCritical(r, f.Surface, f.Worn))
	for _, s := range b.Surfaces {
		f.Surfaces = append(f.Surfaces, v.surfaceID(s))
	}
	if len(f.Surfaces) > 0 {
		f.Count = len(f.Surfaces)
	}
	if c.log.Witness.Has(action.Clock) && at >= 0 {
		s := float64(at) / 1000
		f.AtS = &s
	}
	if b.Never != "" {
		c.pending = append(c.pending, pending{len(c.result.Findings), b.Never, b.NeverSteps})
	}
	c.broken[v.rule] = c.broken[v.rule] || !f.Advice()
	c.result.Findings = append(c.result.Findings, f)
}

// repeat counts a breach that was told already.
func (c *collector) repeat(f *Finding, act int) {
	if len(f.Acts) == 0 {
		f.Acts = []int{f.Act}
	}
	f.Count++
	f.Acts = append(f.Acts, act)
}

func (c *collector) way(hops []station.Hop) (way []Hop) {
	for _, h := range hops {
		way = append(way, Hop{h.Act, c.line(h.Act), h.From, h.To})
	}
	return way
}

// line is the line of an act in the log's text.
func (c *collector) line(act int) int {
	if act < 1 || act > len(c.log.Acts) {
		return 0
	}
	return c.log.Acts[act-1].Line
}

// level says how hard a breach is: custom that the clinic has not confirmed by
// name is advice.
func (c *collector) level(r *Rule, b *Breach) Level {
	switch {
	case b.Level != "":
		return b.Level
	case r.Soft, (r.Custom || b.Custom) && !c.confirmed(r.Name):
		return AdviceLevel
	}
	return BreachLevel
}

// confirmed reports whether the clinic made a rule without a published source its
// own.
func (c *collector) confirmed(rule string) bool {
	return c.anyMark(func(m *procedure.Mark) bool { return m.Rule == rule && m.Confirmed.By != "" })
}

// isCritical reports whether a critical mark covers the finding, or no mark speaks
// of a rule that is critical by default.
func (c *collector) isCritical(r *Rule, surface, worn string) bool {
	if r.Critical && !c.p.Judged(r.Name) {
		return true
	}
	return c.anyMark(func(m *procedure.Mark) bool {
		return m.Critical && m.Rule == r.Name && (m.Surface == "" || m.Surface == surface) && (m.Worn == "" || m.Worn == worn)
	})
}

// anyMark asks the mark sheet's lines in place: they are too large to be copied
// for each finding.
func (c *collector) anyMark(is func(*procedure.Mark) bool) bool {
	for i := range c.p.MarkSheet.Marks {
		if is(&c.p.MarkSheet.Marks[i]) {
			return true
		}
	}
	return false
}

func (c *collector) missed(v *View, surface int) {
	c.occasions[v.rule] |= bit(surface)
	c.misses[v.rule] |= bit(surface)
}

func (c *collector) unknown(v *View, g Gap, target int) {
	c.occasions[v.rule] |= bit(target)
	c.open[v.rule] = true
	g.Reason = c.say(g.Reason)
	if !slices.Contains(c.result.NotAssessed, g) {
		c.result.NotAssessed = append(c.result.NotAssessed, g)
	}
}

func (c *collector) occasion(v *View, surface int) { c.occasions[v.rule] |= bit(surface) }

func (c *collector) note(v *View, surface int, text string) {
	n := Note{Surface: v.surfaceID(surface), Text: c.say(text)}
	if v.Act != nil {
		n.Act = v.Act.Number
	}
	c.result.Notes = append(c.result.Notes, n)
}

func (c *collector) finish(end *station.State) *Result {
	for i, r := range c.e.rules {
		if c.e.judged(c.p, r) && !c.log.Witness.Has(r.Needs) {
			c.result.NotAssessed = append(c.result.NotAssessed, Gap{Rule: r.Name, Reason: "the log does not witness " + (r.Needs &^ c.log.Witness).String()})
			c.open[i] = true
		}
	}
	for _, p := range c.pending {
		if end.Done.And(p.steps).Empty() && end.NotSeen.And(p.steps).Empty() {
			c.result.Findings[p.finding].Message = c.say(p.never)
		}
	}
	c.result.Marks = c.marks(end)
	return c.result
}
