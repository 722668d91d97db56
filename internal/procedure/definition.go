package procedure

import (
	"cmp"
	"fmt"
	"strings"
)

// Capacities of a procedure: the station's state has a fixed size.
const (
	MaxSurfaces = 48
	MaxItems    = 32
	MaxPlaces   = 24
	MaxProducts = 16
	MaxSteps    = 128
	MaxPairs    = 128
	MaxAreas    = 12
)

// Kind of basis: how much a value can be trusted.
type BasisKind string

// The kinds of basis.
const (
	Published       BasisKind = "published"
	CommonPractice  BasisKind = "common practice"
	ClinicToConfirm BasisKind = "clinic to confirm"
)

// Basis says on what a value rests. Source is the published text; it is empty
// for the other kinds.
type Basis struct {
	Kind   BasisKind
	Source string
}

// ParseBasis reads "published: SOURCE", "common practice" or "clinic to confirm".
func ParseBasis(s string) (Basis, error) {
	kind, source, _ := strings.Cut(s, ":")
	b := Basis{BasisKind(strings.TrimSpace(kind)), strings.TrimSpace(source)}
	switch {
	case b.Kind == Published && b.Source == "":
		return b, fmt.Errorf(`"published" needs its source: write "published: WHERE IT STANDS"`)
	case b.Kind == Published, (b.Kind == CommonPractice || b.Kind == ClinicToConfirm) && b.Source == "":
		return b, nil
	}
	return b, fmt.Errorf(`basis %q is none of "published: SOURCE", "common practice", "clinic to confirm"`, s)
}

// Custom reports whether what rests on a basis waits for somebody of the clinic to confirm
// it: nothing is published of it and nobody did.
func (b Basis) Custom(c Confirmed) bool { return b.Kind != Published && c.By == "" }

// String is what people read beside the value.
func (b Basis) String() string {
	switch b.Kind {
	case Published:
		return b.Source
	case CommonPractice:
		return "common practice, no published source"
	}
	return "clinic setting: confirm with your policy"
}

// Role of a surface in the turnover.
type Role string

// The roles: part of the station, the staging surface for supplies, or a part
// of the prime bucket.
const (
	StationSurface Role = "station"
	StagingSurface Role = "staging"
	BucketSurface  Role = "bucket"
)

// Surface is something that is wiped. Times are in seconds.
type Surface struct {
	ID, Title string
	Face      string // the side of a thing it belongs to, for example "machine front"
	Role      Role
	HighTouch bool
	WipeS     int // how long one wipe takes
	DriesS    int // how long it stays wet, where it dries sooner than the product row says; 0 = as the product
	Basis     Basis

	Thing     string `json:",omitzero"` // what the face is a side of, for example "machine"; the face itself when empty
	ChairSide bool   `json:",omitzero"` // a person in the chair makes it used
	MustSee   bool   `json:",omitzero"` // who watches must see it wet for its time; where none is marked so, every one
	Row       int    `json:",omitzero"` // from the top of its thing, 1 the highest; 0 = of no height
	AreaDm2   int    `json:",omitzero"` // in square decimetres; 0 = not told

	Confirmed Confirmed `json:",omitzero"` // who of the clinic took the row as it stands
}

// ThingOf is what a surface is a part of.
func (s *Surface) ThingOf() string { return cmp.Or(s.Thing, s.Face) }

// ItemKind says what becomes of an item.
type ItemKind string

// The kinds of item.
const (
	Circuit    ItemKind = "circuit"    // used lines, dialyzer: off, then into a leak-proof container
	SingleUse  ItemKind = "single-use" // thrown away
	Reusable   ItemKind = "reusable"   // set apart, cleaned before any common area
	BucketItem ItemKind = "bucket"
	Supplies   ItemKind = "supplies" // gathered for this turnover
	NextSet    ItemKind = "next"     // clean things of the next treatment

	Sharp         ItemKind = "sharp"          // needles: into the sharps container, nowhere else
	SinglePatient ItemKind = "single-patient" // cannot be disinfected: thrown away, or kept for this patient only
	Reprocess     ItemKind = "reprocess"      // a dialyzer that is used again: capped, in a leak-proof container
	Container     ItemKind = "container"      // a waste bag, a full sharps container: used outside, taken away at the end
)

