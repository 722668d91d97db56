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
	Step // a step of the procedure, a surface or an item
	wipeID
	number
	duration
)

var slotNames = map[string]Slot{
	"SURFACE": Surface, "ITEM": Item, "THING": Thing, "WORN": Worn, "PLACE": Place,
	"PRODUCT": Product, "STEP": Step, "WIPE": wipeID, "NUMBER": number, "SECONDS": duration,
}

var slotTitles = map[Slot]string{
	Surface: "surface", Item: "item", Thing: "surface or item", Worn: "protective equipment or item",
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

// Station stands for every surface in "look at station".
const Station = "station"

// phrases gives each verb its line; a part in brackets may be left out.
var phrases = [verbEnd]string{
	CheckStable:   "check patient stable",
	HelpOut:       "help patient out",
	CheckGone:     "check patient gone",
	RubHands:      "rub hands [SECONDS]",
	WashHands:     "wash hands [SECONDS]",
	PutOn:         "put on WORN",
	TakeOff:       "take off WORN",
	TakeWipe:      "take wipe WIPE of PRODUCT",
	DropWipe:      "drop wipe",
	Wipe:          "wipe SURFACE [with WIPE]",
	Clean:         "clean SURFACE [with WIPE]",
	LookAt:        "look at THING",
	Discard:       "discard ITEM in PLACE",
	SetAt:         "set ITEM at PLACE",
	Bring:         "bring ITEM to PLACE",
	Empty:         "empty ITEM in PLACE",
	PutBack:       "put ITEM back",
	Touch:         "touch THING",
	LeaveStation:  "leave station",
	ComeBack:      "come back",
	StartInternal: "start internal disinfection",
	TagOut:        "tag machine out of use",
	Wait:          "wait",
	DeclareReady:  "declare ready",
	PatientLeaves: "patient leaves",
	PatientSits:   "patient sits",
	BloodOn:       "blood on SURFACE",
	Dry:           "dry SURFACE",
	StillWet:      "still wet SURFACE",
	Alarm:         "alarm",
	Prompted:      "prompted",
	NotSeen:       "not seen STEP",
	Pause:         "pause",
	Resume:        "resume",
	Undone:        "undone NUMBER",
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
	default:
		return &a.Object
	}
}
