package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

func (m *Machine) event(s *State, a *Act) {
	switch a.Verb {
	case action.PatientLeaves:
		s.Present, s.WipedBeside = false, false
	case action.PatientSits:
		s.Present, s.Stable, s.StableTold, s.GoneChecked = true, false, false, false
	case action.BloodOn:
		x := &s.Surfaces[a.Surface]
		spoilt := x.Clean == Wiped
		if spoilt {
			m.Trace.onSurface(a.Number, a.Surface, "blood", false)
		}
		*x = Surface{Blood: true, WasBlood: true, Spoilt: spoilt}
	case action.Dry:
		x := &s.Surfaces[a.Surface]
		x.Contact.Dry(s.Now, m.Rule(x.Product).Need, m.Witness.Has(action.Drying))
	case action.StillWet:
		s.Surfaces[a.Surface].Contact.See(s.Now)
	case action.NotSeen:
		m.notSeen(s, a)
	}
}

// notSeen makes unknown what may have been done unseen.
func (m *Machine) notSeen(s *State, a *Act) {
	if a.Surface >= 0 && s.Surfaces[a.Surface].Clean == Used {
		s.Surfaces[a.Surface].Clean = UnknownClean
	}
	if a.Item >= 0 {
		s.Items[a.Item].Unknown = true
	}
	step := m.P.StepIndex(a.Object)
	if step < 0 {
		return
	}
	s.NotSeen = s.NotSeen.With(step)
	for i := range m.P.Steps[step].Acts {
		m.unseenAct(s, &m.P.Steps[step].Acts[i])
	}
}

func (m *Machine) unseenAct(s *State, act *action.Act) {
	surface, item := m.P.SurfaceIndex(act.Object), m.P.ItemIndex(act.Object)
	switch act.Verb {
	case action.CheckStable:
		s.StableUnseen = true
	case action.HelpOut:
		s.Present = false
	case action.RubHands, action.WashHands:
		if s.Gloves == NoGloves && s.Hands == HandsUsed {
			s.Hands = HandsUnknown
		}
		s.NeedHands = false
	case action.PutOn, action.TakeOff:
		if act.Object == action.Gloves {
			s.Gloves, s.Hands, s.NeedHands = UnknownGloves, HandsUnknown, false
		}
	case action.Wipe:
		if s.Surfaces[surface].Clean == Used {
			s.Surfaces[surface].Clean = UnknownClean
		}
	}
	if item >= 0 {
		s.Items[item].Unknown = true
	}
}

// impossible says whether the act can be done in the state.
func (m *Machine) impossible(s *State, a *Act) Impossible {
	if a.Verb.Event() {
		return Possible
	}
	if s.Away && a.Verb != action.ComeBack && a.Verb != action.RubHands && a.Verb != action.WashHands {
		return IsAway
	}
	switch a.Verb {
	case action.HelpOut:
		return when(!s.Present, NobodyThere)
	case action.RubHands, action.WashHands:
		return when(s.Gloves != NoGloves && s.Gloves != UnknownGloves, GlovesOn)
	case action.PutOn:
		if a.Object == action.Gloves {
			return when(s.Gloves != NoGloves && s.Gloves != UnknownGloves, AlreadyWorn)
		}
		return when(s.Wear&wearOf(a.Object) != 0, AlreadyWorn)
	case action.TakeOff:
		return m.offImpossible(s, a)
	case action.DropWipe:
		return when(s.Wipe.Number == 0, NoWipe)
	case action.Wipe, action.Clean:
		if s.Wipe.Number == 0 {
			return NoWipe
		}
		return when(a.Wipe != 0 && a.Wipe != s.Wipe.Number, OtherWipe)
	case action.Discard, action.SetAt, action.Empty, action.PutBack:
		return m.moveImpossible(s, a)
	}
	return Possible
}

func when(bad bool, why Impossible) Impossible {
	if bad {
		return why
	}
	return Possible
}

func (m *Machine) offImpossible(s *State, a *Act) Impossible {
	switch {
	case a.Object == action.Gloves:
		return when(s.Gloves == NoGloves, NotWorn)
	case a.Item < 0:
		return when(s.Wear&wearOf(a.Object) == 0, NotWorn)
	case s.Items[a.Item].Unknown:
		return Possible
	}
	return when(s.Items[a.Item].Off, AlreadyOff)
}

func (m *Machine) moveImpossible(s *State, a *Act) Impossible {
	it := &s.Items[a.Item]
	kind := a.Kind(m.P)
	switch {
	case it.Unknown:
		return Possible
	case a.Verb == action.PutBack:
		return when(!it.Off, NotOff)
	case it.Gone && kind != procedure.BucketItem && kind != procedure.Reusable:
		return AlreadyGone
	}
	return when(kind == procedure.Circuit && !it.Off, StillOn)
}
