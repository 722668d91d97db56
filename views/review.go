package views

import "stillwet/internal/training"

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
		return "Look through the list above, then sign"
	}
	return "Sign"
}
