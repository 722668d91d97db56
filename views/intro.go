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
