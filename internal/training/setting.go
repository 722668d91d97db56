package training

import (
	"regexp"
	"slices"
	"strings"

	"stillwet/internal/procedure"
)

// same reports whether two settings say the same.
func (s Setting) same(o Setting) bool {
	return s.Purpose == o.Purpose && s.Announced == o.Announced && s.Discipline == o.Discipline && s.Shift == o.Shift && slices.Equal(s.InUse, o.InUse)
}

const maxGroupWord = 60 // characters of a discipline or a shift

// tidy makes what was typed ready to be kept.
func (s *Setting) tidy() error {
	if !slices.Contains([]Purpose{ForReturn, ForRoutine}, s.Purpose) {
		return refuse(ErrInvalid, "Choose what it is watched for: a return demonstration or a routine observation.")
	}
	if !slices.Contains([]string{"", "yes", "no"}, s.Announced) {
		return refuse(ErrInvalid, "Say whether it was announced: yes or no.")
	}
	return tidyLines(line{"The discipline", &s.Discipline, maxGroupWord}, line{"The shift", &s.Shift, maxGroupWord})
}

var clockTime = regexp.MustCompile(`^([01]\d|2[0-3]):[0-5]\d$`)

// check says what a start lacks for a procedure.
func (in Start) check(p *procedure.Procedure) error {
	if p.ProductIndex(in.Product) < 0 {
		return refuse(ErrInvalid, "There is no product %q in this procedure. Choose one of the list.", clip(in.Product))
	}
	for i, x := range in.InUse {
		at := p.ProductIndex(x.ID)
		switch {
		case at < 0:
			return refuse(ErrInvalid, "There is no product %q in this procedure. Choose one of the list.", clip(x.ID))
		case slices.ContainsFunc(in.InUse[:i], func(o ProductInUse) bool { return o.ID == x.ID }):
			return refuse(ErrInvalid, "%s stands twice among the products in use.", p.Products[at].Title)
		case x.MadeAt != "" && !clockTime.MatchString(x.MadeAt):
			return refuse(ErrInvalid, "When was %s mixed? Write the time as 14:05.", p.Products[at].Title)
		}
	}
	if len(in.InUse) > 0 && in.InUse[0].ID != in.Product {
		return refuse(ErrInvalid, "The first of the products in use is not the one of the wipes. Load the page again.")
	}
	switch {
	case in.TraineeID == "" && in.Purpose != ForRoutine:
		return refuse(ErrInvalid, "Choose who is doing it. Only a routine observation may name nobody.")
	case in.TraineeID == "" && in.Discipline == "":
		return refuse(ErrInvalid, "Say whose work it is: a person, or a discipline such as nurse or technician.")
	case in.TraineeID != "" && in.Discipline != "":
		return refuse(ErrInvalid, "Choose a person or a discipline, not both.")
	}
	return nil
}

// confirmed refuses a demonstration towards a sign-off on what the clinic has not taken as
// its own.
func (s *Service) confirmed(p *procedure.Procedure, in Start) error {
	if in.Purpose != ForReturn || s.Unconfirmed == nil {
		return nil
	}
	if open := s.Unconfirmed(p, in.products()); len(open) > 0 {
		return refuse(ErrConflict, "The clinic has not confirmed %s. An educator confirms it under Procedures; until then only a routine observation can be watched.", strings.Join(open, "; "))
	}
	return nil
}

func (in Start) products() []string {
	ids := []string{in.Product}
	for _, x := range in.InUse {
		if x.ID != in.Product {
			ids = append(ids, x.ID)
		}
	}
	return ids
}
