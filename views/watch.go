package views

import (
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Watch is what a preceptor sees first.
type Watch struct {
	training.Watching
	Learners []training.Person
	Chosen   string // person chosen beforehand
	Offers   []Offer
	Problem  string
}

// Offer is a competency that can be watched, with its procedure's products.
type Offer struct {
	Competency training.Competency
	Products   []procedure.Product
}

func dueText(f Frame, s training.Standing) string {
	if s.Due == "" {
		return ""
	}
	return ", due " + day(s.Due) + " (" + f.until(s.Due) + ")"
}

func learnerName(p training.Person) string {
	if p.StaffNo == "" {
		return p.Name
	}
	return p.Name + ", " + p.StaffNo
}
