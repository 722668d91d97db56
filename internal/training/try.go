package training

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// Tried is an order that the engine has judged, of which nothing is kept.
type Tried struct {
	Log    *action.Log
	Lines  []int // by act, the step from which it came
	Result *assess.Result
}

// TryOrder judges an order as FinishBuild would, whatever the clinic's set has now: it is
// for whoever tries a procedure that nobody has approved yet.
func TryOrder(p *procedure.Procedure, sc *simulate.Scenario, steps []string) (Tried, error) {
	if len(steps) == 0 {
		return Tried{}, refuse(ErrInvalid, "The list is empty. Add the steps of the %s first.", p.Work)
	}
	if err := FitsOrder(sc, steps); err != nil {
		return Tried{}, err
	}
	played, err := simulate.Build(p, sc, steps)
	if err != nil {
		return Tried{}, err
	}
	result, _, err := assessAs(sc.Kind, p, played.Log, sc.ID, steps)
	return Tried{played.Log, played.From, result}, err
}
