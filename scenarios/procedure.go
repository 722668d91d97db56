package scenarios

import (
	"fmt"
	"io/fs"
	"path/filepath"

	"stillwet/internal/action"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
)

// The shape of a procedure file. Fields are those of package procedure, and what
// is said of the parts (see parts.go).
type procedureYAML struct {
	ID        string `yaml:"id"`
	Title     string `yaml:"title"`
	Version   string `yaml:"version"`
	Owner     string `yaml:"owner"`
	ReviewBy  string `yaml:"review_by"`
	Begins    string `yaml:"begins"`
	Station   string `yaml:"station"`
	Work      string `yaml:"work"`
	listsYAML `yaml:",inline"`
	Settings  settingsYAML  `yaml:"settings"`
	MarkSheet sheetYAML     `yaml:"mark_sheet"`
	Picture   pictureYAML   `yaml:"picture"`
	Closing   []closingYAML `yaml:"closing"`

	VariantOf string `yaml:"variant_of"`
	Variant   string `yaml:"variant"`
	Hidden    bool   `yaml:"hidden"` // of a variant: it is not offered

	Parts   []string    `yaml:"parts"`
	Without withoutYAML `yaml:"without"`
	Change  changeYAML  `yaml:"change"`
	On      []string    `yaml:"on"`
}

// listsYAML are the lists that stand in parts as they stand in procedures.
type listsYAML struct {
	Areas    []areaYAML    `yaml:"areas"`
	Surfaces []surfaceYAML `yaml:"surfaces"`
	Items    []itemYAML    `yaml:"items"`
	Places   []placeYAML   `yaml:"places"`
	Products []productYAML `yaml:"products"`
	Steps    []stepYAML    `yaml:"steps"`
	Order    []pairYAML    `yaml:"order"`
}

type settingsYAML struct {
	Wet                string        `yaml:"wet"`
	StagingWithPatient bool          `yaml:"staging_with_patient"`
	OneWipe            string        `yaml:"one_wipe"`
	Hands              string        `yaml:"hands"`
	PatientFreeS       int           `yaml:"patient_free_s"`
	ClearAlone         bool          `yaml:"clear_alone"`
	Isolation          bool          `yaml:"isolation"`
	SeeOneFaceOf       string        `yaml:"see_one_face_of"`
	Board              string        `yaml:"board"`
	Basis              string        `yaml:"basis"`
	Confirmed          confirmedYAML `yaml:"confirmed"`
}

type sheetYAML struct {
	CutPercent int           `yaml:"cut_percent"`
	Basis      string        `yaml:"basis"`
	Marks      []markYAML    `yaml:"marks"`
	Confirmed  confirmedYAML `yaml:"confirmed"`
}

type areaYAML struct {
	ID    string `yaml:"id"`
	Title string `yaml:"title"`
}

type pictureYAML struct {
	Width  int         `yaml:"width"`
	Height int         `yaml:"height"`
	Floor  string      `yaml:"floor"`
	Hands  pointYAML   `yaml:"hands"`
	Labels []labelYAML `yaml:"labels"`
	Shapes []shapeYAML `yaml:"shapes"`
}

type labelYAML struct {
	Text string    `yaml:"text"`
	At   pointYAML `yaml:"at"`
}

type shapeYAML struct {
	Surface string    `yaml:"surface"`
	Name    string    `yaml:"name"`
	Pair    string    `yaml:"pair"`
	Path    string    `yaml:"path"`
	At      pointYAML `yaml:"at"`
}

// pointYAML is a place, from the left and from the top.
type pointYAML [2]int

func (p pointYAML) point() procedure.Point { return procedure.Point{X: p[0], Y: p[1]} }

