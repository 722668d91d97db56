package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// move is an item that goes somewhere, or is emptied.
func (m *Machine) move(s *State, a *Act) {
	it := &s.Items[a.Item]
	switch a.Verb {
	case action.Empty:
		it.Empty = true
		m.spatter(s)
	case action.PutBack:
		it.Back, it.Off = true, false
	case action.Discard, action.SetAt:
		it.Gone, it.Astray = a.MayGo(m.P), !a.MayGo(m.P)
		it.Off = true
	case action.Bring:
		it.Brought, it.Astray = true, !a.MayGo(m.P)
		s.Where = AtStation
	}
	it.Out = a.PlaceKind(m.P).Away()
	m.handle(s, a)
	m.lay(s, a)
}

// lay is what an item and the place it is put in do to each other.
func (m *Machine) lay(s *State, a *Act) {
	it := &m.P.Items[a.Item]
	dirty := m.DirtyItem(s, a.Item) == Yes
	if a.On >= 0 {
		x := &s.Surfaces[a.On]
		surface := m.P.Surfaces[a.On].ID
		if x.Clean == Used && !dirty {
			m.dirtyThing(s, a, onSurface(a.On), surface)
		}
		if dirty {
			m.press(s, a, a.On, onItem(a.Item), it.ID, true)
		} else {
			from, name := s.source()
			m.press(s, a, a.On, from, name, s.Gloves.Dirty() && s.Dirt&ByWork != 0)
		}
		return
	}
	switch a.PlaceKind(m.P) {
	case procedure.SetApart, procedure.Waste, procedure.LeakProof:
		if !dirty {
			m.dirtyThing(s, a, onItem(a.Item), m.P.Places[a.Place].ID)
		}
	}
}

// dirtyThing makes a clean thing used again: a bucket by its surfaces.
func (m *Machine) dirtyThing(s *State, a *Act, from carrier, name string) {
	kind := a.Kind(m.P)
	switch kind {
	case procedure.BucketItem:
		for i := range m.P.Surfaces {
			x := &s.Surfaces[i]
			if m.P.Surfaces[i].Role == procedure.BucketSurface && x.Clean == Wiped {
				m.Trace.carry(a.Number, from, name, onSurface(i), m.P.Surfaces[i].ID)
				x.spoil(SpoiltByWork)
			}
		}
	case procedure.Supplies, procedure.NextSet:
		s.Items[a.Item].Dirty = true
		m.Trace.carry(a.Number, from, name, onItem(a.Item), m.P.Items[a.Item].ID)
	case procedure.Reusable:
		s.Items[a.Item].Treated = false
	}
}

// handle is what holding the act's item does to the hands and to the item.
func (m *Machine) handle(s *State, a *Act) {
	id := m.P.Items[a.Item].ID
	kind := a.Kind(m.P)
	switch {
	case m.DirtyItem(s, a.Item) == Yes && kind == procedure.BucketItem:
		m.soil(s, a, UsedGloves, ByBucket, onItem(a.Item), id)
	case m.DirtyItem(s, a.Item) == Yes:
		m.soil(s, a, UsedGloves, ByWork, onItem(a.Item), id)
	case s.Gloves == NoGloves && s.dirtyHands() && !s.BareTold && kind == procedure.BucketItem: // clean bare hands may
		m.dirtyThing(s, a, handsCarrier, ByHands)
	case s.Gloves.Dirty() && s.Dirt&ByWork != 0 && !s.Mixed: // gloves that should have been changed are told once
		from, name := s.source()
		m.dirtyThing(s, a, from, name)
	}
}
