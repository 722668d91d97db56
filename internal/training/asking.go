package training

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"stillwet/internal/procedure"
)

// Thing is something that can be asked of people.
type Thing struct {
	Kind      DutyKind
	Of, Title string
}

// Askable is what can be asked of whom.
type Askable struct {
	Things []Thing  // modules, then demonstrations, then items
	People []Person // who works here today, by name
}

// SkipWhy is why something is not asked of somebody.
type SkipWhy string

// The reasons.
const (
	SkipNotHere SkipWhy = "not here"      // they do not work here today
	SkipClosed  SkipWhy = "closed"        // their account is closed
	SkipManager SkipWhy = "only manages"  // they have no practice here and no record of their own
	SkipAsked   SkipWhy = "asked already" // the same is still to be done
)

// Skipped is somebody of whom it is not asked, and why not.
type Skipped struct {
	Person Person
	Why    SkipWhy
	Due    Day // by which it is to be done already, of SkipAsked
}

// ToAsk is somebody of whom it would be asked, with what is to be known before.
type ToAsk struct {
	Person     Person
	OnLeave    bool
	LeaveEnds  Day  // "" while nobody knows
	NoPassword bool // they have no password of their own yet
	Has        bool // an entry of the item that is current
	HasUntil   Day  // its due day; "" when it does not come again
}

// AssignmentPreview is what would be asked of whom.
type AssignmentPreview struct {
	Ask
	Title   string
	Asked   []ToAsk   // by name
	Skipped []Skipped // likewise
	Seen    string    // names just this: who confirms says what they saw
}

// Askable is what an educator can ask, and of whom. Educators only.
func (s *Service) Askable(ctx context.Context, actor Actor) (all Askable, err error) {
	if err := need(actor, Educator); err != nil {
		return all, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		if all.Things, err = s.things(ctx, r); err != nil {
			return err
		}
		all.People, err = r.People(ctx)
		return err
	})
	today := s.Today()
	all.People = slices.DeleteFunc(all.People, func(p Person) bool { return !p.EmployedIn(today, today) })
	return all, err
}

// things are what can be asked of people now.
func (s *Service) things(ctx context.Context, r ItemReader) (all []Thing, err error) {
	lib := s.present()
	for _, m := range lib.Modules() {
		if len(m.Tests()) > 0 {
			all = append(all, Thing{ModuleDuty, m.ID, m.Title})
		}
	}
	for _, c := range lib.Competencies() {
		if !c.OnlyWatched {
			all = append(all, Thing{DemonstrationDuty, c.ID, c.Title})
		}
	}
	items, err := r.Items(ctx)
	for _, i := range items {
		if !i.Retired {
			all = append(all, Thing{ItemDuty, i.ID, i.Title})
		}
	}
	return all, err
}

// checkAsk brings an ask into order and says all that is wrong with it at once.
func (s *Service) checkAsk(a *Ask, ids []string) error {
	wrong := sentencesOf(tidyLines(line{"The reason", &a.Why, maxReason}))
	if a.Kind == "" || a.Of == "" {
		wrong = append(wrong, "Choose what is asked.")
	}
	if err := s.mayBeDue(a.Due); err != nil {
		wrong = append(wrong, sentencesOf(err)...)
	}
	switch n := len(ids); {
	case n == 0:
		wrong = append(wrong, "Tick at least one person.")
	case n > mostAssigned:
		wrong = append(wrong, fmt.Sprintf("%d people are ticked; %d is the most at once.", n, mostAssigned))
	}
	return refusedFor(wrong)
}

// PreviewAssignment says of whom something would be asked, and of whom not. Educators only.
func (s *Service) PreviewAssignment(ctx context.Context, actor Actor, wanted Ask, ids []string) (p AssignmentPreview, err error) {
	if err := need(actor, Educator); err != nil {
		return p, err
	}
	ids = eachOnce(ids)
	if err := s.checkAsk(&wanted, ids); err != nil {
		return p, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		p, err = s.previewed(ctx, r, wanted, ids)
		return err
	})
	return p, err
}

// eachOnce are ids in order, each once.
func eachOnce(ids []string) []string {
	ids = slices.Sorted(slices.Values(ids))
	return slices.Compact(ids)
}

