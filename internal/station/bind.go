package station

import (
	"fmt"
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Act is an act of the log with its words looked up; -1 where it has none.
type Act struct {
	*action.Act
	Surface, Item, Place, On, Product int // On is the surface an item is put on
	Wipe                              int16
	Parts                             []procedure.StepPart // the parts of steps that it is
}

// Bind looks up the words of a log's live acts. The log must have been parsed
// with the procedure's words, or built from its steps.
func Bind(p *procedure.Procedure, log *action.Log) ([]Act, error) {
	live := log.Live()
	acts := make([]Act, len(live))
	b := NewBinder(p)
	for i := range live {
		var err error
		if acts[i], err = b.Bind(&live[i]); err != nil {
			return nil, err
		}
	}
	return acts, nil
}

// Binder looks up acts one by one, in their order: it numbers the wipes.
type Binder struct {
	p     *procedure.Procedure
	wipes map[string]int16
}

// NewBinder is for one log of a procedure.
func NewBinder(p *procedure.Procedure) *Binder { return &Binder{p, map[string]int16{}} }

// Bind looks up the words of the next act.
func (b *Binder) Bind(a *action.Act) (Act, error) {
	p := b.p
	act := Act{Act: a, Surface: -1, Item: -1, Place: -1, On: -1, Product: -1}
	if a.Object != "" {
		act.Surface, act.Item = p.SurfaceIndex(a.Object), p.ItemIndex(a.Object)
		if !known(p, a, &act) {
			return act, fmt.Errorf("act %d (%s): %q is not in procedure %s", a.Number, a.Text(), a.Object, p.ID)
		}
	}
	if a.Place != "" {
		act.Place, act.On = p.PlaceIndex(a.Place), p.SurfaceIndex(a.Place)
		if act.Place < 0 && act.On < 0 {
			return act, fmt.Errorf("act %d (%s): place %q is not in procedure %s", a.Number, a.Text(), a.Place, p.ID)
		}
	}
	act.Parts = act.partsOf(p)
	if a.Verb == action.TakeWipe {
		act.Product = p.ProductIndex(a.Of)
		if act.Product < 0 {
			return act, fmt.Errorf("act %d (%s): product %q is not in procedure %s", a.Number, a.Text(), a.Of, p.ID)
		}
	}
	if a.With != "" {
		if b.wipes[a.With] == 0 {
			b.wipes[a.With] = int16(len(b.wipes) + 1)
		}
		act.Wipe = b.wipes[a.With]
	}
	return act, nil
}

func known(p *procedure.Procedure, a *action.Act, b *Act) bool {
	switch a.Verb {
	case action.Wipe, action.Clean, action.BloodOn, action.Dry, action.StillWet, action.WipeDry, action.Absorb, action.PatientTouches:
		return b.Surface >= 0
	case action.SetAt, action.Bring, action.Empty, action.PutBack, action.PutInSharps, action.TakeOut, action.Recap, action.CapItem:
		return b.Item >= 0
	case action.NotSeen:
		return b.Surface >= 0 || b.Item >= 0 || p.StepIndex(a.Object) >= 0
	case action.PutOn, action.TakeOff, action.Discard, action.Disinfect:
		return b.Item >= 0 || isWear(a.Object)
	case action.WatchingFrom, action.Stopped, action.SteppedIn:
		return true
	case action.WatcherSays:
		return p.MarkIndex(a.Object) >= 0
	}
	return b.Surface >= 0 || b.Item >= 0 || a.Object == action.Station || slices.Contains(action.Outside, a.Object)
}

func isWear(s string) bool { return s == action.Gloves || wearOf(s) != 0 }

func wearOf(s string) Wear {
	switch s {
	case action.EyeProtection:
		return Eyes
	case action.Gown:
		return GownOn
	case action.Mask:
		return MaskOn
	}
	return 0
}

// WearOf is the protective equipment that an act puts on, takes off or throws
// away; 0 for gloves and items.
func (a *Act) WearOf() Wear {
	if a.Item >= 0 {
		return 0
	}
	return wearOf(a.Object)
}

// Wipes reports whether the act wipes a surface with disinfectant.
func (a *Act) Wipes() bool { return a.Verb == action.Wipe }

// Kind is the kind of the act's item, "" without one.
func (a *Act) Kind(p *procedure.Procedure) procedure.ItemKind {
	if a.Item < 0 {
		return ""
	}
	return p.Items[a.Item].Kind
}

// MayGo reports whether the act's place is one where its item may go.
func (a *Act) MayGo(p *procedure.Procedure) bool {
	return a.Item >= 0 && slices.Contains(p.Items[a.Item].Goes, a.Act.Place)
}

// PlaceKind is what the act's place is for, "" for a surface or none.
func (a *Act) PlaceKind(p *procedure.Procedure) procedure.PlaceKind {
	if a.Place < 0 {
		return ""
	}
	return p.Places[a.Place].Kind
}

// TouchesPatient reports whether the act lays hands on the patient.
func (a *Act) TouchesPatient() bool {
	switch a.Verb {
	case action.CheckStable, action.HelpOut, action.Disconnect, action.TakeOut:
		return true
	}
	return false
}

// OfHands reports whether the act is done with the hands: looking, waiting,
// walking and declaring are not.
func (a *Act) OfHands() bool {
	if a.Verb.Event() {
		return false
	}
	switch a.Verb {
	case action.CheckGone, action.LookAt, action.Wait, action.DeclareReady, action.ComeBack, action.LeaveStation,
		action.GoToNeighbour, action.SeatNext, action.Report, action.HandOver:
		return false
	}
	return true
}

// changesWipe reports whether the act takes a wipe or lets one go.
func (a *Act) changesWipe() bool {
	return a.Verb == action.TakeWipe || a.Verb == action.DropWipe || a.Verb == action.DiscardWipe
}

// OfWorker reports whether the act concerns the worker's own hands and equipment.
func (a *Act) OfWorker() bool {
	switch a.Verb {
	case action.RubHands, action.WashHands, action.PutOn:
		return true
	}
	return a.Doffs()
}

// Doffs reports whether the act goes on with taking off and throwing away
// protective equipment.
func (a *Act) Doffs() bool {
	return (a.Verb == action.TakeOff || a.Verb == action.Discard) && a.Item < 0
}
