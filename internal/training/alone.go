package training

import (
	"fmt"
	"strings"
)

// MayWorkAlone says whether a person may do the work of a competency alone, with the reason
// in words. The rule, in this order:
//
//   - Who was never signed off may not, whatever they passed or showed.
//   - Who is on leave may not while the leave lasts.
//   - Who came back from a leave during which the sign-off was due or over may not until
//     somebody watched a clean demonstration that began after the leave, or signed off anew.
//   - Whose sign-off comes from another site and was not shown here may not, unless the
//     clinic's requirements let them.
//   - Who is lapsed, on a plan or due may when the clinic's requirements say so. The starting
//     values let who is due, and nobody else.
//   - Who is current may.
func (s *Standing) MayWorkAlone() (may bool, why string) {
	alone := s.Requirements.Terms.Alone
	switch {
	case s.LastSignOff == nil:
		return false, "not signed off yet"
	case s.Leave != nil:
		return false, "on leave" + s.Leave.lasts()
	case s.Unchecked != "":
		return false, fmt.Sprintf("back from a leave that ended on %s, and to be checked first: the sign-off was due by then", s.Unchecked.Said())
	case s.LastSignOff.Elsewhere && !alone.Elsewhere:
		return false, byClinic(false, "signed off at another site, and not shown here yet")
	case s.Word == Lapsed:
		return alone.Lapsed, byClinic(alone.Lapsed, fmt.Sprintf("the sign-off ended on %s", s.Due.Said()))
	case s.Plan != nil:
		return alone.OnPlan, byClinic(alone.OnPlan, "on a plan until the next demonstration is met")
	case s.Word == DueSoon:
		return alone.Due, byClinic(alone.Due, fmt.Sprintf("the sign-off ends on %s", s.Due.Said()))
	}
	return true, fmt.Sprintf("signed off until %s", s.Due.Said())
}

// Doing is how somebody may do the work of a competency on a day.
type Doing int

// The ways.
const (
	DoesAlone   Doing = iota
	DoesWatched       // only with a preceptor
	DoesNot
)

// May says how somebody may do the work: alone as [Standing.MayWorkAlone] has it; else with a
// preceptor, but for who is on leave and who has not started, who may not.
func (s *Standing) May() Doing {
	alone, _ := s.MayWorkAlone()
	switch {
	case alone:
		return DoesAlone
	case s.Leave != nil, s.Word == NotStarted:
		return DoesNot
	}
	return DoesWatched
}

// byClinic adds whose rule it is.
func byClinic(may bool, what string) string {
	if may {
		return what + "; by the clinic's rule people may work alone then"
	}
	return what + "; by the clinic's rule people may not work alone then"
}

// lacking says what is still missing of the demonstrations, in words; "" when nothing is.
func (s *Standing) lacking() string {
	var parts []string
	if s.More.Days > 0 && len(s.Clean) >= s.Needed {
		parts = append(parts, fmt.Sprintf("%d more on another day", s.More.Days))
	}
	if s.More.Preceptors > 0 && len(s.Clean) >= s.Needed {
		parts = append(parts, fmt.Sprintf("%d more by another preceptor", s.More.Preceptors))
	}
	return strings.Join(parts, " and ")
}

// mayBeSigned says why a standing cannot be signed off by somebody who is entitled, or nil.
func (s *Standing) mayBeSigned(actor Actor) error {
	p, c := s.Person, s.Competency
	switch {
	case s.Plan != nil:
		return refuse(ErrConflict, "%s is on a plan. It ends with the next demonstration that is met, or when an educator closes it.", p.Name)
	case len(s.MissingScenarios) > 0:
		return refuse(ErrConflict, "%s still has %d of %d scenarios to pass.", p.Name, len(s.MissingScenarios), len(c.Scenarios))
	case len(s.Clean) < s.Needed:
		return refuse(ErrConflict, "%s has %d of %d clean demonstrations on different days.", p.Name, len(s.Clean), s.Needed)
	case !s.Watched():
		return refuse(ErrConflict, "%s still needs a demonstration: %s.", p.Name, s.lacking())
	case !s.Ready:
		return refuse(ErrConflict, "%s can be signed off from %s on: so long after the first day of work.", p.Name, s.NotBefore.Said())
	}
	return s.maySign(actor)
}

// maySign says why somebody who is entitled may not give this sign-off, or nil.
func (s *Standing) maySign(actor Actor) error {
	switch s.Requirements.Terms.Signer {
	case SignerEducator:
		if !actor.Person.Has(Educator) {
			return refuse(ErrForbidden, "Only an educator signs people off for “%s”. That is a setting of the clinic.", s.Competency.Title)
		}
	case SignerOther:
		for _, d := range s.Clean {
			if d.PreceptorID == actor.Person.ID {
				return refuse(ErrForbidden, "You watched a demonstration that this rests on. Here another person signs off. That is a setting of the clinic.")
			}
		}
	}
	return nil
}
