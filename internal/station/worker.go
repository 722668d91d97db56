package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// cleanHands: what can be seen on hands takes soap.
func (m *Machine) cleanHands(s *State, a *Act) {
	if s.Hands == HandsSoiled && a.Verb == action.RubHands {
		s.SoapTold = true
		return
	}
	s.Hands, s.SoapTold = HandsClean, false
	if s.Late { // who rubs wears no gloves
		s.Late, s.Gloves = false, NoGloves
	}
	m.Trace.clear(handsCarrier)
}

func (m *Machine) look(s *State, a *Act) {
	if a.Object == action.Station {
		s.Looked = true
	}
	if a.Surface >= 0 {
		s.LookedAt |= 1 << a.Surface
		s.Looked = s.Looked || s.LookedAt == m.allSurfaces()
	}
}

// allSurfaces has a bit for each surface but those for staging.
func (m *Machine) allSurfaces() (all uint64) {
	for i := range m.P.Surfaces {
		if m.P.Surfaces[i].Role != procedure.StagingSurface {
			all |= 1 << i
		}
	}
	return all
}

// comeBack: what the hands did outside nobody saw, so they count as used; gloves
// too, but for those that only went to drain or waste with a used thing.
func (m *Machine) comeBack(s *State, a *Act) {
	if s.Where == AtStation {
		return
	}
	if s.Left.Gloved && s.Gloves != NoGloves {
		s.Parting = s.Left
	}
	switch {
	case s.Gloves == NoGloves:
		s.useHands()
		m.Trace.begin(a.Number, OfOutside, ByHands, handsCarrier)
	case s.Parting.Gloved || s.Safety() || s.Where == AtNeighbour:
		m.wornOutside(s, a)
	}
	s.Where, s.Left, s.Alarm = AtStation, Left{}, false
}

// wornOutside is gloves that may have touched anything outside the station.
func (m *Machine) wornOutside(s *State, a *Act) {
	if !s.Gloves.On() {
		return
	}
	m.Trace.beginNew(a.Number, OfOutside, ByGloves, glovesCarrier)
	s.Gloves, s.Dirt = max(s.Gloves, UsedGloves), s.Dirt|ByWork
}

// wait stands for contact time and air drying in a log without a clock. Somebody
// who watches and notes it says that all is dry now; where every dry-out is a line
// of its own it says nothing.
func (m *Machine) wait(s *State) {
	for i := range m.P.Surfaces {
		switch {
		case !m.Witness.Has(action.Clock):
			s.Surfaces[i].Contact.Wait()
		case m.Watched():
			s.Surfaces[i].Contact.Dry(s.Now, m.Wet())
		}
	}
}

// carries reports whether the act gets rid of a used thing, away from the station.
func (m *Machine) carries(s *State, a *Act) bool {
	switch a.Verb {
	case action.DiscardWipe:
		return true
	case action.Discard, action.SetAt, action.Empty, action.PutInSharps:
		return a.Item >= 0 && a.On < 0 && m.DirtyItem(s, a.Item) != No
	}
	return false
}

// elsewhere: what is put at another station was carried out of this one, in the gloves
// that were on, also where no line says so.
func (m *Machine) elsewhere(s *State, a *Act) {
	if a.PlaceKind(m.P) == procedure.Elsewhere && s.Where == AtStation && s.Gloves != NoGloves && !s.Safety() {
		s.Parting = Left{Gloved: true, Act: int32(a.Number), At: a.At}
	}
}

// parting decides what gloves worn out of the station were worn for: straight to
// drain or waste with a used thing, or not.
func (m *Machine) parting(s *State, a *Act) {
	if !s.Left.Gloved || !a.OfHands() {
		return
	}
	if !m.carries(s, a) {
		s.Parting = s.Left
		m.wornOutside(s, a)
	} else {
		s.Carried = true
	}
	s.Left = Left{}
}