// previewed works out of whom something that was checked would be asked.
func (s *Service) previewed(ctx context.Context, r Reader, ask Ask, ids []string) (p AssignmentPreview, err error) {
	p.Ask = ask
	all, err := s.things(ctx, r)
	if err != nil {
		return p, err
	}
	at := slices.IndexFunc(all, func(t Thing) bool { return t.Kind == ask.Kind && t.Of == ask.Of })
	if at < 0 {
		return p, refuse(ErrInvalid, "What is asked is not there any more. Choose again.")
	}
	p.Title = all[at].Title
	x := assigning{service: s, ask: ask, today: s.Today()}
	if err := x.read(ctx, r); err != nil {
		return p, err
	}
	for _, who := range x.people {
		if _, ticked := slices.BinarySearch(ids, who.ID); !ticked {
			continue
		}
		if why, due := x.skips(who); why != "" {
			p.Skipped = append(p.Skipped, Skipped{who, why, due})
		} else {
			p.Asked = append(p.Asked, x.toAsk(who))
		}
	}
	if len(p.Asked)+len(p.Skipped) != len(ids) {
		return p, refuse(ErrInvalid, "Somebody who was ticked is not among the people here. Choose again.")
	}
	text, err := json.Marshal([]any{p.Ask, p.Title, p.Asked, p.Skipped})
	p.Seen = procedure.Digest(text)
	return p, err
}

// assigning is what has to be known to say of whom something can be asked.
type assigning struct {
	service *Service
	ask     Ask
	today   Day
	people  []Person // by name
	closed  []string
	enter   map[string]bool // has a password of their own
	open    map[string]Day  // by person: by when the same is to be done already
	leaves  map[string]Absence
	has     map[string]ItemStanding
}

func (x *assigning) read(ctx context.Context, r Reader) (err error) {
	if x.people, err = r.People(ctx); err != nil {
		return err
	}
	accounts, err := r.Accounts(ctx)
	if err != nil {
		return err
	}
	x.enter = map[string]bool{}
	for _, a := range accounts {
		if x.enter[a.PersonID] = a.FirstUntil == ""; a.Disabled {
			x.closed = append(x.closed, a.PersonID)
		}
	}
	if err := x.readOpen(ctx, r); err != nil {
		return err
	}
	leaves, err := r.Absences(ctx, "")
	x.leaves = map[string]Absence{}
	for _, l := range leaves {
		if !l.Cancelled && l.From <= x.today && (l.Until == "" || l.Until >= x.today) {
			x.leaves[l.PersonID] = l
		}
	}
	if err != nil || x.ask.Kind != ItemDuty {
		return err
	}
	return x.readHas(ctx, r)
}

// readOpen finds who has the same to do already, whoever asked it.
func (x *assigning) readOpen(ctx context.Context, r Reader) error {
	duties, err := r.Duties(ctx, DutyQuery{Kind: x.ask.Kind, Of: x.ask.Of})
	if err != nil {
		return err
	}
	states, err := x.service.dutyStates(ctx, r, duties)
	x.open = map[string]Day{}
	for _, d := range states {
		if was, more := x.open[d.PersonID]; d.Open() && (!more || d.Due < was) {
			x.open[d.PersonID] = d.Due
		}
	}
	return err
}

// readHas finds who has a current entry of the item.
func (x *assigning) readHas(ctx context.Context, r Reader) error {
	item, err := x.service.item(ctx, r, x.ask.Of)
	if err != nil {
		return err
	}
	entries, err := r.ItemEntries(ctx, ItemEntryQuery{ItemID: item.ID})
	x.has = map[string]ItemStanding{}
	for _, st := range foldItems([]Item{item}, x.people, entries, x.today) {
		if st.Word == ItemCurrent {
			x.has[st.Person.ID] = st
		}
	}
	return err
}

// skips says why it cannot be asked of somebody, "" when it can.
func (x *assigning) skips(p Person) (why SkipWhy, due Day) {
	due, already := x.open[p.ID]
	switch {
	case !p.EmployedIn(x.today, x.today):
		return SkipNotHere, ""
	case slices.Contains(x.closed, p.ID):
		return SkipClosed, ""
	case !p.HasAny(Trainee, Preceptor, Educator):
		return SkipManager, ""
	case already:
		return SkipAsked, due
	}
	return "", ""
}

func (x *assigning) toAsk(p Person) ToAsk {
	l, away := x.leaves[p.ID]
	st, has := x.has[p.ID]
	return ToAsk{Person: p, OnLeave: away, LeaveEnds: l.Until, NoPassword: !x.enter[p.ID], Has: has, HasUntil: st.Due}
}

// Assign asks something of people: of just those of whom a preview said it, which seen names.
