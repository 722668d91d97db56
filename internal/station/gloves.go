package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Handles reports whether the act puts the hands on a used thing, a used
// surface or disinfectant, so that gloves are needed.
func (m *Machine) Handles(s *State, a *Act) bool {
	switch a.Verb {
	case action.TakeWipe, action.Wipe, action.Clean:
		return true
	case action.Touch:
		if a.Surface >= 0 {
			return s.Surfaces[a.Surface].Clean != Wiped
		}
		return a.Item >= 0 && m.DirtyItem(s, a)
	case action.TakeOff, action.Discard, action.SetAt, action.Empty, action.PutBack:
		return a.Item >= 0 && m.DirtyItem(s, a)
	}
	return false
}

// clash reports whether the act begins cleaner or other work with a pair of
// gloves that should have been changed first, and keeps for what in s.Clash.
func (m *Machine) clash(s *State, a *Act) bool {
	if s.Mixed || s.Gloves == NoGloves || s.Gloves == UnknownGloves {
		return false
	}
	after, dirty := m.ChangeAfter(a)
	s.Clash = s.Tasks & after
	return s.Clash != 0 || dirty && s.Gloves.Dirty()
}

// ChangeAfter says after which tasks gloves must be changed before the act, and
// whether dirty gloves of any origin are wrong for it.
func (m *Machine) ChangeAfter(a *Act) (after Task, dirty bool) {
	switch a.Verb {
	case action.Wipe:
		switch m.P.Surfaces[a.Surface].Role {
		case procedure.BucketSurface:
			return Gathered | TornDown | SoilCleaned, false
		case procedure.StagingSurface:
			return TornDown | SoilCleaned | BucketWork, true
		}
		return Gathered | TornDown | SoilCleaned | BucketWork, true
	case action.Bring:
		return TornDown | SoilCleaned | BucketWork, true
	case action.TakeOff, action.Discard, action.SetAt:
		switch a.Kind(m.P) {
		case procedure.Circuit, procedure.SingleUse, procedure.Reusable:
			return Gathered, false
		}
	}
	return 0, false
}