type surfaceYAML struct {
	ID        string        `yaml:"id"`
	Title     string        `yaml:"title"`
	Face      string        `yaml:"face"`
	Thing     string        `yaml:"thing"`
	Role      string        `yaml:"role"`
	HighTouch bool          `yaml:"high_touch"`
	ChairSide bool          `yaml:"chair_side"`
	MustSee   bool          `yaml:"must_see"`
	Row       int           `yaml:"row"`
	AreaDm2   int           `yaml:"area_dm2"`
	WipeS     int           `yaml:"wipe_s"`
	DriesS    int           `yaml:"dries_s"`
	Basis     string        `yaml:"basis"`
	Off       bool          `yaml:"off"`
	Confirmed confirmedYAML `yaml:"confirmed"`
}

type itemYAML struct {
	ID        string        `yaml:"id"`
	Title     string        `yaml:"title"`
	Kind      string        `yaml:"kind"`
	Goes      []string      `yaml:"goes"`
	WhenNamed bool          `yaml:"when_named"`
	Isolation bool          `yaml:"isolation"`
	Basis     string        `yaml:"basis"`
	Off       bool          `yaml:"off"`
	Confirmed confirmedYAML `yaml:"confirmed"`
}

type placeYAML struct {
	ID        string        `yaml:"id"`
	Title     string        `yaml:"title"`
	Kind      string        `yaml:"kind"`
	Basis     string        `yaml:"basis"`
	Off       bool          `yaml:"off"`
	Confirmed confirmedYAML `yaml:"confirmed"`
}

type productYAML struct {
	ID          string        `yaml:"id"`
	Title       string        `yaml:"title"`
	Level       string        `yaml:"level"`
	LabelS      int           `yaml:"label_s"`
	DriesS      int           `yaml:"dries_s"`
	NotOn       []string      `yaml:"not_on"`
	MadeH       int           `yaml:"made_h"`
	PastDate    bool          `yaml:"past_date"`
	AreaDm2     int           `yaml:"area_dm2"`
	Basis       string        `yaml:"basis"`
	Off         bool          `yaml:"off"`
	Confirmed   confirmedYAML `yaml:"confirmed"`
	onLabelYAML `yaml:",inline"`
}

type stepYAML struct {
	ID      string   `yaml:"id"`
	Label   string   `yaml:"label"`
	Area    string   `yaml:"area"`
	Acts    []string `yaml:"acts"`
	Seconds int      `yaml:"seconds"`
	Seldom  bool     `yaml:"seldom"`
	Short   string   `yaml:"short"`
}

type pairYAML struct {
	Earlier   string        `yaml:"earlier"`
	Later     string        `yaml:"later"`
	Why       string        `yaml:"why"`
	Basis     string        `yaml:"basis"`
	Critical  bool          `yaml:"critical"`
	Confirmed confirmedYAML `yaml:"confirmed"`
}

type closingYAML struct {
	Step      string        `yaml:"step"`
	Why       string        `yaml:"why"`
	Basis     string        `yaml:"basis"`
	Confirmed confirmedYAML `yaml:"confirmed"`
}

type confirmedYAML struct {
	By string `yaml:"by"`
	On string `yaml:"on"`
}

type markYAML struct {
	ID        string        `yaml:"id"`
	Title     string        `yaml:"title"`
	Rule      string        `yaml:"rule"`
	Surface   string        `yaml:"surface"`
	Worn      string        `yaml:"worn"`
	Watcher   bool          `yaml:"watcher"`
	Worth     int           `yaml:"worth"`
	Critical  bool          `yaml:"critical"`
	Confirmed confirmedYAML `yaml:"confirmed"`
}

// ReadProcedure reads the text of a procedure file, and the parts that it names
// from the folders beside it; all faults at once, those of the parts among them.
// The file's name is for messages.
func ReadProcedure(file string, text []byte, beside ...fs.FS) (*procedure.Procedure, []error) {
	dir, _ := filepath.Split(file)
	return newFolder(dir, beside...).procedure(file, text)
}

