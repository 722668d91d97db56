package station

import (
	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Progress is how far the steps of a procedure have come.
type Progress struct {
	Begun, Done procedure.StepSet
	Parts       [procedure.MaxSteps]uint16 // of each step, its acts that were done
}

// Note notes what steps an act begins and ends: a step is done when the whole of it
// is, in its place or in another where its thing may go.
func (x *Progress) Note(p *procedure.Procedure, a *Act) {
	for _, part := range a.Parts {
		if !inPlace(p, a, part) {
			continue
		}
		x.Begun = x.Begun.With(part.Step)
		x.Parts[part.Step] |= 1 << part.Act
		if x.Parts[part.Step] == p.AllActs(part.Step) {
			x.Done = x.Done.With(part.Step)
		}
	}
}

func inPlace(p *procedure.Procedure, a *Act, part procedure.StepPart) bool {
	asked := p.Steps[part.Step].Acts[part.Act].Place
	if a.Verb == action.Empty {
		return a.Act.Place == asked || a.PlaceKind(p) == procedure.Drain
	}
	return a.Act.Place == asked || a.MayGo(p)
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
