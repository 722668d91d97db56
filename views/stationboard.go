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
	List    bool // the list form: wipes and groups in place of picture and rest
	Wipes   []tile
	Groups  []tileGroup
	Seldom  []StepGroup // found under More
	Timed   bool        // it is of a run: a tile says how long its step takes
	drawing Drawing     // of the station, so that a tile can show which part it is
}

// tileGroup is the tiles of an area.
type tileGroup struct {
	Title string
	Tiles []tile
}

// tile is a button of the board. One of several steps is a face, whose parts are wiped by
// them, or gear, which is put on and taken off again by one button.
type tile struct {
	Kind  procedure.TileKind
	Title string
	Steps []procedure.Step
	// Ends are the other steps that put gear away: the next tap puts it on again.
	Ends []procedure.Step
	// Where it stands in the picture, from 1; 0 elsewhere.
	Col, Row int
	Gone     bool // it is not offered, and leaves its place empty

	at   procedure.Point // where it belongs in the picture
	spot []outline       // its parts in the picture
	box  string          // and the picture's bounds
	area string
}

// The columns and rows of the picture, and what else has room on the smallest tablet, at
// 96 pixels a tile.
const (
	pictureColumns = 4
	pictureRows    = 4
	mostRest       = 8
)

func boardOf(p *procedure.Procedure, offered []string, mirrored bool) stationBoard {
	b := stationBoard{p: p, Seldom: SeldomGroups(p, offered), drawing: Drawing{Picture: p.Picture, Mirrored: mirrored && mirrors(p)}}
	steps := usual(p, offered)
	if b.List = p.Settings.Board == procedure.ListBoard; b.List {
		b.list(steps)
	} else {
		b.place(tilesOf(p, p.Tiles(steps)))
	}
	return b
}

// all are the lists of tiles of a board.
func (b *stationBoard) all() []*[]tile {
	lists := []*[]tile{&b.Hands, &b.Picture, &b.Rest, &b.Foot, &b.Wipes}
	for i := range b.Groups {
		lists = append(lists, &b.Groups[i].Tiles)
	}
	return lists
}

// list puts tiles into groups by area, but for what the hands need all the time.
func (b *stationBoard) list(steps []procedure.Step) {
	l := b.p.Listed(steps)
	b.Hands, b.Wipes, b.Foot = tilesOf(b.p, l.Hands), tilesOf(b.p, l.Wipes), tilesOf(b.p, l.Foot)
	for _, g := range l.Groups {
		b.Groups = append(b.Groups, tileGroup{g.Area.Title, tilesOf(b.p, g.Tiles)})
	}
	b.drawSpots()
}

// watchable are the steps that somebody who watches can note. Of the wait she says what
// she sees: that all is dry.
func watchable(p *procedure.Procedure) (ids []string) {
	for _, s := range p.Steps {
		if len(s.Acts) != 1 || s.Acts[0].Verb != action.Wait {
			ids = append(ids, s.ID)
		}
	}
	return ids
}

// runBoard is the board of whoever watches as a scenario offers it: what is not offered
// leaves its place empty, so that each tile stands where it always does.
func runBoard(p *procedure.Procedure, offered []string, mirrored bool) stationBoard {
	all := watchable(p)
	for _, id := range offered {
		if !slices.Contains(all, id) {
			all = append(all, id)
		}
	}
	b := boardOf(p, all, mirrored)
	b.Timed = true
	for _, tiles := range b.all() {
		*tiles = onlyOffered(*tiles, offered)
	}
	for i := range b.Seldom {
		b.Seldom[i].Steps = among(b.Seldom[i].Steps, offered)
	}
	b.Seldom = slices.DeleteFunc(b.Seldom, func(g StepGroup) bool { return len(g.Steps) == 0 })
	return b
}

func onlyOffered(tiles []tile, offered []string) (left []tile) {
	for _, t := range tiles {
		t.Steps, t.Ends = among(t.Steps, offered), among(t.Ends, offered)
		t.Gone = len(t.Steps) == 0
		if !t.Gone && t.Kind != procedure.FaceTile {
			t.Title = t.Steps[0].Words()
		}
		left = append(left, t)
	}
	return left
}

