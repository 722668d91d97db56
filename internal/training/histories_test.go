package training_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/training"
)

// past makes random work of a person and keeps it; all of it comes back.
type past struct {
	*world
	dice *rand.Rand
	leaf int
}

func (p *past) moment() training.Instant {
	hour := p.dice.IntN(20 * 24)
	return training.InstantOf(time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(hour) * time.Hour))
}

func (p *past) keep(do func(training.Unit) error) { require.NoError(p.T, p.Store.Write(ctx, do)) }

func (p *past) newLeaf(u training.Unit) int64 {
	p.leaf++
	i, err := u.AppendLeaf(ctx, []byte(fmt.Sprint(p.leaf)), training.LeafAbout{Version: 2, Kind: training.ClockLeaf, Record: fmt.Sprint(p.leaf), At: p.moment()})
	require.NoError(p.T, err)
	return i
}

func (p *past) of(person string, model training.Attempt) (h training.History) {
	outcomes := []assess.Outcome{assess.Pass, assess.NotPass, assess.Incomplete}
	p.keep(func(u training.Unit) error {
		for range p.dice.IntN(8) {
			sc := p.Library.Scenarios()[p.dice.IntN(3)]
			at := p.moment()
			require.NoError(p.T, u.KeepDefinition(ctx, training.Definition{Hash: sc.Hash, Kind: training.ScenarioText, ID: sc.ID, CitedAt: at, Text: sc.Text}))
			a := model
			a.ID, a.PersonID, a.ScenarioID, a.ScenarioHash, a.StartedAt, a.FinishedAt, a.Outcome = p.NewID(), person, sc.ID, sc.Hash, at, at, outcomes[p.dice.IntN(3)]
			require.NoError(p.T, u.AddAttempt(ctx, a))
			h.Attempts = append(h.Attempts, a)
		}
		for range p.dice.IntN(5) {
			d := p.demonstration(u, person, model, outcomes[p.dice.IntN(2)*p.dice.IntN(3)])
			h.Demonstrations = append(h.Demonstrations, d)
			if plan := p.plan(u, d); p.dice.IntN(4) > 0 && d.Stage != training.Withdrawn && plan.Proposed != "" {
				h.Plans = append(h.Plans, plan)
			} else if plan.Proposed != "" {
				p.withdrawn(u, &h.Demonstrations[len(h.Demonstrations)-1])
			}
		}
		for range p.dice.IntN(3) {
			h.Absences = append(h.Absences, p.absence(u, person)...)
		}
		for range p.dice.IntN(4) / 2 {
			at := p.moment()
			o := training.SignOff{ID: p.NewID(), PersonID: person, Competency: turnover, SignerID: p.educator.Person.ID, SignerName: "E",
				On: at.Day(p.Zone()), SignedAt: at, Due: at.Day(p.Zone()).AddDays(1 + p.dice.IntN(60)), Leaf: p.newLeaf(u)}
			require.NoError(p.T, u.AddSignOff(ctx, o))
			h.SignOffs = append(h.SignOffs, o)
		}
		for range p.dice.IntN(4) / 2 {
			h.SignOffs = append(h.SignOffs, p.earlier(u, person)...)
		}
		return nil
	})
	return h
}

func (p *past) demonstration(u training.Unit, person string, model training.Attempt, outcome assess.Outcome) training.Demonstration {
	at := p.moment()
	d := training.Demonstration{ID: p.NewID(), TraineeID: person, PreceptorID: p.educator.Person.ID, Competency: turnover, Product: "station-wipe",
		StartedAt: at, State: training.Recording, Procedure: model.Procedure, ProcedureHash: model.ProcedureHash,
		Setting: training.Setting{Purpose: training.ForReturn}}
	if p.dice.IntN(5) == 0 {
		d.Setting.Purpose = training.ForRoutine
	}
	require.NoError(p.T, u.AddDemonstration(ctx, d))
	switch p.dice.IntN(6) {
	case 0:
		return d
	case 1:
		d.State, d.EndedAt = training.Abandoned, at
		require.NoError(p.T, u.CloseDemonstration(ctx, d))
		return d
	}
	d.State, d.EndedAt, d.Outcome, d.Prompted, d.RulesVersion = training.Ended, at, outcome, p.dice.IntN(5) == 0, 1
	d.Log, d.ResultJSON = model.Log, model.ResultJSON
	require.NoError(p.T, u.CloseDemonstration(ctx, d))
	seq := 2
	comes := func(state training.DemonstrationState, m training.Meaning, why string) {
		seq++
		e := training.DemonstrationEvent{Seq: seq, State: state, At: at.Add(100 * time.Hour), ByID: d.PreceptorID, ByName: "E", Meaning: m, Why: why, Leaf: p.newLeaf(u)}
		if state == training.Reviewed {
			e.At = at
		}
		require.NoError(p.T, u.AddDemonstrationEvent(ctx, d, e, nil))
		d.Stage = state
	}
	if d.Setting.Purpose == training.ForRoutine {
		return d
	}
	sign := func(who string, m training.Meaning) {
		n := training.Signature{Record: d.ID, SignerID: who, SignerName: "S", Meaning: m, Leaf: p.newLeaf(u),
			SignedAt: at.Add(time.Duration(p.dice.IntN(72)) * time.Hour)}
		require.NoError(p.T, u.AddSignature(ctx, n))
		d.Signatures = append(d.Signatures, n)
	}
	meaning := training.WatchedNotMet
	if d.Outcome == assess.Pass && !d.Prompted && p.dice.IntN(5) > 0 {
		meaning = training.WatchedMet
	}
	if signatures := p.dice.IntN(6); signatures > 0 {
		comes(training.Reviewed, meaning, "")
		sign(person, training.LearnerDid)
		if signatures > 1 {
			sign(d.PreceptorID, meaning)
			comes(map[training.Meaning]training.DemonstrationState{training.WatchedMet: training.MetStandard, training.WatchedNotMet: training.NotMet}[meaning], meaning, "")
		}
		if p.dice.IntN(6) == 0 {
			comes(training.Withdrawn, "", "The wrong person.")
		}
	}
	return d
}

