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

// ClinicDesk is what waits in the whole clinic. Educators only.
func (s *Service) ClinicDesk(ctx context.Context, actor Actor) (desk ClinicDesk, err error) {
	if err := need(actor, Educator); err != nil {
		return desk, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) (err error) {
		if desk.Unsigned, err = r.Demonstrations(ctx, DemonstrationQuery{Purpose: ForReturn, List: ListWaiting}); err != nil {
			return err
		}
		if desk.Open, err = r.Demonstrations(ctx, DemonstrationQuery{List: ListOpen}); err != nil {
			return err
		}
		slices.Reverse(desk.Unsigned)
		slices.Reverse(desk.Open)
		entitled, err := r.Entitlements(ctx, "")
		if err != nil {
			return err
		}
		people, err := r.People(ctx)
		if err != nil {
			return err
		}
		desk.People = make(map[string]Person, len(people))
		for _, p := range people {
			desk.People[p.ID] = p
		}
		desk.Ending = s.ending(entitled, desk.People)
		if desk.Accounts, err = s.accountsOf(ctx, r, people); err != nil {
			return err
		}
		desk.Asked, err = s.overdueAsked(ctx, r)
		return err
	})
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
