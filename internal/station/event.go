package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

func (m *Machine) event(s *State, a *Act) {
	switch a.Verb {
	case action.PatientLeaves:
		m.wasThere(s)
		s.leave()
	case action.PatientBack:
		s.Present, s.GoneChecked, s.PatientUnseen, s.BySight = true, false, false, false
	case action.PatientSits:
		m.sits(s, a)
	case action.PatientTouches:
		m.spoilByPatient(s, a, a.Surface)
	case action.PatientStays:
		s.Stays = true
	case action.Alarm:
		s.Alarm = true
	case action.Pause:
		s.Paused = true
	case action.Resume:
		s.Alarm, s.Paused = false, false
	case action.HandsSoiled:
		s.Hands = HandsSoiled
	case action.WipeSpent:
		s.Wipe.Spent = true
	case action.BloodLeak, action.ProtectorWet:
		s.Leak = true
	case action.Stopped:
		s.Stopped = true
	case action.WatchingFrom:
		m.watchingFrom(s, a.Object)
	case action.WatcherSays:
		s.says(m.P.MarkIndex(a.Object), a.Of)
	default:
		m.surfaceEvent(s, a)
	}
}

func (m *Machine) surfaceEvent(s *State, a *Act) {
	switch a.Verb {
	case action.BloodOn:
		x := &s.Surfaces[a.Surface]
		spoilt := x.Spoilt
		if x.Clean == Wiped {
			spoilt = SpoiltByBlood
		}
		m.Trace.begin(a.Number, OfBlood, m.P.Surfaces[a.Surface].ID, onSurface(a.Surface))
		*x = Surface{Blood: true, WasBlood: true, Spoilt: spoilt}
	case action.Dry:
		s.Surfaces[a.Surface].Contact.Dry(s.Now, m.Wet())
	case action.AllDry:
		for i := range m.P.Surfaces {
			s.Surfaces[i].Contact.Dry(s.Now, m.Wet())
		}
	case action.StillWet:
		m.stillWet(s, a)
	case action.NotSeen:
		m.notSeen(s, a)
	case action.NotSeenFor:
		m.blur(s)
	}
}

// stillWet: what somebody saw wet was wiped, also where no line says when.
func (m *Machine) stillWet(s *State, a *Act) {
	x := &s.Surfaces[a.Surface]
	x.Contact.See(s.Now)
	if x.Clean == Used && !x.Blood && m.Watched() {
		x.Clean, s.Assumed = UnknownClean, WasWiped
	}
}

// watchingFrom sets what was so when watching began.
func (m *Machine) watchingFrom(s *State, stage string) {
	s.Watched = true
	if stage != action.FromConnected {
		m.late(s)
	}
	switch stage {
	case action.FromInChair:
		s.Stable, s.CheckedLate = true, true
	case action.FromGone, action.FromLinesOff:
		s.leave()
		s.Stable, s.GoneChecked = true, true
	}
	if stage != action.FromLinesOff {
		return
	}
	for i := range m.P.Items {
		if kind := m.P.Items[i].Kind; kind == procedure.Circuit || kind == procedure.Reprocess || kind == procedure.Sharp {
			s.Items[i].Off, s.Items[i].Gone = true, true
		}
	}
}

// late: what was done before watching began nobody saw, and nobody is asked.
func (m *Machine) late(s *State) {
	s.Late, s.LateWear, s.WearUnseen = true, Eyes|GownOn|MaskOn, Eyes|GownOn|MaskOn
	s.Gloves, s.Hands = UnknownGloves, HandsUnknown
	for i := range m.P.Steps {
		if m.before(i) {
			s.LateSteps = s.LateSteps.With(i)
		}
	}
}

// before reports whether a step may have been done before the station's surfaces are
// wiped: not their wiping, nor what comes after it.
func (m *Machine) before(step int) bool {
	for i := range m.P.Steps[step].Acts {
		a := &m.P.Steps[step].Acts[i]
		surface, item := m.P.SurfaceIndex(a.Object), m.P.ItemIndex(a.Object)
		bucket := item >= 0 && m.P.Items[item].Kind == procedure.BucketItem
		switch a.Verb {
		case action.PutBack, action.DeclareReady, action.StartInternal, action.SeatNext:
			return false
		case action.Wipe, action.WipeDry:
			return m.P.Surfaces[surface].Role == procedure.StagingSurface
		case action.SetAt:
			return !bucket
		}
	}
	return true
}

