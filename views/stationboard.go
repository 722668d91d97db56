package views

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// stationBoard is the station as buttons: the picture drawn out, so that every part of it
// is as large as a fingertip needs, hands and protection beside it, the rest behind.
type stationBoard struct {
	p       *procedure.Procedure
	Hands   []tile
	Picture []tile
	Rest    []tile
	Foot    []tile
	Seldom  []StepGroup // found under More
	drawing Drawing     // of the station, so that a tile can show which part it is
}

// tile is a button of the board. One of several steps is a face, whose parts are wiped by
// them, or gear, which is put on and taken off again by one button.
type tile struct {
	Kind  tileKind
	Title string
	Steps []procedure.Step
	// Ends are the other steps that put gear away: the next tap puts it on again.
	Ends []procedure.Step
	// Where it stands in the picture, from 1; 0 elsewhere.
	Col, Row int

	at   procedure.Point // where it belongs in the picture
	spot []outline       // its parts in the picture
	box  string          // and the picture's bounds
	area string
}

type tileKind string

const (
	stepTile tileKind = "step"
	faceTile tileKind = "face"
	gearTile tileKind = "gear"
)

// The columns and rows of the picture, and what else has room on the smallest tablet, at
// 96 pixels a tile.
const (
	pictureColumns = 4
	pictureRows    = 4
	mostHands      = 5
	mostRest       = 8
	mostFoot       = 2
)

func boardOf(p *procedure.Procedure, offered []string, mirrored bool) stationBoard {
	b := stationBoard{p: p, Seldom: SeldomGroups(p, offered), drawing: Drawing{Picture: p.Picture, Mirrored: mirrored && mirrors(p)}}
	b.place(gather(p, usual(p, offered)))
	return b
}

func usual(p *procedure.Procedure, offered []string) (steps []procedure.Step) {
	for _, g := range Groups(p, offered) {
		steps = append(steps, g.Steps...)
	}
	slices.SortFunc(steps, func(a, b procedure.Step) int { return cmp.Compare(p.StepIndex(a.ID), p.StepIndex(b.ID)) })
	return steps
}

// gather makes tiles of steps: those that wipe parts of one face are one, and so are those
// that put something on, take it off and put it away.
func gather(p *procedure.Procedure, steps []procedure.Step) (tiles []tile) {
	for _, s := range steps {
		key, kind := tileOf(p, &s)
		i := slices.IndexFunc(tiles, func(t tile) bool { return kind != stepTile && t.Kind == kind && t.area == key })
		if i >= 0 {
			tiles[i].Steps = append(tiles[i].Steps, s)
			continue
		}
		tiles = append(tiles, tile{Kind: kind, Title: s.Words(), Steps: []procedure.Step{s}, area: key})
	}
	for i := range tiles {
		tiles[i].finish(p)
	}
	return tiles
}

// tileOf is the kind of tile a step belongs to, and which of it.
func tileOf(p *procedure.Procedure, s *procedure.Step) (key string, kind tileKind) {
	if i := faceOf(p, s); i >= 0 {
		return p.Surfaces[i].Face, faceTile
	}
	if of := gearOf(s); of != "" {
		return of, gearTile
	}
	return s.Area, stepTile
}

// faceOf is the first surface that a step wipes wet, -1 when it does not only wipe.
func faceOf(p *procedure.Procedure, s *procedure.Step) int {
	if slices.ContainsFunc(s.Acts, func(a action.Act) bool { return !actOf(a).Wets }) || len(s.Acts) == 0 {
		return -1
	}
	return p.SurfaceIndex(s.Acts[0].Object)
}

// turns are the verbs of gear in the order in which one tap follows the other.
var turns = []action.Verb{action.PutOn, action.TakeOff, action.Discard, action.PutBack}

// gearOf names what all acts of a step put on, take off or away, "" for other steps.
func gearOf(s *procedure.Step) (of string) {
	for i, a := range s.Acts {
		if !slices.Contains(turns, a.Verb) || i > 0 && a.Verb != s.Acts[0].Verb {
			return ""
		}
		of += a.Object + " "
	}
	return of
}

func (t *tile) finish(p *procedure.Procedure) {
	switch t.Kind {
	case faceTile:
		t.Title = procedure.Capital(t.area)
	case gearTile:
		t.turn(p)
	case stepTile:
	}
}

