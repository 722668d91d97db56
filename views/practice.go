package views

import (
	"fmt"

	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
)

// Practice is what a person sees of their own training.
type Practice struct {
	Home  training.Home
	Title func(scenarioID string) string
}

// next is the one thing to do now.
type next struct {
	text, why, href, button string
}

func (p Practice) next(f Frame) next {
	for _, m := range p.Home.Modules {
		if m.Open {
			return next{"Go on with " + m.Scenario.Title, begunText(m.Scenario), scenarioURL(m.Scenario.ID), "Go on"}
		}
	}
	for _, m := range p.Home.Modules {
		if !m.Passed {
			return next{m.Scenario.Title, kindText(m.Scenario.Kind) + triesText(m), scenarioURL(m.Scenario.ID), "Open it"}
		}
	}
	for _, d := range p.Home.Watched {
		if d.State == training.Ended && len(d.Signatures) == 0 {
			return next{"Sign your demonstration of " + f.day(d.StartedAt), "Look through the breaches, then sign on your preceptor's device.", "/demonstrations/" + d.ID, "See the result"}
		}
	}
	for _, s := range p.Home.Standings {
		if !s.Ready && len(s.Clean) < s.Needed && s.Word != training.Current {
			return next{"Ask a preceptor to watch you", s.Competency.Title + ": " + cleanText(s) + ".", "/people/" + p.Home.Person.ID, "See your record"}
		}
	}
	return next{}
}

func scenarioURL(id string) string { return "/practice/" + id }

func kindText(k simulate.Kind) string {
	if k == simulate.TimedRun {
		return "A run against the clock."
	}
	return "Build the order of the steps."
}

func triesText(m training.Module) string {
	if m.Tries == 0 {
		return ""
	}
	return " " + procedure.Capital(count(m.Tries, "try", "tries")) + " so far."
}

func cleanText(s training.Standing) string {
	return fmt.Sprintf("%d of %s", len(s.Clean), count(s.Needed, "clean demonstration", "clean demonstrations"))
}

func firstName(name string) string {
	for i, r := range name {
		if r == ' ' && i > 0 {
			return name[:i]
		}
	}
	return name
}

func moduleText(m training.Module) string {
	switch {
	case m.Passed:
		return "Passed"
	case m.Open:
		return "Begun"
	case m.Tries > 0:
		return count(m.Tries, "try", "tries")
	}
	return "Not tried yet"
}

func moduleVerb(m training.Module) string {
	switch {
	case m.Open:
		return "Go on"
	case m.Tries > 0:
		return "Try again"
	}
	return "Open"
}

// ownDays is said where there are several.
func ownDays(s training.Standing) string {
	if s.Needed > 1 {
		return ", each on its own day"
	}
	return ""
}

// demonstrationText says how far a demonstration has come.
func demonstrationText(d training.Demonstration) string {
	switch d.State {
	case training.Recording:
		return "Being recorded"
	case training.Abandoned:
		return "Stopped and not judged"
	}
	switch len(d.Signatures) {
	case 0:
		return "Waiting for the learner's signature"
	case 1:
		return "Signed by the learner, waiting for the preceptor"
	}
	return "Signed by both: " + d.Signatures[len(d.Signatures)-1].Meaning.Words()
}

// begunText says how a scenario that was begun is found again.
func begunText(s *simulate.Scenario) string {
	if s.Kind == simulate.TimedRun {
		return "You have begun this run, and its clock goes on."
	}
	return "You have begun this one. It is as you left it."
}
