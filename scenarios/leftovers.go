package scenarios

import (
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/simulate"
)

// withoutLeftovers leaves out what has lost its reason when steps went: a wait although
// nothing was wiped for it, and gloves that are put on and taken off with nothing between
// them, with the hands that were cleaned once more for it.
func (f *follower) withoutLeftovers(cues []string) []string {
	for {
		kept := f.withoutIdleGloves(f.withoutIdleWaits(cues))
		if len(kept) == len(cues) {
			return kept
		}
		cues = kept
	}
}

// withoutIdleWaits leaves out the waiting steps before which nothing was wiped since the
// last one.
func (f *follower) withoutIdleWaits(cues []string) (kept []string) {
	wet := false
	for _, cue := range cues {
		switch {
		case f.waits(cue) && !wet && !f.isCalledFor(cue):
			continue
		case f.waits(cue):
			wet = false
		case f.wipes(cue):
			wet = true
		}
		kept = append(kept, cue)
	}
	return kept
}

// withoutIdleGloves leaves out gloves with which nothing is done.
func (f *follower) withoutIdleGloves(cues []string) (kept []string) {
	for i := 0; i < len(cues); i++ {
		off := f.idleUntil(cues, i)
		if off < 0 {
			kept = append(kept, cues[i])
			continue
		}
		i = off
		if n := len(kept); n > 0 && i+1 < len(cues) && kept[n-1] == cues[i+1] && f.cleansHands(cues[i+1]) {
			i++
		}
	}
	return kept
}

// idleUntil is the place of the cue that takes off the gloves which another puts on, when
// only waits stand between them; else -1.
func (f *follower) idleUntil(cues []string, on int) int {
	if !f.onlyDoes(cues[on], action.PutOn, action.Gloves) || f.isCalledFor(cues[on]) {
		return -1
	}
	for i := on + 1; i < len(cues); i++ {
		switch {
		case f.onlyDoes(cues[i], action.TakeOff, action.Gloves) && !f.isCalledFor(cues[i]):
			return i
		case !f.waits(cues[i]) && !strings.HasPrefix(cues[i], "+"):
			return -1
		}
	}
	return -1
}

// waits reports whether a cue is a step that waits, and does nothing else.
func (f *follower) waits(cue string) bool { return f.onlyDoes(cue, action.Wait, "") }

// onlyDoes reports whether a cue is a step with such an act, and no other, in every variant.
func (f *follower) onlyDoes(cue string, verb action.Verb, object string) bool {
	return !isWait(cue) && !slices.ContainsFunc(f.all, func(s *simulate.Scenario) bool {
		step := f.step(cue, s)
		return step == nil || len(step.Acts) != 1 || step.Acts[0].Verb != verb || step.Acts[0].Object != object
	})
}

func (f *follower) cleansHands(cue string) bool {
	return f.onlyDoes(cue, action.RubHands, "") || f.onlyDoes(cue, action.WashHands, "")
}

// isCalledFor reports whether the world does something after a step: it stays where it is.
func (f *follower) isCalledFor(cue string) bool {
	return slices.ContainsFunc(f.all, func(s *simulate.Scenario) bool {
		return slices.ContainsFunc(s.Events, func(e simulate.Event) bool { return e.After == simulate.Fill(cue, s.Facts) })
	})
}