// turn puts the steps of gear into their order. What is only thrown away is a step.
func (t *tile) turn(p *procedure.Procedure) {
	of := t.area
	verb := func(s procedure.Step) int { return slices.Index(turns, s.Acts[0].Verb) }
	slices.SortStableFunc(t.Steps, func(a, b procedure.Step) int { return verb(a) - verb(b) })
	t.Title, t.area = t.Steps[0].Words(), t.Steps[0].Area
	if len(t.Steps) == 1 {
		t.Kind = stepTile
		return
	}
	for _, s := range p.Steps {
		if s.Seldom && len(s.Acts) > 0 && s.Acts[0].Object+" " == of && (s.Acts[0].Verb == action.Discard || s.Acts[0].Verb == action.Disinfect) {
			t.Ends = append(t.Ends, s)
		}
	}
}

// place puts tiles into the parts of the board. What has no room is found under More:
// cleaning off what can be seen first, which is done now and then.
func (b *stationBoard) place(tiles []tile) {
	for _, t := range tiles {
		switch at, drawn := b.where(&t); {
		case drawn:
			t.at = at
			b.Picture = append(b.Picture, t)
		case ends(t.act().Verb):
			b.Foot = append(b.Foot, t)
		case handsOf(t.Steps[0]) != "" || slices.Contains(action.ProtectiveEquipment, t.act().Object):
			b.Hands = append(b.Hands, t)
		default:
			b.Rest = append(b.Rest, t)
		}
	}
	b.Hands = b.most(b.Hands, mostHands)
	b.Foot = b.most(b.Foot, mostFoot)
	b.Rest = b.most(b.Rest, mostRest)
	b.Picture = b.most(b.Picture, pictureColumns*pictureRows)
	b.lay()
	b.drawSpots()
}

// drawSpots gives each face its parts in the picture.
func (b *stationBoard) drawSpots() {
	all := b.drawing.outlines()
	for i := range b.Picture {
		t := &b.Picture[i]
		for _, o := range all {
			if s := b.p.SurfaceIndex(o.Surface); s >= 0 && t.Kind == faceTile && b.p.Surfaces[s].Face == t.area {
				t.spot, t.box = append(t.spot, o), b.drawing.box()
			}
		}
	}
}

// ends reports whether a verb is about the whole station.
func ends(v action.Verb) bool { return v == action.LookAt || v == action.DeclareReady }

// act is the first act of a tile, none where its step has none.
func (t *tile) act() (a action.Act) {
	if acts := t.Steps[0].Acts; len(acts) > 0 {
		a = acts[0]
	}
	return a
}

// where is the place of a tile in the picture: of what is wiped, its own; of things and the
// machine, that of a part of theirs.
func (b *stationBoard) where(t *tile) (procedure.Point, bool) {
	if t.Kind == faceTile {
		return b.middle(func(s *procedure.Surface) bool { return s.Face == t.area }), true
	}
	switch a := t.act(); a.Verb {
	case action.TakeOff, action.Empty, action.PutBack, action.SetAt, action.PutOn:
		if i := b.p.ItemIndex(a.Object); i >= 0 {
			return b.ofItem(b.p.Items[i].Kind)
		}
	case action.StartInternal, action.TagOut:
		return b.ofItem(procedure.Circuit)
	case action.TakeWipe:
		return procedure.Point{}, true
	case action.Clean, action.Absorb:
		return b.middle(func(s *procedure.Surface) bool { return s.ID == a.Object }), true
	}
	return procedure.Point{}, false
}

// ofItem is where a thing of the machine hangs: the bucket at its own surfaces, lines and
// dialyzer in the middle of the machine.
func (b *stationBoard) ofItem(kind procedure.ItemKind) (procedure.Point, bool) {
	switch kind {
	case procedure.BucketItem:
		return b.middle(func(s *procedure.Surface) bool { return s.Role == procedure.BucketSurface }), true
	case procedure.Circuit:
		of := b.largest()
		return b.middle(func(s *procedure.Surface) bool { return s.Thing == of }), true
	}
	return procedure.Point{}, false
}

// largest is the thing with the most surfaces: the machine, whatever a clinic calls it.
func (b *stationBoard) largest() (of string) {
	surfaces := map[string]int{}
	for _, s := range b.p.Surfaces {
		if surfaces[s.Thing]++; s.Thing != "" && (of == "" || surfaces[s.Thing] > surfaces[of]) {
			of = s.Thing
		}
	}
	return of
}

// middle is the middle of what is drawn of some surfaces.
func (b *stationBoard) middle(of func(*procedure.Surface) bool) (at procedure.Point) {
	n := 0
	for _, o := range b.drawing.outlines() {
		if i := b.p.SurfaceIndex(o.Surface); i >= 0 && of(&b.p.Surfaces[i]) {
			at.X, at.Y, n = at.X+o.At.X, at.Y+o.At.Y, n+1
		}
	}
	if n == 0 {
		return procedure.Point{X: b.p.Picture.Width / 2, Y: b.p.Picture.Height / 2}
	}
	return procedure.Point{X: at.X / n, Y: at.Y / n}
}

