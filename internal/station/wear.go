package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

func (m *Machine) putOn(s *State, a *Act) {
	if a.Item >= 0 {
		return
	}
	if a.Object != action.Gloves {
		s.Wear |= wearOf(a.Object)
		s.WearUnseen &^= wearOf(a.Object)
		s.LateWear &^= wearOf(a.Object)
		return
	}
	s.Late = false
	s.freshGloves(FreshGloves)
	m.Trace.clear(glovesCarrier)
}

func (s *State) freshGloves(g Gloves) {
	s.Gloves, s.Dirt, s.Mixed, s.MixedBucket, s.BareTold, s.Rubbed = g, 0, false, false, false, false
}

func (m *Machine) takeOff(s *State, a *Act) {
	switch {
	case a.Object == action.Gloves:
		m.glovesOff(s)
	case a.Item >= 0:
		it := &s.Items[a.Item]
		it.Off = true
		if kind := a.Kind(m.P); kind == procedure.Circuit || kind == procedure.Reprocess {
			s.StableTold = s.StableTold || m.tooSoon(s)
			m.spatter(s)
		}
		m.handle(s, a)
	default:
		m.wearOff(s, a, wearOf(a.Object))
	}
}

func (m *Machine) glovesOff(s *State) {
	s.Gloves, s.Dirt, s.NeedHands, s.Late = NoGloves, 0, true, false
	s.useHands()
	s.Wipe = Wipe{Face: -1}
	m.Trace.clear(glovesCarrier)
	m.Trace.clear(handsCarrier)
}

// wearOff takes off other equipment: what was worn for work that spatters makes
// bare hands used, and eye protection has to be disinfected or thrown away.
func (m *Machine) wearOff(s *State, a *Act, w Wear) {
	if s.WearUsed&w != 0 {
		m.soil(s, a, UsedGloves, ByWork, noCarrier, a.Object)
	}
	s.UsedOff |= s.WearUsed & w
	s.Wear &^= w
	s.WearUsed &^= w
	s.LateWear &^= w
}

// throwWear throws gloves or other equipment away, which takes off what is worn. Used
// things soil bare hands that pick them up. What goes anywhere but into waste is not
// thrown away.
func (m *Machine) throwWear(s *State, a *Act) {
	if a.Object == action.Gloves {
		if s.Gloves != NoGloves {
			m.glovesOff(s)
		} else {
			s.useHands()
		}
		return
	}
	w := wearOf(a.Object)
	if s.UsedOff&w != 0 {
		m.soil(s, a, UsedGloves, ByWork, noCarrier, a.Object)
	}
	m.wearOff(s, a, w)
	if a.PlaceKind(m.P).ForWaste() {
		s.UsedOff &^= w
	}
}

// spatter is work in which blood can spurt: what is worn for it is used after it.
func (m *Machine) spatter(s *State) {
	s.WearUsed |= s.Wear
	s.EyesUsed = s.EyesUsed || s.Wear&Eyes != 0
}

func (m *Machine) disinfect(s *State, a *Act) {
	if a.Item >= 0 {
		it := &s.Items[a.Item]
		it.Treated, it.Dirty = true, false
		m.Trace.clear(onItem(a.Item))
		return
	}
	s.UsedOff &^= wearOf(a.Object)
	s.WearUsed &^= wearOf(a.Object)
}