// plan is what a demonstration that was not met proposed, and what became of it.
func (p *past) plan(u training.Unit, d training.Demonstration) (span training.PlanSpan) {
	if d.Stage != training.NotMet && d.Stage != training.Withdrawn || d.Setting.Purpose == training.ForRoutine {
		return span
	}
	scenarios := p.Competency.Scenarios[:1+p.dice.IntN(2)]
	x := training.Plan{ID: p.NewID(), PersonID: d.TraineeID, Competency: turnover, DemonstrationID: d.ID, Scenarios: scenarios}
	require.NoError(p.T, u.AddPlan(ctx, x))
	span = training.PlanSpan{PersonID: d.TraineeID, Competency: turnover, Began: d.StartedAt, Proposed: d.StartedAt.Add(time.Hour), Scenarios: scenarios}
	event := func(seq int, state training.PlanState, at training.Instant) training.Instant {
		require.NoError(p.T, u.AddPlanEvent(ctx, x.ID, training.PlanEvent{Seq: seq, State: state, At: at, ByID: d.PreceptorID, ByName: "E", Leaf: p.newLeaf(u)}))
		return at
	}
	event(1, training.PlanProposed, span.Proposed)
	after := func(at training.Instant) training.Instant {
		return at.Add(time.Duration(1+p.dice.IntN(200)) * time.Hour)
	}
	switch p.dice.IntN(4) {
	case 0:
		event(2, training.PlanDeclined, after(span.Proposed))
	case 1, 2:
		span.Opened = event(2, training.PlanOpened, after(span.Proposed))
		if p.dice.IntN(3) == 0 {
			span.Closed = event(3, training.PlanClosed, after(span.Opened))
		}
	}
	return span
}

// withdrawn takes a demonstration back, if it was not already.
func (p *past) withdrawn(u training.Unit, d *training.Demonstration) {
	if d.Stage == training.Withdrawn {
		return
	}
	e := training.DemonstrationEvent{Seq: 5, State: training.Withdrawn, At: d.StartedAt.Add(300 * time.Hour), ByID: d.PreceptorID, ByName: "E", Why: "The wrong person.", Leaf: p.newLeaf(u)}
	require.NoError(p.T, u.AddDemonstrationEvent(ctx, *d, e, nil))
	d.Stage = training.Withdrawn
}

// absence is a leave as it was entered, and perhaps changed at once; only the last counts.
func (p *past) absence(u training.Unit, person string) []training.Absence {
	a := training.Absence{ID: p.NewID(), Seq: 1, PersonID: person, From: p.moment().Day(p.Zone()), At: "2026-02-01T09:00:00.000Z", ByID: p.educator.Person.ID, ByName: "E", Leaf: p.newLeaf(u)}
	require.NoError(p.T, u.AddAbsence(ctx, a))
	if p.dice.IntN(2) == 0 {
		a.Seq, a.Until, a.Cancelled, a.Leaf = 2, a.From.AddDays(p.dice.IntN(20)), p.dice.IntN(4) == 0, p.newLeaf(u)
		require.NoError(p.T, u.AddAbsence(ctx, a))
	}
	return []training.Absence{a}
}

