package views

import (
	"stillwet/internal/training"
)

// PlanPageData is a plan with what it names.
type PlanPageData struct {
	Plan       training.Plan
	Person     training.Person
	Competency string
	Scenarios  []Link
	MayAnswer  bool
	MayClose   bool
	Wrong      string
	Typed      map[string]string
}

// planWords is how far a plan has come, in a sentence.
func planWords(p training.Plan) string {
	switch e := p.Last(); e.State {
	case training.PlanOpened:
		if p.Ended.At != "" {
			return "A plan to practise has ended: the next demonstration was met."
		}
		return "A plan to practise is open until " + day(e.Due) + "."
	case training.PlanClosed:
		return "A plan to practise was closed by " + e.ByName + "."
	case training.PlanDeclined:
		return "A plan was proposed; " + e.ByName + " found that none is needed."
	}
	return "A plan to practise is proposed; an educator opens or declines it."
}

func (p PlanPageData) lead() string {
	return "A demonstration was not met. This is what it missed, and the scenarios that train just that. The next demonstration is a whole one; when it is met, an open plan ends."
}

func (p PlanPageData) history(f Frame) (lines []string) {
	words := map[training.PlanState]string{training.PlanProposed: "Proposed, by signing that the demonstration was not met", training.PlanOpened: "Opened", training.PlanDeclined: "Declined", training.PlanClosed: "Closed"}
	for _, e := range p.Plan.Events {
		text := f.Moment(e.At) + ", " + e.ByName + ": " + words[e.State]
		if e.State == training.PlanOpened {
			text += " until " + day(e.Due)
		}
		if e.Why != "" {
			text += ". " + e.Why
		}
		lines = append(lines, text)
	}
	if at := p.Plan.Ended.At; at != "" {
		lines = append(lines, f.Moment(at)+": ended by a demonstration that was met")
	}
	return lines
}

// due is the day that the form begins with.
func (p PlanPageData) due() string {
	if d := p.Typed["due"]; d != "" {
		return d
	}
	return string(p.Plan.Events[0].Due)
}

// PlanRow is a plan with whom it is for.
type PlanRow struct {
	training.Plan
	Name string
	Late bool // it has waited for an educator's word for more than a day
}
