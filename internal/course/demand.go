package course

import (
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
)

// Demand is something that the procedure asks, with its reason and what it rests on.
type Demand struct{ What, Why, Source string }

// sayNothing are rules that a reader learns nothing from: the pairs say themselves what
// comes before what, and that nothing can be done that cannot be done goes without saying.
var sayNothing = map[string]bool{rules.DeclaredOrder.Name: true, rules.NotPossible.Name: true}

// Demands are what the procedure asks of what a lesson teaches: its order pairs and its
// rules, as far as they are judged there.
func (l *Lesson) Demands() (all []Demand) {
	p := l.Procedure
	for _, pair := range l.Pairs {
		for _, o := range p.Order {
			if o.Earlier == pair[0] && o.Later == pair[1] {
				all = append(all, Demand{p.Title(o.Earlier) + ", then: " + procedure.Within(p.Title(o.Later)) + ".", o.Why, restsOn(o.Basis.String(), o.Custom())})
			}
		}
	}
	for _, name := range l.Rules {
		for _, r := range rules.All {
			if r.Name == name {
				all = append(all, asked(p, r)...)
			}
		}
	}
	return all
}

// Asked are all demands of a procedure that a rule judges, each once.
func Asked(p *procedure.Procedure) (all []Demand) {
	for _, r := range rules.All {
		all = append(all, asked(p, r)...)
	}
	return all
}

// asked is what a rule demands of a procedure that judges by it, nothing otherwise.
func asked(p *procedure.Procedure, r *assess.Rule) []Demand {
	if !p.Judged(r.Name) || sayNothing[r.Name] || !HasOccasion(p, r.Name) {
		return nil
	}
	words := assess.Words(p)
	return []Demand{{words.Replace(r.Doc), words.Replace(r.Why), r.Source}}
}

// RestsOn is a finding's source, and says so where it is advice only.
func (f *Finding) RestsOn() string { return restsOn(f.Source, f.Advice) }

func restsOn(source string, advice bool) string {
	if advice {
		return source + "; advice"
	}
	return source
}
