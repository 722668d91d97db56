// Package procedure is what a clinic wants done at a station, as data: surfaces,
// items, places, products with their label times, steps, order, mark sheet, and
// the picture of the station.
//
// A [Definition] is what somebody wrote down; [New] checks it, all faults at
// once, and gives a [Procedure] with its text and hash. The text is the
// definition's JSON encoding (fields in the order of the Go types, no maps); the
// hash is the text's SHA-256, so that a record can say by which procedure it was
// judged. [Stored] reads a text again, of this or any earlier version of the
// program: a field that came later is left out while it is zero, and zero means
// what version 1 did (see version1.go).
package procedure

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"stillwet/internal/action"
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

// PlaceKinds are all of them.
var PlaceKinds = []PlaceKind{LeakProof, Waste, Drain, SetApart, CleanArea, Sharps, Sink, Elsewhere}

// Place is where items go.
type Place struct {
	ID, Title string
	Kind      PlaceKind
	Basis     Basis
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

	Seldom bool `json:",omitzero"` // shown behind the others: what is done now and then
}

// Area groups steps where they are done, never in the right order.
type Area struct{ ID, Title string }

// Pair says that step Earlier must be done before step Later begins.
type Pair struct {
	Earlier, Later string // step ids: the last act of one, the first act of the other
	Why            string
	Basis          Basis

	Confirmed Confirmed `json:",omitzero"`
}

// Custom reports whether a pair rests on custom alone and nobody of the clinic has
// confirmed it: then it is told as advice.
func (p *Pair) Custom() bool { return p.Basis.Kind != Published && p.Confirmed.By == "" }

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
func (c *Closing) Custom() bool { return c.Basis.Kind != Published && c.Confirmed.By == "" }

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
}

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
}

// Procedure is a checked definition. It is never changed after New.
type Procedure struct {
	Definition
	Text  []byte // the definition as it is kept; not to be changed
	Hash  string // SHA-256 of Text, in hex
	Words action.Words

	surfaces, items, places, products, steps map[string]int
	pairs                                    []IndexPair
	pairsOf                                  [][]int  // by later step
	whole                                    []uint16 // of each step, a bit for each act
	parts                                    map[actKey][]StepPart
	judged                                   map[string]bool // rules with a mark
}

// actKey is what makes two acts the same for the order: not the wipe, its
// product, the seconds or the place. A bucket emptied into a toilet is as empty
// as one emptied into a drain; an act in a place where it does not count is left
// out by the station's machine.
type actKey struct {
	verb   action.Verb
	object string
}

func keyOf(a *action.Act) actKey { return actKey{a.Verb, a.Object} }

// StepPart is one act of a step: the step by index, and the act among its acts.
type StepPart struct{ Step, Act int }

// PartsOf are the parts of steps that an act is.
func (p *Procedure) PartsOf(a *action.Act) []StepPart { return p.parts[keyOf(a)] }

// MaxStepActs is how many acts a step may stand for.
const MaxStepActs = 16

// AllActs has a bit for each act of a step.
func (p *Procedure) AllActs(step int) uint16 { return p.whole[step] }

// IndexPair is a pair of the order by step index.
type IndexPair struct{ Earlier, Later int }

// Fault is one thing wrong with a definition; Path leads to it, for example
// "surfaces.3.face".
type Fault struct{ Path, Text string }

func (f Fault) Error() string { return f.Path + ": " + f.Text }

// New checks a definition. rules are the names of the rules that marks may use.
func New(d Definition, rules []string) (*Procedure, []Fault) {
	text, err := json.Marshal(d)
	if err != nil {
		return nil, []Fault{{"", err.Error()}}
	}
	return build(d, text, func(c *checker, p *Procedure) { c.all(p, rules) })
}

// build makes a procedure of a definition and its text, when the check is content.
func build(d Definition, text []byte, check func(*checker, *Procedure)) (*Procedure, []Fault) {
	fillVersion1(&d)
	p := &Procedure{Definition: d, Text: text, Hash: Digest(text)}
	c := &checker{d: &p.Definition}
	p.surfaces = index(c, "surfaces", d.Surfaces, MaxSurfaces, func(x Surface) string { return x.ID })
	p.items = index(c, "items", d.Items, MaxItems, func(x Item) string { return x.ID })
	p.places = index(c, "places", d.Places, MaxPlaces, func(x Place) string { return x.ID })
	p.products = index(c, "products", d.Products, MaxProducts, func(x Product) string { return x.ID })
	p.steps = index(c, "steps", d.Steps, MaxSteps, func(x Step) string { return x.ID })
	p.Words = p.words()
	check(c, p)
	if len(c.faults) > 0 {
		return nil, c.faults
	}
	for _, pair := range d.Order {
		p.pairs = append(p.pairs, IndexPair{p.steps[pair.Earlier], p.steps[pair.Later]})
	}
	p.pairsOf, p.whole = make([][]int, len(d.Steps)), make([]uint16, len(d.Steps))
	for i := range d.Steps {
		p.whole[i] = 1<<len(d.Steps[i].Acts) - 1
	}
	for i, pair := range p.pairs {
		p.pairsOf[pair.Later] = append(p.pairsOf[pair.Later], i)
	}
	p.parts = map[actKey][]StepPart{}
	for i := range d.Steps {
		for j := range d.Steps[i].Acts {
			k := keyOf(&d.Steps[i].Acts[j])
			p.parts[k] = append(p.parts[k], StepPart{i, j})
		}
	}
	p.judged = map[string]bool{}
	for _, m := range d.MarkSheet.Marks {
		p.judged[m.Rule] = true
	}
	return p, nil
}

