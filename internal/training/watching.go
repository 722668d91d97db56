package training

import (
	"cmp"
	"context"
	"slices"

	"stillwet/internal/procedure"
)

// How many the watch page shows.
const (
	mostNext   = 8
	mostSigned = 8
)

// Watching is what somebody who watches sees first. The demonstrations are
// their own, newest first.
type Watching struct {
	Open    []Demonstration // still being recorded
	Waiting []Demonstration // ended, not signed by both
	Done    []Demonstration // the last that were signed
	Next    []Standing      // who to watch next
	Ready   []Standing      // who can be signed off
	Own     []NewHire       // whom they look after
	// Practising is how many others have tests to pass before they can be watched.
	Practising int
	Plans      []Plan            // that wait for an educator's word; for educators
	Names      map[string]string // person id to name, of the demonstrations' learners
}

// Watching is what waits for a preceptor or an educator.
func (s *Service) Watching(ctx context.Context, actor Actor) (Watching, error) {
	if err := need(actor, Preceptor, Educator); err != nil {
		return Watching{}, err
	}
	var w Watching
	err := s.Records.Snapshot(ctx, func(r Reader) error {
		all, err := s.roll(ctx, r)
		if err != nil {
			return err
		}
		standings := all.Standings
		w.Practising = practising(standings, actor.Person.ID)
		w.Next, w.Ready = WatchNext(standings, actor.Person.ID), readyOthers(standings, actor.Person.ID)
		if w.Own, err = s.newHires(ctx, r, actor.Person.ID, standings); err != nil {
			return err
		}
		if actor.Person.Has(Educator) {
			if w.Plans, err = r.Plans(ctx, PlanQuery{Waiting: true}); err != nil {
				return err
			}
		}
		return w.fill(ctx, r, actor.Person.ID)
	})
	return w, err
}

func (w *Watching) fill(ctx context.Context, r Reader, self string) (err error) {
	for _, list := range []struct {
		into *[]Demonstration
		list List
		most int
	}{{&w.Open, ListOpen, 0}, {&w.Waiting, ListWaiting, 0}, {&w.Done, ListDone, mostSigned}} {
		q := DemonstrationQuery{PreceptorID: self, List: list.list, Most: list.most}
		if *list.into, err = r.Demonstrations(ctx, q); err != nil {
			return err
		}
	}
	var ids []string
	for _, d := range slices.Concat(w.Open, w.Waiting, w.Done) {
		ids = append(ids, d.TraineeID)
	}
	for _, p := range w.Plans {
		ids = append(ids, p.PersonID)
	}
	w.Names, err = names(ctx, r, ids)
	return err
}

// urgency orders the people to watch: those whose time is over first.
var urgency = map[StandingWord]int{Lapsed: 1, OnPlan: 2, DueSoon: 3, InTraining: 4}

// WatchNext are the people, but oneself, whose scenarios are passed and who lack
// clean demonstrations: the most urgent first, and of those who is due first.
func WatchNext(all []Standing, self string) (next []Standing) {
	for _, s := range all {
		if s.Person.ID != self && urgency[s.Word] > 0 && s.toBeWatched() {
			next = append(next, s)
		}
	}
	slices.SortStableFunc(next, func(a, b Standing) int {
		return cmp.Or(cmp.Compare(urgency[a.Word], urgency[b.Word]), cmp.Compare(a.Due, b.Due))
	})
	return next[:min(len(next), mostNext)]
}

// toBeWatched reports whether the next thing is a demonstration: the modules are passed and
// clean ones are lacking, or only a clean one ends a plan.
func (s *Standing) toBeWatched() bool {
	return s.Word == OnPlan || len(s.MissingScenarios) == 0 && !s.Watched()
}

func practising(all []Standing, self string) (n int) {
	seen := map[string]bool{}
	for _, s := range all {
		if len(s.MissingScenarios) > 0 && s.Person.ID != self && !seen[s.Person.ID] {
			seen[s.Person.ID], n = true, n+1
		}
	}
	return n
}

func readyOthers(all []Standing, self string) (ready []Standing) {
	for _, s := range all {
		if s.Ready && s.Person.ID != self {
			ready = append(ready, s)
		}
	}
	return ready
}

// StandingWords are the standings in the order in which somebody has to act.
var StandingWords = []StandingWord{Lapsed, OnPlan, DueSoon, ReadyToSign, InTraining, NotStarted, Current, OnLeave}

// Title is a standing as a reader sees it.
func (w StandingWord) Title() string { return procedure.Capital(string(w)) }

// InOrder puts those first for whom somebody has to act, each group as it was.
func InOrder(all []Standing) []Standing {
	sorted := make([]Standing, 0, len(all))
	for _, w := range StandingWords {
		for i := range all {
			if all[i].Word == w {
				sorted = append(sorted, all[i])
			}
		}
	}
	return sorted
}

// Under reports whether somebody belongs under a word. Who has all that the
// next sign-off takes is ready to sign, however long the last one still holds; who is on leave
// is so, however far they are.
func (s *Standing) Under(w StandingWord) bool {
	return s.Word == w || w == ReadyToSign && s.Ready || w == OnLeave && s.Leave != nil
}

// ReadyAgain reports what the word of a standing does not say: that the next
// sign-off can be given already.
func (s *Standing) ReadyAgain() bool { return s.Ready && s.Word != ReadyToSign }

// ToSign are the demonstrations whose outcome somebody is to read and sign as the learner,
// newest first.
func (s *Service) ToSign(ctx context.Context, actor Actor) ([]Demonstration, error) {
	if err := need(actor); err != nil {
		return nil, err
	}
	waiting, err := s.Records.Demonstrations(ctx, DemonstrationQuery{TraineeID: actor.Person.ID, List: ListWaiting})
	return slices.DeleteFunc(waiting, func(d Demonstration) bool { return !d.ToSign() }), err
}

// ToSign reports whether its outcome is chosen and waits for its learner, who has neither
// signed nor refused it.
func (d *Demonstration) ToSign() bool { return d.Stage == Reviewed && d.signed(LearnerDid) == nil }
