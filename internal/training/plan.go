package training

import (
	"context"
	"slices"

	"stillwet/internal/assess"
	"stillwet/internal/ledger"
	"stillwet/internal/procedure"
)

// daysForPlan is how long a person is offered to practise what was missed.
const daysForPlan = 14

// Plan is what somebody is to practise after an unmet demonstration. An educator opens it,
// or declines it with a reason; the next demonstration is a whole one. When that is met the
// plan has ended; an educator may close it before, with a reason.
type Plan struct {
	ID, PersonID, Competency, DemonstrationID string
	Marks                                     []PlanMark
	Scenarios                                 []string // ids of those that train just these
	Events                                    []PlanEvent
	// Ended is what ended an open one without anybody's word: a demonstration that was met.
	Ended PlanEnd
}

// PlanEnd is a demonstration that ended a plan, and when it began; "" for none.
type PlanEnd struct {
	DemonstrationID string
	At              Instant
}

// Open reports whether a plan is to be practised.
func (p *Plan) Open() bool { return p.Last().State == PlanOpened && p.Ended.At == "" }

// PlanMark is a mark that was missed.
type PlanMark struct {
	ID    string `json:"id"`
	Title string `json:"title"`
}

// PlanState is how far a plan has come.
type PlanState string

// The states.
const (
	PlanProposed PlanState = "proposed"
	PlanOpened   PlanState = "opened"
	PlanDeclined PlanState = "declined"
	PlanClosed   PlanState = "closed" // by an educator, before a demonstration ended it
)

// PlanEvent is a state of a plan: who, why, and by when it is to be practised.
type PlanEvent struct {
	Seq          int
	State        PlanState
	At           Instant
	ByID, ByName string
	Why          string
	Due          Day // of an opened one; as proposed before
	Leaf         int64
}

// Last is the newest event.
func (p *Plan) Last() PlanEvent { return p.Events[len(p.Events)-1] }

// PlanQuery narrows Plans; empty fields do not.
type PlanQuery struct {
	ID, PersonID, DemonstrationID string
	Waiting                       bool // for an educator's word
}

// proposePlan follows from an outcome of not met.
func (s *Service) proposePlan(ctx context.Context, u Unit, d Demonstration, by Person) error {
	p, err := s.begunUnder(ctx, u, d)
	if err != nil {
		return err
	}
	result, err := assess.ParseResult(d.ResultJSON)
	if err != nil {
		return err
	}
	plan := Plan{ID: s.NewID(), PersonID: d.TraineeID, Competency: d.Competency, DemonstrationID: d.ID, Marks: missedMarks(p, result)}
	plan.Scenarios = s.train(d.Competency, rulesMissed(p, result))
	if err := u.AddPlan(ctx, plan); err != nil {
		return err
	}
	return s.planned(ctx, u, plan, PlanEvent{Seq: 1, State: PlanProposed, Due: s.Today().AddDays(daysForPlan)}, by)
}

func missedMarks(p *procedure.Procedure, r *assess.Result) (all []PlanMark) {
	for _, m := range r.Marks.Lines {
		if m.Status == assess.Missed {
			title := m.ID
			if i := p.MarkIndex(m.ID); i >= 0 {
				title = p.MarkSheet.Marks[i].Title
			}
			all = append(all, PlanMark{m.ID, title})
		}
	}
	return all
}

// rulesMissed are those of missed marks, and of breaches without a mark.
func rulesMissed(p *procedure.Procedure, r *assess.Result) map[string]bool {
	missed := map[string]bool{}
	for _, m := range r.Marks.Lines {
		if i := p.MarkIndex(m.ID); i >= 0 && m.Status == assess.Missed {
			missed[p.MarkSheet.Marks[i].Rule] = true
		}
	}
	for i := range r.Findings {
		if f := &r.Findings[i]; !f.Advice() {
			missed[f.Rule] = true
		}
	}
	delete(missed, "") // the watcher's own marks
	return missed
}

