// Package assess is the engine: it reads an action log against a procedure and
// says what was not right.
package assess

import (
	"errors"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// RulesVersion grows with every change that can alter a result.
const RulesVersion = 1

// Assess judges a log. name is only repeated in the result.
func Assess(p *procedure.Procedure, log *action.Log, name string) (*Result, error) {
	return nil, errors.New("assess: not built yet")
}

// Spell is a time during which a surface stayed wet, in milliseconds.
type Spell struct{ From, To action.Millis }

// SurfaceSpells is the wet spells of one surface and whether they reached the
// contact time of the product it was last wiped with.
type SurfaceSpells struct {
	Surface string
	NeedMs  action.Millis
	Spells  []Spell
	Reached bool
}

// Spells lists the wet spells of every surface that was wiped, in the order of
// the procedure. The log must witness a clock.
func Spells(p *procedure.Procedure, log *action.Log) []SurfaceSpells { return nil }