// earlier is a sign-off from paper, which may be withdrawn or have another in its place.
func (p *past) earlier(u training.Unit, person string) []training.SignOff {
	line := func(at training.Instant, corrects string) training.EarlierLine {
		on := p.moment().Day(p.Zone())
		l := training.EarlierLine{ID: p.NewID(), PersonID: person, Name: "Invented", Competency: turnover, On: on, CountsAt: on.End(p.Zone()).Add(-time.Millisecond), Due: on.AddDays(1 + p.dice.IntN(60)),
			SignedBy: "P", Evidence: "Folder", Here: true, Corrects: corrects}
		if corrects != "" {
			l.Why = "Wrong."
		}
		b := training.EarlierBatch{ID: p.NewID(), At: at, ByID: p.educator.Person.ID, ByName: "E", Leaf: p.newLeaf(u), Lines: []training.EarlierLine{l}}
		require.NoError(p.T, u.AddEarlier(ctx, b))
		l.Batch = b
		return l
	}
	l := line(p.moment(), "")
	all := []training.EarlierLine{l}
	later := l.Batch.At.Add(time.Duration(p.dice.IntN(200)) * time.Hour)
	switch p.dice.IntN(3) {
	case 0:
		all[0].End = training.End{Of: training.EarlierLeaf, Record: l.ID, At: later, ByID: p.educator.Person.ID, ByName: "E", Why: "Wrong.", Leaf: p.newLeaf(u)}
		require.NoError(p.T, u.AddEnd(ctx, all[0].End))
	case 1:
		all[0].End.At = later
		all = append(all, line(later, l.ID))
	}
	var of []training.SignOff
	for _, x := range all {
		of = append(of, x.SignOff())
	}
	return of
}

// told is what a standing says, without what was read to say it.
func told(s training.Standing) string {
	text := fmt.Sprint(s.Word, s.Due, s.Needed, s.Ready, s.PassedScenarios, s.MissingScenarios, s.Again, s.Passing(), s.Unchecked)
	if s.Plan != nil {
		text += fmt.Sprint(" ", s.Plan.Began, s.Plan.Opened, s.Plan.Scenarios)
	}
	if s.Leave != nil {
		text += fmt.Sprint(" ", s.Leave.From, s.Leave.Until)
	}
	for _, d := range s.Clean {
		text += " " + d.ID + " " + d.PreceptorID + " " + string(d.StartedAt)
	}
	if o := s.LastSignOff; o != nil {
		text += fmt.Sprint(" ", o.ID, o.SignerName, o.On, o.Leaf)
	}
	return text
}

// What the store picks out says the same as all that was ever done, on every
// day, for one person and for everyone.
func TestThePickedRowsSayWhatAllOfThemSay(t *testing.T) {
	w := staffed(t)
	luck := rand.Uint64()
	t.Logf("luck %d", luck)
	p := &past{world: w, dice: rand.New(rand.NewPCG(luck, 0))}
	model := w.Build(w.other, "ordinary-turnover", nil)
	c := w.Library.Competencies()[0]
	all := map[string]training.History{}
	for i := range 60 {
		person := training.Person{ID: fmt.Sprintf("p%02d", i), Name: "Invented", Role: training.Trainee}
		p.keep(func(u training.Unit) error { return u.AddPerson(ctx, person, "2026-01-01T00:00:00.000Z") })
		all[person.ID] = p.of(person.ID, model)
	}
	words := map[training.StandingWord]int{}
	c = training.WithTerms(c, func(x *training.Terms) {
		x.Annual.Again, x.Lapsed.Again, x.First = training.AgainMissed, training.AgainAll, training.Takes{Clean: 1, Days: 1, Preceptors: 1, Again: training.AgainNone}
	})
	for day := training.Day("2026-02-27"); day < "2026-04-20"; day = day.AddDays(1) {
		q := training.HistoryQuery{Competencies: []string{c.ID}, Scenarios: c.Scenarios, Day: day, Before: day.End(w.Zone()), Again: true}
		everyone, err := w.Store.Histories(ctx, q)
		require.NoError(t, err)
		for id, h := range all {
			full := training.Fold(training.Person{}, c, h, day, w.Zone())
			words[full.Word]++
			var picked training.History
			if everyone[id] != nil {
				picked = *everyone[id]
			}
			require.Equal(t, told(full), told(training.Fold(training.Person{}, c, picked, day, w.Zone())), "%s on %s", id, day)
		}
		q.PersonID = "p07"
		one, err := w.Store.Histories(ctx, q)
		require.NoError(t, err)
		require.Equal(t, everyone["p07"], one["p07"])
		require.LessOrEqual(t, len(one), 1)
	}
	for _, w := range training.StandingWords {
		if w != training.ReadyToSign { // luck alone seldom brings it about
			require.Positive(t, words[w], w)
		}
	}
}
