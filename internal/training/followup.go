package training

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"stillwet/internal/assess/rules"
	"stillwet/internal/course"
)

// Chosen is one thing that is asked of everybody in a role.
type Chosen struct {
	Role Role     `json:"role"`
	Kind DutyKind `json:"kind"`
	Of   string   `json:"of,omitempty"`
	Due  Day      `json:"due"`
}

// Asking is one thing that may be asked of a role: whether it is proposed, whether it was
// asked before, and of how many it would be asked that have it not yet.
type Asking struct {
	Kind      DutyKind
	Of, Title string
	Proposed  bool
	Asked     bool
	Has, New  int
}

// FollowGroup is everybody who works here in a role, with what may be asked of them.
type FollowGroup struct {
	Role   Role
	People []Person
	Asks   []Asking // reading first, then modules, then demonstrations
}

// Following is what follows from a version: what is proposed, what was confirmed, and how
// far people have come.
type Following struct {
	Version   SetVersion
	Changes   []Change
	Groups    []FollowGroup
	FollowUps []FollowUp
	Duties    []DutyState
	By        map[DutyKind]Day // the days that are offered
}

// daysForDuties is how long people are offered for what takes more than reading.
const daysForDuties = 30

// followRoles are those that something is asked of, as a page shows them.
var followRoles = []Role{Trainee, Preceptor, Educator}

// Following is what follows from a version that was approved. Educators only.
func (s *Service) Following(ctx context.Context, actor Actor, version int) (f Following, err error) {
	if err := need(actor, Educator); err != nil {
		return f, err
	}
	was, is, v, err := s.versionsApart(ctx, version)
	if err != nil {
		return f, err
	}
	f.Version, f.Changes = v, s.changes(was, is)
	f.By = s.offeredDays(v)
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		if f.FollowUps, err = r.FollowUps(ctx, version); err != nil {
			return err
		}
		duties, err := r.Duties(ctx, DutyQuery{Version: version})
		if err != nil {
			return err
		}
		if f.Duties, err = s.dutyStates(ctx, r, duties); err != nil {
			return err
		}
		people, err := s.concerned(ctx, r)
		if err != nil {
			return err
		}
		f.Duties, f.Groups = stillHere(f.Duties, people), followGroups(people, is, f.Changes, duties)
		return f.markAsked()
	})
	return f, err
}

// offeredDays are the days that a form begins with, one for each kind: what is read is read
// before it holds, a module takes longer, and a demonstration needs somebody who watches.
func (s *Service) offeredDays(v SetVersion) map[DutyKind]Day {
	first := max(v.InForceFrom(), s.Today())
	return map[DutyKind]Day{ReadDuty: first, ModuleDuty: first.AddDays(daysForDuties), DemonstrationDuty: first.AddDays(daysForDuties)}
}

// markAsked says at each thing whether an earlier word asked for it.
func (f *Following) markAsked() error {
	asked, err := askedBy(f.FollowUps)
	for i, g := range f.Groups {
		for j, a := range g.Asks {
			f.Groups[i].Asks[j].Asked = slices.ContainsFunc(asked, func(c Chosen) bool { return c.Role == g.Role && c.Kind == a.Kind && c.Of == a.Of })
		}
	}
	return err
}

// askedBy is what some follow-ups asked of whom.
func askedBy(ups []FollowUp) (all []Chosen, err error) {
	for _, f := range ups {
		var of []Chosen
		if err := json.Unmarshal([]byte(f.Chosen), &of); err != nil {
			return nil, fmt.Errorf("what was asked because of version %d: %w", f.Version, err)
		}
		all = append(all, of...)
	}
	return all, nil
}

// versionsApart are an approved version and the one that it is based on.
func (s *Service) versionsApart(ctx context.Context, version int) (was, is Library, v SetVersion, err error) {
	versions, err := s.Records.SetVersions(ctx)
	if err != nil {
		return nil, nil, v, err
	}
	if v, err = versionOf(versions, version); err != nil {
		return nil, nil, v, err
	}
	if v.State() != SetApproved {
		return nil, nil, v, refuse(ErrConflict, "Nothing follows from version %d: it was not approved.", version)
	}
	if is, err = s.libraryOf(ctx, v); err != nil {
		return nil, nil, v, err
	}
	before, err := versionOf(versions, v.BasedOn)
	if err == nil {
		was, err = s.libraryOf(ctx, before)
	}
	return was, is, v, err
}

// libraryOf is a version as it is read: off the shelf where it stands there.
func (s *Service) libraryOf(ctx context.Context, v SetVersion) (Library, error) {
	if shelf, ok := s.Library.(*Shelf); ok {
		if lib := shelf.loaded(v.Hash); lib != nil {
			return lib, nil
		}
	}
	files, err := s.versionFiles(ctx, v.Number)
	if err != nil {
		return nil, err
	}
	return s.loadSet(files)
}

