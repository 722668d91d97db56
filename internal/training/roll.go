package training

import (
	"cmp"
	"context"
	"slices"
)

// Roll is everybody: who works here today with their standings, and the others.
type Roll struct {
	Standings []Standing // in every competency, by name
	Others    []Person   // who work here and are in no training here, by name
	Away      []Away     // who left, and whose account is closed, by name; in no count
}

// Away is somebody who is here no more, or whose account is closed.
type Away struct {
	Person
	Closed bool // and they work here still
}

// People is everybody. Preceptors, educators and managers only.
func (s *Service) People(ctx context.Context, actor Actor) (all Roll, err error) {
	if err := need(actor, Preceptor, Educator, Manager); err != nil {
		return all, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) (err error) {
		all, err = s.roll(ctx, r)
		return err
	})
	return all, err
}

// InUse are the words by which people here are told apart, each once, in order.
type InUse struct{ Jobs, Teams []string }

// InUse are the job titles and teams of who works here. Educators only.
func (s *Service) InUse(ctx context.Context, actor Actor) (all InUse, err error) {
	if err := need(actor, Educator); err != nil {
		return all, err
	}
	people, err := s.Records.People(ctx)
	for _, p := range people {
		if !s.gone(p) {
			all.Jobs, all.Teams = append(all.Jobs, p.Jobs()...), append(all.Teams, p.Team)
		}
	}
	all.Jobs, all.Teams = EachWord(all.Jobs), EachWord(all.Teams)
	return all, err
}

// EachWord are words once each, whatever their letter case, in order.
func EachWord(all []string) []string {
	all = slices.DeleteFunc(slices.Clone(all), func(w string) bool { return w == "" })
	slices.SortFunc(all, func(a, b string) int { return cmp.Or(cmp.Compare(plainWords(a), plainWords(b)), cmp.Compare(a, b)) })
	return slices.CompactFunc(all, sameWord)
}

func (s *Service) roll(ctx context.Context, r Reader) (all Roll, err error) {
	people, err := r.People(ctx)
	if err != nil {
		return all, err
	}
	closed, err := r.ClosedAccounts(ctx)
	if err != nil {
		return all, err
	}
	k, err := s.known(ctx, r, s.Today(), "")
	if err != nil {
		return all, err
	}
	for _, p := range people {
		if gone, shut := s.gone(p), slices.Contains(closed, p.ID); gone || shut {
			all.Away = append(all.Away, Away{p, !gone})
			continue
		}
		n := len(all.Standings)
		all.Standings = append(all.Standings, k.standings(p)...)
		if len(all.Standings) == n {
			all.Others = append(all.Others, p)
		}
	}
	return all, nil
}
