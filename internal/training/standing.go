package training

import (
	"context"
	"errors"
	"slices"
	"time"
)

// How many of the newest attempts a page shows.
const (
	homeAttempts   = 6
	recordAttempts = 20
)

// known is what standings on a day are folded from.
type known struct {
	asked []Competency // that people are signed off for, with their requirements
	by    map[string]*History
	day   Day
	zone  *time.Location
}

// known reads what the standings of a person, or of everyone with "", follow from on a day.
func (s *Service) known(ctx context.Context, r SignOffReader, day Day, personID string) (known, error) {
	k := known{day: day, zone: s.Zone()}
	kept, err := r.Requirements(ctx)
	if err != nil {
		return k, err
	}
	k.asked = s.asked(kept, day)
	k.by, err = r.Histories(ctx, k.query(personID))
	return k, err
}

// asked are the competencies that people are signed off for, with the requirements that
// were kept by the end of a day.
func (s *Service) asked(kept []Requirements, day Day) (all []Competency) {
	before := day.End(s.Zone())
	for _, c := range s.Library.Competencies() {
		if c.OnlyWatched {
			continue
		}
		for _, r := range kept {
			if r.Competency == c.ID && r.At < before {
				c.kept = append(c.kept, r)
			}
		}
		all = append(all, c)
	}
	return all
}

// query asks for everything that the standings follow from.
func (k known) query(personID string) HistoryQuery {
	q := HistoryQuery{PersonID: personID, Day: k.day, Before: k.day.End(k.zone)}
	for i := range k.asked {
		c := &k.asked[i]
		q.Competencies = append(q.Competencies, c.ID)
		terms := c.Requirements(k.day).Terms
		q.Again = q.Again || terms.Annual.Again != AgainNone || terms.Lapsed.Again != AgainNone
		for _, id := range c.Scenarios {
			if !slices.Contains(q.Scenarios, id) {
				q.Scenarios = append(q.Scenarios, id)
			}
		}
	}
	return q
}

func (k known) history(id string) History {
	if h := k.by[id]; h != nil {
		return *h
	}
	return History{}
}

// all are a person's standings in every competency that is asked of them.
func (k known) all(p Person) (all []Standing) {
	h := k.history(p.ID)
	signedOff := slices.ContainsFunc(h.SignOffs, func(o SignOff) bool { return o.On <= k.day })
	for _, c := range k.asked {
		if c.Requirements(k.day).Terms.Needs.fits(p, signedOff) {
			all = append(all, Fold(p, c, h, k.day, k.zone))
		}
	}
	return all
}

// standings are the same without what says nothing: who only teaches or reads is not
// trained by the program, and theirs show only once there is something in them.
func (k known) standings(p Person) []Standing {
	return slices.DeleteFunc(k.all(p), func(st Standing) bool { return !p.InTraining() && st.Word == NotStarted })
}

// in is a person's standing in one competency; false when it is not asked of them.
func (k known) in(p Person, competency string) (Standing, bool) {
	for _, st := range k.all(p) {
		if st.Competency.ID == competency {
			return st, true
		}
	}
	return Standing{}, false
}

// Record is one person's record with its evidence: one's own, or anyone's for
// preceptors and educators, and without practice for managers.
func (s *Service) Record(ctx context.Context, actor Actor, personID string) (PersonRecord, error) {
	if err := need(actor, everybody...); err != nil {
		return PersonRecord{}, err
	}
	var rec PersonRecord
	err := s.Records.Snapshot(ctx, func(r Reader) error {
		p, err := r.Person(ctx, personID)
		if err == nil && !mayRead(actor, p.ID) {
			err = ErrNotFound
		}
		if err != nil {
			return said(err, ErrNotFound, "There is no such person.")
		}
		k, err := s.known(ctx, r, s.Today(), p.ID)
		if err != nil {
			return err
		}
		rec = PersonRecord{Person: p, Standings: k.standings(p)}
		if err := s.fillRecord(ctx, r, actor, &rec); err != nil {
			return err
		}
		if rec.Entitlements, err = r.Entitlements(ctx, p.ID); err != nil {
			return err
		}
		account, err := r.AccountOf(ctx, p.ID)
		if rec.NoAccount = errors.Is(err, ErrNotFound); err != nil && !rec.NoAccount {
			return err
		}
		rec.Closed = account.Disabled
		if rec.Names, err = names(ctx, r, idsIn(rec)); err != nil {
			return err
		}
		rec.Signed, err = signedAs(ctx, r, rec.SignOffs, rec.Demonstrations)
		return err
	})
	return rec, err
}

