package scenarios

import (
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// mend is a further change of cues, for when the nearer ones are not enough. It leaves
// alone what has no need of it.
type mend func(cues []string) []string

// mendings are all ways to mend, the smaller first.
func (f *follower) mendings() []mend {
	of := func(some ...mend) mend {
		return func(cues []string) []string {
			for _, m := range some {
				cues = m(cues)
			}
			return cues
		}
	}
	order, products, sides := f.ordered, f.withProducts, f.freshSides
	return []mend{order, products, sides, of(order, products), of(order, sides), of(products, sides), of(order, products, sides)}
}

// mostRounds of moving: one move may break another pair, and a ring of pairs has no end.
const mostRounds = 16

// ordered brings steps into the order that the procedure declares, and from the top of each
// thing down.
func (f *follower) ordered(cues []string) []string {
	pairs := append(f.downwards(cues), f.p.Order...)
	for range mostRounds {
		was := cues
		for _, pair := range pairs {
			cues = f.movedBefore(cues, pair.Earlier, pair.Later)
		}
		if slices.Equal(was, cues) {
			break
		}
	}
	return cues
}

// downwards are the steps among some cues that wipe something higher of a thing than others do.
func (f *follower) downwards(cues []string) (pairs []procedure.Pair) {
	for _, higher := range f.p.Surfaces {
		for _, lower := range f.p.Surfaces {
			if higher.Row == 0 || lower.Row <= higher.Row || lower.ThingOf() != higher.ThingOf() {
				continue
			}
			pairs = append(pairs, procedure.Pair{Earlier: f.stepAmong(cues, higher.ID), Later: f.stepAmong(cues, lower.ID)})
		}
	}
	return pairs
}

// stepAmong is the first of some cues that wipes a surface, "" for none.
func (f *follower) stepAmong(cues []string, surface string) string {
	if i := slices.IndexFunc(cues, func(cue string) bool { return f.wipesOne(cue, surface) }); i >= 0 {
		return cues[i]
	}
	return ""
}

// movedBefore does a step that comes too late before the wipe is taken for the later one,
// with a fresh wipe of its own where it needs one.
func (f *follower) movedBefore(cues []string, earlier, later string) []string {
	from, to := slices.Index(cues, earlier), slices.Index(cues, later)
	if to < 0 || from <= to || f.takes(earlier) || f.takes(later) {
		return cues
	}
	moved := []string{earlier}
	if take := f.lastTake(cues[:from]); f.usesWipe(earlier) && take >= 0 {
		moved = []string{cues[take], earlier}
	}
	if take := f.lastTake(cues[:to]); f.usesWipe(later) && take >= 0 {
		to = take
	}
	fit := slices.Insert(slices.Delete(slices.Clone(cues), from, from+1), to, moved...)
	every := map[int]bool{}
	for i := range fit {
		every[i] = true
	}
	return f.aimed(f.withoutIdle(fit, every), earlier)
}

// lastTake is the place of the last wipe that is taken, -1 for none.
func (f *follower) lastTake(cues []string) int {
	for i, cue := range slices.Backward(cues) {
		if f.takes(cue) {
			return i
		}
	}
	return -1
}

// aimed has the waits for the time of what was moved be for what is wiped last now.
func (f *follower) aimed(cues []string, moved string) []string {
	last, seen := "", map[string]bool{}
	for i, cue := range cues {
		if surface, waits := strings.CutPrefix(cue, untilReached); waits && last != "" && f.wipesOne(moved, surface) {
			cues[i] = untilReached + last
		}
		if !seen[cue] {
			last = f.lastWiped(cue, last)
		}
		seen[cue] = true
	}
	return cues
}

// withProducts takes a wipe of another product where the one in hand is not for what a step
// wipes, and one of the usual for what comes behind it.
func (f *follower) withProducts(cues []string) (fit []string) {
	usual, hand := "", "" // the steps that take them
	for _, cue := range cues {
		switch {
		case f.takes(cue):
			usual, hand = cue, cue
		case f.letsGo(cue):
			hand = ""
		case f.usesWipe(cue):
			if take := f.takeFor(cue, usual, hand); take != hand {
				if n := len(fit); n > 0 && fit[n-1] == hand {
					fit = fit[:n-1] // nothing is done with it
				}
				fit, hand = append(fit, take), take
			}
		}
		fit = append(fit, cue)
	}
	return fit
}

func (f *follower) letsGo(cue string) bool {
	return f.does(cue, func(a *action.Act) bool { return a.Verb == action.DropWipe || a.Verb == action.DiscardWipe })
}

// takeFor is the step that takes a wipe for another step: the usual one where that will do,
// else what is in hand, else any that is offered; what is in hand where none does.
func (f *follower) takeFor(cue, usual, hand string) string {
	for _, take := range append([]string{usual, hand}, f.offeredTakes()...) {
		if take != "" && f.suits(take, cue) {
			return take
		}
	}
	return hand
}

// offeredTakes are the steps that take a wipe and do nothing else, those of the product on
// the shelf before others.
func (f *follower) offeredTakes() []string {
	var shelf, others []string
	s := f.all[0]
	for i := range f.p.Steps {
		step := &f.p.Steps[i]
		if len(step.Acts) != 1 || !slices.Contains(s.Steps, step.ID) || !f.takes(step.ID) {
			continue
		}
		if f.productOf(step, s) == f.p.ProductIndex(s.Product) {
			shelf = append(shelf, step.ID)
		} else {
			others = append(others, step.ID)
		}
	}
	return append(shelf, others...)
}

// suits reports whether what a step takes may be used for another one, in every variant.
func (f *follower) suits(take, cue string) bool {
	return !slices.ContainsFunc(f.all, func(s *simulate.Scenario) bool {
		with, step := f.step(take, s), f.step(cue, s)
		return step != nil && (with == nil || !f.allowed(f.productOf(with, s), step, s))
	})
}

// allowed reports whether a product may be used on all that a step wipes, and is strong
// enough where blood was.
func (f *follower) allowed(product int, step *procedure.Step, s *simulate.Scenario) bool {
	x := &f.p.Products[product]
	if x.PastDate || x.MadeH > x.MostH() {
		return false
	}
	return !slices.ContainsFunc(step.Acts, func(a action.Act) bool {
		return a.Verb == action.Wipe && (!mayGoOn(f.p, x.ID, a.Object) || x.Level != procedure.IntermediateLevel && bloodOn(s, a.Object))
	})
}

// bloodOn reports whether blood is seen on a surface in a scenario.
func bloodOn(s *simulate.Scenario, surface string) bool {
	is := func(a action.Act) bool { return a.Verb == action.BloodOn && a.Object == surface }
	return slices.ContainsFunc(s.Start, is) || slices.ContainsFunc(s.Events, func(e simulate.Event) bool { return is(e.Act) })
}

// freshSides takes a fresh wipe wherever one would go from one side of a thing to another.
func (f *follower) freshSides(cues []string) (fit []string) {
	take, side := "", ""
	for _, cue := range cues {
		first, last := f.sides(cue)
		switch {
		case f.takes(cue):
			take, side = cue, ""
		case take != "" && side != "" && first != "" && first != side:
			fit = append(fit, take)
		}
		if last != "" {
			side = last
		}
		fit = append(fit, cue)
	}
	return fit
}

// sides are those of the first and of the last that a cue wipes, "" for nothing.
func (f *follower) sides(cue string) (first, last string) {
	step := f.step(cue, f.all[0])
	if step == nil {
		return "", ""
	}
	for _, a := range step.Acts {
		i := f.p.SurfaceIndex(a.Object)
		if a.Verb != action.Wipe || i < 0 {
			continue
		}
		if last = f.p.Surfaces[i].Face; first == "" {
			first = last
		}
	}
	return first, last
}
