package course

import (
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// StepRow is a step of a right order with the reason why it comes where it does.
type StepRow struct{ Step, Title, Why, Source string }

// RightOrder is the model of a scenario step by step. A reason is said once, at the first
// step that has it.
func RightOrder(p *procedure.Procedure, s *simulate.Scenario) (all []StepRow, err error) {
	shown, err := Example(p, s)
	if err != nil {
		return nil, err
	}
	said, words := map[string]bool{}, p.SayingShelf(s.Steps, s.Product)
	for i, x := range shown {
		if x.Step == "" {
			continue
		}
		if i == 0 || shown[i-1].Step != x.Step {
			all = append(all, StepRow{Step: x.Step, Title: words.Title(x.Step)})
		}
		row := &all[len(all)-1]
		if w := x.Without; w != nil && row.Why == "" && !said[w.Why] {
			said[w.Why], row.Why, row.Source = true, w.Why, w.RestsOn()
		}
	}
	return all, nil
}
