package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// unseenWipe is the wipe in hand when nobody saw which was taken.
func (m *Machine) unseenWipe() Wipe {
	w := Wipe{Number: -1, Product: -1, Face: -1}
	if m.Only {
		w.Product = m.Usual
	}
	return w
}

// dropOn is a used wipe that is thrown on a surface instead of away.
func (m *Machine) dropOn(s *State, a *Act) {
	if a.On >= 0 {
		m.press(s, a, a.On, wipeCarrier, ByWipe, true)
	}
}

// Spot reports whether wiping the surface deals with blood that was seen on it,
// which is done at once, whoever sits there (guidance F46): it begins nothing.
func (s *State) Spot(surface int) bool { return s.Surfaces[surface].WasBlood }

func (m *Machine) wipe(s *State, a *Act) {
	x := &s.Surfaces[a.Surface]
	row := &m.P.Surfaces[a.Surface]
	if row.Role != procedure.StagingSurface && !s.Spot(a.Surface) {
		s.FirstWipe = true
	}
	if s.Gloves == FreshGloves {
		s.Gloves = WorkingGloves
	}
	if row.Role == procedure.BucketSurface {
		s.Dirt |= OnBucket
	}
	other := m.OtherFace(s, a.Surface)
	m.firstUse(s, a)
	s.Wipe.AreaDm2 += int16(row.AreaDm2)
	if first := &m.P.Surfaces[s.Wipe.Face]; first.Face != row.Face {
		s.Wipe.Crossed |= ToFace
		if first.ThingOf() != row.ThingOf() {
			s.Wipe.Crossed |= ToThing
		}
	}
	if s.BySight {
		s.WipedSince |= 1 << a.Surface
	}
	if s.defeated(a.Surface) {
		if s.Wipe.Soil {
			m.press(s, a, a.Surface, wipeCarrier, ByWipe, true)
		}
		x.SoilTold = true
		return
	}
	m.wet(s, a, x, other)
}

// firstUse notes where a wipe was used first: what was there is on it.
func (m *Machine) firstUse(s *State, a *Act) {
	if s.Wipe.Face < 0 {
		s.Wipe.Face = int8(a.Surface)
		m.Trace.carry(a.Number, onSurface(a.Surface), m.P.Surfaces[a.Surface].ID, wipeCarrier, ByWipe)
	}
}

// defeated reports whether a wipe leaves a surface as it was: soil defeats
// disinfectant.
func (s *State) defeated(surface int) bool {
	x := &s.Surfaces[surface]
	return x.Blood && !x.BloodUnseen || s.Wipe.Soil
}

// Wets reports whether an act leaves its surface wet with disinfectant, and with
// which product, by index.
func (m *Machine) Wets(s State, a *Act) (wets bool, product int) {
	if a.Verb != action.Wipe {
		return false, -1
	}
	m.assume(&s, a)
	return !s.defeated(a.Surface), int(s.Wipe.Product)
}

// wet puts disinfectant on a surface.
func (m *Machine) wet(s *State, a *Act, x *Surface, other bool) {
	beside := s.InChair && !s.PatientUnseen && m.P.Surfaces[a.Surface].ChairSide
	if x.Clean != Wiped || other || x.Beside && !beside {
		if x.Clean == Wiped && other {
			m.Trace.carry(a.Number, wipeCarrier, ByWipe, onSurface(a.Surface), m.P.Surfaces[a.Surface].ID)
		} else {
			m.Trace.clear(onSurface(a.Surface))
		}
		*x = Surface{WasBlood: x.WasBlood}
	}
	m.Trace.wiped(a, a.Surface)
	x.Clean, x.Product, x.Early, x.Spoilt, x.Blood, x.BloodUnseen = Wiped, s.Wipe.Product, false, NotSpoilt, false, false
	x.Wrong = m.wrong(s.Wipe.Product, a.Surface, x.WasBlood)
	x.Beside, x.BesideSpot = beside, beside && x.WasBlood
	x.SpotEarly = x.WasBlood && m.linesLeft(s)
	x.WasBlood = x.WasBlood && x.Wrong == TooWeak
	x.Contact.WipeWith(s.Now, m.label(s.Wipe.Product), m.alone(s.Wipe.Product), m.Wet())
}

// linesLeft reports whether a used circuit is still at the station for sure.
func (m *Machine) linesLeft(s *State) bool {
	for i := range m.P.Items {
		if x := &s.Items[i]; m.P.Items[i].Kind == procedure.Circuit && s.There(m.P, i) && !x.Gone && !x.Out && !x.Astray && !x.Unknown {
			return true
		}
	}
	return false
}

// wrong says why a product is not right for a surface. Of a product that is not
// known nothing is said.
func (m *Machine) wrong(product int8, surface int, wasBlood bool) Wrong {
	if product < 0 {
		return RightProduct
	}
	p := &m.P.Products[product]
	for _, id := range p.NotOn {
		if id == m.P.Surfaces[surface].ID {
			return NotAllowed
		}
	}
	switch {
	case p.PastDate:
		return PastDate
	case p.MadeH > p.MostH():
		return OldDilution
	case wasBlood && p.Level != procedure.IntermediateLevel:
		return TooWeak
	}
	return RightProduct
}

// OtherFace reports whether the wipe in hand was first used on another face
// than the surface's, and the surface is wiped already.
func (m *Machine) OtherFace(s *State, surface int) bool {
	return s.Surfaces[surface].Clean == Wiped && s.Wipe.Face >= 0 &&
		m.P.Surfaces[s.Wipe.Face].Face != m.P.Surfaces[surface].Face
}

// clean takes off what can be seen; absorbing takes up the most of it and leaves
// the cleaning to be done.
func (m *Machine) clean(s *State, a *Act) {
	x := &s.Surfaces[a.Surface]
	id := m.P.Surfaces[a.Surface].ID
	if x.Blood {
		m.spatter(s)
		m.soil(s, a, SoiledGloves, ByWork, onSurface(a.Surface), id)
	} else if x.Clean != Wiped {
		m.soil(s, a, UsedGloves, ByWork, onSurface(a.Surface), id)
	}
	if a.Verb == action.Absorb {
		s.Absorbed = true
		return
	}
	m.firstUse(s, a)
	s.Wipe.Soil = s.Wipe.Soil || x.Blood || x.Clean != Wiped
	x.Blood, x.SoilTold = false, false
	if x.Clean != Wiped {
		x.Clean = Used
	}
}

// towel wipes a surface dry: everybody can see that its spell is over.
func (m *Machine) towel(s *State, a *Act) {
	x := &s.Surfaces[a.Surface]
	if x.Clean != Wiped {
		m.soil(s, a, UsedGloves, ByWork, onSurface(a.Surface), m.P.Surfaces[a.Surface].ID)
		return
	}
	p := m.pend(s, a)
	x.Contact.Towel(s.Now, m.Wet())
	x.Early = x.Early || p.Early
	p.Dried = true
	s.Pend = p
}
