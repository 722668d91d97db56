package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/wettime"
)

// Machine applies acts to a state under a procedure. Trace may be nil.
type Machine struct {
	P       *procedure.Procedure
	Witness action.Witness
	Version int // of the log's format; 0 is the present one
	// Usual is the product, by index, of a wipe that nobody noted taking before any
	// other was taken.
	Usual int8
	Only  bool // the log knows no other product
	Trace *Trace
}

// MachineFor is for one log. Its usual product is the one that is taken first, or the
// procedure's first where none is taken at all.
func MachineFor(p *procedure.Procedure, log *action.Log, trace *Trace) *Machine {
	m := &Machine{P: p, Witness: log.Witness, Version: log.Version, Trace: trace}
	first := ""
	for i := range log.Acts {
		a := &log.Acts[i]
		switch {
		case a.Verb != action.TakeWipe:
		case first == "":
			first, m.Only = a.Of, true
			m.Usual = int8(max(0, p.ProductIndex(a.Of)))
		case a.Of != first:
			m.Only = false
		}
	}
	return m
}

// unseenWipe is the wipe in hand when nobody saw which was taken.
func (m *Machine) unseenWipe() Wipe {
	w := Wipe{Number: -1, Product: -1, Face: -1}
	if m.Only {
		w.Product = m.Usual
	}
	return w
}

// TapSlack is how far a time may be off that somebody taps while watching.
const TapSlack action.Millis = 2000

// Watched reports whether the log's times are taps of somebody who watches: it has
// a clock and does not tell every dry-out. Logs of version 1 took them as exact.
func (m *Machine) Watched() bool {
	return m.Witness.Has(action.Clock) && !m.Witness.Has(action.Drying) && m.Version != 1
}

// Slack is how far the log's times may be off.
func (m *Machine) Slack() action.Millis {
	if m.Watched() {
		return TapSlack
	}
	return 0
}

// Wet is how the log's wet spells are counted.
func (m *Machine) Wet() wettime.Rule {
	return wettime.Rule{AddsUp: m.P.Settings.WetAddsUp, Witness: m.Witness, Slack: m.Slack()}
}

// Contact says whether a wiped surface reached its contact time by now.
func (m *Machine) Contact(s *State, surface int) wettime.Status {
	return m.ContactAt(s, surface, s.Now)
}

// ContactAt is Contact at a later moment, when nothing has happened since.
func (m *Machine) ContactAt(s *State, surface int, now action.Millis) wettime.Status {
	x := &s.Surfaces[surface]
	status := x.Contact.Status(m.Wet(), now)
	if status == wettime.TooShort && x.Product < 0 && m.Witness.Has(action.Clock) {
		return wettime.Unknown // whose label time it was is not known
	}
	return status
}

// label is the contact time of a product; of one that is not known, the longest.
func (m *Machine) label(product int8) action.Millis {
	if product >= 0 {
		return action.Millis(m.P.Products[product].LabelS) * 1000
	}
	longest := 0
	for _, p := range m.P.Products {
		longest = max(longest, p.LabelS)
	}
	return action.Millis(longest) * 1000
}

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
	*x = Surface{Spoilt: SpoiltByPatient, WasBlood: x.WasBlood}
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
	if s.Gloves == NoGloves || s.Gloves == UnknownGloves {
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
	switch a.PlaceKind(m.P) {
	case procedure.Waste, procedure.LeakProof, procedure.Sharps:
		s.UsedOff &^= w
	}
}

// spatter is work in which blood can spurt: what is worn for it is used after it.
func (m *Machine) spatter(s *State) {
	s.WearUsed |= s.Wear
	s.EyesUsed = s.EyesUsed || s.Wear&Eyes != 0
}

