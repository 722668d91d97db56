package training

import (
	"cmp"
	"context"
	"slices"
)

// EndingNotice is how many days before its last day an entitlement is told of.
const EndingNotice = 60

// ClinicDesk is what waits in the whole clinic, whoever has to act, what is oldest first.
type ClinicDesk struct {
	Unsigned []Demonstration // ended return demonstrations whose outcome is not signed
	Open     []Demonstration // begun and not ended
	Ending   []Entitlement   // of who works here, that end within EndingNotice days and that nothing follows
	Accounts []WaitingAccount
	Asked    []DutyState // what educators asked, still to be done after its day
	People   map[string]Person
}

// What waits of demonstrations.
var (
	unsignedQuery = DemonstrationQuery{Purpose: ForReturn, List: ListWaiting}
	openQuery     = DemonstrationQuery{List: ListOpen}
)

// ClinicDesk is what waits in the whole clinic. Educators only.
func (s *Service) ClinicDesk(ctx context.Context, actor Actor) (desk ClinicDesk, err error) {
	if err := need(actor, Educator); err != nil {
		return desk, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) (err error) {
		if desk, err = s.endingAndAccounts(ctx, r); err != nil {
			return err
		}
		if desk.Unsigned, err = r.Demonstrations(ctx, unsignedQuery); err != nil {
			return err
		}
		desk.Open, err = r.Demonstrations(ctx, openQuery)
		slices.Reverse(desk.Unsigned)
		slices.Reverse(desk.Open)
		if err != nil {
			return err
		}
		desk.Asked, err = s.overdueAsked(ctx, r)
		return err
	})
	return desk, err
}

// DeskCounts is how many of each stand in ClinicDesk.
type DeskCounts struct{ Unsigned, Open, Ending, Accounts, Asked int }

// DeskCounts counts what waits in the whole clinic without reading it. Educators only.
func (s *Service) DeskCounts(ctx context.Context, actor Actor) (n DeskCounts, err error) {
	if err := need(actor, Educator); err != nil {
		return n, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) (err error) {
		if n.Unsigned, err = r.CountDemonstrations(ctx, unsignedQuery); err != nil {
			return err
		}
		if n.Open, err = r.CountDemonstrations(ctx, openQuery); err != nil {
			return err
		}
		desk, err := s.endingAndAccounts(ctx, r)
		if err != nil {
			return err
		}
		late, err := s.overdueAsked(ctx, r)
		n.Ending, n.Accounts, n.Asked = len(desk.Ending), len(desk.Accounts), len(late)
		return err
	})
	return n, err
}

// endingAndAccounts is what of the desk is found among the people.
func (s *Service) endingAndAccounts(ctx context.Context, r Reader) (desk ClinicDesk, err error) {
	entitled, err := r.Entitlements(ctx, "")
	if err != nil {
		return desk, err
	}
	people, err := r.People(ctx)
	if err != nil {
		return desk, err
	}
	desk.People = make(map[string]Person, len(people))
	for _, p := range people {
		desk.People[p.ID] = p
	}
	desk.Ending = s.ending(entitled, desk.People)
	desk.Accounts, err = s.accountsOf(ctx, r, people)
	return desk, err
}

// ending are the entitlements that end soon, but for those that another one carries on.
func (s *Service) ending(all []Entitlement, people map[string]Person) (soon []Entitlement) {
	today := s.Today()
	for _, e := range all {
		p := people[e.PersonID]
		if !e.on(today) || e.Until > today.AddDays(EndingNotice) || s.gone(p) || !p.HasAny(Preceptor, Educator) {
			continue
		}
		if !slices.ContainsFunc(all, func(x Entitlement) bool { return x.carriesOn(e) }) {
			soon = append(soon, e)
		}
	}
	slices.SortStableFunc(soon, func(a, b Entitlement) int { return cmp.Compare(a.Until, b.Until) })
	return soon
}

// carriesOn reports whether an entitlement lets the same person do as much for longer,
// without a day between.
func (e Entitlement) carriesOn(was Entitlement) bool {
	return e.PersonID == was.PersonID && e.Until > was.Until &&
		e.From <= was.Until.AddDays(1) && e.allows(was)
}
