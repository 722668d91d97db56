package assess

import (
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

	// Step looks at one act or event; Before and After differ by it.
	Step func(*View)
	// End looks at the state after the last act. Act is nil.
	End func(*View)
}

// View is what a rule sees, and how it speaks.
type View struct {
	*station.Machine
	Before, After *station.State
	Act           *station.Act // nil at the end of the log
	rule          int
	sink          sink
}

// sink hears what the rules say.
type sink interface {
	breach(v *View, b Breach)
	unknown(v *View, surface int, reason string)
	occasion(v *View, surface int)
	note(v *View, surface int, text string)
}

// None is the surface of what concerns no single surface.
const None = -1

// Breach is what a rule found. Why, Next and Source replace the rule's when set.
type Breach struct {
	Surface           int // index, or None
	Message           string
	Why, Next, Source string
	Chain             []string // how a contamination travelled, oldest first
}

// Breach reports that the demand was broken by the act, or at the end.
func (v *View) Breach(b Breach) { v.sink.breach(v, b) }

// Unknown reports that the log cannot show whether the demand was kept.
func (v *View) Unknown(surface int, reason string) { v.sink.unknown(v, surface, reason) }

// Kept reports that there was an occasion to break the demand. Without one the
// rule does not apply to the log.
func (v *View) Kept(surface int) { v.sink.occasion(v, surface) }

// Note reports what is worth telling and no breach.
func (v *View) Note(surface int, text string) { v.sink.note(v, surface, text) }

// Done reports whether the act was an act of the worker that could be done.
func (v *View) Done() bool {
	return v.Act != nil && !v.Act.Verb.Event() && v.After.Impossible == station.Possible
}

// Surface is the definition of a surface by index.
func (v *View) Surface(i int) *procedure.Surface { return &v.P.Surfaces[i] }

// Declared reports whether the station is declared ready by this act, or was
// never and the log ends.
func (v *View) Declared() bool {
	if v.Act == nil {
		return !v.After.Ready
	}
	return v.After.Ready && !v.Before.Ready
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
	return true, x.Contact.Status(v.Rule(x.Product), v.After.Now)
}

// Listed reports whether a surface must be disinfected when the station is
// declared ready: every one but the staging surface.
func (v *View) Listed(surface int) bool {
	return v.P.Surfaces[surface].Role != procedure.StagingSurface
}
