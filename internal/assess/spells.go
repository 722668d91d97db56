package assess

import (
	"cmp"
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
	"stillwet/internal/wettime"
)

// Spell is a time during which a surface is known to be wet, or, where the label counts
// that, was left alone. In a log that does not witness drying a wet one ends when the
// surface was last seen wet.
type Spell struct{ From, To action.Millis }

// SurfaceSpells is the wet spells of one surface, and whether they reached the
// contact time of the product it was last wiped with.
type SurfaceSpells struct {
	Surface string
	NeedMs  action.Millis
	Spells  []Spell
	Reached bool // by the end of the log
	Unknown bool // the log does not tell
	Early   bool // it was used before its time, and not wiped again since
	Alone   bool // a spell is one in which it was left alone, wet or dry
}

// Spells lists the wet spells of every surface that was wiped, in the order of
// the procedure. A log without a clock has none.
func Spells(p *procedure.Procedure, log *action.Log) ([]SurfaceSpells, error) {
	if !log.Witness.Has(action.Clock) {
		return nil, nil
	}
	acts, err := station.Bind(p, log)
	if err != nil {
		return nil, fmt.Errorf("spells: %w", err)
	}
	m := station.MachineFor(p, log, nil)
	after := station.Start(p)
	spells := make([][]Spell, len(p.Surfaces))
	alone := make([]bool, len(p.Surfaces))
	need := make([]action.Millis, len(p.Surfaces)) // of the latest spell, also when the surface was dirtied since
	for i := range acts {
		before := after
		m.Apply(&after, &acts[i])
		for s := range p.Surfaces {
			need[s] = cmp.Or(after.Surfaces[s].Contact.Need, need[s])
			was, is := &before.Surfaces[s].Contact, &after.Surfaces[s].Contact
			if was.Alone || is.Alone {
				followAlone(&spells[s], was, is, after.Now)
				alone[s] = true
			} else {
				follow(&spells[s], was, is, after.Now, log.Witness.Has(action.Drying))
			}
		}
	}
	var out []SurfaceSpells
	for s := range p.Surfaces {
		if len(spells[s]) == 0 {
			continue
		}
		x := &after.Surfaces[s]
		if last := &spells[s][len(spells[s])-1]; x.Contact.Wet && !x.Contact.Alone && log.Witness.Has(action.Drying) {
			last.To = after.Now
		}
		status := wettime.TooShort
		if x.Clean == station.Wiped && !x.Early {
			status = m.Contact(&after, s)
		}
		cut := after.Stopped && (x.Contact.Wet || x.Contact.Alone) && status != wettime.Reached // it may have had its time later
		out = append(out, SurfaceSpells{p.Surfaces[s].ID, need[s], spells[s], status == wettime.Reached, status == wettime.Unknown || cut, x.Early, alone[s]})
	}
	return out, nil
}

// follow opens spells and moves their ends as one act changes a wet clock.
func follow(spells *[]Spell, before, after *wettime.Contact, now action.Millis, drying bool) {
	last := len(*spells) - 1
	switch {
	case after.Wet && (!before.Wet || after.Since != before.Since):
		if before.Wet && drying {
			(*spells)[last].To = now
		}
		*spells = append(*spells, Spell{after.Since, after.Since})
	case before.Wet && !after.Wet && drying:
		(*spells)[last].To = now
	case before.Wet:
		(*spells)[last].To = max((*spells)[last].To, before.Seen, after.Seen)
	}
}

// followAlone is follow where the time that a surface is left alone counts: from the latest
// wipe on, to the end of its time, or for as long as it is known to be wet.
func followAlone(spells *[]Spell, before, after *wettime.Contact, now action.Millis) {
	if before.Alone && !before.Marred {
		end := max(before.Left+before.Need, before.Dried)
		if before.Wet {
			end = now
		}
		(*spells)[len(*spells)-1].To = min(now, end)
	}
	switch {
	case after.Alone && !after.Marred && (!before.Alone || before.Marred || before.Left != after.Left):
		*spells = append(*spells, Spell{after.Left, after.Left})
	case !after.Alone && after.Wet: // another product came onto it while it was wet: that time is a wet one
		*spells = append(*spells, Spell{after.Since, now})
	}
}
