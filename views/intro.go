package views

import (
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// Intro is a scenario before it is begun.
type Intro struct {
	Scenario  *simulate.Scenario
	Procedure *procedure.Procedure
	Passed    bool // in an earlier try
	Guided    bool // chosen beforehand
	Other     bool // there is unfinished work of the other way
}

// doing says what there is to do.
func (in Intro) doing() string {
	switch in.Scenario.Kind {
	case simulate.TimedRun:
		return "Do it against the clock"
	case simulate.FindWrong:
		return findTitle
	}
	return "Put the steps in order"
}

// otherText leads to the unfinished work of the other way.
func (in Intro) otherText() string {
	if in.Guided {
		return "Go on with the test that you have begun"
	}
	return "Go on with the practice that you have begun"
}

// atHand are the products that a scenario works with: the one on the shelf, and those that
// have usual steps of their own.
func atHand(s *simulate.Scenario, p *procedure.Procedure) (all []Fact) {
	i := p.ProductIndex(s.Product)
	if i < 0 {
		return nil
	}
	beside := p.TakenBeside(s.Steps, s.Product)
	if len(beside) == 0 {
		x := p.Products[i]
		return []Fact{{Term: "On the shelf", Text: x.Title}, {Term: "Contact time", Text: clock(x.LabelS) + " " + contactWords(x)}}
	}
	for n, at := range append([]int{i}, beside...) {
		x := p.Products[at]
		all = append(all, Fact{Term: either(n == 0, "On the shelf", "At hand too"), Text: x.Title + ", " + clock(x.LabelS) + " " + contactWords(x)})
	}
	return all
}
