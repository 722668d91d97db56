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

// What a board has room for on the smallest tablet: tiles in the column of the hands, and
// about the whole station below. The list form shows so many tiles at a time, those for hands and
// wipes among them, so many besides the hands', and has so many groups.
const (
	MostHands  = 5
	MostFoot   = 2
	MostListed = 19
	MostBeside = 16
	MostGroups = 8
)

// AtFoot reports whether a step is about the whole station.
func AtFoot(s *Step) bool {
	return len(s.Acts) > 0 && (s.Acts[0].Verb == action.LookAt || s.Acts[0].Verb == action.DeclareReady)
}

// OfHands reports whether a step cleans hands, or is about what is worn.
func OfHands(s *Step) bool {
	return slices.ContainsFunc(s.Acts, func(a action.Act) bool { return a.Verb == action.RubHands || a.Verb == action.WashHands }) ||
		len(s.Acts) > 0 && slices.Contains(action.ProtectiveEquipment, s.Acts[0].Object)
}

// Listed is the list form of a board: what hands need all the time, and the rest in groups.
type Listed struct {
	Hands, Wipes, Foot []Tile
	Groups             []ListGroup // in the order of the areas
}

// ListGroup is the tiles of an area.
type ListGroup struct {
	Area  Area
	Tiles []Tile
}

// Listed puts the tiles of steps into the list form.
func (p *Procedure) Listed(steps []Step) (l Listed) {
	of := map[string][]Tile{}
	for _, t := range p.Tiles(steps) {
		switch s := &t.Steps[0]; {
		case AtFoot(s) && len(l.Foot) < MostFoot:
			l.Foot = append(l.Foot, t)
		case OfHands(s) && len(l.Hands) < MostHands:
			l.Hands = append(l.Hands, t)
		case len(s.Acts) > 0 && s.Acts[0].Verb == action.TakeWipe:
			l.Wipes = append(l.Wipes, t)
		default:
			of[s.Area] = append(of[s.Area], t)
		}
	}
	for _, a := range p.Areas {
		if len(of[a.ID]) > 0 {
			l.Groups = append(l.Groups, ListGroup{a, of[a.ID]})
		}
	}
	return l
}

// list checks that the list form has room for all.
func (c *checker) list(p *Procedure) {
	if c.d.Settings.Board != ListBoard {
		return
	}
	l := p.Listed(slices.DeleteFunc(slices.Clone(c.d.Steps), func(s Step) bool { return s.Seldom }))
	always := len(l.Hands) + len(l.Wipes)
	for _, g := range l.Groups {
		if n, room := len(g.Tiles), min(MostListed-always, MostBeside-len(l.Wipes)); n > room {
			c.fault("settings.board", "as a list the group %q has %d tiles, and beside the %d of hands and wipes %d fit: make steps of it seldom, or put some into another area", g.Area.Title, n, always, room)
		}
	}
	if n := len(l.Groups); n > MostGroups {
		c.fault("settings.board", "as a list it has %d groups, and %d fit: join areas, or make steps seldom", n, MostGroups)
	}
}
