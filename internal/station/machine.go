package station

import (
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/wettime"
)

// Machine applies acts to a state under a procedure. Trace may be nil.
type Machine struct {
	P       *procedure.Procedure
	Witness action.Witness
	Version int // of the log's format; 0 is the present one
	// Usual is the product, by index, of a wipe that nobody noted taking before any
	// other was taken.
	Usual int8
	Only  bool // the log knows no other product
	Trace *Trace
}

// MachineFor is for one log. Its usual product is the one that is taken first, or the
// procedure's first where none is taken at all.
func MachineFor(p *procedure.Procedure, log *action.Log, trace *Trace) *Machine {
	m := &Machine{P: p, Witness: log.Witness, Version: log.Version, Trace: trace}
	first := ""
	for i := range log.Acts {
		a := &log.Acts[i]
		switch {
		case a.Verb != action.TakeWipe:
		case first == "":
			first, m.Only = a.Of, true
			m.Usual = int8(max(0, p.ProductIndex(a.Of)))
		case a.Of != first:
			m.Only = false
		}
	}
	return m
}

// Watched reports whether the log's times are taps of somebody who watches: it has
// a clock and does not tell every dry-out. Logs of version 1 took them as exact.
func (m *Machine) Watched() bool {
	return m.Witness.Has(action.Clock) && !m.Witness.Has(action.Drying) && m.Version != 1
}

// Slack is how far the log's times may be off.
func (m *Machine) Slack() action.Millis {
	if m.Watched() {
		return action.TapSlack
	}
	return 0
}

// Wet is how the log's wet spells are counted.
func (m *Machine) Wet() wettime.Rule {
	return wettime.Rule{AddsUp: m.P.Settings.WetAddsUp, Witness: m.Witness, Slack: m.Slack()}
}

// Contact says whether a wiped surface reached its contact time by now.
func (m *Machine) Contact(s *State, surface int) wettime.Status {
	return m.ContactAt(s, surface, s.Now)
}

// ContactAt is Contact at a later moment, when nothing has happened since.
func (m *Machine) ContactAt(s *State, surface int, now action.Millis) wettime.Status {
	x := &s.Surfaces[surface]
	status := x.Contact.Status(m.Wet(), now)
	if status == wettime.TooShort && x.Product < 0 && m.Witness.Has(action.Clock) {
		return wettime.Unknown // whose label time it was is not known
	}
	return status
}

// alone reports whether the time of a product's label runs on when the surface has dried;
// of one that is not known, whether that of every product does.
func (m *Machine) alone(product int8) bool {
	if product >= 0 {
		return m.P.Products[product].CountsDry()
	}
	return !slices.ContainsFunc(m.P.Products, func(p procedure.Product) bool { return !p.CountsDry() })
}

// label is the contact time of a product; of one that is not known, the longest.
func (m *Machine) label(product int8) action.Millis {
	if product >= 0 {
		return action.Millis(m.P.Products[product].LabelS) * 1000
	}
	longest := 0
	for _, p := range m.P.Products {
		longest = max(longest, p.LabelS)
	}
	return action.Millis(longest) * 1000
}