// procedure reads a procedure with its parts.
func (f *folder) procedure(file string, text []byte) (*procedure.Procedure, []error) {
	d, def := f.definition(file, text)
	if def == nil {
		return nil, d.faults
	}
	p, faults := procedure.New(*def, rules.Names())
	for _, fault := range faults {
		d.fault(fault.Path, "%s", fault.Text)
	}
	marksOfSurfaces(d, def.MarkSheet.Marks)
	if len(d.faults) > 0 {
		return nil, d.faults
	}
	return p, nil
}

// definition is what a procedure file and its parts say, nil when they cannot be
// put together.
func (f *folder) definition(file string, text []byte) (*document, *procedure.Definition) {
	var y procedureYAML
	d, ok := read(file, text, &y)
	if !ok || y.VariantOf != "" && !f.inherit(d, &y) || !f.join(d, &y) {
		return d, nil
	}
	def := y.definition(d)
	return d, &def
}

// marksOfSurfaces refuses a mark for one surface of a rule that never speaks of
// one: no breach would ever miss it.
func marksOfSurfaces(d *document, marks []procedure.Mark) {
	for i, m := range marks {
		for _, r := range rules.All {
			if m.Surface != "" && r.Name == m.Rule && !r.OfSurfaces {
				d.fault(fmt.Sprintf("mark_sheet.marks.%d.surface", i), "rule %q speaks of no single surface; leave the surface out", m.Rule)
			}
		}
	}
}

func (y *procedureYAML) definition(d *document) procedure.Definition {
	def := procedure.Definition{
		ID: y.ID, Title: y.Title, Version: y.Version, Owner: y.Owner, ReviewBy: y.ReviewBy,
		VariantOf: y.VariantOf, Variant: y.Variant,
		Begins: procedure.Begin(y.Begins), Station: y.Station, Work: y.Work,
		Settings: y.Settings.settings(d), MarkSheet: y.MarkSheet.sheet(d), Picture: y.Picture.picture(),
	}
	y.things(d, &def)
	y.work(d, &def)
	for i, c := range y.Closing {
		def.Closing = append(def.Closing, procedure.Closing{Step: c.Step, Why: c.Why, Basis: d.rowBasis("closing", i, c.Basis), Confirmed: procedure.Confirmed(c.Confirmed)})
	}
	return def
}

func (y *settingsYAML) settings(d *document) procedure.Settings {
	if y.Wet != "add-up" && y.Wet != "restart" {
		d.fault("settings.wet", "%q is none of restart, add-up", y.Wet)
	}
	hands := procedure.HandsTime(y.Hands)
	if y.Hands == "cdc" {
		hands = procedure.CDCHands
	}
	return procedure.Settings{
		WetAddsUp: y.Wet == "add-up", StagingWithPatient: y.StagingWithPatient, Basis: d.basis("settings.basis", y.Basis),
		OneWipe: procedure.OneWipe(y.OneWipe), Hands: hands, PatientFreeS: y.PatientFreeS, ClearAlone: y.ClearAlone, Isolation: y.Isolation, SeeOneFaceOf: y.SeeOneFaceOf,
		Board:     procedure.Board(y.Board),
		Confirmed: procedure.Confirmed(y.Confirmed),
	}
}