// train are the scenarios that train some rules: the tests of the modules whose lessons
// teach them, of those that the competency takes; all of these when no lesson does.
func (s *Service) train(competency string, missed map[string]bool) (ids []string) {
	c, _ := s.competency(competency)
	for _, m := range s.present().Modules() {
		for _, l := range m.Lessons() {
			if !l.Teaches(missed) {
				continue
			}
			for _, id := range m.Tests() {
				if slices.Contains(c.Scenarios, id) && !slices.Contains(ids, id) {
					ids = append(ids, id)
				}
			}
		}
	}
	if len(ids) == 0 {
		return c.Scenarios
	}
	return ids
}

// planned adds a state of a plan with its leaf.
func (s *Service) planned(ctx context.Context, u Unit, p Plan, e PlanEvent, by Person) error {
	e.At, e.ByID, e.ByName = s.Now(), by.ID, by.Name
	learner, err := u.Person(ctx, p.PersonID)
	if err != nil {
		return err
	}
	about := LeafAbout{Kind: PlanLeaf, Record: p.ID, At: e.At, People: []Named{named(PartPerson, learner), named(PartBy, by)}}
	f, err := planFields(p, e)
	if err != nil {
		return err
	}
	if e.Leaf, err = s.ledgered(ctx, u, about, f); err != nil {
		return err
	}
	return u.AddPlanEvent(ctx, p.ID, e)
}

// planFields is what is signed of a state of a plan, with the plan.
func planFields(p Plan, e PlanEvent) (ledger.Fields, error) {
	marks := make([]ledger.Fields, len(p.Marks))
	for i, m := range p.Marks {
		marks[i] = ledger.Fields{"id": m.ID, "title": m.Title}
	}
	return ledger.Fields{"person_id": p.PersonID, "competency": p.Competency, "demonstration": p.DemonstrationID, "marks": marks, "scenarios": p.Scenarios,
		"seq": e.Seq, "state": string(e.State), "by_id": e.ByID, "by_name": e.ByName, "why": e.Why, "due": string(e.Due)}, nil
}

// AnswerPlan opens a proposed plan until a day, or declines it; both with a reason that is
// kept. Educators only.
func (s *Service) AnswerPlan(ctx context.Context, actor Actor, key, id string, state PlanState, due Day, why string) (Plan, error) {
	if err := need(actor, Educator); err != nil {
		return Plan{}, err
	}
	a, err := ask(actor.Person.ID, key, "answer a plan", id, state, due, why)
	if err != nil {
		return Plan{}, err
	}
	before := func() (err error) {
		switch state {
		case PlanOpened:
			if why, err = s.reason(why, "Say what it is opened for: the person reads it."); err == nil {
				err = s.mayBeDue(due)
			}
		case PlanDeclined:
			due = ""
			why, err = s.reason(why, "Say why no plan is needed: it is kept.")
		default:
			err = refuse(ErrInvalid, "Open the plan or decline it.")
		}
		return err
	}
	_, _, err = s.once(ctx, a, before, func(u Unit) (string, error) {
		p, err := onePlan(ctx, u, id)
		if err == nil && p.Last().State != PlanProposed {
			err = refuse(ErrConflict, "%s answered this plan already: it is %s.", p.Last().ByName, p.Last().State)
		}
		if err != nil {
			return "", err
		}
		return id, s.planned(ctx, u, p, PlanEvent{Seq: len(p.Events) + 1, State: state, Due: due, Why: why}, actor.Person)
	})
	if err != nil {
		return Plan{}, err
	}
	return onePlan(ctx, s.Records, id)
}

// ClosePlan ends an open plan before a demonstration does, for a reason that is kept.
// Educators only.
func (s *Service) ClosePlan(ctx context.Context, actor Actor, key, id, why string) (Plan, error) {
	if err := need(actor, Educator); err != nil {
		return Plan{}, err
	}
	a, err := ask(actor.Person.ID, key, "close a plan", id, why)
	if err != nil {
		return Plan{}, err
	}
	before := func() (err error) {
		why, err = s.reason(why, "Say why it is closed: the person reads it.")
		return err
	}
	_, _, err = s.once(ctx, a, before, func(u Unit) (string, error) {
		p, err := s.wholePlan(ctx, u, id)
		if err == nil && !p.Open() {
			err = refuse(ErrConflict, "This plan is not open.")
		}
		if err != nil {
			return "", err
		}
		return id, s.planned(ctx, u, p, PlanEvent{Seq: len(p.Events) + 1, State: PlanClosed, Why: why}, actor.Person)
	})
	if err != nil {
		return Plan{}, err
	}
	return s.wholePlan(ctx, s.Records, id)
}