// most takes as many tiles as there is room for; the steps of the others go under More.
func (b *stationBoard) most(tiles []tile, room int) []tile {
	for len(tiles) > room {
		i := slices.IndexFunc(tiles, func(t tile) bool { return t.Kind != faceTile && t.act().Verb == action.Clean })
		if i < 0 {
			i = b.leastNeeded(tiles)
		}
		for _, s := range tiles[i].Steps {
			b.more(s)
		}
		tiles = slices.Delete(tiles, i, i+1)
	}
	return tiles
}

// leastNeeded is the last tile that is no face: those are asked about.
func (b *stationBoard) leastNeeded(tiles []tile) int {
	for i := len(tiles) - 1; i >= 0; i-- {
		if tiles[i].Kind != faceTile {
			return i
		}
	}
	return len(tiles) - 1
}

func (b *stationBoard) more(s procedure.Step) {
	title := ""
	for _, a := range b.p.Areas {
		if a.ID == s.Area {
			title = a.Title
		}
	}
	i := slices.IndexFunc(b.Seldom, func(g StepGroup) bool { return g.Title == title })
	if i < 0 {
		b.Seldom = append([]StepGroup{{Title: title}}, b.Seldom...)
		i = 0
	}
	b.Seldom[i].Steps = append(b.Seldom[i].Steps, s)
}

// lay gives the tiles of the picture their cells: those that, all in all, are nearest to
// where the things stand. Two tiles change places as long as that brings them nearer.
func (b *stationBoard) lay() {
	cells := make([]int, pictureColumns*pictureRows) // the tile in each, -1 none
	for i := range cells {
		cells[i] = -1
		if i < len(b.Picture) {
			cells[i] = i
		}
	}
	far := func(tile, cell int) float64 {
		if tile < 0 {
			return 0
		}
		x, y := b.share(b.Picture[tile].at)
		return math.Pow(x-float64(cell%pictureColumns), 2) + math.Pow(y-float64(cell/pictureColumns), 2)
	}
	for better := true; better; {
		better = false
		for i := range cells {
			for j := range i {
				if far(cells[i], j)+far(cells[j], i) < far(cells[i], i)+far(cells[j], j)-1e-9 {
					cells[i], cells[j], better = cells[j], cells[i], true
				}
			}
		}
	}
	for cell, t := range cells {
		if t >= 0 {
			b.Picture[t].Col, b.Picture[t].Row = cell%pictureColumns+1, cell/pictureColumns+1
		}
	}
	slices.SortFunc(b.Picture, func(a, c tile) int { return cmp.Or(a.Row-c.Row, a.Col-c.Col) })
}

// share is a place of the picture in cells of the board.
func (b *stationBoard) share(at procedure.Point) (x, y float64) {
	return float64(at.X)/float64(max(1, b.p.Picture.Width))*pictureColumns - .5, float64(at.Y)/float64(max(1, b.p.Picture.Height))*pictureRows - .5
}

// cell is the class by which a tile stands where it stands.
func (t *tile) cell() string {
	if t.Col == 0 {
		return ""
	}
	return "c" + strconv.Itoa(t.Col) + " r" + strconv.Itoa(t.Row)
}

// ids are steps for a script.
func ids(steps []procedure.Step) string {
	all := make([]string, len(steps))
	for i, s := range steps {
		all[i] = s.ID
	}
	return strings.Join(all, " ")
}

// boardHint stands where nothing is asked.
const boardHint = "Tap a surface when its wiping is finished."

// boardParts are the parts of the board that a phone shows one at a time.
var boardParts = []stage{{"hands", "Hands"}, {"station", "Station"}, {"rest", "Patient, things"}}

func groupName(i int) string { return strconv.Itoa(i + 1) }

// lastWords is a stretch of time that has just passed.
func lastWords(ms action.Millis) string {
	switch n := ms / 60_000; {
	case n == 0:
		return "half minute was"
	case n == 1:
		return "minute was"
	default:
		return strconv.Itoa(int(n)) + " minutes were"
	}
}

// mostWords is how many characters of a label leave room for a state below it.
const mostWords = 26

// long reports whether the words of a tile leave no room for anything else.
func (t *tile) long() bool {
	return utf8.RuneCountInString(t.Title) > mostWords || slices.ContainsFunc(t.Steps, func(s procedure.Step) bool {
		return t.Kind != faceTile && utf8.RuneCountInString(s.Words()) > mostWords
	})
}
