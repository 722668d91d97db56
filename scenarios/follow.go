package scenarios

import (
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// follower adapts the cues of a model to a procedure that has changed: what is gone is
// left out, a new surface is wiped behind the one before it, and in a run what would dry
// before its time is wiped again. Whether that is a right answer is for the engine to say.
type follower struct {
	p   *procedure.Procedure
	all []*simulate.Scenario // the variants
}

// adapted are the ways to adapt cues, the nearest to what was there first.
func (f *follower) adapted(cues []string) (ways [][]string) {
	kept := f.tornDown(f.withoutGone(cues))
	fits := [][]string{f.withNew(kept, false), f.withNew(kept, true)}
	as := func(cues []string) []string { return cues }
	for _, mended := range append([]mend{as}, f.mendings()...) {
		for _, way := range f.inTime(fits, mended) {
			way = f.withoutLeftovers(way)
			if !slices.ContainsFunc(ways, func(x []string) bool { return slices.Equal(x, way) }) {
				ways = append(ways, way)
			}
		}
	}
	return ways
}

// inTime are cues mended, and in a run also so that nothing dries before its time.
func (f *follower) inTime(fits [][]string, mended mend) (ways [][]string) {
	for _, fit := range fits {
		ways = append(ways, mended(fit))
		if f.all[0].Clocked() {
			ways = append(ways, f.keptWet(mended(f.eachOnce(fit))), f.keptWet(mended(fit)))
		}
	}
	if f.all[0].Clocked() {
		for _, way := range slices.Clone(ways) {
			ways = append(ways, f.dried(way))
		}
	}
	return ways
}

// step is the step that a cue is in a variant, nil for none.
func (f *follower) step(cue string, s *simulate.Scenario) *procedure.Step {
	id := simulate.Fill(cue, s.Facts)
	if i := f.p.StepIndex(id); i >= 0 && slices.Contains(s.Steps, id) {
		return &f.p.Steps[i]
	}
	return nil
}

// does reports whether a cue is a step with such an act, in any variant.
func (f *follower) does(cue string, is func(a *action.Act) bool) bool {
	return slices.ContainsFunc(f.all, func(s *simulate.Scenario) bool {
		step := f.step(cue, s)
		return step != nil && slices.ContainsFunc(step.Acts, func(a action.Act) bool { return is(&a) })
	})
}

func (f *follower) takes(cue string) bool {
	return f.does(cue, func(a *action.Act) bool { return a.Verb == action.TakeWipe })
}

func (f *follower) wipes(cue string) bool {
	return f.does(cue, func(a *action.Act) bool { return a.Verb == action.Wipe })
}

func (f *follower) wipesOne(cue, surface string) bool {
	return f.does(cue, func(a *action.Act) bool { return a.Verb == action.Wipe && a.Object == surface })
}

// usesWipe reports whether a cue needs the wipe in hand.
func (f *follower) usesWipe(cue string) bool {
	return f.does(cue, func(a *action.Act) bool {
		return slices.Contains([]action.Verb{action.Wipe, action.Clean, action.Disinfect, action.DropWipe, action.DiscardWipe}, a.Verb)
	})
}

const untilReached = "until-reached:"

func isWait(cue string) bool { return strings.HasPrefix(cue, "+") || strings.Contains(cue, ":") }

// withoutGone leaves out the steps that are gone, and the wipes that were taken for them
// alone. A wait for a surface that is gone is one for the last that was wiped for the
// first time.
func (f *follower) withoutGone(cues []string) (kept []string) {
	lost := map[int]bool{} // wipes, by their place, that were taken for something that is gone
	take, last, seen := -1, "", map[string]bool{}
	for _, cue := range cues {
		switch how, surface, waits := strings.Cut(cue, ":"); {
		case waits && f.p.SurfaceIndex(surface) < 0 && !strings.Contains(surface, "{"):
			if cue = how + ":" + last; last == "" {
				continue
			}
		case !isWait(cue) && !slices.ContainsFunc(f.all, func(s *simulate.Scenario) bool { return f.step(cue, s) != nil }):
			lost[take] = true
			continue
		case f.takes(cue):
			take = len(kept)
		}
		if !seen[cue] {
			last = f.lastWiped(cue, last)
		}
		seen[cue] = true
		kept = append(kept, cue)
	}
	return f.withoutIdle(kept, lost)
}

// lastWiped is the surface that a cue wipes last, or the one of before.
func (f *follower) lastWiped(cue, before string) string {
	if step := f.step(cue, f.all[0]); step != nil {
		for _, a := range step.Acts {
			if a.Verb == action.Wipe {
				before = a.Object
			}
		}
	}
	return before
}

// withoutIdle leaves out the wipes, of some, with which nothing is done.
func (f *follower) withoutIdle(cues []string, some map[int]bool) (kept []string) {
	for i, cue := range cues {
		if !some[i] || !f.takes(cue) {
			kept = append(kept, cue)
			continue
		}
		rest := cues[i+1:]
		if next := slices.IndexFunc(rest, f.takes); next >= 0 {
			rest = rest[:next]
		}
		if slices.ContainsFunc(rest, f.usesWipe) {
			kept = append(kept, cue)
		}
	}
	return kept
}

// withNew puts in the wiping of surfaces that the cues do not wipe yet. With fresh, each
// has a wipe of its own.
func (f *follower) withNew(cues []string, fresh bool) []string {
	for i := range f.p.Surfaces {
		surface := &f.p.Surfaces[i]
		wiped := func(id string) bool {
			return slices.ContainsFunc(cues, func(cue string) bool { return f.wipesOne(cue, id) })
		}
		step, before := f.stepFor(surface.ID), f.before(i, wiped)
		if wiped(surface.ID) || step == "" || before == nil {
			continue
		}
		cues = f.putBehind(cues, step, surface, before, fresh || before.Face != surface.Face)
	}
	return cues
}

// stepFor is the step that wipes a surface, the shortest that is offered.
func (f *follower) stepFor(surface string) (id string) {
	least := procedure.MaxStepActs + 1
	for i := range f.p.Steps {
		step := &f.p.Steps[i]
		if len(step.Acts) < least && slices.Contains(f.all[0].Steps, step.ID) && f.wipesOne(step.ID, surface) {
			id, least = step.ID, len(step.Acts)
		}
	}
	return id
}

// before is the surface behind which a new one is wiped: of its face, else its thing,
// else its role; the nearest before it, else the nearest after it.
func (f *follower) before(at int, wiped func(string) bool) *procedure.Surface {
	is := &f.p.Surfaces[at]
	for _, same := range []func(x *procedure.Surface) bool{
		func(x *procedure.Surface) bool { return x.Face == is.Face },
		func(x *procedure.Surface) bool { return x.ThingOf() == is.ThingOf() },
		func(x *procedure.Surface) bool { return x.Role == is.Role },
	} {
		for _, i := range nearest(at, len(f.p.Surfaces)) {
			if x := &f.p.Surfaces[i]; same(x) && wiped(x.ID) {
				return x
			}
		}
	}
	return nil
}

// nearest are the places of a list from one backwards, then from it onwards.
func nearest(at, length int) (places []int) {
	for i := at - 1; i >= 0; i-- {
		places = append(places, i)
	}
	for i := at + 1; i < length; i++ {
		places = append(places, i)
	}
	return places
}

// putBehind puts a step behind each that wipes another surface, or before one after which
// the worker is called away; where it takes a wipe of its own, behind all that are wiped in
// one go with that one.
func (f *follower) putBehind(cues []string, step string, is, before *procedure.Surface, fresh bool) (put []string) {
	take := ""
	for i := 0; i < len(cues); i++ {
		if f.takes(cues[i]) {
			take = cues[i]
		}
		if f.wipesOne(cues[i], before.ID) && f.calledAway(cues[i], put) {
			put = append(f.beforeLast(put, step, take, fresh), cues[i])
			continue
		}
		put = append(put, cues[i])
		if !f.wipesOne(cues[i], before.ID) {
			continue
		}
		for fresh && i+1 < len(cues) && f.wipes(cues[i+1]) {
			i++
			put = append(put, cues[i])
		}
		if fresh && take != "" {
			put = append(put, take)
		}
		put = append(put, step)
		if i+1 < len(cues) && cues[i+1] == untilReached+before.ID {
			i++
			put = append(put, cues[i], untilReached+is.ID)
		}
	}
	return put
}

// beforeLast puts a step at the end of some cues, or with a wipe of its own before the last
// wipe that is taken there.
func (f *follower) beforeLast(cues []string, step, take string, fresh bool) []string {
	at := len(cues)
	for i, cue := range cues {
		if fresh && cue == take {
			at = i
		}
	}
	if at == len(cues) {
		return append(cues, step)
	}
	return slices.Insert(cues, at, take, step)
}

// eachOnce leaves out what is wiped again, and the waits for it: keptWet says anew when
// that is done.
func (f *follower) eachOnce(cues []string) (once []string) {
	seen, lost, take := map[string]bool{}, map[int]bool{}, -1
	for i, cue := range cues {
		again := f.wipes(cue) && seen[cue]
		waits := strings.HasPrefix(cue, "+") && i+1 < len(cues) && seen[cues[i+1]] && f.wipes(cues[i+1])
		if again || waits {
			lost[take] = true
			continue
		}
		if f.takes(cue) {
			take = len(once)
		}
		seen[cue] = true
		once = append(once, cue)
	}
	return f.withoutIdle(once, lost)
}

// keptWet wipes again what would dry before its time: all that is wiped in one go, so
// often and at such times that each surface of it stays wet. A fixed wait behind it
// becomes as long as the label asks for.
func (f *follower) keptWet(cues []string) (kept []string) {
	take := ""
	for i := 0; i < len(cues); i++ {
		cue := cues[i]
		if f.takes(cue) {
			take = cue
		}
		if !f.wipes(cue) || take == "" || f.calledAway(cue, kept) {
			kept = append(kept, cue)
			continue
		}
		var group []string
		for ; i < len(cues) && f.wipes(cues[i]) && !f.calledAway(cues[i], kept); i++ {
			group = append(group, cues[i])
		}
		b := f.block(take, group)
		kept = append(kept, b.cues()...)
		if i < len(cues) && strings.HasPrefix(cues[i], "+") {
			if s, err := action.ParseSeconds(cues[i][1:]); err == nil {
				kept = append(kept, fmt.Sprintf("+%ds", max(int(s/1000), b.label)))
				i++
			}
		}
		i--
	}
	return kept
}

// dried waits, before the bucket goes back, until all of it is dry: a product that stays
// wet for long may still be on it.
func (f *follower) dried(cues []string) (slow []string) {
	for _, cue := range cues {
		if f.does(cue, func(a *action.Act) bool { return a.Verb == action.PutBack }) {
			for _, s := range f.p.Surfaces {
				if s.Role == procedure.BucketSurface && slices.ContainsFunc(slow, func(x string) bool { return f.wipesOne(x, s.ID) }) {
					slow = append(slow, "until-dry:"+s.ID)
				}
			}
		}
		slow = append(slow, cue)
	}
	return slow
}

// calledAway reports whether the worker has to leave after a cue: what is wiped then is
// wiped again by somebody who comes back.
func (f *follower) calledAway(cue string, before []string) bool {
	return !slices.Contains(before, cue) && slices.ContainsFunc(f.all[0].Events, func(e simulate.Event) bool {
		return e.After == simulate.Fill(cue, f.all[0].Facts) && e.Act.Verb == action.GoToNeighbour
	})
}

// block is what is wiped in one go, with the worst of its variants. Times are in seconds.
type block struct {
	take    string
	steps   []string
	round   int // to take a wipe and wipe all
	soonest int // likewise, in the variant that takes least
	dries   int // how soon the first of them dries
	label   int
	divided []block // it dries before it is wiped once: each step by itself
}

func (f *follower) block(take string, steps []string) block {
	b := block{take: take, steps: steps, soonest: never, dries: never}
	for _, s := range f.all {
		step := f.step(take, s)
		if step == nil {
			continue
		}
		product, round := f.productOf(step, s), step.Seconds
		b.label = max(b.label, f.p.Products[product].LabelS)
		for _, cue := range steps {
			if step := f.step(cue, s); step != nil {
				round += int(simulate.Busy(f.p, step) / 1000)
				b.dries = min(b.dries, f.driesFirst(step, product))
			}
		}
		b.round, b.soonest = max(b.round, round), min(b.soonest, round)
	}
	if b.round > b.dries && len(steps) > 1 {
		for _, cue := range steps {
			b.divided = append(b.divided, f.block(take, []string{cue}))
		}
	}
	return b
}

func (f *follower) productOf(take *procedure.Step, s *simulate.Scenario) int {
	for _, a := range take.Acts {
		if a.Verb == action.TakeWipe {
			return max(0, f.p.ProductIndex(procedure.OnShelf(a, s.Product).Of))
		}
	}
	return 0
}

// never is longer than any time of a run, in seconds.
const never = 1 << 20

// driesFirst is how soon one of what a step wipes is dry, and asks to be wiped again: never
// where the label counts the time that it is left alone.
func (f *follower) driesFirst(step *procedure.Step, product int) int {
	if f.p.Products[product].CountsDry() {
		return never
	}
	dries := f.p.Products[product].DriesS
	for _, a := range step.Acts {
		if i := f.p.SurfaceIndex(a.Object); a.Verb == action.Wipe && i >= 0 {
			dries = min(dries, f.p.DriesS(i, product))
		}
	}
	return dries
}

// cues are the wiping and the wiping again, behind the wipe that is in hand.
func (b *block) cues() (cues []string) {
	for i := range b.divided {
		if i > 0 {
			cues = append(cues, b.take)
		}
		cues = append(cues, b.divided[i].cues()...)
	}
	if len(b.divided) > 0 {
		return cues
	}
	cues = slices.Clone(b.steps)
	if b.label <= b.dries {
		return cues
	}
	again := (b.label - 1) / b.dries // as few as do
	wait := b.wait(again)
	for b.round <= b.dries && b.round+wait > b.dries {
		again++
		wait = b.wait(again)
	}
	for range again {
		if wait > 0 {
			cues = append(cues, fmt.Sprintf("+%ds", wait))
		}
		cues = append(append(cues, b.take), b.steps...)
	}
	return cues
}

// wait is how long to wait before each time of so many that it is wiped again, so that the
// last of them keeps it wet to the end of its time.
func (b *block) wait(again int) int {
	return max(0, (b.label-b.dries+again-1)/again-b.soonest)
}
