package action

import "strings"

// Verb says what was done or what happened.
type Verb uint8

// Acts of the worker.
const (
	CheckStable Verb = iota + 1
	HelpOut
	CheckGone
	RubHands
	WashHands
	PutOn
	TakeOff
	TakeWipe
	DropWipe
	Wipe
	Clean
	LookAt
	Discard
	SetAt
	Bring
	Empty
	PutBack
	Touch
	LeaveStation
	ComeBack
	StartInternal
	TagOut
	Wait
	DeclareReady
	WipeDry
	DiscardWipe
	PutInSharps
	TakeOut
	Recap
	ReachIntoSharps
	Disconnect
	SeatNext
	Disinfect
	Absorb
	CapItem
	Report
	GoToNeighbour
	HandOver
	// Events: they happen to the station or to the record.
	PatientLeaves
	PatientSits
	BloodOn
	Dry
	StillWet
	Alarm
	Prompted
	NotSeen
	Pause
	Resume
	Undone
	PatientBack
	PatientTouches
	PatientStays
	BloodLeak
	ProtectorWet
	HandsSoiled
	WipeSpent
	AllDry
	NotSeenFor
	WatchingFrom
	WatcherSays
	Stopped
	SteppedIn
	verbEnd
)

// Slot is the kind of word that a place in a line takes.
type Slot uint8

// The kinds of word.
const (
	Surface Slot = iota + 1
	Item
	Thing // a surface or an item
	Worn  // protective equipment, or an item that is taken off the machine
	Place // a place, or a surface something is set on
	Product
	Step    // a step of the procedure, a surface or an item
	Wearing // protective equipment, or an item
	Stage   // where watching began
	Mark    // a mark that only a watcher can decide
	Verdict // what the watcher says of it
	Reason  // why the work was stopped
	Cause   // why a watcher stepped in
	wipeID
	number
	duration
)

var slotNames = map[string]Slot{
	"SURFACE": Surface, "ITEM": Item, "THING": Thing, "WORN": Worn, "PLACE": Place,
	"PRODUCT": Product, "STEP": Step, "GEAR": Wearing, "STAGE": Stage, "MARK": Mark, "VERDICT": Verdict, "REASON": Reason, "CAUSE": Cause, "WIPE": wipeID, "NUMBER": number, "SECONDS": duration,
}

var slotTitles = map[Slot]string{
	Surface: "surface", Item: "item", Thing: "surface or item", Worn: "protective equipment or item",
	Wearing: "item or protective equipment", Stage: "stage", Mark: "mark of the watcher", Verdict: "verdict", Reason: "reason", Cause: "cause",
	Place: "place", Product: "product", Step: "step, surface or item", wipeID: "wipe", number: "act number", duration: "seconds",
}

// String names the kind of word for a message.
func (s Slot) String() string { return slotTitles[s] }

// ProtectiveEquipment is what "put on" and "take off" take besides items.
var ProtectiveEquipment = []string{Gloves, EyeProtection, Gown, Mask}

// The protective equipment the log knows.
const (
	Gloves        = "gloves"
	EyeProtection = "eye-protection"
	Gown          = "gown"
	Mask          = "mask"
)

// Outside are things that are no part of the station and that a hand may touch in
// the middle of the work. They are known in every procedure.
var Outside = []string{Phone, MaskWorn, Pocket, Pen, Face, Cart, CleanStock}

// The things of Outside.
const (
	Phone      = "phone"
	MaskWorn   = "mask"
	Pocket     = "pocket"
	Pen        = "pen"
	Face       = "face"
	Cart       = "cart"
	CleanStock = "clean-stock"
)

// OwnWords are words of phrases that stand where a name could: no surface or item
// may be called so, or "wipe spent" would say two things.
var OwnWords = []string{"dry", "wipe", "for", "on", "spent", "with"}

// Stages are where watching can begin.
var Stages = []string{FromConnected, FromInChair, FromGone, FromLinesOff}

// The stages.
const (
	FromConnected = "connected" // the patient is connected
	FromInChair   = "in-chair"  // off, and still in the chair
	FromGone      = "gone"      // the patient has left
	FromLinesOff  = "lines-off" // the patient has left, used lines and dialyzer are off
)

// Verdicts are what a watcher says of a mark that only a watcher can decide.
var Verdicts = []string{VerdictMet, VerdictMissed, VerdictNotSeen}

// The verdicts.
const (
	VerdictMet     = "met"
	VerdictMissed  = "missed"
	VerdictNotSeen = "not-seen"
)

// Reasons are why work is stopped; none tells of an injury or exposure.
var Reasons = []string{"patient-safety", "staff-safety", "called-away", "equipment", "watching-ended"}

