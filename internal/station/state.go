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
	HandsUsed Hands = iota // before any hand hygiene, too
	HandsClean
	HandsUnknown
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

// Task is dirty or separate work that a pair of gloves was used for.
type Task uint8

// The tasks.
const (
	Gathered    Task = 1 << iota // supplies for the work
	TornDown                     // lines, dialyzer, waste, reusables
	SoilCleaned                  // visible blood or soil
	BucketWork                   // the prime bucket
)

// Wear is a set of protective equipment besides gloves.
type Wear uint8

// The equipment.
const (
	Eyes Wear = 1 << iota
	GownOn
	MaskOn
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

// Surface is the state of one surface.
type Surface struct {
	Clean    Clean
	Blood    bool // visible blood or soil
	WasBlood bool // was bloody and not yet disinfected by an intermediate-level product
	Spoilt   bool // was wiped, then dirtied again
	Early    bool // touched or used before its contact time
	SoilTold bool // wiped over visible blood
	Product  int8 // index of the product of the latest wipe
	Contact  wettime.Contact
}

// Item is the state of one item.
type Item struct {
	Off     bool // taken off the machine
	Gone    bool // discarded, set apart or brought where it may go
	Astray  bool // discarded or set where it may not go
	Empty   bool // the bucket
	Brought bool
	Back    bool // the bucket, put back
	Unknown bool
}

// Wipe is the wipe in hand.
type Wipe struct {
	Number  int16 // 0: none
	Product int8
	Face    int8 // surface index whose face it was first used on, -1 for none
	Blood   bool // it cleaned visible blood
}

// Impossible says why an act could not have been done.
type Impossible uint8

// State of the station after some acts.
type State struct {
	Now action.Millis

	Present     bool // the patient is in the station
	Stable      bool // checked: treatment complete, patient stable
	StableTold  bool // moved or taken off without that check
	GoneChecked bool
	Away        bool // the worker is not at the station

	Hands     Hands
	NeedHands bool // gloves came off and no hand hygiene or other act of the hands followed
	Gloves    Gloves
	Tasks     Task // what this pair was used for
	Clash     Task // the task that this pair should have been changed after, once told
	Mixed     bool // this pair went from dirty to clean work
	BareTold  bool // bare hands on used things since gloves were last worn
	Wear      Wear
	Wipe      Wipe

	Looked       bool
	FirstWipe    bool // a station wipe was made
	WipedBeside  bool // a disinfecting wipe with the patient there
	Ready        bool
	TaggedOut    bool
	Internal     bool
	Begun, Done  procedure.StepSet
	NotSeen      procedure.StepSet // steps that may have been done unseen
	StableUnseen bool

	Surfaces [procedure.MaxSurfaces]Surface
	Items    [procedure.MaxItems]Item

	Impossible Impossible // of the latest act
}

// Start is the state before the first act: everything in the station is used,
// and the patient is there when the procedure begins so.
func Start(p *procedure.Procedure) State {
	return State{Present: p.Begins == procedure.PatientThere, Wipe: Wipe{Face: -1}}
}