func followGroups(people []Person, lib Library, changes []Change, duties []Duty) (groups []FollowGroup) {
	for _, role := range followRoles {
		g := FollowGroup{Role: role, Asks: asksOf(role, lib, changes)}
		for _, p := range people {
			if p.Role == role {
				g.People = append(g.People, p)
			}
		}
		for i := range g.Asks {
			a := &g.Asks[i]
			for _, p := range g.People {
				if hasDuty(duties, p.ID, a.Kind, a.Of) {
					a.Has++
				} else {
					a.New++
				}
			}
		}
		groups = append(groups, g)
	}
	return groups
}

// concerned are the people who work here and can sign in, by name.
func (s *Service) concerned(ctx context.Context, r Reader) ([]Person, error) {
	people, err := r.People(ctx)
	if err != nil {
		return nil, err
	}
	closed, err := r.ClosedAccounts(ctx)
	return slices.DeleteFunc(people, func(p Person) bool { return s.gone(p) || slices.Contains(closed, p.ID) }), err
}

func hasDuty(duties []Duty, personID string, kind DutyKind, of string) bool {
	return slices.ContainsFunc(duties, func(d Duty) bool { return d.PersonID == personID && d.Kind == kind && d.Of == of })
}

// asksOf is what may be asked of a role, and of it what is proposed: the heaviest of what
// the changes ask for. Nobody watches educators, so that they are asked to read and no more.
func asksOf(role Role, lib Library, changes []Change) (all []Asking) {
	heaviest := NoWeight
	for _, c := range changes {
		if !heaviest.heavier(c.Weight) {
			heaviest = c.Weight
		}
	}
	all = append(all, Asking{Kind: ReadDuty, Proposed: heaviest.heavier(Told)})
	if role == Educator {
		return all
	}
	practised, shown := modulesFor(lib, changes), proceduresOf(changes, Demanded)
	for _, m := range lib.Modules() {
		if !m.StartsWithTest && len(m.Tests()) > 0 { // one that does comes when a sign-off is due
			all = append(all, Asking{Kind: ModuleDuty, Of: m.ID, Title: m.Title, Proposed: slices.Contains(practised, m.ID)})
		}
	}
	for _, c := range lib.Competencies() {
		all = append(all, Asking{Kind: DemonstrationDuty, Of: c.ID, Title: c.Title, Proposed: !c.OnlyWatched && slices.ContainsFunc(c.Stations(), isIn(shown))})
	}
	return all
}

func isIn(ids []string) func(string) bool {
	return func(id string) bool { return slices.Contains(ids, id) }
}

// proceduresOf are those that changes of a weight, or a heavier one, are in.
func proceduresOf(changes []Change, least Weight) (ids []string) {
	for _, c := range changes {
		if c.Weight.heavier(least) {
			ids = append(ids, c.Procedures...)
		}
	}
	return ids
}

// modulesFor are the modules whose lessons teach what the changes touch: wet time where a
// contact time changed, and the rule that judges it where something became a demand.
func modulesFor(lib Library, changes []Change) (ids []string) {
	touched := map[string]bool{}
	for _, c := range changes {
		switch {
		case c.Weight == Retimed || c.Weight == Longer:
			touched[rules.WetLongEnough.Name] = true
		case c.Weight.heavier(Demanded):
			touched[ruleOf(lib, c)] = true
		}
	}
	for _, m := range lib.Modules() {
		if slices.ContainsFunc(m.Lessons(), func(l *course.Lesson) bool { return l.Teaches(touched) }) {
			ids = append(ids, m.ID)
		}
	}
	return ids
}

// ruleOf is the rule that judges what a change is of.
func ruleOf(lib Library, c Change) string {
	switch c.Kind {
	case "closing":
		return rules.EndOfDay.Name
	case "mark":
		for _, id := range c.Procedures {
			if p, ok := lib.Procedure(id); ok && p.MarkIndex(c.ID) >= 0 {
				return p.MarkSheet.Marks[p.MarkIndex(c.ID)].Rule
			}
		}
	}
	return rules.DeclaredOrder.Name
}

// ConfirmFollowUp keeps what follows from a version, which may be nothing, and gives what
// is chosen to everybody it concerns who has it not yet. Confirming once more only adds
// people. Educators only.
func (s *Service) ConfirmFollowUp(ctx context.Context, actor Actor, key string, version int, chosen []Chosen) (FollowUp, error) {
	if err := need(actor, Educator); err != nil {
		return FollowUp{}, err
	}
	a, err := ask(actor.Person.ID, key, "confirm what follows from the set", version, chosen)
	if err != nil {
		return FollowUp{}, err
	}
	var f FollowUp
	var lib Library
	before := func() error { // libraries are read before the transaction: versions never change
		f, lib, err = s.followUp(ctx, version, chosen)
		return err
	}
	answer, _, err := s.once(ctx, a, before, func(u Unit) (string, error) {
		return s.keepFollowUp(ctx, u, f, lib, chosen, actor.Person)
	})
	if err != nil {
		return FollowUp{}, err
	}
	return s.followUpNamed(ctx, version, answer)
}

