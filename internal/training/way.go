package training

import (
	"context"
	"slices"
	"time"

	"stillwet/internal/course"
)

// CourseMark is a part that was read or watched to its end.
type CourseMark struct {
	PersonID, Module, Part string
	DoneAt                 Instant
	RightFirst, Questions  int // first answers that were right, of how many
}

// CourseDone is what somebody did of the course.
type CourseDone struct {
	Marks []CourseMark // oldest first
	Tries []ScenarioTries
}

func (d *CourseDone) tries(scenarioID string) (t ScenarioTries) {
	for _, t = range d.Tries {
		if t.ScenarioID == scenarioID {
			return t
		}
	}
	return ScenarioTries{ScenarioID: scenarioID}
}

func (d *CourseDone) mark(module, part string, since Instant) (found CourseMark, ok bool) {
	for _, m := range d.Marks {
		if m.Module == module && m.Part == part && m.DoneAt > since {
			found, ok = m, true
		}
	}
	return found, ok
}

// ModuleWay is a module as one person has it.
type ModuleWay struct {
	Module *course.Module
	Parts  []PartWay
	Passed bool // the tests were passed as the module asks, and what they opened was read
	Behind bool // signed off since: it is there to be looked at again
	Later  bool // it comes when a sign-off is due again
	Next   int  // index of the part to do next, -1 for none
}

// PartWay is a part as one person has it.
type PartWay struct {
	Part      *course.Part
	Done      bool
	NotNeeded bool // no test missed what it teaches
	Waits     bool // for the tests, which say whether it is needed
	Tries     int
	OnceMore  bool       // a test that was passed and has to be once more, on another day
	Mark      CourseMark // of what was read or watched
}

// Open is how many minutes of a module are still to be done.
func (w *ModuleWay) Open() (minutes int) {
	for _, p := range w.Parts {
		if !p.Done && !p.NotNeeded && !p.Waits {
			minutes += p.Part.Minutes
		}
	}
	return minutes
}

// missed is what the newest attempts at the tests of a module were told, by rule, with
// the moment of the newest one that was told anything.
type missed struct {
	rules map[string]bool
	at    Instant
}

// wayThrough is a module as somebody has it who did so much of it since a moment.
func wayThrough(m *course.Module, done *CourseDone, since Instant, miss missed, zone *time.Location) ModuleWay {
	w := ModuleWay{Module: m, Next: -1}
	untested := false
	for i := range m.Parts {
		if p := &m.Parts[i]; p.Kind == course.Test && done.tries(p.Scenario.ID).LastAt <= since {
			untested = true
		}
	}
	for i := range m.Parts {
		w.Parts = append(w.Parts, partWay(m, &m.Parts[i], done, since, zone))
		if p := &w.Parts[i]; m.StartsWithTest && p.Part.Kind != course.Test {
			p.Waits = untested
			p.NotNeeded = !untested && !p.Part.Lesson.Teaches(miss.rules)
			p.Mark, p.Done = done.mark(m.ID, p.Part.ID(), max(since, miss.at))
		}
	}
	w.Passed = !slices.ContainsFunc(w.Parts, func(p PartWay) bool {
		return !p.Done && (p.Part.Kind == course.Test || m.StartsWithTest && !p.NotNeeded)
	})
	if !w.Passed {
		w.Next = w.next(done, since)
	}
	return w
}

// next is the part to do next. Where tests come first, all are tried before what they
// missed is read, and what they missed is read before they are tried again.
func (w *ModuleWay) next(done *CourseDone, since Instant) int {
	open := func(is func(*PartWay) bool) int {
		return slices.IndexFunc(w.Parts, func(p PartWay) bool { return !p.Done && !p.NotNeeded && !p.Waits && is(&p) })
	}
	if !w.Module.StartsWithTest {
		return open(func(*PartWay) bool { return true })
	}
	untried := open(func(p *PartWay) bool {
		return p.Part.Kind == course.Test && done.tries(p.Part.Scenario.ID).LastAt <= since
	})
	if untried >= 0 {
		return untried
	}
	if lesson := open(func(p *PartWay) bool { return p.Part.Kind != course.Test }); lesson >= 0 {
		return lesson
	}
	return open(func(*PartWay) bool { return true })
}

func partWay(m *course.Module, p *course.Part, done *CourseDone, since Instant, zone *time.Location) PartWay {
	w := PartWay{Part: p}
	switch p.Kind {
	case course.Read, course.Watch:
		w.Mark, w.Done = done.mark(m.ID, p.ID(), since)
	case course.Practise:
		t := done.tries(p.Scenario.ID)
		w.Tries = t.Tries + t.Guided
		w.Done = w.Tries > 0
	case course.Test:
		t := done.tries(p.Scenario.ID)
		w.Tries = t.Tries
		passed := t.LastPass > since
		twice := passed && t.FirstPass.Day(zone) != t.LastPass.Day(zone)
		w.Done = passed && (m.Pass == course.EachOnce || twice)
		w.OnceMore = passed && !w.Done
	}
	return w
}

