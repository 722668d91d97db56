package views

import (
	"stillwet/internal/action"
	"stillwet/internal/training"
)

// Review is a demonstration with its result and its signatures.
type Review struct {
	Result
	Demonstration training.Demonstration
	Learner       training.Person
	PreceptorName string
	Competency    string
	Product       string
	Choices       []training.Choice
	MaySign       bool // the signed-in person recorded it
	Wrong         string
	WrongFor      Signer
	Username      string
	// LearnerUsername is told in a demo only.
	LearnerUsername string
	Chosen          training.Meaning
	Signed          training.SignedAs
	Received        training.Received
	Overtaken       string // why it cannot be signed as met any more: the procedure changed
}

// receivedLines are the acts that came and are no part of the record.
func (r Review) receivedLines() (lines []string) {
	say := func(acts []training.Watched, why func(training.Watched) string) {
		for _, a := range acts {
			lines = append(lines, clock(int(a.AtMs/1000))+" "+r.actText(a)+": "+why(a))
		}
	}
	say(r.Received.Late, func(training.Watched) string { return "it came after the close" })
	say(r.Received.Refused, func(a training.Watched) string { return a.Refused })
	return lines
}

// actText is an act as its button said it.
func (r Review) actText(a training.Watched) string {
	if i := r.Procedure.StepIndex(a.Step); i >= 0 {
		return "“" + r.Procedure.Steps[i].Label + "”"
	}
	if a.Undo != "" {
		return "taking back"
	}
	act, err := action.ParseAct(a.Text, r.Procedure.Words)
	if err != nil {
		return "“" + a.Text + "”"
	}
	return "“" + ActWords(r.Procedure, act) + "”"
}

// names are those under which people are shown on the page.
func (r Review) names() map[string]string {
	return map[string]string{r.Demonstration.TraineeID: r.Learner.Name, r.Demonstration.PreceptorID: r.PreceptorName}
}

// Signer is whose card a message belongs to.
type Signer string

// The signers.
const (
	LearnerSigns   Signer = "learner"
	PreceptorSigns Signer = "preceptor"
)

// hasCard reports whether the card that a message belongs to is shown.
func (r Review) hasCard() bool {
	if !r.MaySign || r.bothSigned() {
		return false
	}
	return r.learnerSigned() == (r.WrongFor == PreceptorSigns)
}

func (r Review) learnerSigned() bool { return len(r.Demonstration.Signatures) > 0 }

func (r Review) bothSigned() bool { return len(r.Demonstration.Signatures) > 1 }

func (r Review) kicker(f Frame) string {
	return r.Learner.Name + " · " + r.Competency + " · " + f.Moment(r.Demonstration.StartedAt)
}

func lookThrough(r Review) string {
	if len(r.findings()) > 0 {
		return "Look through the breaches, then sign"
	}
	return "Sign"
}

// facts are what the demonstration was.
func (r Review) facts(f Frame) []Fact {
	prompts := "None"
	if r.Demonstration.Prompted {
		prompts = "Prompted: it counts as practice"
	}
	return []Fact{
		{Term: "Learner", Text: r.Learner.Name}, {Term: "Watched by", Text: r.PreceptorName}, {Term: "Product", Text: r.Product},
		{Term: "Ended", Text: f.Moment(r.Demonstration.EndedAt)}, {Term: "Prompts", Text: prompts}, {Term: "Preceptor's words", Text: r.Demonstration.Comment},
	}
}

func stoppedText(d training.Demonstration) string {
	if d.State == training.Recording {
		return "It has no result before the preceptor finishes it."
	}
	return "It was stopped before its end. What was recorded is kept; it counts for nothing."
}