func (s *Service) followUpNamed(ctx context.Context, version int, record string) (FollowUp, error) {
	ups, err := s.Records.FollowUps(ctx, version)
	if err != nil {
		return FollowUp{}, err
	}
	at := slices.IndexFunc(ups, func(f FollowUp) bool { return f.Record() == record })
	if at < 0 {
		return FollowUp{}, fmt.Errorf("what follows, %s: %w", record, ErrNotFound)
	}
	return ups[at], nil
}

// followUp is what would be kept of what was chosen, without who and when.
func (s *Service) followUp(ctx context.Context, version int, chosen []Chosen) (f FollowUp, lib Library, err error) {
	was, is, v, err := s.versionsApart(ctx, version)
	if err != nil {
		return f, nil, err
	}
	if err := s.checkChosen(is, chosen); err != nil {
		return f, nil, err
	}
	changes, err := json.Marshal(s.changes(was, is))
	if err != nil {
		return f, nil, err
	}
	picked, err := json.Marshal(chosen)
	f = FollowUp{Version: version, InForceAt: v.inForceAt(s.Zone()), Why: v.Why, Changes: string(changes), Chosen: string(picked)}
	return f, is, err
}

// checkChosen refuses what cannot be asked for.
func (s *Service) checkChosen(lib Library, chosen []Chosen) error {
	for i, c := range chosen {
		if slices.ContainsFunc(chosen[:i], func(x Chosen) bool { return x.Role == c.Role && x.Kind == c.Kind && x.Of == c.Of }) {
			return refuse(ErrInvalid, "One thing is asked twice of the same people. Load the page again.")
		}
		if !slices.Contains(followRoles, c.Role) || titleOfAsk(lib, c) == nil {
			return refuse(ErrInvalid, "Something is asked for that this version does not have. Load the page again.")
		}
		if err := s.mayBeDue(c.Due); err != nil {
			return err
		}
	}
	return nil
}

const maxDutyMonths = 24

// titleOfAsk is what may be asked of a role, with its title; nil for anything else.
func titleOfAsk(lib Library, c Chosen) *Asking {
	all := asksOf(c.Role, lib, nil)
	i := slices.IndexFunc(all, func(a Asking) bool { return a.Kind == c.Kind && a.Of == c.Of })
	if i < 0 {
		return nil
	}
	return &all[i]
}

func (s *Service) keepFollowUp(ctx context.Context, u Unit, f FollowUp, lib Library, chosen []Chosen, by Person) (string, error) {
	ups, err := u.FollowUps(ctx, f.Version)
	if err != nil {
		return "", err
	}
	f.Seq, f.At, f.ByID, f.ByName = len(ups)+1, s.Now(), by.ID, by.Name
	duties, err := s.newDuties(ctx, u, f, lib, chosen)
	if err != nil {
		return "", err
	}
	if len(ups) > 0 && len(duties) == 0 {
		return "", refuse(ErrConflict, "%s confirmed this on %s, and everybody it concerns has it already. Nobody was added.", ups[len(ups)-1].ByName, ups[len(ups)-1].At.Day(s.Zone()).Said())
	}
	who, err := s.withCredential(ctx, u, PartBy, by)
	if err != nil {
		return "", err
	}
	about := LeafAbout{Kind: FollowUpLeaf, Record: f.Record(), At: f.At, People: []Named{who}}
	if f.Leaf, err = s.ledgered(ctx, u, about, followUpFields(f, duties)); err != nil {
		return "", err
	}
	return f.Record(), u.AddFollowUp(ctx, f, duties)
}

// newDuties are what people get who have it not yet, by their ids, which is how they are
// signed.
func (s *Service) newDuties(ctx context.Context, u Unit, f FollowUp, lib Library, chosen []Chosen) (all []Duty, err error) {
	people, err := s.concerned(ctx, u)
	if err != nil {
		return nil, err
	}
	has, err := u.Duties(ctx, DutyQuery{Version: f.Version})
	if err != nil {
		return nil, err
	}
	for _, c := range chosen {
		for _, p := range people {
			if p.Role == c.Role && !hasDuty(has, p.ID, c.Kind, c.Of) {
				all = append(all, Duty{ID: s.NewID(), Version: f.Version, FollowUp: f.Seq, PersonID: p.ID, Name: p.Name, StaffNo: p.StaffNo,
					Kind: c.Kind, Of: c.Of, Title: titleOfAsk(lib, c).Title, FirstDue: c.Due, Due: c.Due})
			}
		}
	}
	slices.SortFunc(all, func(a, b Duty) int { return cmp.Compare(a.ID, b.ID) })
	return all, nil
}

// inForceAt is the moment from which an approved version holds: its day's first, or that of
// its approval.
func (v SetVersion) inForceAt(zone *time.Location) Instant {
	e := v.last()
	return max(e.At, e.From.AddDays(-1).End(zone))
}
