// Package station is the state machine of one treatment station: who is there,
// the worker's hands, gloves and wipe, and what has become of each surface and
// item. It is a pure function of log and procedure and has no clock of its own.
//
// A [State] is a comparable value of fixed size, so that the rules can be run
// over many variants of a log; where a contamination came from lies beside it
// in a [Trace].
package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/wettime"
)

// Hands of the worker, under the gloves if any are worn.
type Hands uint8

// The states of hands.
const (
	HandsUsed      Hands = iota // before any hand hygiene, too
	HandsOnPatient              // clean, then on the patient only
	HandsClean
	HandsUnknown
	HandsSoiled // visibly
)

// Gloves on the worker's hands.
type Gloves uint8

// The states of gloves. Working gloves touched the station only through a wet
// wipe; used ones touched a used item, an undisinfected surface or waste;
// soiled ones visible blood.
const (
	NoGloves Gloves = iota
	FreshGloves
	WorkingGloves
	UsedGloves
	SoiledGloves
	UnknownGloves
)

// Dirty reports whether the gloves carry something to the next thing.
func (g Gloves) Dirty() bool { return g == UsedGloves || g == SoiledGloves }

// On reports whether gloves are worn for sure.
func (g Gloves) On() bool { return g != NoGloves && g != UnknownGloves }

// Dirt says by what a pair of gloves was used.
type Dirt uint8

// What used them.
const (
	ByWork    Dirt = 1 << iota // used things, used surfaces, blood, things from outside
	ByBucket                   // the bucket before it was disinfected
	ByPatient                  // the patient
	OnBucket                   // they wiped the bucket: no dirt, and custom asks for a change
)

// Wear is a set of protective equipment besides gloves.
type Wear uint8

// The equipment.
const (
	Eyes Wear = 1 << iota
	GownOn
	MaskOn
)

// Where the worker is.
type Where uint8

// The places.
const (
	AtStation Where = iota
	Outside
	AtNeighbour
)

// Clean says what is known of a surface.
type Clean uint8

// Wiped: disinfectant was put on and nothing has dirtied it since; whether it
// is disinfected depends on its wet time.
const (
	Used Clean = iota
	Wiped
	UnknownClean
)

// Spoilt says what dirtied a surface that had been wiped.
type Spoilt uint8

// What dirtied it.
const (
	NotSpoilt Spoilt = iota
	SpoiltByWork
	SpoiltByPatient
	SpoiltByBlood
)

// Surface is the state of one surface.
type Surface struct {
	Clean       Clean
	Spoilt      Spoilt
	Blood       bool // visible blood or soil
	WasBlood    bool // was bloody and not yet disinfected by an intermediate-level product
	BloodUnseen bool // it may have been cleaned off unseen
	Early       bool // touched, used or wiped dry before its contact time
	Beside      bool // wiped while somebody sat at it, which makes it used as it is wiped
	BesideSpot  bool // for blood that was seen, which was right
	SpotEarly   bool // likewise, while used lines were still there, so that it is wiped again when they are gone
	SoilTold    bool // wiped over visible blood, or with a wipe that cleaned soil
	Wrong       Wrong
	Product     int8 // index of the product of the latest wipe, -1 when not known
	Contact     wettime.Contact
}

// spoil makes a surface used; that there had been blood still asks for its product.
func (x *Surface) spoil(by Spoilt) { *x = Surface{Spoilt: by, WasBlood: x.WasBlood} }

// Wrong says why the product of a surface's latest wipe was not right for it.
type Wrong uint8

// The reasons.
const (
	RightProduct Wrong = iota
	TooWeak            // of low level, and there had been blood
	PastDate
	OldDilution
	NotAllowed // not on this surface
)

// Item is the state of one item.
type Item struct {
	Named   bool // a log has named it: it is there
	Off     bool // taken off the machine, or out
	Gone    bool // discarded, set apart or brought where it may go
	Astray  bool // discarded or set where it may not go
	Out     bool // taken out of the station, to a clean area or elsewhere
	Empty   bool // the bucket
	Brought bool
	Back    bool // the bucket, put back
	Capped  bool
	Treated bool // cleaned and disinfected after it was set apart
	Dirty   bool // a clean thing that something used has touched
	Unknown bool
}

// Wipe is the wipe in hand.
type Wipe struct {
	Number  int16 // 0: none, -1: one that no line took
	Product int8  // -1 when not known
	Face    int8  // surface index whose face it was first used on, -1 for none
	Soil    bool  // it cleaned visible soil
	Spent   bool  // dry, spent or dropped
	AreaDm2 int16 // what it has wetted
	Crossed Crossed
}

// Crossed is how far a wipe has gone from where it was first used.
type Crossed uint8

// To another face, and to another thing.
const (
	ToFace Crossed = 1 << iota
	ToThing
)

// Pend is a touch whose judgement waits for the next act of the hands: a surface
// that is touched and wiped at once was lifted or held for it.
type Pend struct {
	On      bool
	Surface int8
	Wiped   bool          // it was wiped
	Early   bool          // before its time
	Unknown bool          // whether before its time, the log does not tell
	Spoilt  bool          // what touched it was used
	Dried   bool          // it was towelled
	Wet     action.Millis // how long it had been wet, or left alone
	Alone   bool          // the latter is what counts
	Need    action.Millis // its contact time
	Act     int32
	At      action.Millis
	Gloves  Gloves // as they were before
	Dirt    Dirt
}

