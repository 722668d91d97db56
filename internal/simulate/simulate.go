// Package simulate turns what a trainee did in a scenario into an action log:
// a list of steps (an order), or timed taps (a run against the clock); and it plays the
// work with mistakes in which a trainee is to find what is wrong. In a run
// a worker has two hands and one body: a tap begins when the one before it is
// finished, takes the seconds the procedure gives, and its line carries the
// moment it is finished. A wiped surface dries after the time of its product
// row; each dry-out is a line of the log, so the log witnesses drying.
package simulate

import (
	"slices"

	"stillwet/internal/action"
)

// Kind of scenario.
type Kind string

// The kinds: build the order of the steps, run against the clock, or find what is wrong
// in the work of somebody else.
const (
	BuildOrder Kind = "build"
	TimedRun   Kind = "run"
	FindWrong  Kind = "find"
)

// Scenario is a situation to practise, checked against its procedure.
type Scenario struct {
	ID, Title, Version string
	Kind               Kind
	Procedure          string       // id
	Level              int          // 1 is the easiest
	Story              string       // what the trainee reads before starting
	Product            string       // id of the product on the shelf
	Start              []action.Act // what is so when the log begins, as events
	Steps              []string     // ids of the steps offered
	Events             []Event      // what the world does while the work goes on
	Pace               int          // clock seconds per real second in a run; 1 is real time
	Teaches            string       // in a sentence, for whoever has passed; "" for nothing
	Model              string       // the model log's text
	Text               []byte       // the scenario without its model, as it is kept
	Hash               string       // SHA-256 of Text
	Facts              []Fixed      // what varies, as it is here
	Vary               []Fact       // what a seed decides, and
	Variants           []*Scenario  // one for each of the Combinations; this is the first

	// Of FindWrong, which has the model of the scenario that it spoils:
	Spoils  string    // its id
	Timed   bool      // it has a clock
	Cues    []string  // the work as it is shown: the model's cues with the mistakes
	Planted []Mistake // those
}

// Clocked reports whether the work has a clock.
func (s *Scenario) Clocked() bool { return s.Kind == TimedRun || s.Kind == FindWrong && s.Timed }

// Event is something that happens at the station without the worker's doing:
// at a time of the clock, or right after a step was done for the first time.
type Event struct {
	At    action.Millis // Untimed when it follows a step
	After string        // step id, "" when it has a time
	Act   action.Act    // an event of the log
}

// worldly are the events that a scenario may let happen.
var worldly = []action.Verb{
	action.PatientLeaves, action.PatientBack, action.PatientSits, action.PatientTouches, action.PatientStays,
	action.BloodOn, action.Alarm, action.BloodLeak, action.ProtectorWet, action.HandsSoiled, action.WipeSpent,
	action.GoToNeighbour, // nobody asks first whether a patient may be helped
}

// Worldly reports whether a scenario may let the act happen.
func Worldly(a action.Act) bool { return slices.Contains(worldly, a.Verb) }

// follow are the events right after a step that was done for the nth time.
func (s *Scenario) follow(step string, nth int) (acts []action.Act) {
	for _, e := range s.Events {
		if e.After == step && nth == 1 {
			acts = append(acts, e.Act)
		}
	}
	return acts
}

// Tap is one tap of a run: the step and the moment on the scenario's clock.
type Tap struct {
	Step string        `json:"step"`
	At   action.Millis `json:"at_ms"`
}

// Played is a log with the tap or list entry that each of its lines came from.
type Played struct {
	Log  *action.Log
	From []int // for each line of the log: index of the step or tap, -1 for an event
}