func among(steps []procedure.Step, offered []string) []procedure.Step {
	return slices.DeleteFunc(slices.Clone(steps), func(s procedure.Step) bool { return !slices.Contains(offered, s.ID) })
}

func usual(p *procedure.Procedure, offered []string) (steps []procedure.Step) {
	for _, g := range Groups(p, offered) {
		steps = append(steps, g.Steps...)
	}
	slices.SortFunc(steps, func(a, b procedure.Step) int { return cmp.Compare(p.StepIndex(a.ID), p.StepIndex(b.ID)) })
	return steps
}

// tilesOf is tiles as the board shows them.
func tilesOf(p *procedure.Procedure, of []procedure.Tile) (tiles []tile) {
	for _, t := range of {
		x := tile{Kind: t.Kind, Title: t.Steps[0].Words(), Steps: t.Steps, area: t.Of}
		x.finish(p)
		tiles = append(tiles, x)
	}
	return tiles
}

func (t *tile) finish(p *procedure.Procedure) {
	switch t.Kind {
	case procedure.FaceTile:
		t.Title = procedure.Capital(t.area)
	case procedure.GearTile:
		t.turn(p)
	case procedure.StepTile:
	}
}

// turn puts the steps of gear into their order. What is only thrown away is a step.
func (t *tile) turn(p *procedure.Procedure) {
	of := t.area
	verb := func(s procedure.Step) int { return slices.Index(procedure.GearTurns, s.Acts[0].Verb) }
	slices.SortStableFunc(t.Steps, func(a, b procedure.Step) int { return verb(a) - verb(b) })
	t.Title, t.area = t.Steps[0].Words(), t.Steps[0].Area
	if len(t.Steps) == 1 {
		t.Kind = procedure.StepTile
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
		case procedure.AtFoot(&t.Steps[0]):
			b.Foot = append(b.Foot, t)
		case procedure.OfHands(&t.Steps[0]):
			b.Hands = append(b.Hands, t)
		default:
			b.Rest = append(b.Rest, t)
		}
	}
	b.Hands = b.most(b.Hands, procedure.MostHands)
	b.Foot = b.most(b.Foot, procedure.MostFoot)
	b.Rest = b.most(b.Rest, mostRest)
	b.Picture = b.most(b.Picture, pictureColumns*pictureRows)
	b.lay()
	b.drawSpots()
}

// drawSpots gives each face its parts in the picture.
func (b *stationBoard) drawSpots() {
	all := b.drawing.outlines()
	for _, tiles := range b.all() {
		for i := range *tiles {
			b.spotsOf(&(*tiles)[i], all)
		}
	}
}

func (b *stationBoard) spotsOf(t *tile, all []outline) {
	for _, o := range all {
		if s := b.p.SurfaceIndex(o.Surface); s >= 0 && t.Kind == procedure.FaceTile && b.p.Surfaces[s].Face == t.area {
			t.spot, t.box = append(t.spot, o), b.drawing.box()
		}
	}
}

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
	if t.Kind == procedure.FaceTile {
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
		i := slices.IndexFunc(tiles, func(t tile) bool { return t.Kind != procedure.FaceTile && t.act().Verb == action.Clean })
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
		if tiles[i].Kind != procedure.FaceTile {
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

// hint stands where nothing is asked.
func (b *stationBoard) hint() string {
	if b.Timed {
		return "Tap what your hands do next."
	}
	return "Tap a surface when its wiping is finished."
}

// idle is what a tile says below its name before its first tap.
func (b *stationBoard) idle(t *tile) string {
	switch {
	case b.Timed && t.Kind == procedure.FaceTile:
		return takes(b.p, t.Steps...)
	case b.Timed:
		return takes(b.p, t.Steps[0])
	case handsOf(t.Steps[0]) != "":
		return untimed
	}
	return ""
}

// parts are the parts of the board that a phone shows one at a time.
func (b *stationBoard) parts() []stage {
	if b.List {
		return []stage{{"hands", "Hands"}, {"station", "Wipes, groups"}}
	}
	return []stage{{"hands", "Hands"}, {"station", "Station"}, {"rest", "Patient, things"}}
}

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
		return t.Kind != procedure.FaceTile && utf8.RuneCountInString(s.Words()) > mostWords
	})
}