// Digest is the fingerprint of stored bytes wherever one is kept or signed: their
// SHA-256 in hex.
func Digest(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// Judged reports whether a rule has a mark: rules without one do not run.
func (p *Procedure) Judged(rule string) bool { return p.judged[rule] }

// SurfaceIndex is the place of a surface in Surfaces, or -1.
func (p *Procedure) SurfaceIndex(id string) int { return lookup(p.surfaces, id) }

// ItemIndex is the place of an item in Items, or -1.
func (p *Procedure) ItemIndex(id string) int { return lookup(p.items, id) }

// PlaceIndex is the place of a place in Places, or -1.
func (p *Procedure) PlaceIndex(id string) int { return lookup(p.places, id) }

// ProductIndex is the place of a product in Products, or -1.
func (p *Procedure) ProductIndex(id string) int { return lookup(p.products, id) }

// StepIndex is the place of a step in Steps, or -1.
func (p *Procedure) StepIndex(id string) int { return lookup(p.steps, id) }

// PairsOf are the pairs, by index, in which a step is the later one.
func (p *Procedure) PairsOf(later int) []int { return p.pairsOf[later] }

// Pairs is the declared order by step index, in the order of Order.
func (p *Procedure) Pairs() []IndexPair { return p.pairs }

// DriesS is how long a surface stays wet after a wipe with a product.
func (p *Procedure) DriesS(surface, product int) int {
	dries := p.Products[product].DriesS
	if own := p.Surfaces[surface].DriesS; own > 0 {
		dries = min(dries, own)
	}
	return dries
}

// Title names a surface, item, place, product or step for people; an unknown
// id is returned as it is.
func (p *Procedure) Title(id string) string {
	switch {
	case p.SurfaceIndex(id) >= 0:
		return p.Surfaces[p.surfaces[id]].Title
	case p.ItemIndex(id) >= 0:
		return p.Items[p.items[id]].Title
	case p.PlaceIndex(id) >= 0:
		return p.Places[p.places[id]].Title
	case p.ProductIndex(id) >= 0:
		return p.Products[p.products[id]].Title
	case p.StepIndex(id) >= 0:
		return p.Steps[p.steps[id]].Label
	}
	return id
}

// The is a title with its article, as it stands inside a sentence.
func The(title string) string { return "the " + Within(title) }

// Within is a title as it stands inside a sentence: its first letter small.
func Within(title string) string {
	first, size := utf8.DecodeRuneInString(title)
	if size == 0 || first == utf8.RuneError {
		return title
	}
	return string(unicode.ToLower(first)) + title[size:]
}

func lookup(m map[string]int, id string) int {
	if i, ok := m[id]; ok {
		return i
	}
	return -1
}

func (d *Definition) surfaceIDs() (ids []string) {
	for _, s := range d.Surfaces {
		ids = append(ids, s.ID)
	}
	return ids
}

func (p *Procedure) words() action.Words {
	ids := func(n int, id func(int) string) (s []string) {
		for i := range n {
			s = append(s, id(i))
		}
		return s
	}
	surfaces := p.surfaceIDs()
	items := ids(len(p.Items), func(i int) string { return p.Items[i].ID })
	places := ids(len(p.Places), func(i int) string { return p.Places[i].ID })
	steps := ids(len(p.Steps), func(i int) string { return p.Steps[i].ID })
	watched := []string{}
	for _, m := range p.MarkSheet.Marks {
		if m.Watcher {
			watched = append(watched, m.ID)
		}
	}
	join := func(lists ...[]string) (s []string) {
		for _, l := range lists {
			s = append(s, l...)
		}
		return s
	}
	return action.Words{
		action.Surface: surfaces,
		action.Item:    items,
		action.Thing:   join(surfaces, items, []string{action.Station}, action.Outside),
		action.Wearing: join(items, action.ProtectiveEquipment),
		action.Mark:    watched,
		action.Worn:    join(items, action.ProtectiveEquipment),
		action.Place:   join(places, surfaces),
		action.Product: ids(len(p.Products), func(i int) string { return p.Products[i].ID }),
		action.Step:    join(steps, surfaces, items),
	}
}

// Shelf stands for the product at hand in the acts of a step: "take wipe w of
// shelf" takes whatever a scenario or a demonstration has on the shelf.
const Shelf = "shelf"

// stepWords are the words that steps may use: those of logs, and the shelf.
func (p *Procedure) stepWords() action.Words {
	words := maps.Clone(p.Words)
	words[action.Product] = append(slices.Clone(words[action.Product]), Shelf)
	return words
}

// OnShelf is an act of a step as it goes into a log: a wipe taken off the shelf
// is of the product that is there. It is the one place that knows.
func OnShelf(a action.Act, product string) action.Act {
	if a.Verb == action.TakeWipe && a.Of == Shelf {
		a.Of = product
	}
	return a
}

// MarkIndex is the place of a mark in the mark sheet, or -1.
func (p *Procedure) MarkIndex(id string) int {
	return slices.IndexFunc(p.MarkSheet.Marks, func(m Mark) bool { return m.ID == id })
}
