package scenarios

import (
	"errors"
	"fmt"
	"slices"

	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
)

// Confirmed is the library of a clinic in which somebody, on a day (2027-06-30),
// confirmed every pair, mark, closing row that rests on custom alone, the
// settings, and every product with its label. Scenarios
// and their models are the same. It panics when there is no name or no such day.
func (l *Library) Confirmed(by, on string) *Library {
	c := *l
	c.procedures = make(map[string]*procedure.Procedure, len(l.procedures))
	for id, p := range l.procedures {
		c.procedures[id] = confirmed(p, procedure.Confirmed{By: by, On: on})
	}
	c.modules = c.confirmedCourse()
	return &c
}

func confirmed(p *procedure.Procedure, as procedure.Confirmed) *procedure.Procedure {
	d := p.Definition
	d.Order, d.Closing, d.MarkSheet.Marks = slices.Clone(d.Order), slices.Clone(d.Closing), slices.Clone(d.MarkSheet.Marks)
	for i := range d.Order {
		if d.Order[i].Custom() {
			d.Order[i].Confirmed = as
		}
	}
	for i := range d.Closing {
		if d.Closing[i].Custom() {
			d.Closing[i].Confirmed = as
		}
	}
	for i := range d.MarkSheet.Marks {
		if customMark(&d.MarkSheet.Marks[i]) {
			d.MarkSheet.Marks[i].Confirmed = as
		}
	}
	d.Settings.Confirmed, d.MarkSheet.Confirmed = as, as
	d.Products = slices.Clone(d.Products)
	for i := range d.Products {
		x := &d.Products[i]
		x.CheckedBy, x.CheckedOn, x.Confirmed = as.By, as.On, as
	}
	whole, faults := procedure.New(d, rules.Names())
	if len(faults) > 0 {
		var all []error
		for _, f := range faults {
			all = append(all, f)
		}
		panic(fmt.Errorf("confirming procedure %s: %w", d.ID, errors.Join(all...)))
	}
	return whole
}

// customMark reports whether a mark rests on custom, in whole or in part: it is the
// watcher's, or its rule's, and nobody has confirmed it.
func customMark(m *procedure.Mark) bool {
	if m.Confirmed.By != "" {
		return false
	}
	for _, r := range rules.All {
		if r.Name == m.Rule {
			return r.Custom || r.SomeCustom
		}
	}
	return m.Watcher
}
