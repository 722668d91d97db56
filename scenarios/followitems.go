package scenarios

import (
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// tornDown deals with the things that cues leave lying: what went where it may not go now
// goes to where it may, and what is new goes out behind the last of the others, before the
// first wipe.
func (f *follower) tornDown(cues []string) []string {
	for i := range f.p.Items {
		item := &f.p.Items[i]
		if !f.mustGo(item) || f.isMoved(cues, item) {
			continue
		}
		steps := f.stepsWith(cues, item)
		if wrong := f.movedAlone(cues, item); wrong >= 0 && len(steps) > 0 {
			cues = slices.Insert(slices.Delete(slices.Clone(cues), wrong, wrong+1), wrong, steps...)
			continue
		}
		cues = slices.Insert(slices.Clone(cues), f.lastTearDown(cues), steps...)
	}
	return cues
}

// mustGo reports whether a thing is at the station when the work begins and has been used:
// nobody in the story has done anything with it before.
func (f *follower) mustGo(item *procedure.Item) bool {
	away := func(s *simulate.Scenario) bool {
		return slices.ContainsFunc(s.Start, func(a action.Act) bool { return moves(&a, item.ID) })
	}
	named := func(s *simulate.Scenario) bool {
		return slices.ContainsFunc(s.Start, func(a action.Act) bool { return a.Object == item.ID })
	}
	return goesOut(item.Kind) && !slices.ContainsFunc(f.all, away) && (!item.WhenNamed || slices.ContainsFunc(f.all, named))
}

// moves reports whether an act puts a thing somewhere.
func moves(a *action.Act, item string) bool {
	return a.Object == item && slices.Contains([]action.Verb{action.Discard, action.SetAt, action.PutInSharps}, a.Verb)
}

func movesRight(a *action.Act, item *procedure.Item) bool {
	return moves(a, item.ID) && (a.Verb == action.PutInSharps || slices.Contains(item.Goes, a.Place))
}

func (f *follower) isMoved(cues []string, item *procedure.Item) bool {
	return slices.ContainsFunc(cues, func(cue string) bool {
		return f.does(cue, func(a *action.Act) bool { return movesRight(a, item) })
	})
}

// movedAlone is the place of the cue that puts this thing somewhere and does nothing else,
// -1 for none.
func (f *follower) movedAlone(cues []string, item *procedure.Item) int {
	return slices.IndexFunc(cues, func(cue string) bool {
		return f.does(cue, func(a *action.Act) bool { return moves(a, item.ID) }) && !f.does(cue, func(a *action.Act) bool { return a.Object != item.ID })
	})
}

// stepsWith are the steps of the kind that cues lack for a thing and that are offered, in the
// order in which they are done: nothing when none puts it where it may go.
func (f *follower) stepsWith(cues []string, item *procedure.Item) (steps []string) {
	for _, d := range deedsOf[item.Kind] {
		is := func(a *action.Act) bool { return a.Verb == d.verb && a.Object == item.ID }
		puts := moves(&action.Act{Verb: d.verb, Object: item.ID}, item.ID)
		if puts {
			is = func(a *action.Act) bool { return movesRight(a, item) }
		}
		done := slices.ContainsFunc(cues, func(cue string) bool { return f.does(cue, is) })
		step := f.stepAlone(is, item)
		switch {
		case done || step == "" && !puts || d.seldom:
		case step == "":
			return nil
		default:
			steps = append(steps, step)
		}
	}
	return steps
}

// stepAlone is the first step that is offered and does something with this thing alone.
func (f *follower) stepAlone(is func(a *action.Act) bool, item *procedure.Item) string {
	for i := range f.p.Steps {
		step := &f.p.Steps[i]
		if slices.Contains(f.all[0].Steps, step.ID) && f.does(step.ID, is) && !f.does(step.ID, func(a *action.Act) bool { return a.Object != item.ID }) {
			return step.ID
		}
	}
	return ""
}

// lastTearDown is the place behind the last used thing that is put away before the first
// wipe of the station; where none is, the place before the wipe for it is taken.
func (f *follower) lastTearDown(cues []string) int {
	first := slices.IndexFunc(cues, func(cue string) bool {
		return f.does(cue, func(a *action.Act) bool {
			i := f.p.SurfaceIndex(a.Object)
			return a.Verb == action.Wipe && i >= 0 && f.p.Surfaces[i].Role != procedure.StagingSurface
		})
	})
	if first < 0 {
		return 0
	}
	for i, cue := range slices.Backward(cues[:first]) {
		if f.does(cue, func(a *action.Act) bool {
			at := f.p.ItemIndex(a.Object)
			return at >= 0 && f.p.Items[at].Kind != procedure.BucketItem && moves(a, a.Object)
		}) {
			return i + 1
		}
	}
	return max(0, f.lastTake(cues[:first]))
}
