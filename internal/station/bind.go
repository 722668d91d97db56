package station

import (
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Act is an act of the log with its words looked up; -1 where it has none.
type Act struct {
	*action.Act
	Surface, Item, Place, On, Product int // On is the surface an item is put on
	Wipe                              int16
	Begins, Ends                      procedure.StepSet // steps that begin and end with this act
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
	act.Begins, act.Ends = p.StepsOf(a)
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
	case action.Wipe, action.Clean, action.BloodOn, action.Dry, action.StillWet:
		return b.Surface >= 0
	case action.Discard, action.SetAt, action.Bring, action.Empty, action.PutBack:
		return b.Item >= 0
	case action.NotSeen:
		return b.Surface >= 0 || b.Item >= 0 || p.StepIndex(a.Object) >= 0
	case action.PutOn, action.TakeOff:
		return b.Item >= 0 || isWear(a.Object)
	}
	return b.Surface >= 0 || b.Item >= 0 || a.Object == action.Station
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

// Disinfects reports whether the act wipes a surface with disinfectant.
func (a *Act) Disinfects() bool { return a.Verb == action.Wipe }

// StationWipe reports whether the act is a disinfecting wipe of the station:
// of a listed surface other than the staging surface.
func (a *Act) StationWipe(p *procedure.Procedure) bool {
	return a.Verb == action.Wipe && p.Surfaces[a.Surface].Role != procedure.StagingSurface
}

// Kind is the kind of the act's item, "" without one.
func (a *Act) Kind(p *procedure.Procedure) procedure.ItemKind {
	if a.Item < 0 {
		return ""
	}
	return p.Items[a.Item].Kind
}

// OfHands reports whether the act is done with the hands: looking, waiting,
// checking and declaring are not.
func (a *Act) OfHands() bool {
	if a.Verb.Event() {
		return false
	}
	switch a.Verb {
	case action.CheckStable, action.CheckGone, action.LookAt, action.Wait, action.DeclareReady, action.ComeBack:
		return false
	}
	return true
}