// ItemKinds are all of them.
var ItemKinds = []ItemKind{Circuit, SingleUse, Reusable, BucketItem, Supplies, NextSet, Sharp, SinglePatient, Reprocess, Container}

// Item is something that is carried, thrown away or set apart.
type Item struct {
	ID, Title string
	Kind      ItemKind
	Goes      []string // places where it may go
	Basis     Basis

	WhenNamed bool `json:",omitzero"` // it is there only when a log names it
	Isolation bool `json:",omitzero"` // it belongs to the isolation room

	Confirmed Confirmed `json:",omitzero"`
}

// PlaceKind says what a place is for.
type PlaceKind string

// The kinds of place.
const (
	LeakProof PlaceKind = "leak-proof"
	Waste     PlaceKind = "waste"
	Drain     PlaceKind = "drain"
	SetApart  PlaceKind = "set-apart"
	CleanArea PlaceKind = "clean"
	Sharps    PlaceKind = "sharps"
	Sink      PlaceKind = "sink"      // a basin that is no approved drain
	Elsewhere PlaceKind = "elsewhere" // another station, or outside an isolation room
)

// ForWaste reports whether things are thrown away there.
func (k PlaceKind) ForWaste() bool { return k == Waste || k == LeakProof || k == Sharps }

// Away reports whether what goes there leaves the station: clean places, others'.
func (k PlaceKind) Away() bool { return k == CleanArea || k == Elsewhere }

// PlaceKinds are all of them.
var PlaceKinds = []PlaceKind{LeakProof, Waste, Drain, SetApart, CleanArea, Sharps, Sink, Elsewhere}

// Place is where items go.
type Place struct {
	ID, Title string
	Kind      PlaceKind
	Basis     Basis
	Confirmed Confirmed `json:",omitzero"`
}

// Level is the strength class of a disinfectant.
type Level string

// The levels.
const (
	LowLevel          Level = "low"
	IntermediateLevel Level = "intermediate"
)

// Product is a disinfectant with the times of its row, in seconds.
type Product struct {
	ID, Title string
	Level     Level
	LabelS    int // contact time: the longest claim of the label that the clinic uses
	DriesS    int // how long a wiped surface stays wet
	Basis     Basis

	NotOn    []string `json:",omitzero"` // surfaces on which the label or their maker does not allow it
	MadeH    int      `json:",omitzero"` // a dilution: hours since it was made when the work begins; 0 = no dilution
	PastDate bool     `json:",omitzero"` // its date is over
	AreaDm2  int      `json:",omitzero"` // what one wipe can wet, in square decimetres; 0 = not told

	Confirmed Confirmed `json:",omitzero"`

	LabelText // what else stands on it, and who read it
}

// MostDilutionH is how long a dilution of bleach is good, in hours (wet-time facts
// 3.3: date it, discard it at 24 h).
const MostDilutionH = 24

// Step is one thing a person can tap: a label and the acts it stands for.
type Step struct {
	ID, Label string
	Area      string // id of an area
	Acts      Acts
	Seconds   int // how long it takes in a timed run, beyond its wipes

	Seldom bool   `json:",omitzero"` // shown behind the others: what is done now and then
	Short  string `json:",omitzero"` // its label in few words, for the board; the label when empty
}

// Words are a step in few words.
func (s *Step) Words() string { return cmp.Or(s.Short, s.Label) }

// Area groups steps where they are done, never in the right order.
type Area struct{ ID, Title string }

// Pair says that step Earlier must be done before step Later begins.
type Pair struct {
	Earlier, Later string // step ids: the last act of one, the first act of the other
	Why            string
	Basis          Basis

	Critical  bool      `json:",omitzero"` // broken once, and the whole is not passed
	Confirmed Confirmed `json:",omitzero"`
}

// Custom reports whether a pair rests on custom alone and nobody of the clinic has
// confirmed it: then it is told as advice.
func (p *Pair) Custom() bool { return p.Basis.Custom(p.Confirmed) }

