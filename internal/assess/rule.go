package assess

import (
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
	"stillwet/internal/wettime"
)

// Rule is a monitor of one demand of the procedure. It is a value: it keeps
// nothing between acts, so that it can be run over many variants of a log; what
// it must remember lies in the station's state.
type Rule struct {
	Name   string // as in logs, mark sheets and findings
	Doc    string // what it demands, in one sentence
	Why    string // why it matters, for the learner
	Next   string // what to do next time
	Source string // published source, or "common practice, no published source"
	Needs  action.Witness
	// OfSurfaces: it speaks of single surfaces, so that a mark can be for one.
	OfSurfaces bool
	// OfWear: it speaks of single pieces of protective equipment, likewise.
	OfWear bool
	// Custom: it rests on custom alone. What it finds is advice until the clinic has
	// confirmed its mark by name.
	Custom bool
	// SomeCustom: some of what it finds does, and says so.
	SomeCustom bool
	// Soft: what it finds is advice, whatever the clinic says, and it needs no mark.
	Soft bool
	// Critical: a breach fails the whole also where the mark sheet has no mark for it.
	Critical bool

	// Step looks at one act or event; Before and After differ by it.
	Step func(*View)
	// End looks at the state after the last act. Act is nil.
	End func(*View)
	// Close looks once, after Step or End, when the work is over: at the act that first
	// declares the station ready, or after the last one where none does.
	Close func(*View)
}

// View is what a rule sees, and how it speaks.
type View struct {
	*station.Machine
	Before, After *station.State
	Act           *station.Act // nil at the end of the log
	rules         []*Rule
	rule          int
	sink          sink
}

// sink hears what the rules say.
type sink interface {
	breach(v *View, b Breach)
	missed(v *View, surface int)
	unknown(v *View, g Gap, target int)
	occasion(v *View, surface int)
	note(v *View, surface int, text string)
}

// None is the surface of what concerns no single surface.
const None = -1

// Breach is what a rule found. Why, Next and Source replace the rule's when set.
type Breach struct {
	Surface           int    // index, or None
	Surfaces          []int  // of one cause on several surfaces: all of them
	Worn              string // the protective equipment it is about
	Message           string
	Why, Next, Source string
	Cause             string // breaches of one rule, target and cause are one finding; the message when empty
	Level             Level  // when it is not the rule's own
	Custom            bool   // as for rules, of this breach
	Critical          bool   // whatever the marks say
	Way               []station.Hop
	// Act and At are where it was done, when the act that decides is a later one.
	Act int
	At  action.Millis
	// Never is what is said instead when these steps were never done in the whole log.
	Never      string
	NeverSteps procedure.StepSet
}

// Breach reports that the demand was broken by the act, or at the end.
func (v *View) Breach(b Breach) { v.sink.breach(v, b) }

// Missed reports that a demand was not met on a surface, where another rule's
// finding says why.
func (v *View) Missed(surface int) { v.sink.missed(v, surface) }

// Unknown reports that the log cannot show whether the demand was kept.
func (v *View) Unknown(surface int, reason string) {
	v.sink.unknown(v, Gap{Rule: v.Name(), Surface: v.surfaceID(surface), Reason: reason}, surface)
}

// UnknownIf is Unknown of no surface; when it is critical the whole is incomplete for it.
func (v *View) UnknownIf(critical bool, reason string) {
	v.sink.unknown(v, Gap{Rule: v.Name(), Reason: reason, Critical: critical}, None)
}

// UnknownHands is Unknown of what hands or gloves were before. What lies before
// watching began is no part of the demonstration.
func (v *View) UnknownHands(reason string) {
	v.sink.unknown(v, Gap{Rule: v.Name(), Reason: sinceWatched(reason, v.Before.Late), Unasked: v.Before.Late}, None)
}

// sinceWatched says why nobody saw something: the watcher said so, or nobody watched yet.
func sinceWatched(reason string, late bool) string {
	if late {
		return strings.Replace(reason, "The watcher could not see", "Before watching began nobody saw", 1)
	}
	return reason
}

// Unasked is Unknown where the clinic does not ask the watcher to see it: it is
// listed, and leaves no mark open.
func (v *View) Unasked(surface int, reason string) {
	v.sink.unknown(v, Gap{Rule: v.Name(), Surface: v.surfaceID(surface), Reason: reason, Unasked: true}, surface)
}

// UnknownWorn is Unknown of a piece of protective equipment; late when it may have
// been put on before watching began.
func (v *View) UnknownWorn(worn, reason string, late bool) {
	v.sink.unknown(v, Gap{Rule: v.Name(), Worn: worn, Reason: sinceWatched(reason, late), Unasked: late}, targetOf(None, worn))
}

// Kept reports that there was an occasion to break the demand. Without one the
// rule does not apply to the log.
func (v *View) Kept(surface int) { v.sink.occasion(v, surface) }

// KeptWorn is Kept of a piece of protective equipment.
func (v *View) KeptWorn(worn string) { v.sink.occasion(v, targetOf(None, worn)) }

// Note reports what is worth telling and no breach.
func (v *View) Note(surface int, text string) { v.sink.note(v, surface, text) }

// Name is the name of the rule that looks.
func (v *View) Name() string { return v.rules[v.rule].Name }

// Done reports whether the act was an act of somebody at the station that could
// be done.
func (v *View) Done() bool {
	return v.Act != nil && !v.Act.Verb.Event() && !v.After.Impossible.Blocks()
}

// Own is Done by the worker, whose hands and gloves are judged, not by a helper.
func (v *View) Own() bool { return v.Done() && !v.Act.Helper }

// Surface is the definition of a surface by index.
func (v *View) Surface(i int) *procedure.Surface { return &v.P.Surfaces[i] }

// The names a surface in a sentence: "the screen".
func (v *View) The(surface int) string { return procedure.The(v.P.Surfaces[surface].Title) }

// Thing names whatever the act is about in a sentence.
func (v *View) Thing() string { return ThingWords(v.P, v.Act.Object) }

// ThingWords names a surface, an item, a place, protective equipment or a thing
// outside the station in a sentence.
func ThingWords(p *procedure.Procedure, id string) string {
	if words, ok := things[id]; ok && p.SurfaceIndex(id) < 0 && p.ItemIndex(id) < 0 {
		return words
	}
	if id == action.Station {
		return "the whole " + p.Station
	}
	return procedure.The(p.Title(id))
}

var things = map[string]string{
	action.Gloves: "your gloves", action.EyeProtection: "your eye protection", action.Gown: "your gown", action.MaskWorn: "your mask",
	action.Phone: "your phone", action.Pocket: "your pocket", action.Pen: "your pen", action.Face: "your face",
	action.Cart: "the cart", action.CleanStock: "the clean stock",
	station.ByHands: "your hands", station.ByWipe: "your wipe", station.OfBlood: "blood", station.OfPerson: "the patient",
	station.OfOutside: "things outside the station",
}

// Finished is the contact status of a surface in a state, at the moment of the
// act; wiped is false when it was not wiped or is unclean again.
func (v *View) Finished(s *station.State, surface int) (wiped bool, status wettime.Status) {
	x := &s.Surfaces[surface]
	switch x.Clean {
	case station.UnknownClean:
		return true, wettime.Unknown
	case station.Used:
		return false, wettime.TooShort
	}
	return true, v.ContactAt(s, surface, v.After.Now)
}

// Listed reports whether a surface must be disinfected when the station is
// declared ready: every one but the staging surface.
func (v *View) Listed(surface int) bool {
	return v.P.Surfaces[surface].Role != procedure.StagingSurface
}
