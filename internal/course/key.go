package course

import (
	"errors"
	"fmt"
	"slices"

	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// Key asks the engine what it says of each option. It fails where that leaves the answer
// open. Of several things that are wrong the one is told that the lesson teaches: the
// first of its rules.
func (q *Question) Key(p *procedure.Procedure, s *simulate.Scenario, teaches []string) error {
	found, err := Found(p, s, q.Before)
	if err != nil {
		return err
	}
	if len(found) > 0 {
		return fmt.Errorf("what was done before is not right: %s", found[0].Message)
	}
	if q.Sees, err = sees(p, s, q.Before); err != nil {
		return err
	}
	if q.Ask == Wrong {
		return q.keyWrong(p, s, teaches)
	}
	return q.keyNext(p, s, teaches)
}

// keyNext: an option may come next when the engine finds nothing at any act of what was
// done with it at the end. What only the end of a log would say (that surfaces are not
// wiped yet) is no fault of a work that goes on.
func (q *Question) keyNext(p *procedure.Procedure, s *simulate.Scenario, teaches []string) error {
	right := 0
	for i := range q.Options {
		o := &q.Options[i]
		found, err := Found(p, s, q.with(o.Step))
		if err != nil {
			return err
		}
		if o.Right = len(found) == 0; o.Right {
			right++
			continue
		}
		o.Breaks = told(worst(found, teaches))
	}
	switch right {
	case 0:
		return errors.New("none of the options may come next")
	case len(q.Options):
		return errors.New("every option may come next")
	}
	return nil
}

// keyWrong: the one row at whose acts the engine finds something.
func (q *Question) keyWrong(p *procedure.Procedure, s *simulate.Scenario, teaches []string) error {
	steps := make([]string, len(q.Options))
	for i, o := range q.Options {
		steps[i] = o.Step
	}
	found, err := Found(p, s, q.with(steps...))
	if err != nil {
		return err
	}
	rows := map[int]bool{}
	for _, f := range found {
		for _, row := range f.Rows {
			rows[row-len(q.Before)] = true
		}
	}
	if len(rows) != 1 {
		return fmt.Errorf("the engine finds something in %d rows, and it has to be one", len(rows))
	}
	for row := range rows {
		q.Options[row].Right, q.Options[row].Breaks = true, told(worst(found, teaches))
	}
	return nil
}

func (q *Question) with(steps ...string) []string { return slices.Concat(q.Before, steps) }

// Located is a finding with the steps, from 0, at which it was made; what happened by
// itself belongs to the step before it.
type Located struct {
	assess.Finding
	Rows []int
}

// Found is what the engine finds at the acts of some steps, and not only at their end.
func Found(p *procedure.Procedure, s *simulate.Scenario, steps []string) (found []Located, err error) {
	played, err := simulate.Build(p, s, steps)
	if err != nil {
		return nil, err
	}
	result, err := rules.Assess(p, played.Log, s.ID)
	if err != nil {
		return nil, err
	}
	for _, f := range result.Findings {
		if f.Act == 0 {
			continue
		}
		x := Located{f, []int{rowOf(played, f.Act)}}
		for _, act := range f.Acts[min(1, len(f.Acts)):] {
			x.Rows = append(x.Rows, rowOf(played, act))
		}
		found = append(found, x)
	}
	return found, nil
}

// rowOf is the step of an act, -1 before the first one.
func rowOf(played simulate.Played, act int) int {
	row := -1
	for _, from := range played.From[:act] {
		row = max(row, from)
	}
	return row
}

// worst is the finding to tell: a critical one, then any other breach, then advice; of
// equal ones what is taught.
func worst(found []Located, teaches []string) assess.Finding {
	rank := func(f *assess.Finding) int {
		taught := slices.Index(teaches, f.Rule)
		if taught < 0 {
			taught = len(teaches)
		}
		switch {
		case f.Critical:
			return taught
		case !f.Advice():
			return taught + len(teaches) + 1
		}
		return taught + 2*(len(teaches)+1)
	}
	best := 0
	for i := range found {
		if rank(&found[i].Finding) < rank(&found[best].Finding) {
			best = i
		}
	}
	return found[best].Finding
}

func told(f assess.Finding) *Finding {
	return &Finding{Rule: f.Rule, Message: f.Message, Why: f.Why, Next: f.Next, Source: f.Source, Advice: f.Advice()}
}

// Until is what a scenario's model does before the first time of a step.
func Until(s *simulate.Scenario, step string) (before []string, ok bool) {
	for _, cue := range simulate.CuesOf(s.Model) {
		if cue == step {
			return before, true
		}
		before = append(before, cue)
	}
	return nil, false
}

// Under is the lesson over another version of its procedure, its questions keyed anew.
func (l *Lesson) Under(p *procedure.Procedure) (*Lesson, error) {
	n := *l
	n.Procedure, n.Questions = p, nil
	for _, q := range l.Questions {
		options := make([]Option, len(q.Options))
		for i, o := range q.Options {
			options[i].Step = o.Step
		}
		q.Options = options
		if err := q.Key(p, l.Scenario, l.Rules); err != nil {
			return nil, fmt.Errorf("lesson %s, question %s: %w", l.ID, q.ID, err)
		}
		n.Questions = append(n.Questions, q)
	}
	return &n, nil
}
