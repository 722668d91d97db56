package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Impossible says why an act could not have been done as the log has it.
type Impossible uint8

// The reasons.
const (
	Possible Impossible = iota
	NotWorn
	AlreadyWorn
	GlovesOn
	NobodyThere
	NoWipe
	// After these the act is applied all the same: what it says for sure is so.
	StillOn
	NotOff
	AlreadyOff
	AlreadyGone
)

var impossibleTexts = [...]string{
	NotWorn:     "it was not worn, so it could not be taken off",
	AlreadyWorn: "it was worn already",
	GlovesOn:    "gloves were on, and cleaning gloves does not clean hands; take them off first",
	NobodyThere: "the patient was not in the {station}",
	NoWipe:      "there was no wipe in hand",
	StillOn:     "still on the machine",
	NotOff:      "still in its place",
	AlreadyOff:  "off already",
	AlreadyGone: "gone already",
}

func (i Impossible) String() string { return impossibleTexts[i] }

// Blocks reports whether the act changes nothing.
func (i Impossible) Blocks() bool { return i != Possible && i < StillOn }

// Assumed is a line that was forgotten for sure.
type Assumed uint8

// The lines.
const (
	Nothing Assumed = iota
	CameBack
	TookWipe
	GlovesHadComeOff // before hands were rubbed: new gloves go on next
	WasWiped         // a surface that was seen wet
)

// assume puts in the line that was forgotten for sure before an act.
func (m *Machine) assume(s *State, a *Act) {
	switch {
	case s.Where != AtStation && m.needsStation(a):
		hands := s.Hands
		m.comeBack(s, a)
		s.Hands = hands             // when nobody noted the coming back, what was done last counts
		if a.Verb != action.Bring { // who brings something has come back with it
			s.Assumed = CameBack
		}
	case a.Verb == action.PutOn && a.Object == action.Gloves && s.Gloves != NoGloves && s.Rubbed:
		s.Assumed = GlovesHadComeOff
		m.glovesOff(s)
		s.Hands, s.NeedHands = HandsClean, false
	}
	if a.Verb == action.Wipe || a.Verb == action.Clean {
		m.assumeWipe(s, a)
	}
}

// assumeWipe: who wipes has a wipe. Its product is that of the last one, or the usual.
func (m *Machine) assumeWipe(s *State, a *Act) {
	if s.Wipe.Number != 0 && (a.Wipe == 0 || a.Wipe == s.Wipe.Number) {
		return
	}
	product := s.Product
	if product < 0 {
		product = m.Usual
	}
	number := a.Wipe
	if number == 0 {
		number = -1
	}
	if !s.ended(number) { // of one that was dropped another rule speaks
		s.Assumed, s.WipeTold = TookWipe, true
	}
	m.Trace.clear(wipeCarrier)
	s.Wipe = Wipe{Number: number, Product: product, Face: -1, Spent: s.ended(number)}
}

// needsStation reports whether an act can only be done at the station.
func (m *Machine) needsStation(a *Act) bool {
	switch a.Verb {
	case action.Wipe, action.Clean, action.WipeDry, action.Absorb, action.PutBack, action.HelpOut, action.CheckStable, action.Disconnect,
		action.TakeOut, action.DeclareReady, action.TagOut, action.StartInternal, action.Bring, action.SeatNext, action.LookAt, action.HandOver:
		return true
	case action.Touch:
		return a.Surface >= 0
	case action.TakeOff:
		return a.Item >= 0
	case action.SetAt, action.Discard:
		return a.On >= 0
	}
	return false
}

// impossible says whether the act can be done in the state.
func (m *Machine) impossible(s *State, a *Act) Impossible {
	switch a.Verb {
	case action.HelpOut, action.Disconnect:
		return when(!s.Present && !s.PatientUnseen && !s.BySight, NobodyThere)
	case action.RubHands, action.WashHands:
		if s.Gloves.On() {
			s.Rubbed = true
			return GlovesOn
		}
	case action.PutOn:
		return m.onImpossible(s, a)
	case action.TakeOff, action.TakeOut:
		return m.offImpossible(s, a)
	case action.DropWipe, action.DiscardWipe:
		return when(s.Wipe.Number == 0, NoWipe)
	case action.Discard, action.SetAt, action.Empty, action.PutBack, action.PutInSharps:
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

func (m *Machine) onImpossible(s *State, a *Act) Impossible {
	if a.Object == action.Gloves {
		return when(s.Gloves.On(), AlreadyWorn)
	}
	w := wearOf(a.Object)
	return when(s.Wear&w != 0 && s.WearUnseen&w == 0, AlreadyWorn)
}

func (m *Machine) offImpossible(s *State, a *Act) Impossible {
	switch {
	case a.Object == action.Gloves:
		return when(s.Gloves == NoGloves, NotWorn)
	case a.Item < 0:
		w := wearOf(a.Object)
		return when(s.Wear&w == 0 && s.WearUnseen&w == 0, NotWorn)
	case s.Items[a.Item].Unknown:
		return Possible
	}
	return when(s.Items[a.Item].Off, AlreadyOff)
}

func (m *Machine) moveImpossible(s *State, a *Act) Impossible {
	if a.Item < 0 {
		return Possible // equipment: worn or off, it can be thrown away
	}
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
	return when((kind == procedure.Circuit || kind == procedure.Reprocess) && !it.Off, StillOn)
}
