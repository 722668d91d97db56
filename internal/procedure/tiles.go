package procedure

import (
	"slices"

	"stillwet/internal/action"
)

// TileKind is what the steps of a tile have in common.
type TileKind string

// The kinds: a step by itself, the parts of one face, and gear that is put on, taken off
// and put away in turn.
const (
	StepTile TileKind = "step"
	FaceTile TileKind = "face"
	GearTile TileKind = "gear"
)

// Tile is steps that share a button of a board.
type Tile struct {
	Kind  TileKind
	Of    string // the face; what is put on and off; of a single step its area
	Steps []Step
}

// Tiles makes tiles of steps, in their order: those that wipe parts of one face are one,
// and so are those that put something on, take it off and put it away.
func (p *Procedure) Tiles(steps []Step) (tiles []Tile) {
	for _, s := range steps {
		of, kind := p.tileOf(&s)
		i := slices.IndexFunc(tiles, func(t Tile) bool { return kind != StepTile && t.Kind == kind && t.Of == of })
		if i >= 0 {
			tiles[i].Steps = append(tiles[i].Steps, s)
			continue
		}
		tiles = append(tiles, Tile{kind, of, []Step{s}})
	}
	return tiles
}

func (p *Procedure) tileOf(s *Step) (of string, kind TileKind) {
	if i := p.wipedBy(s); i >= 0 {
		return p.Surfaces[i].Face, FaceTile
	}
	if of := gearOf(s); of != "" {
		return of, GearTile
	}
	return s.Area, StepTile
}

// wipedBy is the first surface that a step wipes wet, -1 when it does not only wipe.
func (p *Procedure) wipedBy(s *Step) int {
	if len(s.Acts) == 0 || slices.ContainsFunc(s.Acts, func(a action.Act) bool { return a.Verb != action.Wipe }) {
		return -1
	}
	return p.SurfaceIndex(s.Acts[0].Object)
}

// GearTurns are the verbs of gear in the order in which one tap follows the other.
var GearTurns = []action.Verb{action.PutOn, action.TakeOff, action.Discard, action.PutBack}

// gearOf names what all acts of a step put on, take off or away, "" for other steps.
func gearOf(s *Step) (of string) {
	for i, a := range s.Acts {
		if !slices.Contains(GearTurns, a.Verb) || i > 0 && a.Verb != s.Acts[0].Verb {
			return ""
		}
		of += a.Object + " "
	}
	return of
}
