package training

import (
	"context"
	"encoding/json"
	"fmt"

	"stillwet/internal/assess"
	"stillwet/internal/simulate"
)

// history reads everything a person's standing follows from.
func (s *Service) history(ctx context.Context, r Reader, p Person) (h History, err error) {
	if h.Attempts, err = r.Attempts(ctx, p.ID); err != nil {
		return h, err
	}
	if h.Demonstrations, err = r.Demonstrations(ctx, DemonstrationQuery{TraineeID: p.ID}); err != nil {
		return h, err
	}
	if h.SignOffs, err = r.SignOffs(ctx, p.ID); err != nil {
		return h, err
	}
	drafts, err := r.Drafts(ctx, p.ID)
	h.Working = len(drafts) > 0
	return h, err
}

// histories reads everyone's at once, by person.
func histories(ctx context.Context, r Reader) (map[string]*History, error) {
	by := map[string]*History{}
	of := func(id string) *History {
		if by[id] == nil {
			by[id] = &History{}
		}
		return by[id]
	}
	attempts, err := r.Attempts(ctx, "")
	if err != nil {
		return nil, err
	}
	for _, a := range attempts {
		of(a.PersonID).Attempts = append(of(a.PersonID).Attempts, a)
	}
	demonstrations, err := r.Demonstrations(ctx, DemonstrationQuery{})
	if err != nil {
		return nil, err
	}
	for _, d := range demonstrations {
		of(d.TraineeID).Demonstrations = append(of(d.TraineeID).Demonstrations, d)
	}
	signOffs, err := r.SignOffs(ctx, "")
	if err != nil {
		return nil, err
	}
	for _, o := range signOffs {
		of(o.PersonID).SignOffs = append(of(o.PersonID).SignOffs, o)
	}
	drafts, err := r.Drafts(ctx, "")
	if err != nil {
		return nil, err
	}
	for _, d := range drafts {
		of(d.PersonID).Working = true
	}
	return by, nil
}

// standings are a person's in every competency. Educators are not trained by
// the program: theirs show only once there is something in them.
func (s *Service) standings(p Person, h History, today Day) []Standing {
	var out []Standing
	for _, c := range s.Library.Competencies() {
		st := Fold(p, c, h, today, s.Zone)
		if p.Role != Educator || st.Word != NotStarted {
			out = append(out, st)
		}
	}
	return out
}

// People is everyone's standing in every competency, by name. Preceptors and
// educators only.
func (s *Service) People(ctx context.Context, actor Actor) ([]Standing, error) {
	if err := need(actor, Preceptor, Educator); err != nil {
		return nil, err
	}
	var out []Standing
	err := s.Records.Snapshot(ctx, func(r Reader) error {
		people, err := r.People(ctx)
		if err != nil {
			return err
		}
		by, err := histories(ctx, r)
		if err != nil {
			return err
		}
		for _, p := range people {
			if !s.gone(p) {
				out = append(out, s.standings(p, historyOf(by, p.ID), s.Today())...)
			}
		}
		return nil
	})
	return out, err
}

func historyOf(by map[string]*History, id string) History {
	if h := by[id]; h != nil {
		return *h
	}
	return History{}
}

// Record is one person's record with its evidence: one's own, or anyone's for
// preceptors and educators.
func (s *Service) Record(ctx context.Context, actor Actor, personID string) (PersonRecord, error) {
	if err := need(actor); err != nil {
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
		h, err := s.history(ctx, r, p)
		if err != nil {
			return err
		}
		rec = PersonRecord{Person: p, Standings: s.standings(p, h, s.Today()), Attempts: h.Attempts,
			Demonstrations: h.Demonstrations, SignOffs: h.SignOffs}
		if rec.Entitlements, err = r.Entitlements(ctx, p.ID); err != nil {
			return err
		}
		account, err := r.AccountOf(ctx, p.ID)
		if err != nil {
			return err
		}
		rec.Closed = account.Disabled
		rec.Names, err = names(ctx, r, idsIn(rec))
		return err
	})
	return rec, err
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
func names(ctx context.Context, r Reader, ids []string) (map[string]string, error) {
	people, err := r.People(ctx)
	if err != nil {
		return nil, err
	}
	all := make(map[string]string, len(people))
	for _, p := range people {
		all[p.ID] = p.Name
	}
	out := map[string]string{}
	for _, id := range ids {
		out[id] = all[id]
	}
	return out, nil
}

