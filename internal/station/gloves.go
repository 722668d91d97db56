package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Handles reports whether the act puts the hands on a used thing, a used
// surface, blood or disinfectant, so that gloves are needed. The canister of the
// wipes and clean supplies may be touched with bare hands.
func (m *Machine) Handles(s *State, a *Act) bool {
	switch a.Verb {
	case action.Wipe, action.Clean, action.Absorb, action.Disinfect, action.TakeOut, action.PutInSharps, action.Disconnect,
		action.Recap, action.ReachIntoSharps, action.DiscardWipe:
		return a.Verb != action.DiscardWipe || s.Wipe.Soil
	case action.Touch, action.WipeDry:
		if a.Surface >= 0 {
			x := &s.Surfaces[a.Surface]
			return x.Clean != Wiped || m.stillWetNow(s, x)
		}
		return a.Item >= 0 && m.DirtyItem(s, a.Item) == Yes
	case action.TakeOff, action.Discard, action.SetAt, action.Empty, action.PutBack, action.CapItem, action.Bring:
		return a.Item >= 0 && m.DirtyItem(s, a.Item) == Yes
	}
	return false
}

// stillWetNow reports whether disinfectant is on a surface for sure. Where somebody
// watches and noted no dryness, it is not held to be wet for longer than its time; where
// it need not stay wet, nobody is asked to note it.
func (m *Machine) stillWetNow(s *State, x *Surface) bool {
	return x.Contact.Wet && !x.Contact.Air && (!m.Watched() || !x.Contact.Alone && s.Now < x.Contact.Since+x.Contact.Need)
}

// Clash says whether the act is clean work, done with gloves that should have been
// changed first: because they are dirty, or because they wiped the bucket, which
// is custom only.
func (m *Machine) Clash(s *State, a *Act) (asked, dirty, bucket bool) {
	asked = m.cleanWork(s, a)
	if !asked || !s.Gloves.On() {
		return asked, false, false
	}
	var wrong, custom Dirt = ByWork | ByBucket | ByPatient, OnBucket
	if a.Surface >= 0 && m.P.Surfaces[a.Surface].Role == procedure.BucketSurface {
		wrong, custom = ByWork, 0 // a bucket is held while it is wiped
	}
	return true, s.Gloves.Dirty() && s.Dirt&wrong != 0, s.Dirt&custom != 0
}

// cleanWork reports whether the act asks for gloves that carry nothing.
func (m *Machine) cleanWork(s *State, a *Act) bool {
	switch a.Verb {
	case action.Wipe:
		return !s.Surfaces[a.Surface].Blood // over blood another thing is wrong
	case action.Bring:
		return m.DirtyItem(s, a.Item) != Yes
	}
	return false
}

// Doubt is yes, no or unknown.
type Doubt uint8

// The answers.
const (
	No Doubt = iota
	Yes
	Unknown
)

// DirtyItem says whether an item is used and not disinfected.
func (m *Machine) DirtyItem(s *State, item int) Doubt {
	it := &s.Items[item]
	switch m.P.Items[item].Kind {
	case procedure.BucketItem:
		return m.dirtyBucket(s)
	case procedure.Supplies, procedure.NextSet:
		return doubt(it.Dirty)
	case procedure.Reusable:
		if it.Unknown {
			return Unknown
		}
		return doubt(!it.Treated)
	}
	return Yes
}

func doubt(yes bool) Doubt {
	if yes {
		return Yes
	}
	return No
}

func (m *Machine) dirtyBucket(s *State) Doubt {
	answer := No
	for i := range m.P.Surfaces {
		if m.P.Surfaces[i].Role != procedure.BucketSurface {
			continue
		}
		switch s.Surfaces[i].Clean {
		case Used:
			return Yes
		case UnknownClean:
			answer = Unknown
		}
	}
	return answer
}

// dirtyHands reports whether what the hands touch takes something from them.
func (s *State) dirtyHands() bool {
	if s.Gloves == NoGloves {
		return s.Hands == HandsUsed || s.Hands == HandsOnPatient || s.Hands == HandsSoiled
	}
	return s.Gloves.Dirty()
}

// useHands makes bare hands used; what can be seen on them stays to be seen.
func (s *State) useHands() {
	if s.Hands != HandsSoiled {
		s.Hands = HandsUsed
	}
}

// source is what the hands carry from.
func (s *State) source() (carrier, string) {
	if s.Gloves == NoGloves {
		return handsCarrier, ByHands
	}
	return glovesCarrier, ByGloves
}

// soil makes hands or gloves used by a thing.
func (m *Machine) soil(s *State, a *Act, level Gloves, dirt Dirt, from carrier, thing string) {
	if s.Gloves == NoGloves {
		s.useHands()
		m.Trace.carry(a.Number, from, thing, handsCarrier, ByHands)
		return
	}
	if s.Gloves == UnknownGloves {
		return
	}
	first := !s.Gloves.Dirty() || dirt&ByWork != 0 && s.Dirt&ByWork == 0 || level > s.Gloves
	s.Dirt |= dirt
	s.Gloves = max(s.Gloves, level)
	if first {
		m.Trace.carry(a.Number, from, thing, glovesCarrier, ByGloves)
	}
}

// onPatient is what laying hands on the patient does to them.
func (m *Machine) onPatient(s *State, a *Act) {
	if s.Gloves == NoGloves { // unclean ones are told once; from then on they are the patient's
		if s.Hands != HandsUnknown && s.Hands != HandsSoiled {
			s.Hands = HandsOnPatient
		}
		return
	}
	if s.Gloves == UnknownGloves {
		return
	}
	if !s.Gloves.Dirty() {
		m.Trace.begin(a.Number, OfPerson, ByGloves, glovesCarrier)
	}
	s.Dirt |= ByPatient
	s.Gloves = max(s.Gloves, UsedGloves)
}

// OnlyPatient reports whether hands or gloves are clean, or have touched nothing
// but the patient since.
func (s *State) OnlyPatient() Doubt {
	switch {
	case s.Gloves == UnknownGloves, s.Gloves == NoGloves && s.Hands == HandsUnknown:
		return Unknown
	case s.Gloves == NoGloves:
		return doubt(s.Hands == HandsClean || s.Hands == HandsOnPatient)
	}
	return doubt(s.Gloves == FreshGloves || s.Gloves == UsedGloves && s.Dirt == ByPatient)
}