// things fills in what is at the station.
func (y *listsYAML) things(d *document, def *procedure.Definition) {
	for i, s := range y.Surfaces {
		def.Surfaces = append(def.Surfaces, procedure.Surface{ID: s.ID, Title: s.Title, Face: s.Face, Role: procedure.Role(s.Role),
			HighTouch: s.HighTouch, WipeS: s.WipeS, DriesS: s.DriesS, Basis: d.rowBasis("surfaces", i, s.Basis),
			Thing: s.Thing, ChairSide: s.ChairSide, MustSee: s.MustSee, Row: s.Row, AreaDm2: s.AreaDm2, Confirmed: procedure.Confirmed(s.Confirmed)})
	}
	for i, it := range y.Items {
		def.Items = append(def.Items, procedure.Item{ID: it.ID, Title: it.Title, Kind: procedure.ItemKind(it.Kind), Goes: it.Goes,
			Basis: d.rowBasis("items", i, it.Basis), WhenNamed: it.WhenNamed, Isolation: it.Isolation, Confirmed: procedure.Confirmed(it.Confirmed)})
	}
	for i, pl := range y.Places {
		def.Places = append(def.Places, procedure.Place{ID: pl.ID, Title: pl.Title, Kind: procedure.PlaceKind(pl.Kind), Basis: d.rowBasis("places", i, pl.Basis), Confirmed: procedure.Confirmed(pl.Confirmed)})
	}
	for i, pr := range y.Products {
		label := pr.label()
		def.Products = append(def.Products, procedure.Product{ID: pr.ID, Title: pr.Title, Level: procedure.Level(pr.Level),
			LabelS: pr.labelS(&label), LabelText: label, DriesS: pr.DriesS, Basis: d.rowBasis("products", i, pr.Basis),
			NotOn: pr.NotOn, MadeH: pr.MadeH, PastDate: pr.PastDate, AreaDm2: pr.AreaDm2, Confirmed: procedure.Confirmed(pr.Confirmed)})
	}
}

// work fills in what is done there.
func (y *listsYAML) work(d *document, def *procedure.Definition) {
	for _, a := range y.Areas {
		def.Areas = append(def.Areas, procedure.Area{ID: a.ID, Title: a.Title})
	}
	for i, s := range y.Steps {
		def.Steps = append(def.Steps, procedure.Step{ID: s.ID, Label: s.Label, Area: s.Area, Seconds: s.Seconds, Seldom: s.Seldom, Short: s.Short,
			Acts: d.acts(fmt.Sprintf("steps.%d.acts", i), s.Acts, nil)})
	}
	for i, o := range y.Order {
		def.Order = append(def.Order, procedure.Pair{Earlier: o.Earlier, Later: o.Later, Why: o.Why,
			Basis: d.rowBasis("order", i, o.Basis), Critical: o.Critical, Confirmed: procedure.Confirmed(o.Confirmed)})
	}
}

func (y *sheetYAML) sheet(d *document) procedure.MarkSheet {
	sheet := procedure.MarkSheet{CutPercent: y.CutPercent, Basis: d.basis("mark_sheet.basis", y.Basis), Confirmed: procedure.Confirmed(y.Confirmed)}
	for _, m := range y.Marks {
		sheet.Marks = append(sheet.Marks, procedure.Mark{ID: m.ID, Title: m.Title, Rule: m.Rule, Surface: m.Surface, Worth: m.Worth, Critical: m.Critical,
			Worn: m.Worn, Watcher: m.Watcher, Confirmed: procedure.Confirmed(m.Confirmed)})
	}
	return sheet
}

func (y *pictureYAML) picture() procedure.Picture {
	p := procedure.Picture{Width: y.Width, Height: y.Height, Floor: y.Floor, Hands: y.Hands.point()}
	for _, l := range y.Labels {
		p.Labels = append(p.Labels, procedure.Label{Text: l.Text, At: l.At.point()})
	}
	for _, s := range y.Shapes {
		p.Shapes = append(p.Shapes, procedure.Shape{Surface: s.Surface, Path: s.Path, At: s.At.point(), Name: s.Name, Pair: s.Pair})
	}
	return p
}

func (d *document) rowBasis(list string, i int, text string) procedure.Basis {
	return d.basis(fmt.Sprintf("%s.%d.basis", list, i), text)
}

func (d *document) basis(path, text string) procedure.Basis {
	b, err := procedure.ParseBasis(text)
	if err != nil {
		d.fault(path, "%v", err)
	}
	return b
}

func (d *document) acts(path string, lines []string, words action.Words) []action.Act {
	var acts []action.Act
	for i, line := range lines {
		a, err := action.ParseAct(line, words)
		if err != nil {
			d.fault(fmt.Sprintf("%s.%d", path, i), "%v", err)
			continue
		}
		acts = append(acts, a)
	}
	return acts
}
