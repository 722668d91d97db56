package station

import (
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Progress is how far the steps of a procedure have come.
type Progress struct {
	Begun, Done procedure.StepSet
	Parts       [procedure.MaxSteps]uint16 // of each step, its acts that were done
}

// Note notes what steps an act begins and ends: a step is done when the whole of it is.
func (x *Progress) Note(p *procedure.Procedure, a *Act) {
	for _, part := range a.Parts {
		step := part.Step
		x.Begun[step/64] |= 1 << (step % 64)
		x.Parts[step] |= 1 << part.Act
		if x.Parts[step] == p.AllActs(step) {
			x.Done[step/64] |= 1 << (step % 64)
		}
	}
}

// partsOf are the parts of steps that an act is: in the step's own place, or in another
// where its thing may go. Where a bucket was emptied another rule asks: it is empty.
func (a *Act) partsOf(p *procedure.Procedure) []procedure.StepPart {
	all := p.PartsOf(a.Act)
	inPlace := func(part procedure.StepPart) bool {
		return a.Verb == action.Empty || a.Act.Place == p.Steps[part.Step].Acts[part.Act].Place || a.MayGo(p)
	}
	for i := range all {
		if !inPlace(all[i]) { // most are in place, and share the procedure's list
			return slices.DeleteFunc(slices.Clone(all), func(part procedure.StepPart) bool { return !inPlace(part) })
		}
	}
	return all
}

// forget takes back that an act of a kind was done, as it turns out.
func (x *Progress) forget(p *procedure.Procedure, v action.Verb) {
	for i := range p.Steps {
		for j := range p.Steps[i].Acts {
			if p.Steps[i].Acts[j].Verb == v {
				x.Done = x.Done.Without(i)
				x.Parts[i] &^= 1 << j
			}
		}
	}
}