// says keeps what the watcher said last of a mark.
func (s *State) says(mark int, verdict string) {
	if mark < 0 || mark >= 64 {
		return
	}
	s.Marks[0] &^= 1 << mark
	s.Marks[1] &^= 1 << mark
	switch verdict {
	case action.VerdictMet:
		s.Marks[0] |= 1 << mark
	case action.VerdictMissed:
		s.Marks[1] |= 1 << mark
	}
}

// notSeen makes unknown what may have been done unseen.
func (m *Machine) notSeen(s *State, a *Act) {
	if a.Surface >= 0 {
		s.Surfaces[a.Surface].mayBeWiped()
	}
	if a.Item >= 0 {
		s.Items[a.Item].Unknown = true
	}
	if step := m.P.StepIndex(a.Object); step >= 0 {
		m.unseenStep(s, step)
	}
}

func (m *Machine) unseenStep(s *State, step int) {
	s.NotSeen = s.NotSeen.With(step)
	for i := range m.P.Steps[step].Acts {
		m.unseenAct(s, &m.P.Steps[step].Acts[i])
	}
}

// blur makes unknown whatever may have been done while nobody could see.
func (m *Machine) blur(s *State) {
	for i := range m.P.Steps {
		if !s.Done.Has(i) {
			s.NotSeen = s.NotSeen.With(i)
		}
	}
	for v := action.CheckStable; v < action.PatientLeaves; v++ {
		s.unseen(v)
	}
	for i := range m.P.Surfaces {
		s.Surfaces[i].mayBeWiped()
		s.Surfaces[i].BloodUnseen = s.Surfaces[i].Blood
	}
	for i := range m.P.Items {
		s.Items[i].Unknown = s.Items[i].Unknown || !s.Items[i].Gone
	}
	s.PatientUnseen = s.PatientUnseen || s.Present
	if s.Ready {
		return // the work had ended: what was seen by then holds
	}
	s.Gloves, s.Hands, s.NeedHands, s.Pend, s.Left = UnknownGloves, HandsUnknown, false, Pend{}, Left{}
	s.WearUnseen = Eyes | GownOn | MaskOn
	s.Wipe = m.unseenWipe()
}

func (x *Surface) mayBeWiped() {
	if x.Clean == Used {
		x.Clean = UnknownClean
	}
}

func (m *Machine) unseenAct(s *State, act *action.Act) {
	s.unseen(act.Verb)
	if item := m.P.ItemIndex(act.Object); item >= 0 {
		s.Items[item].Unknown = true
	}
	if surface := m.P.SurfaceIndex(act.Object); surface >= 0 {
		switch act.Verb {
		case action.Wipe:
			s.Surfaces[surface].mayBeWiped()
		case action.Clean:
			s.Surfaces[surface].BloodUnseen = s.Surfaces[surface].Blood
		}
	}
	m.unseenOfWorker(s, act)
}

func (m *Machine) unseenOfWorker(s *State, act *action.Act) {
	switch act.Verb {
	case action.HelpOut, action.CheckGone:
		s.PatientUnseen = s.PatientUnseen || s.Present
	case action.RubHands, action.WashHands:
		if s.Gloves == NoGloves && s.Hands != HandsClean {
			s.Hands = HandsUnknown
		}
		s.NeedHands = false
	case action.TakeWipe, action.DropWipe, action.DiscardWipe:
		s.Wipe = m.unseenWipe()
	case action.PutOn, action.TakeOff, action.Discard, action.Disinfect:
		if act.Object == action.Gloves {
			s.Gloves, s.Hands, s.NeedHands = UnknownGloves, HandsUnknown, false
		}
		s.WearUnseen |= wearOf(act.Object)
	case action.LeaveStation, action.ComeBack:
		s.Where, s.Left = AtStation, Left{}
	}
}
