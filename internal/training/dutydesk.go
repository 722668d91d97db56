package training

import (
	"cmp"
	"context"
	"slices"
)

// ChangeDesk is what an educator has to know of change training.
type ChangeDesk struct {
	Waiting   []SetVersion // proposed, and nobody has approved it
	Unsaid    []SetVersion // approved, and nobody has said what follows
	Versions  []DutyCount  // with something open, what is overdue first
	Newcomers Newcomers
}

// Newcomers are people who came after it was said what follows from a version: they have
// nothing of it. Only the last version that something was asked for is looked at: whoever
// reads that one reads the procedure as it stands.
type Newcomers struct{ Version, People int }

// DutyCount is how much of a version is still to be done.
type DutyCount struct{ Version, Open, Overdue int }

// ChangeDesk is what waits for an educator because of changed procedures. Educators only.
func (s *Service) ChangeDesk(ctx context.Context, actor Actor) (desk ChangeDesk, err error) {
	if err := need(actor, Educator); err != nil {
		return desk, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		versions, err := r.SetVersions(ctx)
		if err != nil {
			return err
		}
		ups, err := r.FollowUps(ctx, 0)
		if err != nil {
			return err
		}
		desk.Waiting, desk.Unsaid = inState(versions, SetProposed), unsaid(versions, ups)
		duties, err := r.Duties(ctx, DutyQuery{Versions: true})
		if err != nil {
			return err
		}
		states, err := s.dutyStates(ctx, r, duties)
		if err != nil {
			return err
		}
		people, err := s.concerned(ctx, r)
		if err != nil {
			return err
		}
		desk.Versions = countOpen(stillHere(states, people), s.Today())
		desk.Newcomers, err = newcomers(ups, people, duties)
		return err
	})
	return desk, err
}

// unsaid are the versions that were approved, and of which nobody has said what follows.
func unsaid(versions []SetVersion, ups []FollowUp) []SetVersion {
	return slices.DeleteFunc(inState(versions, SetApproved), func(v SetVersion) bool {
		return slices.ContainsFunc(ups, func(f FollowUp) bool { return f.Version == v.Number })
	})
}

func inState(versions []SetVersion, state SetEventKind) (all []SetVersion) {
	for _, v := range versions {
		if v.State() == state {
			all = append(all, v)
		}
	}
	return all
}

// newcomers counts those of the people whom something was asked of by their role, and who have
// it not.
func newcomers(ups []FollowUp, people []Person, duties []Duty) (m Newcomers, err error) {
	var asked []Chosen
	for _, f := range slices.Backward(ups) { // oldest version first
		if len(asked) > 0 && f.Version != m.Version {
			break
		}
		of, err := askedBy([]FollowUp{f})
		if err != nil {
			return m, err
		}
		asked, m.Version = append(asked, of...), f.Version
	}
	type given struct {
		person string
		kind   DutyKind
		of     string
	}
	has := map[given]bool{}
	for _, d := range duties {
		if d.Version == m.Version {
			has[given{d.PersonID, d.Kind, d.Of}] = true
		}
	}
	for _, p := range people {
		m.People += btoi(slices.ContainsFunc(asked, func(c Chosen) bool { return c.Role == p.Role && !has[given{p.ID, c.Kind, c.Of}] }))
	}
	return m, nil
}

// stillHere leaves out what is open of people who left, or cannot sign in any more.
func stillHere(states []DutyState, people []Person) []DutyState {
	here := map[string]bool{}
	for _, p := range people {
		here[p.ID] = true
	}
	return slices.DeleteFunc(states, func(d DutyState) bool { return d.Open() && !here[d.PersonID] })
}

func countOpen(states []DutyState, today Day) (all []DutyCount) {
	for i := range states {
		d := &states[i]
		if !d.Open() {
			continue
		}
		if len(all) == 0 || all[len(all)-1].Version != d.Version {
			all = append(all, DutyCount{Version: d.Version})
		}
		c := &all[len(all)-1]
		c.Open++
		c.Overdue += btoi(d.Overdue(today))
	}
	slices.SortStableFunc(all, func(a, b DutyCount) int { return cmp.Compare(b.Overdue, a.Overdue) })
	return all
}

// dutiesIn are the duties that people had in a period, as they stood on its last day: what
// came later is left out.
func (s *Service) dutiesIn(ctx context.Context, r Reader, from, to Day) (in []DutyState, err error) {
	duties, err := r.Duties(ctx, DutyQuery{})
	if err != nil {
		return nil, err
	}
	states, err := s.dutyStates(ctx, r, duties)
	for _, d := range states {
		if d.AssignedAt.Day(s.Zone()) > to {
			continue
		}
		if d.DoneAt.Day(s.Zone()) > to {
			d.DoneAt, d.Demonstration = "", ""
		}
		if d.End.At.Day(s.Zone()) > to {
			d.End = DutyEnd{}
		}
		for n := len(d.Dates); n > 0 && d.Dates[n-1].At.Day(s.Zone()) > to; n-- {
			d.Due, d.Dates = d.before(n), d.Dates[:n-1]
		}
		if d.Open() || max(d.DoneAt, d.End.At).Day(s.Zone()) >= from {
			in = append(in, d)
		}
	}
	return in, err
}

// AskedDemonstrations are those that others have to give because a procedure changed, or
// because it was asked of them, and that the actor may watch; who has least time left comes first.
func (s *Service) AskedDemonstrations(ctx context.Context, actor Actor) (all []DutyState, err error) {
	if err := need(actor, Preceptor, Educator); err != nil {
		return nil, err
	}
	states, err := s.duties(ctx, DutyQuery{Kind: DemonstrationDuty})
	if err != nil || len(states) == 0 {
		return nil, err
	}
	may, err := s.Records.Entitlements(ctx, actor.Person.ID)
	if err != nil {
		return nil, err
	}
	people, err := s.concerned(ctx, s.Records)
	for _, d := range stillHere(states, people) {
		if d.PersonID != actor.Person.ID && d.Open() && slices.ContainsFunc(may, func(e Entitlement) bool { return e.Competency == d.Of && e.Watch && e.on(s.Today()) }) {
			all = append(all, d)
		}
	}
	return all, err
}
