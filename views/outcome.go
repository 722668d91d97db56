package views

import "stillwet/internal/assess"

// OutcomeWords names an outcome for people.
func OutcomeWords(o assess.Outcome) string {
	switch o {
	case assess.Pass:
		return "Passed"
	case assess.NotPass:
		return "Not passed yet"
	case assess.Incomplete:
		return "Incomplete"
	}
	return "Not judged"
}