// Left is how a station was left in gloves: judged by what the hands do next.
type Left struct {
	Gloved bool
	Act    int32
	At     action.Millis
}

// Worker is the state of whoever does the work.
type Worker struct {
	Where       Where
	Hands       Hands
	NeedHands   bool // gloves came off and no hand hygiene or other act of the hands followed
	Gloves      Gloves
	Dirt        Dirt
	Mixed       bool  // this pair went from dirty to clean work
	MixedBucket bool  // this pair went from the bucket to the machine
	Bare        int16 // how many stretches of bare hands on used things there were
	BareTold    bool  // bare hands on used things since gloves were last worn
	SoapTold    bool  // visibly soiled hands were rubbed
	Rubbed      bool  // hands were rubbed or washed in gloves
	Wear        Wear
	WearUsed    Wear // was worn for work that spatters
	Late        bool // watching began in the middle, and hands and gloves have not been seen since
	LateWear    Wear // likewise what is worn
	WearUnseen  Wear // may be worn, or have been taken off, unseen
	Wipe        Wipe
	Pend        Pend
	Left        Left
}

// State of the station after some acts: a comparable value of fixed size.
type State struct {
	Core
	Progress
	Surfaces [procedure.MaxSurfaces]Surface
	Items    [procedure.MaxItems]Item
}

// CopyFrom makes s what o is, of one procedure: it leaves out what the procedure does
// not have, which is the most of a state.
func (s *State) CopyFrom(o *State, p *procedure.Procedure) {
	s.Core = o.Core
	s.Begun, s.Done = o.Begun, o.Done
	copy(s.Parts[:len(p.Steps)], o.Parts[:])
	copy(s.Surfaces[:len(p.Surfaces)], o.Surfaces[:])
	copy(s.Items[:len(p.Items)], o.Items[:])
}

// Core is a state without its lists.
type Core struct {
	Now action.Millis
	Worker

	Present       bool // a patient is in the station
	InChair       bool
	PatientUnseen bool // whether somebody is there is not known
	Stays         bool // cannot leave yet
	Treated       bool // the patient there has just been treated
	Stable        bool // checked: treatment complete, patient stable
	CheckedLate   bool // before watching began
	StableTold    bool // moved or taken off without that check
	GoneChecked   bool
	BySight       bool          // taken for gone because somebody looked; no line says that the patient left
	WipedSince    uint64        // surfaces wiped since then
	LeftAt        action.Millis // when a patient last left, or Untimed
	Alarm         bool          // an alarm sounds, and no work has gone on since
	Paused        bool          // for safety

	UsedOff   Wear // worn for work that spatters, off now, and neither disinfected nor thrown away
	EyesUsed  bool // eye protection was worn for work that spatters
	Looked    bool
	LookedAt  uint64 // surfaces that were looked at one by one
	FirstWipe bool   // a station wipe was made
	Absorbed  bool   // blood was soaked up
	Ready     bool
	Stopped   bool
	TaggedOut bool
	Leak      bool // blood got, or may have got, into the machine
	Reported  bool
	Internal  bool
	Watched   bool              // somebody watches
	LateSteps procedure.StepSet // what may have been done before watching began
	Unseen    uint64            // verbs that may have been done unseen
	NotSeen   procedure.StepSet // steps that may have been done unseen
	Marks     [2]uint64         // what the watcher said of marks: met, missed
	WipeTold  bool              // a wipe that no line took was noted
	Ended     [4]uint64         // wipes that were dropped or thrown away
	Product   int8              // of the wipe taken last, -1 before

	// Of the latest act.
	Impossible Impossible
	Assumed    Assumed
	Settled    Pend   // the touch that this act of the hands decided about
	Parting    Left   // likewise for gloves worn out of the station
	WipedUnder uint64 // surfaces that had been wiped round somebody, as it turns out
	Carried    bool   // gloves went out straight to drain or waste with a used thing
}

// Start is the state before the first act: everything in the station is used,
// and the patient is there when the procedure begins so.
func Start(p *procedure.Procedure) State {
	there := p.Begins == procedure.PatientThere
	return State{Core: Core{Present: there, InChair: there, Treated: there, LeftAt: action.Untimed, Product: -1, Worker: Worker{Wipe: Wipe{Face: -1}}}}
}

// There reports whether an item plays a part: it is always there, or was named.
func (s *State) There(p *procedure.Procedure, item int) bool {
	return !p.Items[item].WhenNamed || s.Items[item].Named
}

// Safety reports whether safety comes first just now: an alarm or a pause goes on.
func (s *State) Safety() bool { return s.Alarm || s.Paused }

// MayHave reports whether an act of a kind may have been done unseen.
func (s *State) MayHave(v action.Verb) bool { return s.Unseen&(1<<v) != 0 }

func (s *State) unseen(v action.Verb) { s.Unseen |= 1 << v }

// ended reports and notes wipes that were dropped or thrown away.
func (s *State) ended(wipe int16) bool {
	return wipe > 0 && int(wipe) < 64*len(s.Ended) && s.Ended[wipe/64]&(1<<(wipe%64)) != 0
}

func (s *State) end(wipe int16) {
	if wipe > 0 && int(wipe) < 64*len(s.Ended) {
		s.Ended[wipe/64] |= 1 << (wipe % 64)
	}
}
