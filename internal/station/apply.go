package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/wettime"
)

// Reasons why an act could not have been done; see [Impossible.String].
const (
	Possible Impossible = iota
	NotWorn
	AlreadyWorn
	NoWipe
	OtherWipe
	AlreadyOff
	StillOn
	AlreadyGone
	NotOff
	GlovesOn
	NobodyThere
	IsAway
)

var impossibleTexts = [...]string{
	NotWorn:     "this was not worn, so it could not be taken off",
	AlreadyWorn: "this was worn already",
	NoWipe:      "there was no wipe in hand",
	OtherWipe:   "the wipe in hand was another one",
	AlreadyOff:  "this was off already",
	StillOn:     "this was still on the machine",
	AlreadyGone: "this was gone already",
	NotOff:      "this was in its place",
	GlovesOn:    "gloves were on, and cleaning gloves does not clean hands: take them off first",
	NobodyThere: "the patient was not in the station",
	IsAway:      "nobody was at the station: come back first",
}

func (i Impossible) String() string { return impossibleTexts[i] }

// Machine applies acts to a state under a procedure. Trace may be nil.
type Machine struct {
	P       *procedure.Procedure
	Witness action.Witness
	Trace   *Trace
}

// Rule is the wet-time rule for a surface wiped with a product.
func (m *Machine) Rule(product int8) wettime.Rule {
	return wettime.Rule{
		Need:    action.Millis(m.P.Products[product].LabelS) * 1000,
		AddsUp:  m.P.Settings.WetAddsUp,
		Witness: m.Witness,
	}
}

// Contact says whether a wiped surface reached its contact time by now.
func (m *Machine) Contact(s *State, surface int) wettime.Status {
	x := &s.Surfaces[surface]
	return x.Contact.Status(m.Rule(x.Product), s.Now)
}

// Apply changes s by one act. An impossible act changes nothing but
// s.Impossible.
func (m *Machine) Apply(s *State, a *Act) {
	if a.At != action.Untimed {
		s.Now = a.At
	}
	s.Impossible = m.impossible(s, a)
	if s.Impossible != Possible {
		return
	}
	if a.Verb.Event() {
		m.event(s, a)
		return
	}
	s.Begun = s.Begun.Or(a.Begins)
	if a.Verb != action.CheckGone || !s.Present { // looking does not make the patient go
		s.Done = s.Done.Or(a.Ends)
	}
	if a.OfHands() && a.Verb != action.TakeOff {
		s.NeedHands = false
	}
	if s.Gloves == NoGloves && m.Handles(s, a) {
		s.BareTold, s.Hands = true, HandsUsed
	}
	if m.clash(s, a) {
		s.Mixed = true
	}
	m.act(s, a)
}

func (m *Machine) act(s *State, a *Act) {
	switch a.Verb {
	case action.CheckStable:
		s.Stable = s.Stable || s.Present
	case action.HelpOut:
		s.StableTold = s.StableTold || !s.Stable
		s.Present, s.WipedBeside = false, false
		m.dirtyHands(s, a, "the patient")
	case action.CheckGone:
		s.GoneChecked = s.GoneChecked || !s.Present
	case action.RubHands, action.WashHands:
		s.Hands = HandsClean
	case action.PutOn:
		m.putOn(s, a)
	case action.TakeOff:
		m.takeOff(s, a)
	case action.TakeWipe:
		s.Wipe = Wipe{Number: a.Wipe, Product: int8(a.Product), Face: -1}
	case action.DropWipe:
		s.Wipe = Wipe{Face: -1}
	case action.Wipe:
		m.wipe(s, a)
	case action.Clean:
		m.clean(s, a)
	case action.LookAt:
		s.Looked = s.Looked || a.Object == action.Station
	case action.Touch:
		m.touch(s, a)
	case action.Discard, action.SetAt, action.Bring, action.Empty, action.PutBack:
		m.move(s, a)
	case action.LeaveStation:
		s.Away = true
	case action.ComeBack:
		s.Away = false
	case action.StartInternal:
		s.Internal = true
	case action.TagOut:
		s.TaggedOut = true
	case action.Wait:
		for i := range m.P.Surfaces {
			if !m.Witness.Has(action.Clock) {
				s.Surfaces[i].Contact.Wait()
			}
		}
	case action.DeclareReady:
		s.Ready = true
	}
}

