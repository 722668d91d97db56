package station

import (
	"stillwet/internal/action"
	"stillwet/internal/wettime"
)

// pend is a touch of the act's surface that waits for the next act of the hands.
func (m *Machine) pend(s *State, a *Act) Pend {
	x := &s.Surfaces[a.Surface]
	p := Pend{On: true, Surface: int8(a.Surface), Act: int32(a.Number), At: a.At, Gloves: s.Gloves, Dirt: s.Dirt, Need: x.Contact.Need}
	p.Wiped = x.Clean == Wiped
	p.Wet = x.Contact.Longest(m.Wet(), s.Now)
	if x.Contact.Wet {
		p.Wet = max(p.Wet, s.Now-x.Contact.Since)
	}
	if p.Alone = x.Contact.Alone; p.Alone {
		p.Wet = s.Now - x.Contact.Left
	}
	status := m.Contact(s, a.Surface)
	p.Early, p.Unknown = p.Wiped && !x.Early && status != wettime.Reached, status == wettime.Unknown
	return p
}

func (m *Machine) touch(s *State, a *Act) {
	switch {
	case a.Surface >= 0:
		m.touchSurface(s, a)
	case a.Item >= 0:
		m.handle(s, a)
	case a.Object != action.Station:
		m.touchOutside(s, a)
	}
}

// touchOutside: phone, pocket and the like carry what others left there; clean
// stock and the cart take what the gloves bring.
func (m *Machine) touchOutside(s *State, a *Act) {
	switch {
	case a.Object == action.CleanStock || a.Object == action.Cart:
	case s.Gloves == NoGloves:
		s.useHands()
		m.Trace.beginNew(a.Number, a.Object, ByHands, handsCarrier)
	case s.Gloves == FreshGloves || s.Gloves == WorkingGloves:
		m.Trace.begin(a.Number, a.Object, ByGloves, glovesCarrier)
		s.Gloves, s.Dirt = UsedGloves, s.Dirt|ByWork
	}
}

func (m *Machine) touchSurface(s *State, a *Act) {
	i := a.Surface
	p := m.pend(s, a)
	was := s.Surfaces[i]
	from, name := s.source()
	m.press(s, a, i, from, name, s.dirtyHands())
	p.Spoilt = s.Surfaces[i].Spoilt != was.Spoilt
	p.Early = p.Early && !p.Spoilt
	if s.Pend.On { // touched once more: the first touch says how the gloves were
		old := s.Pend
		p.Early, p.Spoilt = p.Early || old.Early, p.Spoilt || old.Spoilt
		p.Gloves, p.Dirt, p.Act, p.At, p.Wiped = old.Gloves, old.Dirt, old.Act, old.At, old.Wiped
	}
	if was.Clean != Wiped {
		level := UsedGloves
		if was.Blood {
			level = SoiledGloves
		}
		m.soil(s, a, level, ByWork, onSurface(i), m.P.Surfaces[i].ID)
	}
	s.Pend = p
}

// settle decides about the touch that waits: what the next act of the hands wipes
// was lifted or held for it. Changing the wipe in between decides nothing.
func (m *Machine) settle(s *State, a *Act) {
	m.parting(s, a)
	m.elsewhere(s, a)
	if !s.Pend.On || !a.OfHands() || a.changesWipe() || a.Verb == action.Touch && a.Surface == int(s.Pend.Surface) {
		return
	}
	p := s.Pend
	s.Pend = Pend{}
	if (a.Verb == action.Wipe || a.Verb == action.Clean) && a.Surface == int(p.Surface) {
		if s.Gloves != NoGloves && !p.Dried && a.Verb == action.Wipe {
			s.Gloves, s.Dirt = p.Gloves, p.Dirt
		}
		return
	}
	s.Settled = p
}

// press puts hands or a thing on a surface: dirty ones undo its disinfection,
// clean ones before the contact time are an early use.
func (m *Machine) press(s *State, a *Act, surface int, from carrier, thing string, dirty bool) {
	x := &s.Surfaces[surface]
	if x.Clean != Wiped {
		return
	}
	if dirty {
		m.Trace.carry(a.Number, from, thing, onSurface(surface), m.P.Surfaces[surface].ID)
		x.spoil(SpoiltByWork)
		return
	}
	if m.Contact(s, surface) != wettime.Reached {
		x.Early = true
		x.Contact.Mar(s.Now, m.Wet())
	}
}