// dropOn is a used wipe that is thrown on a surface instead of away.
func (m *Machine) dropOn(s *State, a *Act) {
	if a.On >= 0 {
		m.press(s, a, a.On, wipeCarrier, ByWipe, true)
	}
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

// Spot reports whether wiping the surface deals with blood that was seen on it,
// which is done at once, whoever sits there (guidance F46): it begins nothing.
func (s *State) Spot(surface int) bool { return s.Surfaces[surface].WasBlood }

func (m *Machine) wipe(s *State, a *Act) {
	x := &s.Surfaces[a.Surface]
	row := &m.P.Surfaces[a.Surface]
	if row.Role != procedure.StagingSurface && !s.Spot(a.Surface) {
		s.FirstWipe = true
	}
	if s.Gloves == FreshGloves {
		s.Gloves = WorkingGloves
	}
	if row.Role == procedure.BucketSurface {
		s.Dirt |= OnBucket
	}
	other := m.OtherFace(s, a.Surface)
	m.firstUse(s, a)
	s.Wipe.AreaDm2 += int16(row.AreaDm2)
	if first := &m.P.Surfaces[s.Wipe.Face]; first.Face != row.Face {
		s.Wipe.Crossed |= ToFace
		if first.ThingOf() != row.ThingOf() {
			s.Wipe.Crossed |= ToThing
		}
	}
	if s.BySight {
		s.WipedSince |= 1 << a.Surface
	}
	if s.defeated(a.Surface) {
		if s.Wipe.Soil {
			m.press(s, a, a.Surface, wipeCarrier, ByWipe, true)
		}
		x.SoilTold = true
		return
	}
	m.wet(s, a, x, other)
}

// firstUse notes where a wipe was used first: what was there is on it.
func (m *Machine) firstUse(s *State, a *Act) {
	if s.Wipe.Face < 0 {
		s.Wipe.Face = int8(a.Surface)
		m.Trace.carry(a.Number, onSurface(a.Surface), m.P.Surfaces[a.Surface].ID, wipeCarrier, ByWipe)
	}
}

// defeated reports whether a wipe leaves a surface as it was: soil defeats
// disinfectant.
func (s *State) defeated(surface int) bool {
	x := &s.Surfaces[surface]
	return x.Blood && !x.BloodUnseen || s.Wipe.Soil
}

// Wets reports whether an act leaves its surface wet with disinfectant, and with
// which product, by index.
func (m *Machine) Wets(s State, a *Act) (wets bool, product int) {
	if a.Verb != action.Wipe {
		return false, -1
	}
	m.assume(&s, a)
	return !s.defeated(a.Surface), int(s.Wipe.Product)
}

// wet puts disinfectant on a surface.
func (m *Machine) wet(s *State, a *Act, x *Surface, other bool) {
	beside := s.InChair && !s.PatientUnseen && m.P.Surfaces[a.Surface].ChairSide
	if x.Clean != Wiped || other || x.Beside && !beside {
		if x.Clean == Wiped && other {
			m.Trace.carry(a.Number, wipeCarrier, ByWipe, onSurface(a.Surface), m.P.Surfaces[a.Surface].ID)
		} else {
			m.Trace.clear(onSurface(a.Surface))
		}
		*x = Surface{WasBlood: x.WasBlood}
	}
	m.Trace.wiped(a, a.Surface)
	x.Clean, x.Product, x.Early, x.Spoilt, x.Blood, x.BloodUnseen = Wiped, s.Wipe.Product, false, NotSpoilt, false, false
	x.Wrong = m.wrong(s.Wipe.Product, a.Surface, x.WasBlood)
	x.Beside, x.BesideSpot = beside, beside && x.WasBlood
	x.WasBlood = x.WasBlood && x.Wrong == TooWeak
	x.Contact.Wipe(s.Now, m.label(s.Wipe.Product), m.Wet())
}

// wrong says why a product is not right for a surface. Of a product that is not
// known nothing is said.
func (m *Machine) wrong(product int8, surface int, wasBlood bool) Wrong {
	if product < 0 {
		return RightProduct
	}
	p := &m.P.Products[product]
	for _, id := range p.NotOn {
		if id == m.P.Surfaces[surface].ID {
			return NotAllowed
		}
	}
	switch {
	case p.PastDate:
		return PastDate
	case p.MadeH > procedure.MostDilutionH:
		return OldDilution
	case wasBlood && p.Level != procedure.IntermediateLevel:
		return TooWeak
	}
	return RightProduct
}

// OtherFace reports whether the wipe in hand was first used on another face
// than the surface's, and the surface is wiped already.
func (m *Machine) OtherFace(s *State, surface int) bool {
	return s.Surfaces[surface].Clean == Wiped && s.Wipe.Face >= 0 &&
		m.P.Surfaces[s.Wipe.Face].Face != m.P.Surfaces[surface].Face
}

// clean takes off what can be seen; absorbing takes up the most of it and leaves
// the cleaning to be done.
func (m *Machine) clean(s *State, a *Act) {
	x := &s.Surfaces[a.Surface]
	id := m.P.Surfaces[a.Surface].ID
	if x.Blood {
		m.spatter(s)
		m.soil(s, a, SoiledGloves, ByWork, onSurface(a.Surface), id)
	} else if x.Clean != Wiped {
		m.soil(s, a, UsedGloves, ByWork, onSurface(a.Surface), id)
	}
	if a.Verb == action.Absorb {
		s.Absorbed = true
		return
	}
	m.firstUse(s, a)
	s.Wipe.Soil = s.Wipe.Soil || x.Blood || x.Clean != Wiped
	x.Blood, x.SoilTold = false, false
	if x.Clean != Wiped {
		x.Clean = Used
	}
}

// towel wipes a surface dry: everybody can see that its spell is over.
func (m *Machine) towel(s *State, a *Act) {
	x := &s.Surfaces[a.Surface]
	if x.Clean != Wiped {
		m.soil(s, a, UsedGloves, ByWork, onSurface(a.Surface), m.P.Surfaces[a.Surface].ID)
		return
	}
	p := m.pend(s, a)
	x.Contact.Towel(s.Now, m.Wet())
	x.Early = x.Early || p.Early
	p.Dried = true
	s.Pend = p
}

// pend is a touch of the act's surface that waits for the next act of the hands.
func (m *Machine) pend(s *State, a *Act) Pend {
	x := &s.Surfaces[a.Surface]
	p := Pend{On: true, Surface: int8(a.Surface), Act: int32(a.Number), At: a.At, Gloves: s.Gloves, Dirt: s.Dirt, Need: x.Contact.Need}
	p.Wiped = x.Clean == Wiped
	p.Wet = x.Contact.Longest(m.Wet(), s.Now)
	if x.Contact.Wet {
		p.Wet = max(p.Wet, s.Now-x.Contact.Since)
	}
	status := m.Contact(s, a.Surface)
	p.Early, p.Unknown = p.Wiped && !x.Early && status != wettime.Reached, status == wettime.Unknown
	return p
}

func (m *Machine) touch(s *State, a *Act) {
	switch {
	case a.Surface >= 0:
		m.touchSurface(s, a)
	case a.Item >= 0:
		m.handle(s, a)
	case a.Object != action.Station:
		m.touchOutside(s, a)
	}
}

// touchOutside: phone, pocket and the like carry what others left there; clean
// stock and the cart take what the gloves bring.
func (m *Machine) touchOutside(s *State, a *Act) {
	switch {
	case a.Object == action.CleanStock || a.Object == action.Cart:
	case s.Gloves == NoGloves:
		s.useHands()
		m.Trace.beginNew(a.Number, a.Object, ByHands, handsCarrier)
	case s.Gloves == FreshGloves || s.Gloves == WorkingGloves:
		m.Trace.begin(a.Number, a.Object, ByGloves, glovesCarrier)
		s.Gloves, s.Dirt = UsedGloves, s.Dirt|ByWork
	}
}

func (m *Machine) touchSurface(s *State, a *Act) {
	i := a.Surface
	p := m.pend(s, a)
	was := s.Surfaces[i]
	from, name := s.source()
	m.press(s, a, i, from, name, s.dirtyHands())
	p.Spoilt = s.Surfaces[i].Spoilt != was.Spoilt
	p.Early = p.Early && !p.Spoilt
	if s.Pend.On { // touched once more: the first touch says how the gloves were
		old := s.Pend
		p.Early, p.Spoilt = p.Early || old.Early, p.Spoilt || old.Spoilt
		p.Gloves, p.Dirt, p.Act, p.At, p.Wiped = old.Gloves, old.Dirt, old.Act, old.At, old.Wiped
	}
	if was.Clean != Wiped {
		level := UsedGloves
		if was.Blood {
			level = SoiledGloves
		}
		m.soil(s, a, level, ByWork, onSurface(i), m.P.Surfaces[i].ID)
	}
	s.Pend = p
}

// settle decides about the touch that waits: what the next act of the hands wipes
// was lifted or held for it. Changing the wipe in between decides nothing.
func (m *Machine) settle(s *State, a *Act) {
	m.parting(s, a)
	m.elsewhere(s, a)
	if !s.Pend.On || !a.OfHands() || a.changesWipe() || a.Verb == action.Touch && a.Surface == int(s.Pend.Surface) {
		return
	}
	p := s.Pend
	s.Pend = Pend{}
	if (a.Verb == action.Wipe || a.Verb == action.Clean) && a.Surface == int(p.Surface) {
		if s.Gloves != NoGloves && !p.Dried && a.Verb == action.Wipe {
			s.Gloves, s.Dirt = p.Gloves, p.Dirt
		}
		return
	}
	s.Settled = p
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

// press puts hands or a thing on a surface: dirty ones undo its disinfection,
// clean ones before the contact time are an early use.
func (m *Machine) press(s *State, a *Act, surface int, from carrier, thing string, dirty bool) {
	x := &s.Surfaces[surface]
	if x.Clean != Wiped {
		return
	}
	if dirty {
		m.Trace.carry(a.Number, from, thing, onSurface(surface), m.P.Surfaces[surface].ID)
		*x = Surface{Spoilt: SpoiltByWork, WasBlood: x.WasBlood}
		return
	}
	if m.Contact(s, surface) != wettime.Reached {
		x.Early = true
	}
}
