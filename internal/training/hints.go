package training

import (
	"slices"

	"stillwet/internal/course"
	"stillwet/internal/simulate"
)

// Hints are the breaches at the steps of an order that is being practised. A test has
// none, whoever asks (what is said of marked rows is Told's); nor has a run, whose clock has not come to its end.
func (s *Service) Hints(d Draft) ([]course.Located, error) {
	if !d.Guided || d.Kind != simulate.BuildOrder {
		return nil, nil
	}
	sc, p, err := s.asDrafted(d)
	if err != nil {
		return nil, err
	}
	found, err := course.Found(p, sc, d.Steps)
	if err != nil { // a step that the scenario has no more: saving says so
		return nil, nil
	}
	return slices.DeleteFunc(found, func(f course.Located) bool { return f.Advice() || f.Rows[0] < 0 }), nil
}