// fillRecord adds the evidence: of the attempts those that are shown.
func (s *Service) fillRecord(ctx context.Context, r Reader, actor Actor, rec *PersonRecord) (err error) {
	id := rec.Person.ID
	if rec.Orientation, err = orientationOf(ctx, r, id); err != nil {
		return err
	}
	if rec.Demonstrations, err = r.Demonstrations(ctx, DemonstrationQuery{TraineeID: id}); err != nil {
		return err
	}
	if rec.SignOffs, err = r.SignOffs(ctx, SignOffQuery{PersonID: id}); err != nil {
		return err
	}
	if rec.NoPractice = !readsWork(actor, id); rec.NoPractice {
		return nil
	}
	guided := seesPractice(actor, id, rec.Orientation)
	if rec.Attempts, err = r.Attempts(ctx, id, guided, recordAttempts); err != nil {
		return err
	}
	by, err := r.CourseOf(ctx, []string{id})
	if err != nil {
		return err
	}
	for _, t := range by[id].Tries {
		rec.AllAttempts += t.Tries
		if guided {
			rec.AllAttempts += t.Guided
		}
	}
	rec.Ways, err = s.ways(ctx, r, by[id], rec.Standings)
	return err
}

// signedAs finds who is named in sign-offs and in signatures on demonstrations.
func signedAs(ctx context.Context, r LedgerReader, signOffs []SignOff, demonstrations []Demonstration) (SignedAs, error) {
	var leaves []int64
	for _, o := range signOffs {
		leaves = append(leaves, o.Leaf)
	}
	for _, d := range demonstrations {
		for _, n := range d.Signatures {
			leaves = append(leaves, n.Leaf)
		}
	}
	if len(leaves) == 0 {
		return nil, nil
	}
	return r.LeavesAt(ctx, leaves)
}

// SignedAs is who is named in the signatures on a demonstration, as they stood then.
func (s *Service) SignedAs(ctx context.Context, d Demonstration) (SignedAs, error) {
	return signedAs(ctx, s.Records, nil, []Demonstration{d})
}

func idsIn(rec PersonRecord) []string {
	ids := []string{rec.Person.ID}
	for _, d := range rec.Demonstrations {
		ids = append(ids, d.TraineeID, d.PreceptorID)
	}
	for _, o := range rec.SignOffs {
		ids = append(ids, o.SignerID)
	}
	for _, e := range rec.Entitlements {
		ids = append(ids, e.GrantedBy)
	}
	return ids
}

// names are the names of some people by their ids.
func names(ctx context.Context, r PeopleReader, ids []string) (map[string]string, error) {
	people, err := r.PeopleOf(ctx, ids)
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for _, p := range people {
		out[p.ID] = p.Name
	}
	return out, nil
}

// Names are the names of people a page mentions, by id. New hires learn only
// the names of preceptors and educators and their own.
func (s *Service) Names(ctx context.Context, actor Actor, ids ...string) (map[string]string, error) {
	if err := need(actor, everybody...); err != nil {
		return nil, err
	}
	people, err := s.Records.PeopleOf(ctx, ids)
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for _, p := range people {
		if p.HasAny(Preceptor, Educator) || mayRead(actor, p.ID) {
			out[p.ID] = p.Name
		}
	}
	return out, nil
}

// Person is oneself, or anyone for preceptors, educators and managers.
func (s *Service) Person(ctx context.Context, actor Actor, id string) (Person, error) {
	if err := need(actor, everybody...); err != nil {
		return Person{}, err
	}
	p, err := s.Records.Person(ctx, id)
	if err == nil && !mayRead(actor, p.ID) {
		p, err = Person{}, ErrNotFound
	}
	return p, said(err, ErrNotFound, "There is no such person.")
}

// Home is what a person sees first.
func (s *Service) Home(ctx context.Context, actor Actor) (Home, error) {
	if err := need(actor); err != nil {
		return Home{}, err
	}
	home := Home{Person: actor.Person}
	err := s.Records.Snapshot(ctx, func(r Reader) error {
		k, err := s.known(ctx, r, s.Today(), actor.Person.ID)
		if err != nil {
			return err
		}
		home.Standings = k.standings(actor.Person)
		if home.Attempts, err = r.Attempts(ctx, actor.Person.ID, true, homeAttempts); err != nil {
			return err
		}
		if home.Watched, err = r.Demonstrations(ctx, DemonstrationQuery{TraineeID: actor.Person.ID}); err != nil {
			return err
		}
		by, err := r.CourseOf(ctx, []string{actor.Person.ID})
		if err != nil {
			return err
		}
		if home.Ways, err = s.ways(ctx, r, by[actor.Person.ID], k.all(actor.Person)); err != nil {
			return err
		}
		if home.Orientation, err = orientationOf(ctx, r, actor.Person.ID); err != nil {
			return err
		}
		home.Scenarios, err = s.ownScenarios(ctx, r, by[actor.Person.ID], actor.Person.ID)
		return err
	})
	return home, err
}

// ownScenarios are all scenarios as one person has them.
func (s *Service) ownScenarios(ctx context.Context, r PracticeReader, done *CourseDone, personID string) ([]OwnScenario, error) {
	drafts, err := r.Drafts(ctx, personID)
	if err != nil {
		return nil, err
	}
	var out []OwnScenario
	for _, sc := range s.Library.Scenarios() {
		t := done.tries(sc.ID)
		own := OwnScenario{Scenario: sc, Tries: t.Tries, Guided: t.Guided, Passed: t.Passed()}
		for _, d := range drafts {
			if d.ScenarioID == sc.ID {
				own.Open = append(own.Open, d)
			}
		}
		out = append(out, own)
	}
	return out, nil
}
