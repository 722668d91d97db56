package simulate

import (
	"errors"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Build makes the log of a built order. Unknown steps are an error.
func Build(p *procedure.Procedure, s *Scenario, steps []string) (Played, error) {
	return Played{}, errors.New("simulate: not built yet")
}

// Run makes the log of a timed run that was finished at a moment.
func Run(p *procedure.Procedure, s *Scenario, taps []Tap, finished action.Millis) (Played, error) {
	return Played{}, errors.New("simulate: not built yet")
}

// Observed makes the log of a demonstration from the recorder's lines.
func Observed(p *procedure.Procedure, lines []action.Act) (*action.Log, error) {
	return nil, errors.New("simulate: not built yet")
}