// Confirmed says who of the clinic took a row without a published source as the
// clinic's own demand, by name, and when (a day).
type Confirmed struct {
	By string
	On string
}

// Closing is a step that the end of the work asks for, of end-of-day procedures.
type Closing struct {
	Step      string
	Why       string
	Basis     Basis
	Confirmed Confirmed `json:",omitzero"`
}

// Custom is as for pairs.
func (c *Closing) Custom() bool { return c.Basis.Custom(c.Confirmed) }

// Mark is a line of the mark sheet: what a rule (on a surface, when one is
// named) is worth, and whether one miss fails the whole.
type Mark struct {
	ID, Title string
	Rule      string
	Surface   string
	Worth     int
	Critical  bool

	Worn      string    `json:",omitzero"` // only what the rule says of this protective equipment
	Watcher   bool      `json:",omitzero"` // decided by who watches, no rule
	Confirmed Confirmed `json:",omitzero"`
}

// MarkSheet is the marks and the cut: the lowest score that passes, in percent.
type MarkSheet struct {
	CutPercent int
	Basis      Basis
	Marks      []Mark
	Confirmed  Confirmed `json:",omitzero"` // of the cut
}

// Settings are the clinic's choices where practice differs.
type Settings struct {
	// WetAddsUp counts wet spells together; by default a dry gap restarts.
	WetAddsUp bool
	// StagingWithPatient allows the staging surface to be wiped while the
	// patient is still in the station.
	StagingWithPatient bool
	Basis              Basis

	OneWipe      OneWipe   `json:",omitzero"` // how far one wipe may go
	Hands        HandsTime `json:",omitzero"` // how long hands are rubbed or washed
	PatientFreeS int       `json:",omitzero"` // from a patient's leaving to the next one's sitting down; 0 = not asked
	ClearAlone   bool      `json:",omitzero"` // used things are taken down only when the patient has left
	Isolation    bool      `json:",omitzero"` // the station is an isolation room
	SeeOneFaceOf string    `json:",omitzero"` // who watches must see one whole face of this thing wet
	Board        Board     `json:",omitzero"` // how the boards of recorder and run look

	Confirmed Confirmed `json:",omitzero"`
}

// Board is the form of the boards on which work is noted and done. The zero value is
// PictureBoard.
type Board string

// The forms: the station drawn out, or tiles in groups by area, one group at a time.
const (
	PictureBoard Board = ""
	ListBoard    Board = "list"
)

// OneWipe is how far one wipe may go. The zero value is FaceAdvice.
type OneWipe string

// The choices: advice from face to face, and a breach from face to face or from
// one thing to another only where the clinic says so.
const (
	FaceAdvice  OneWipe = ""
	FaceBreach  OneWipe = "face"
	ThingBreach OneWipe = "thing"
	AnyWipe     OneWipe = "off"
)

// HandsTime is the standard for rubbing and washing. The zero value is CDC's.
type HandsTime string

// The standards (guidance F41, F42).
const (
	CDCHands HandsTime = ""
	WHOHands HandsTime = "who"
)

// Begin says who is in the station when a log begins.
type Begin string

// The beginnings.
const (
	PatientThere Begin = "patient there"
	NobodyThere  Begin = "nobody there"
)

// Definition is a procedure as written down. Fields after MarkSheet came after
// version 1; a stored definition without them means what version 1 did.
type Definition struct {
	ID, Title, Version string
	Owner, ReviewBy    string
	Settings           Settings
	Surfaces           []Surface
	Items              []Item
	Places             []Place
	Products           []Product
	Steps              []Step
	Order              []Pair
	MarkSheet          MarkSheet

	Begins  Begin   `json:",omitzero"`
	Station string  `json:",omitzero"` // what is disinfected, in a word for sentences: "station"
	Work    string  `json:",omitzero"` // the work from beginning to end, in a word: "turnover"
	Areas   []Area  `json:",omitzero"` // in the order in which they are shown
	Picture Picture `json:",omitzero"`

	Closing []Closing `json:",omitzero"` // what the end of the work asks for

	VariantOf string `json:",omitzero"` // id of the procedure that this is for another station
	Variant   string `json:",omitzero"` // that station, in a word or two: "Bed"
}