// Names are the names of people a page mentions, by id. New hires learn only
// the names of preceptors and educators and their own.
func (s *Service) Names(ctx context.Context, actor Actor, ids ...string) (map[string]string, error) {
	if err := need(actor); err != nil {
		return nil, err
	}
	people, err := s.Records.People(ctx)
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for _, p := range people {
		for _, id := range ids {
			if p.ID == id && (p.Role != Trainee || mayRead(actor, id)) {
				out[id] = p.Name
			}
		}
	}
	return out, nil
}

// Home is what a person sees first.
func (s *Service) Home(ctx context.Context, actor Actor) (Home, error) {
	if err := need(actor); err != nil {
		return Home{}, err
	}
	home := Home{Person: actor.Person}
	err := s.Records.Snapshot(ctx, func(r Reader) error {
		h, err := s.history(ctx, r, actor.Person)
		if err != nil {
			return err
		}
		home.Standings, home.Attempts, home.Watched = s.standings(actor.Person, h, s.Today()), h.Attempts, h.Demonstrations
		if actor.Person.Role != Trainee {
			recorded, err := r.Demonstrations(ctx, DemonstrationQuery{PreceptorID: actor.Person.ID})
			if err != nil {
				return err
			}
			home.Watched = merged(home.Watched, recorded)
		}
		drafts, err := r.Drafts(ctx, actor.Person.ID)
		if err != nil {
			return err
		}
		if home.Modules, err = s.modules(h.Attempts, drafts); err != nil {
			return err
		}
		ids := []string{actor.Person.ID}
		for _, d := range home.Watched {
			ids = append(ids, d.TraineeID, d.PreceptorID)
		}
		home.Names, err = names(ctx, r, ids)
		return err
	})
	return home, err
}

// merged joins two lists that are sorted newest first.
func merged(a, b []Demonstration) []Demonstration {
	out := make([]Demonstration, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		if a[0].StartedAt >= b[0].StartedAt {
			out, a = append(out, a[0]), a[1:]
		} else {
			out, b = append(out, b[0]), b[1:]
		}
	}
	return append(append(out, a...), b...)
}

func (s *Service) modules(attempts []Attempt, drafts []Draft) ([]Module, error) {
	var out []Module
	for _, sc := range s.Library.Scenarios() {
		m, err := moduleOf(sc, attempts)
		if err != nil {
			return nil, err
		}
		for i := range drafts {
			if drafts[i].ScenarioID == sc.ID {
				m.Open = &drafts[i]
			}
		}
		out = append(out, m)
	}
	return out, nil
}

func moduleOf(sc *simulate.Scenario, attempts []Attempt) (Module, error) {
	m := Module{Scenario: sc}
	best := -1.0
	for i := range attempts {
		a := &attempts[i]
		if a.ScenarioID != sc.ID {
			continue
		}
		m.Tries++
		rank, err := a.rank()
		if err != nil {
			return m, err
		}
		if rank > best {
			best, m.Best = rank, a
		}
		m.Passed = m.Passed || a.Outcome == assess.Pass
	}
	return m, nil
}

// rank orders attempts: a pass is better than any other, then the score counts.
func (a *Attempt) rank() (float64, error) {
	var r struct {
		Marks struct {
			Score float64 `json:"score"`
		} `json:"marks"`
	}
	if err := json.Unmarshal(a.ResultJSON, &r); err != nil {
		return 0, fmt.Errorf("result of attempt %s: %w", a.ID, err)
	}
	if a.Outcome == assess.Pass {
		return 1 + r.Marks.Score, nil
	}
	return r.Marks.Score, nil
}