// ways are all modules as a person has them.
func (s *Service) ways(ctx context.Context, r Reader, done *CourseDone, standings []Standing) (ways []ModuleWay, err error) {
	modules := s.Library.Modules()
	for i := range modules {
		m := &modules[i]
		since, signedOff := signedOffIn(m, standings)
		if !m.StartsWithTest {
			since = ""
		}
		var miss missed
		comes := !m.StartsWithTest || dueIn(m, standings)
		if m.StartsWithTest && comes {
			if miss, err = missedIn(ctx, r, m, done, since); err != nil {
				return nil, err
			}
		}
		w := wayThrough(m, done, since, miss, s.Zone())
		w.Behind, w.Later = signedOff && !m.StartsWithTest, !comes
		if w.Behind || w.Later {
			w.Next = -1
		}
		ways = append(ways, w)
	}
	return ways, nil
}

// signedOffIn finds the last sign-off that a module counted for. What counts for nothing
// that is signed off is behind whoever was signed off for anything.
func signedOffIn(m *course.Module, standings []Standing) (at Instant, ok bool) {
	asked := slices.ContainsFunc(standings, func(st Standing) bool { return st.Competency.ID == m.CountsFor })
	for _, st := range standings {
		if o := st.LastSignOff; o != nil && (st.Competency.ID == m.CountsFor || !asked) {
			at, ok = max(at, o.SignedAt), true
		}
	}
	return at, ok
}

// dueIn reports whether the sign-off that a module counts for is due again.
func dueIn(m *course.Module, standings []Standing) bool {
	return slices.ContainsFunc(standings, func(st Standing) bool {
		return st.Competency.ID == m.CountsFor && st.DueAgain
	})
}

// missedIn finds what the newest attempts at the tests of a module were told.
func missedIn(ctx context.Context, r CourseReader, m *course.Module, done *CourseDone, since Instant) (missed, error) {
	miss := missed{rules: map[string]bool{}}
	var ids []string
	for _, id := range m.Tests() {
		if t := done.tries(id); t.LastAt > since {
			ids = append(ids, t.LastID)
		}
	}
	if len(ids) == 0 {
		return miss, nil
	}
	by, err := r.MissedRules(ctx, ids)
	for _, t := range done.Tries {
		for _, rule := range by[t.LastID] {
			miss.rules[rule], miss.at = true, max(miss.at, t.LastAt)
		}
	}
	return miss, err
}

// GoOn is the way on through the course: the module and the place of the part to do next.
func GoOn(ways []ModuleWay) (w *ModuleWay, part int, ok bool) {
	for i := range ways {
		if w := &ways[i]; w.Next >= 0 {
			return w, w.Next, true
		}
	}
	return nil, -1, false
}

// GoOnFrom is the way on for one who comes from a part of a module: what is open behind
// it, then what is open before it; in a module that is passed or behind, whatever comes
// behind it. Only then comes the rest of the course.
func GoOnFrom(ways []ModuleWay, moduleID string, part int) (*ModuleWay, int, bool) {
	at := slices.IndexFunc(ways, func(w ModuleWay) bool { return w.Module.ID == moduleID })
	if at < 0 || part < 0 {
		return GoOn(ways)
	}
	w := &ways[at]
	switch {
	case w.Next >= 0 && w.Module.StartsWithTest: // its order is its own
		return w, w.Next, true
	case w.Next >= 0:
		behind := slices.IndexFunc(w.Parts[part+1:], func(p PartWay) bool { return !p.Done })
		if behind >= 0 {
			return w, part + 1 + behind, true
		}
		return w, w.Next, true
	case !w.Later && part+1 < len(w.Parts):
		return w, part + 1, true
	}
	return GoOn(ways)
}

// PartOf finds the part of the course that a scenario was done as, first in a module that
// is not finished: the module's id, and the part's place in it, -1 for none.
func PartOf(ways []ModuleWay, scenarioID string, guided bool) (moduleID string, part int) {
	kind := course.Test
	if guided {
		kind = course.Practise
	}
	for _, finished := range []bool{false, true} {
		for _, w := range ways {
			i := slices.IndexFunc(w.Parts, func(p PartWay) bool { return p.Part.Kind == kind && p.Part.Scenario.ID == scenarioID })
			if i >= 0 && !w.Later && finished == (w.Next < 0) {
				return w.Module.ID, i
			}
		}
	}
	return "", -1
}