func (m *Machine) putOn(s *State, a *Act) {
	if a.Object != action.Gloves {
		s.Wear |= wearOf(a.Object)
		return
	}
	s.Gloves, s.Tasks, s.Clash, s.Mixed, s.BareTold = FreshGloves, 0, 0, false, false
	m.Trace.freshGloves()
}

func (m *Machine) takeOff(s *State, a *Act) {
	switch {
	case a.Object == action.Gloves:
		s.Gloves, s.Hands, s.NeedHands = NoGloves, HandsUsed, true
		s.Wipe = Wipe{Face: -1}
		m.Trace.freshGloves()
	case a.Item >= 0:
		s.NeedHands = false
		s.Items[a.Item].Off = true
		s.StableTold = s.StableTold || m.tooSoon(s, a)
		m.handle(s, a)
	default:
		s.Wear &^= wearOf(a.Object)
	}
}

// tooSoon reports whether used lines come off before it was checked that the
// treatment is complete and the patient stable.
func (m *Machine) tooSoon(s *State, a *Act) bool {
	return a.Kind(m.P) == procedure.Circuit && s.Present && !s.Stable && !s.StableUnseen
}

func (m *Machine) wipe(s *State, a *Act) {
	x := &s.Surfaces[a.Surface]
	role := m.P.Surfaces[a.Surface].Role
	if role != procedure.StagingSurface {
		s.FirstWipe = true
	}
	if s.Present && !(role == procedure.StagingSurface && m.P.Settings.StagingWithPatient) {
		s.WipedBeside = true
	}
	if s.Gloves == FreshGloves {
		s.Gloves = WorkingGloves
	}
	if role == procedure.BucketSurface {
		s.Tasks |= BucketWork
	}
	other := m.OtherFace(s, a.Surface)
	if s.Wipe.Face < 0 {
		s.Wipe.Face = int8(a.Surface)
	}
	if x.Blood || s.Wipe.Blood {
		x.SoilTold = true
		return // soil defeats disinfectant: the surface is as it was
	}
	if x.Clean != Wiped || other {
		spoilt := x.Clean == Wiped
		*x = Surface{WasBlood: x.WasBlood}
		if spoilt {
			m.Trace.onSurface(a.Number, a.Surface, "wipe used on "+m.P.Surfaces[s.Wipe.Face].Title, false)
		}
	}
	x.Clean, x.Product, x.Early, x.Spoilt = Wiped, s.Wipe.Product, false, false
	x.WasBlood = x.WasBlood && m.P.Products[x.Product].Level != procedure.IntermediateLevel
	x.Contact.Wipe(s.Now)
}

// OtherFace reports whether the wipe in hand was first used on another face
// than the surface's, and the surface is wiped already.
func (m *Machine) OtherFace(s *State, surface int) bool {
	return s.Surfaces[surface].Clean == Wiped && s.Wipe.Face >= 0 &&
		m.P.Surfaces[s.Wipe.Face].Face != m.P.Surfaces[surface].Face
}

func (m *Machine) clean(s *State, a *Act) {
	x := &s.Surfaces[a.Surface]
	s.Tasks |= SoilCleaned
	if s.Wipe.Face < 0 {
		s.Wipe.Face = int8(a.Surface)
	}
	if x.Blood {
		s.Wipe.Blood = true
		m.dirtyGloves(s, a, SoiledGloves, "blood on "+m.P.Surfaces[a.Surface].Title)
	} else if x.Clean != Wiped {
		m.dirtyGloves(s, a, UsedGloves, m.P.Surfaces[a.Surface].Title)
	}
	x.Blood, x.SoilTold = false, false
	if x.Clean != Wiped {
		x.Clean = Used
	}
}