// wholePlan is one plan with what ended it.
func (s *Service) wholePlan(ctx context.Context, r Reader, id string) (Plan, error) {
	p, err := onePlan(ctx, r, id)
	if err != nil {
		return Plan{}, err
	}
	all, err := withEnds(ctx, r, []Plan{p})
	return all[0], err
}

// withEnds says of one person's plans which a demonstration has ended.
func withEnds(ctx context.Context, r WatchReader, plans []Plan) ([]Plan, error) {
	var from Instant
	for i := range plans {
		if e := plans[i].Last(); e.State == PlanOpened && (from == "" || e.At < from) {
			from = e.At
		}
	}
	if from == "" {
		return plans, nil
	}
	done, err := r.Demonstrations(ctx, DemonstrationQuery{TraineeID: plans[0].PersonID, List: ListDone, From: from})
	for i := range plans {
		p := &plans[i]
		for j := range done { // the newest first: the last that is set is the first there was
			if d := &done[j]; p.Last().State == PlanOpened && d.Competency == p.Competency && d.StartedAt > p.Last().At && d.Met() {
				p.Ended = PlanEnd{d.ID, d.StartedAt}
			}
		}
	}
	return plans, err
}

// Plan is one plan: one's own, or anyone's for preceptors and educators.
func (s *Service) Plan(ctx context.Context, actor Actor, id string) (Plan, error) {
	if err := need(actor); err != nil {
		return Plan{}, err
	}
	p, err := s.wholePlan(ctx, s.Records, id)
	if err == nil && !mayRead(actor, p.PersonID) {
		return Plan{}, refuse(ErrNotFound, "There is no such plan.")
	}
	return p, err
}

func onePlan(ctx context.Context, r PlanReader, id string) (Plan, error) {
	found, err := r.Plans(ctx, PlanQuery{ID: id})
	if err == nil && (id == "" || len(found) != 1) {
		err = refuse(ErrNotFound, "There is no such plan.")
	}
	if err != nil {
		return Plan{}, err
	}
	return found[0], nil
}

// PlanOf is the plan that a demonstration proposed, nil when it proposed none.
func (s *Service) PlanOf(ctx context.Context, actor Actor, d Demonstration) (*Plan, error) {
	if d.Stage != NotMet || !mayRead(actor, d.TraineeID) {
		return nil, need(actor)
	}
	found, err := s.Records.Plans(ctx, PlanQuery{DemonstrationID: d.ID})
	if err != nil || len(found) == 0 {
		return nil, err
	}
	found, err = withEnds(ctx, s.Records, found)
	return &found[0], err
}

// PlansOf are a person's plans, newest first: one's own, or anyone's for preceptors and
// educators.
func (s *Service) PlansOf(ctx context.Context, actor Actor, personID string) ([]Plan, error) {
	if err := need(actor); err != nil {
		return nil, err
	}
	if personID == "" || !mayRead(actor, personID) {
		return nil, refuse(ErrNotFound, "There is no such person.")
	}
	plans, err := s.Records.Plans(ctx, PlanQuery{PersonID: personID})
	if err != nil {
		return nil, err
	}
	return withEnds(ctx, s.Records, plans)
}

// PlansWaiting are those that wait for an educator's word. Educators only.
func (s *Service) PlansWaiting(ctx context.Context, actor Actor) ([]Plan, error) {
	if err := need(actor, Educator); err != nil {
		return nil, err
	}
	return s.Records.Plans(ctx, PlanQuery{Waiting: true})
}
