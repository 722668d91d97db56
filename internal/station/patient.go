package station

import (
	"stillwet/internal/action"
)

// leave is the patient out of the station.
func (s *State) leave() {
	s.Present, s.InChair, s.Stays, s.Treated, s.PatientUnseen = false, false, false, false, false
	s.LeftAt = s.Now
	s.BySight = false
}

// wasThere: somebody who had been taken for gone was there all the time, with what
// was wiped meanwhile.
func (m *Machine) wasThere(s *State) {
	if !s.BySight {
		return
	}
	s.WipedUnder = s.WipedSince
	s.forget(m.P, action.CheckGone)
	for i := range m.P.Surfaces {
		if s.WipedUnder&(1<<i) != 0 && m.P.Surfaces[i].ChairSide {
			s.Surfaces[i].Beside = true
		}
	}
}

// tooSoon reports whether a patient who was just treated is moved or taken off
// before it was checked that the treatment is complete and the patient stable.
func (m *Machine) tooSoon(s *State) bool {
	return s.Present && s.Treated && !s.Stable && !s.MayHave(action.CheckStable)
}

// sits is a person in the chair: what she can reach from there is used.
func (m *Machine) sits(s *State, a *Act) {
	s.Present, s.InChair, s.GoneChecked, s.PatientUnseen, s.BySight = true, true, false, false, false
	for i := range m.P.Surfaces {
		if m.P.Surfaces[i].ChairSide {
			m.spoilByPatient(s, a, i)
		}
	}
}

func (m *Machine) spoilByPatient(s *State, a *Act, surface int) {
	x := &s.Surfaces[surface]
	if x.Clean != Wiped {
		return
	}
	m.Trace.begin(a.Number, OfPerson, m.P.Surfaces[surface].ID, onSurface(surface))
	x.spoil(SpoiltByPatient)
}