func (m *Machine) touch(s *State, a *Act) {
	if a.Surface < 0 {
		if a.Item >= 0 {
			m.handle(s, a)
		}
		return
	}
	m.press(s, a, a.Surface, s.Gloves.Dirty(), "gloves", true)
	x := &s.Surfaces[a.Surface]
	if x.Clean != Wiped {
		level := UsedGloves
		if x.Blood {
			level = SoiledGloves
		}
		m.dirtyGloves(s, a, level, m.P.Surfaces[a.Surface].Title)
	}
}

// press puts gloves or an item on a surface: dirty ones undo its disinfection,
// clean ones before the contact time are an early use.
func (m *Machine) press(s *State, a *Act, surface int, dirty bool, thing string, byGloves bool) {
	x := &s.Surfaces[surface]
	if x.Clean != Wiped {
		return
	}
	if dirty {
		m.Trace.onSurface(a.Number, surface, thing, byGloves)
		*x = Surface{Spoilt: true, WasBlood: x.WasBlood}
		return
	}
	if m.Contact(s, surface) != wettime.Reached {
		x.Early = true
	}
}

func (m *Machine) move(s *State, a *Act) {
	it := &s.Items[a.Item]
	kind := a.Kind(m.P)
	switch a.Verb {
	case action.Empty:
		it.Empty = true
	case action.PutBack:
		it.Back, it.Off = true, false
	case action.Discard:
		it.Gone, it.Astray = m.mayGo(a), !m.mayGo(a)
	case action.SetAt:
		it.Gone, it.Astray = m.mayGo(a), !m.mayGo(a)
	case action.Bring:
		it.Brought = true
		if kind == procedure.Supplies {
			s.Tasks |= Gathered
		}
	}
	if a.On >= 0 {
		dirty := m.DirtyItem(s, a)
		m.press(s, a, a.On, dirty || s.Gloves.Dirty() && kind != procedure.BucketItem, m.P.Items[a.Item].Title, !dirty)
	}
	m.handle(s, a)
}

func (m *Machine) mayGo(a *Act) bool {
	for _, place := range m.P.Items[a.Item].Goes {
		if place == a.Act.Place {
			return true
		}
	}
	return false
}

// DirtyItem reports whether the act's item is used and not disinfected.
func (m *Machine) DirtyItem(s *State, a *Act) bool {
	switch a.Kind(m.P) {
	case procedure.Circuit, procedure.SingleUse, procedure.Reusable:
		return true
	case procedure.BucketItem:
		return !m.bucketWiped(s)
	}
	return false
}

func (m *Machine) bucketWiped(s *State) bool {
	for i := range m.P.Surfaces {
		if m.P.Surfaces[i].Role == procedure.BucketSurface && s.Surfaces[i].Clean != Wiped {
			return false
		}
	}
	return true
}

// handle is what holding the act's item does to gloves and tasks.
func (m *Machine) handle(s *State, a *Act) {
	switch a.Kind(m.P) {
	case procedure.Circuit, procedure.SingleUse, procedure.Reusable:
		s.Tasks |= TornDown
	case procedure.BucketItem:
		s.Tasks |= BucketWork
	}
	if m.DirtyItem(s, a) {
		m.dirtyGloves(s, a, UsedGloves, m.P.Items[a.Item].Title)
	}
}

func (m *Machine) dirtyHands(s *State, a *Act, thing string) {
	if s.Gloves == NoGloves {
		s.Hands = HandsUsed
		return
	}
	m.dirtyGloves(s, a, UsedGloves, thing)
}

func (m *Machine) dirtyGloves(s *State, a *Act, level Gloves, thing string) {
	if s.Gloves == NoGloves || s.Gloves == UnknownGloves || s.Gloves >= level {
		return
	}
	s.Gloves = level
	m.Trace.onGloves(a.Number, thing)
}