// Causes are why a watcher stepped in; none tells what happened to anybody.
var Causes = []string{"patient-safety", "staff-safety", "breach"}

// closed are the slots whose words are the same in every procedure.
var closed = map[Slot][]string{Stage: Stages, Verdict: Verdicts, Reason: Reasons, Cause: Causes}

// Station stands for every surface in "look at station".
const Station = "station"

// phrases gives each verb its line; a part in brackets may be left out.
var phrases = [verbEnd]string{
	CheckStable:     "check patient stable",
	HelpOut:         "help patient out",
	CheckGone:       "check patient gone",
	RubHands:        "rub hands [SECONDS]",
	WashHands:       "wash hands [SECONDS]",
	PutOn:           "put on WORN",
	TakeOff:         "take off WORN",
	TakeWipe:        "take wipe WIPE of PRODUCT",
	DropWipe:        "drop wipe",
	Wipe:            "wipe SURFACE [with WIPE]",
	Clean:           "clean SURFACE [with WIPE]",
	LookAt:          "look at THING",
	Discard:         "discard GEAR in PLACE",
	SetAt:           "set ITEM at PLACE",
	Bring:           "bring ITEM to PLACE",
	Empty:           "empty ITEM in PLACE",
	PutBack:         "put ITEM back",
	Touch:           "touch THING",
	LeaveStation:    "leave station",
	ComeBack:        "come back",
	StartInternal:   "start internal disinfection",
	TagOut:          "tag machine out of use",
	Wait:            "wait",
	DeclareReady:    "declare ready",
	WipeDry:         "wipe dry SURFACE",
	DiscardWipe:     "discard wipe in PLACE",
	PutInSharps:     "put ITEM in sharps",
	TakeOut:         "take out ITEM",
	Recap:           "recap ITEM",
	ReachIntoSharps: "reach into sharps",
	Disconnect:      "disconnect patient",
	SeatNext:        "seat next patient",
	Disinfect:       "disinfect GEAR",
	Absorb:          "absorb SURFACE",
	CapItem:         "cap ITEM",
	Report:          "report machine",
	GoToNeighbour:   "go to neighbour",
	HandOver:        "hand over THING",
	PatientLeaves:   "patient leaves",
	PatientSits:     "patient sits",
	BloodOn:         "blood on SURFACE",
	Dry:             "dry SURFACE",
	StillWet:        "still wet SURFACE",
	Alarm:           "alarm",
	Prompted:        "prompted",
	NotSeen:         "not seen STEP",
	Pause:           "pause",
	Resume:          "resume",
	Undone:          "undone NUMBER",
	PatientBack:     "patient comes back",
	PatientTouches:  "patient touches SURFACE",
	PatientStays:    "patient cannot leave",
	BloodLeak:       "blood leak",
	ProtectorWet:    "protector wet",
	HandsSoiled:     "hands soiled",
	WipeSpent:       "wipe spent",
	AllDry:          "all dry",
	NotSeenFor:      "not seen for SECONDS",
	WatchingFrom:    "watching from STAGE",
	WatcherSays:     "watcher says MARK VERDICT",
	Stopped:         "stopped REASON",
	SteppedIn:       "stepped in CAUSE",
}

// Event reports whether v happens to the station or the record rather than
// being done by the worker. "The next act" of a rule sees acts only.
func (v Verb) Event() bool { return v >= PatientLeaves }

func (v Verb) String() string {
	if v == 0 || v >= verbEnd {
		return "?"
	}
	return phrases[v]
}

// part is one word of a phrase: a literal or a slot.
type part struct {
	literal  string
	slot     Slot
	optional bool
}

var grammar = compile()

// byFirst are the verbs whose phrase begins with a word.
var byFirst = func() map[string][]Verb {
	m := map[string][]Verb{}
	for v := CheckStable; v < verbEnd; v++ {
		first := grammar[v][0].literal
		m[first] = append(m[first], v)
	}
	return m
}()

func compile() [verbEnd][]part {
	var g [verbEnd][]part
	for v := CheckStable; v < verbEnd; v++ {
		optional := false
		for _, w := range strings.Fields(phrases[v]) {
			optional = optional || strings.HasPrefix(w, "[")
			w = strings.Trim(w, "[]")
			g[v] = append(g[v], part{literal: w, slot: slotNames[w], optional: optional})
		}
	}
	return g
}

// field returns where the word of a slot is kept in an act.
func (a *Act) field(s Slot) *string {
	switch s {
	case Place:
		return &a.Place
	case Product:
		return &a.Of
	case wipeID:
		return &a.With
	case Verdict:
		return &a.Of
	default:
		return &a.Object
	}
}
