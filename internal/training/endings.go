package training

import (
	"cmp"
	"context"
	"slices"
)

// Ending is how often what somebody watched ended in one way.
type Ending struct {
	PreceptorID string
	State       DemonstrationState
	Failed      bool // by the log it did not pass
	Stopped     bool // the work was not finished
	Corrected   bool
	Count       int
}

// Endings are how demonstrations ended, of one preceptor.
type Endings struct {
	PreceptorID, Name                   string
	Met, NotMet, NotAssessed, Withdrawn int
	Practice, PracticeAfterFail         int // the second is a part of the first
	Stopped                             int // before the work was finished, judged or not
	Corrected, Open, Observed           int
}

// EndingsBy are the return demonstrations that each preceptor watched from one day to
// another, both included, by how they ended; by name. Educators only.
func (s *Service) EndingsBy(ctx context.Context, actor Actor, from, to Day) ([]Endings, error) {
	if err := need(actor, Educator); err != nil {
		return nil, err
	}
	found, err := s.Records.Endings(ctx, from.AddDays(-1).End(s.Zone()), to.End(s.Zone()))
	if err != nil {
		return nil, err
	}
	by := map[string]*Endings{}
	var ids []string
	for _, e := range found {
		if by[e.PreceptorID] == nil {
			by[e.PreceptorID] = &Endings{PreceptorID: e.PreceptorID}
			ids = append(ids, e.PreceptorID)
		}
		by[e.PreceptorID].add(e)
	}
	named, err := names(ctx, s.Records, ids)
	if err != nil {
		return nil, err
	}
	all := make([]Endings, 0, len(ids))
	for _, id := range ids {
		by[id].Name = named[id]
		all = append(all, *by[id])
	}
	slices.SortFunc(all, func(a, b Endings) int { return cmp.Compare(a.Name, b.Name) })
	return all, nil
}

func (all *Endings) add(e Ending) {
	into := map[DemonstrationState]*int{MetStandard: &all.Met, NotMet: &all.NotMet, NotAssessed: &all.NotAssessed, Withdrawn: &all.Withdrawn,
		AsPractice: &all.Practice, Filed: &all.Observed}[e.State]
	if into == nil && e.State != Abandoned {
		into = &all.Open
	}
	if into != nil {
		*into += e.Count
	}
	if e.State == AsPractice && e.Failed {
		all.PracticeAfterFail += e.Count
	}
	if e.Stopped || e.State == Abandoned {
		all.Stopped += e.Count
	}
	if e.Corrected {
		all.Corrected += e.Count
	}
}
