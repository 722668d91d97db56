package station

import (
	"stillwet/internal/action"
)

// Apply changes s by one act. No act drops out of the state: one that cannot have
// been done as it stands is noted in s.Impossible, and what it says for sure is
// applied; one that a forgotten line makes impossible assumes that line, and notes
// it in s.Assumed.
func (m *Machine) Apply(s *State, a *Act) {
	if a.At != action.Untimed {
		s.Now = a.At
	}
	s.Impossible, s.Assumed, s.Settled, s.Parting, s.Carried, s.WipedUnder = Possible, Nothing, Pend{}, Left{}, false, 0
	if a.Item >= 0 {
		s.Items[a.Item].Named = true
	}
	switch {
	case a.Verb.Event():
		m.event(s, a)
	case a.Helper:
		m.helped(s, a)
	default:
		m.settle(s, a)
		m.assume(s, a)
		m.do(s, a)
	}
}

// helped is an act of a second person: it changes station and things, not the
// worker. What that person wears nobody judges.
func (m *Machine) helped(s *State, a *Act) {
	own := s.Worker
	s.Worker = Worker{Hands: HandsUnknown, Gloves: UnknownGloves, WearUnseen: Eyes | GownOn | MaskOn, Wipe: Wipe{Number: -1, Product: s.Product, Face: -1}}
	m.do(s, a)
	s.Worker = own
}

func (m *Machine) do(s *State, a *Act) {
	s.Impossible = m.impossible(s, a)
	if s.Impossible.Blocks() {
		return
	}
	if a.OfHands() && !a.Doffs() {
		s.NeedHands = false
	}
	_, dirty, bucket := m.Clash(s, a)
	s.Mixed, s.MixedBucket = s.Mixed || dirty, s.MixedBucket || bucket
	bare := s.Gloves == NoGloves && m.Handles(s, a)
	if a.OfHands() && !a.TouchesPatient() && !a.OfWorker() {
		s.Alarm = false // the work goes on: it is over
	}
	m.act(s, a)
	if bare && s.Gloves == NoGloves {
		if !s.BareTold {
			s.Bare++
		}
		s.BareTold = true
		m.bare(s, a)
	}
	if a.Verb != action.CheckGone || !s.Present { // looking does not make the patient go
		s.Note(m.P, a)
	}
}

// bare is what handling used things does to bare hands.
func (m *Machine) bare(s *State, a *Act) {
	if !a.TouchesPatient() {
		s.useHands()
	}
}

func (m *Machine) act(s *State, a *Act) {
	switch a.Verb {
	case action.CheckStable:
		s.Stable, s.CheckedLate = s.Stable || s.Present, false
		m.onPatient(s, a)
	case action.HelpOut:
		s.StableTold = s.StableTold || m.tooSoon(s)
		m.onPatient(s, a)
		m.wasThere(s)
		s.leave()
	case action.Disconnect:
		s.StableTold = s.StableTold || m.tooSoon(s)
		m.spatter(s)
		m.onPatient(s, a)
	case action.TakeOut:
		s.StableTold = s.StableTold || m.tooSoon(s)
		s.Items[a.Item].Off = true
		m.onPatient(s, a)
	case action.CheckGone:
		if s.Present && !s.Stays {
			s.leave()
			s.BySight, s.WipedSince = true, 0
		}
		s.GoneChecked = s.GoneChecked || !s.Present
		s.PatientUnseen = false
	case action.SeatNext:
		m.sits(s, a)
	case action.LookAt:
		m.look(s, a)
	case action.LeaveStation:
		s.Where = Outside
		s.Left = Left{Gloved: s.Gloves != NoGloves && !s.Safety(), Act: int32(a.Number), At: a.At}
	case action.GoToNeighbour:
		s.Where = AtNeighbour
	case action.ComeBack:
		s.Where = max(s.Where, Outside) // also when nobody noted the leaving
		m.comeBack(s, a)
	case action.StartInternal:
		s.Internal = true
	case action.TagOut:
		s.TaggedOut = true
	case action.Report:
		s.Reported = true
	case action.Wait:
		m.wait(s)
	case action.DeclareReady:
		s.Ready = true
	default:
		m.handwork(s, a)
	}
}

// handwork is what hands do with wipes, wear, surfaces and items.
func (m *Machine) handwork(s *State, a *Act) {
	switch a.Verb {
	case action.RubHands, action.WashHands:
		m.cleanHands(s, a)
	case action.PutOn:
		m.putOn(s, a)
	case action.TakeOff:
		m.takeOff(s, a)
	case action.TakeWipe:
		m.Trace.clear(wipeCarrier)
		s.Wipe = Wipe{Number: a.Wipe, Product: int8(a.Product), Face: -1, Spent: s.ended(a.Wipe)}
		s.Product = int8(a.Product)
	case action.DropWipe, action.DiscardWipe:
		s.end(s.Wipe.Number)
		m.dropOn(s, a)
		s.Wipe = Wipe{Face: -1}
	case action.Wipe:
		m.wipe(s, a)
	case action.Clean, action.Absorb:
		m.clean(s, a)
	case action.WipeDry:
		m.towel(s, a)
	case action.Touch:
		m.touch(s, a)
	case action.Disinfect:
		m.disinfect(s, a)
	case action.CapItem:
		s.Items[a.Item].Capped = true
		m.handle(s, a)
	case action.PutInSharps:
		s.Items[a.Item].Gone, s.Items[a.Item].Astray = true, false
		m.handle(s, a)
	case action.Discard:
		if a.Item < 0 {
			m.throwWear(s, a)
			return
		}
		m.move(s, a)
	case action.SetAt, action.Bring, action.Empty, action.PutBack:
		m.move(s, a)
	case action.Recap, action.ReachIntoSharps:
		m.soil(s, a, UsedGloves, ByWork, onItem(max(0, a.Item)), a.Object)
	}
}
