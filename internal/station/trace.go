package station

import (
	"fmt"

	"stillwet/internal/procedure"
)

// Origin is one step on the way of a contamination.
type Origin struct {
	Act   int    // number of the act
	Thing string // what it came from, for people
	From  int    // index of the origin before it, -1 for none
}

// Trace tells where contaminations came from. It lies beside the state because
// it grows. A nil Trace records nothing.
type Trace struct {
	Origins  []Origin
	gloves   int
	surfaces [procedure.MaxSurfaces]int
}

// NewTrace makes an empty trace.
func NewTrace() *Trace {
	t := &Trace{gloves: -1}
	for i := range t.surfaces {
		t.surfaces[i] = -1
	}
	return t
}

func (t *Trace) add(act int, thing string, from int) int {
	t.Origins = append(t.Origins, Origin{act, thing, from})
	return len(t.Origins) - 1
}

func (t *Trace) onGloves(act int, thing string) {
	if t != nil {
		t.gloves = t.add(act, thing, -1)
	}
}

func (t *Trace) freshGloves() {
	if t != nil {
		t.gloves = -1
	}
}

// onSurface notes that the gloves, or a thing, dirtied a surface.
func (t *Trace) onSurface(act, surface int, thing string, byGloves bool) {
	if t == nil {
		return
	}
	from := -1
	if byGloves {
		from = t.gloves
	}
	t.surfaces[surface] = t.add(act, thing, from)
}

// GlovesChain tells how the gloves became dirty, oldest first.
func (t *Trace) GlovesChain() []string { return t.chain(t.gloves) }

// SurfaceChain tells how a surface was dirtied again, oldest first.
func (t *Trace) SurfaceChain(surface int) []string { return t.chain(t.surfaces[surface]) }

func (t *Trace) chain(i int) []string {
	if t == nil || i < 0 {
		return nil
	}
	var steps []string
	for ; i >= 0; i = t.Origins[i].From {
		o := t.Origins[i]
		steps = append([]string{fmt.Sprintf("%s (act %d)", o.Thing, o.Act)}, steps...)
	}
	return steps
}
