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
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"stillwet/internal/action"
)

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

// Judged reports whether a rule has a mark.
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
func The(title string) string {
	within := Within(title)
	for _, article := range []string{"a ", "an ", "the "} {
		if strings.HasPrefix(within, article) {
			return within
		}
	}
	return "the " + within
}

// Within is a title as it stands inside a sentence: its first letter small.
func Within(title string) string {
	first, size := utf8.DecodeRuneInString(title)
	if size == 0 || first == utf8.RuneError {
		return title
	}
	return string(unicode.ToLower(first)) + title[size:]
}

// Capital is a phrase as it begins a sentence: its first letter large.
func Capital(phrase string) string {
	first, size := utf8.DecodeRuneInString(phrase)
	if size == 0 || first == utf8.RuneError {
		return phrase
	}
	return string(unicode.ToUpper(first)) + phrase[size:]
}

func lookup(m map[string]int, id string) int {
	if i, ok := m[id]; ok {
		return i
	}
	return -1
}

func (d *Definition) surfaceIDs() []string {
	return ids(d.Surfaces, func(x *Surface) string { return x.ID })
}

func ids[T any](rows []T, id func(*T) string) (all []string) {
	for i := range rows {
		all = append(all, id(&rows[i]))
	}
	return all
}

func (p *Procedure) words() action.Words {
	surfaces := p.surfaceIDs()
	items := ids(p.Items, func(x *Item) string { return x.ID })
	places := ids(p.Places, func(x *Place) string { return x.ID })
	steps := ids(p.Steps, func(x *Step) string { return x.ID })
	watched := []string{}
	for _, m := range p.MarkSheet.Marks {
		if m.Watcher {
			watched = append(watched, m.ID)
		}
	}
	worn := slices.Concat(items, action.ProtectiveEquipment)
	return action.Words{
		action.Surface: surfaces,
		action.Item:    items,
		action.Thing:   slices.Concat(surfaces, items, []string{action.Station}, action.Outside),
		action.Wearing: worn,
		action.Mark:    watched,
		action.Worn:    worn,
		action.Place:   slices.Concat(places, surfaces),
		action.Product: ids(p.Products, func(x *Product) string { return x.ID }),
		action.Step:    slices.Concat(steps, surfaces, items),
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

// SayingShelf is the procedure with words that tell wipes apart: where some steps are
// offered that take wipes of several products, the one that takes from the shelf says of
// which. It is for whoever reads, and judges as before.
func (p *Procedure) SayingShelf(offered []string, product string) *Procedure {
	at := p.ProductIndex(product)
	if at < 0 || len(p.TakenBeside(offered, product)) == 0 {
		return p
	}
	q := *p
	q.Steps = slices.Clone(p.Steps)
	for i := range q.Steps {
		s := &q.Steps[i]
		if len(s.Acts) != 1 || s.Acts[0].Verb != action.TakeWipe || s.Acts[0].Of != Shelf {
			continue
		}
		s.Short = s.Words() + ": " + p.Products[at].Title
		s.Label += ": " + p.Products[at].Title
	}
	return &q
}

// TakenBeside are the products, by index, of which usual steps among some take a wipe,
// besides that on the shelf.
func (p *Procedure) TakenBeside(offered []string, product string) (all []int) {
	for _, s := range p.Steps {
		for _, a := range s.Acts {
			i := p.ProductIndex(a.Of)
			if a.Verb == action.TakeWipe && i >= 0 && a.Of != product && !s.Seldom && slices.Contains(offered, s.ID) && !slices.Contains(all, i) {
				all = append(all, i)
			}
		}
	}
	return all
}

// MarkIndex is the place of a mark in the mark sheet, or -1.
func (p *Procedure) MarkIndex(id string) int {
	return slices.IndexFunc(p.MarkSheet.Marks, func(m Mark) bool { return m.ID == id })
}
