package scenarios

import (
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// Rest is something of a set that is not shown, because it cannot be: a scenario whose
// model cannot follow its procedure, and what rests on that one. Or the clinic has
// hidden it.
type Rest struct {
	Of     string // scenario, lesson, question, part, module, competency
	ID     string // of a question LESSON/QUESTION, of a part MODULE/PART
	Title  string
	Why    string
	Hidden bool // the clinic wants it so
}

// Resting is what the set has and the library does not show, in the order in which it
// was read.
func (l *Library) Resting() []Rest { return slices.Clone(l.resting) }

// Load reads the set. A scenario whose model does not get full marks is given a new one
// from its cues; where that cannot be done it rests, with what needs it. Everything else
// that is wrong is a fault, as with LoadFS.
func (s *Set) Load() (*Library, error) { return followed.load(s) }

// Outline reads the set without its models: a fifth of the work, for whoever changes its
// rows. Only what the clinic has hidden rests.
func (s *Set) Outline() (*Library, error) { return outlined.load(s) }

// LoadStrictly reads the set as it is, as LoadFS does: nothing may rest.
func (s *Set) LoadStrictly() (*Library, error) { return load(setFS{s}, strictly) }

// mode is how models are taken.
type mode int

const (
	strictly  mode = iota // each gets full marks as it is
	unproved              // they are not looked at
	following             // they are made anew where they must; where they cannot, the scenario rests
	editing               // they are not looked at, and what is gone may be named
)

// lenient reports whether something may rest.
func (m mode) lenient() bool { return m == following || m == editing }

// blind reports whether models are not looked at.
func (m mode) blind() bool { return m == unproved || m == editing }

func (l *loader) rest(of, id, title, why string) {
	l.lib.resting = append(l.lib.resting, Rest{Of: of, ID: id, Title: title, Why: why})
}

// hides reports whether the clinic has hidden a scenario, which then rests.
func (l *loader) hides(y *scenarioYAML) bool {
	if !l.how.lenient() || !y.Hidden {
		return false
	}
	l.rest("scenario", y.ID, y.Title, "the clinic has hidden it")
	l.lib.resting[len(l.lib.resting)-1].Hidden = true
	return true
}

// restScenario keeps a scenario out, for the first of some reasons.
func (l *loader) restScenario(id, title string, why []error) {
	l.rest("scenario", id, title, reason(why[0]))
}

// reason is a fault in words, without the place of a log that is not there.
func reason(err error) string {
	text := err.Error()
	if f, ok := err.(*action.Fault); ok {
		text = f.Text
	}
	text = strings.TrimPrefix(text, "the model log ")
	if rule, said, ok := strings.Cut(strings.TrimPrefix(text, "breaks "), ": "); ok && strings.HasPrefix(text, "breaks ") && !strings.Contains(rule, " ") {
		return "no right answer was found: " + said // the rule's name is the program's own
	}
	return text
}

// rests reports whether something of the set is resting.
func (l *loader) rests(of, id string) bool {
	return slices.ContainsFunc(l.lib.resting, func(r Rest) bool { return r.Of == of && r.ID == id })
}

// notResting are the scenarios of some that do not rest.
func (l *loader) notResting(ids []string) []string {
	return slices.DeleteFunc(slices.Clone(ids), func(id string) bool { return l.rests("scenario", id) })
}

// knowing says which steps a procedure has or has left out; nil when nothing may rest.
func (l *loader) knowing(id string) func(step string) bool {
	if !l.how.lenient() {
		return nil
	}
	p, gone := l.lib.procedures[id], l.goneFrom(id)
	return func(step string) bool { return gone[step] != "" || p.StepIndex(step) >= 0 }
}

// goneFrom are the names that a procedure leaves out of its parts, with their titles.
func (l *loader) goneFrom(p string) map[string]string { return l.folder.gone[p] }

// meets is what is left of a scenario with a procedure that leaves things out: its lists
// of steps lose their names, and what varies the options that name them. It gives the
// reason when nothing is left.
func (y *scenarioYAML) meets(p *procedure.Procedure, gone map[string]string) (why string) {
	left := func(names []string) []string {
		return slices.DeleteFunc(slices.Clone(names), func(name string) bool { return gone[name] != "" })
	}
	y.Steps, y.Without = left(y.Steps), left(y.Without)
	y.offerWiping(p)
	if title := gone[y.Product]; title != "" {
		return fmt.Sprintf("it works with “%s”, which the procedure does not have any more", title)
	}
	y.offerProducts(p)
	y.takeWhatIsThere(gone)
	y.leaveLying(gone)
	for i := range y.Vary {
		f := &y.Vary[i]
		f.Options = slices.DeleteFunc(slices.Clone(f.Options), func(o optionYAML) bool {
			z := y.with([]simulate.Fixed{{Name: f.Name, Option: simulate.Option(o)}})
			return z.names(gone, y.texts()) != ""
		})
		if len(f.Options) == 0 {
			return fmt.Sprintf("every way in which “%s” may be names something that the procedure does not have any more", f.Name)
		}
	}
	if name := y.names(gone, nil); name != "" {
		return fmt.Sprintf("its story needs “%s”, which the procedure does not have any more", name)
	}
	return ""
}

// offerWiping offers, in a scenario that lists its steps, those that wipe what none of
// them does.
func (y *scenarioYAML) offerWiping(p *procedure.Procedure) {
	wipes := func(step, surface string) bool {
		i := p.StepIndex(step)
		return i >= 0 && slices.ContainsFunc(p.Steps[i].Acts, func(a action.Act) bool { return a.Verb == action.Wipe && a.Object == surface })
	}
	for _, s := range p.Surfaces {
		any := func(steps []string) int {
			return slices.IndexFunc(steps, func(step string) bool { return wipes(step, s.ID) })
		}
		if at := any(p.StepIDs()); len(y.Steps) > 0 && any(y.Steps) < 0 && at >= 0 {
			y.Steps = append(y.Steps, p.Steps[at].ID)
		}
	}
}

// offerProducts offers the wipes of other products for what the one on the shelf is not
// allowed on, where it is offered none.
func (y *scenarioYAML) offerProducts(p *procedure.Procedure) {
	i := p.ProductIndex(y.Product)
	if i < 0 {
		return // told elsewhere
	}
	for _, surface := range p.Products[i].NotOn {
		var takes []string
		for _, s := range p.Steps {
			if len(s.Acts) == 1 && s.Acts[0].Verb == action.TakeWipe && mayGoOn(p, procedure.OnShelf(s.Acts[0], y.Product).Of, surface) {
				takes = append(takes, s.ID)
			}
		}
		offered := y.offered(p)
		if slices.ContainsFunc(takes, func(id string) bool { return slices.Contains(offered, id) }) {
			continue
		}
		y.Without = slices.DeleteFunc(y.Without, func(id string) bool { return slices.Contains(takes, id) })
		if len(y.Steps) > 0 {
			y.Steps = append(y.Steps, takes...)
		}
	}
}

// mayGoOn reports whether a product is allowed on a surface.
func mayGoOn(p *procedure.Procedure, product, surface string) bool {
	i := p.ProductIndex(product)
	return i >= 0 && !slices.Contains(p.Products[i].NotOn, surface)
}

// takeWhatIsThere has the story begin with a wipe from the shelf where it began with one of
// a product that is gone.
func (y *scenarioYAML) takeWhatIsThere(gone map[string]string) {
	y.Start = slices.Clone(y.Start)
	for i, line := range y.Start {
		if a, err := action.ParseAct(line, nil); err == nil && a.Verb == action.TakeWipe && gone[a.Of] != "" {
			y.Start[i] = strings.TrimSuffix(line, a.Of) + y.Product
		}
	}
}

// leaveLying has nobody put away before the work what is not at the station any more.
func (y *scenarioYAML) leaveLying(gone map[string]string) {
	y.Start = slices.DeleteFunc(slices.Clone(y.Start), func(line string) bool {
		a, err := action.ParseAct(line, nil)
		return err == nil && gone[a.Object] != "" && (moves(&a, a.Object) || a.Verb == action.TakeOff || a.Verb == action.CapItem)
	})
}

// names gives the title of something gone that the scenario's acts name, leaving out acts that are
// the same among some others.
func (y *scenarioYAML) names(gone map[string]string, same []string) string {
	lines := slices.Clone(y.Start)
	for _, e := range y.Events {
		lines = append(lines, e.Happens)
	}
	for _, line := range lines {
		if slices.Contains(same, line) {
			continue
		}
		a, err := action.ParseAct(line, nil)
		for _, name := range []string{a.Object, a.Place, a.Of} {
			if err == nil && gone[name] != "" {
				return gone[name]
			}
		}
	}
	for _, e := range y.Events {
		if gone[e.After] != "" && !slices.Contains(same, e.After) {
			return gone[e.After]
		}
	}
	return ""
}

// proved gives the models of all variants of a scenario: what its cues give, where that
// gets full marks; else what cues give that follow the procedure. The reasons are those
// for which the last try failed. A log without cues is taken as it is.
func proved(all []*simulate.Scenario, p *procedure.Procedure) (why []error) {
	cues := simulate.CuesOf(all[0].Model)
	if len(cues) == 0 {
		return proveAll(all, p, all[0].Model)
	}
	f := &follower{p, all}
	for _, way := range append([][]string{cues}, f.adapted(cues)...) {
		text, err := simulate.Model(p, all[0], way)
		if err != nil {
			why = []error{err}
			continue
		}
		if why = proveAll(all, p, text); len(why) == 0 {
			return nil
		}
	}
	return why
}

// proveAll gives all variants a model and proves each.
func proveAll(all []*simulate.Scenario, p *procedure.Procedure, model string) []error {
	all[0].Model = model
	faults := Prove(all[0], p)
	for _, s := range all[1:] {
		faults = append(faults, proveVariant(s, model, p)...)
	}
	return faults
}
