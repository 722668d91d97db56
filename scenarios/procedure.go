package scenarios

import (
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
)

// The shape of a procedure file. Fields are those of package procedure.
type procedureYAML struct {
	ID        string        `yaml:"id"`
	Title     string        `yaml:"title"`
	Version   string        `yaml:"version"`
	Owner     string        `yaml:"owner"`
	ReviewBy  string        `yaml:"review_by"`
	Settings  settingsYAML  `yaml:"settings"`
	Surfaces  []surfaceYAML `yaml:"surfaces"`
	Items     []itemYAML    `yaml:"items"`
	Places    []placeYAML   `yaml:"places"`
	Products  []productYAML `yaml:"products"`
	Steps     []stepYAML    `yaml:"steps"`
	Order     []pairYAML    `yaml:"order"`
	MarkSheet sheetYAML     `yaml:"mark_sheet"`
	Begins    string        `yaml:"begins"`
	Station   string        `yaml:"station"`
	Work      string        `yaml:"work"`
	Areas     []areaYAML    `yaml:"areas"`
	Picture   pictureYAML   `yaml:"picture"`
}

type settingsYAML struct {
	Wet                string `yaml:"wet"`
	StagingWithPatient bool   `yaml:"staging_with_patient"`
	Basis              string `yaml:"basis"`
}

type sheetYAML struct {
	CutPercent int        `yaml:"cut_percent"`
	Basis      string     `yaml:"basis"`
	Marks      []markYAML `yaml:"marks"`
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
	Path    string    `yaml:"path"`
	At      pointYAML `yaml:"at"`
}

// pointYAML is a place, from the left and from the top.
type pointYAML [2]int

func (p pointYAML) point() procedure.Point { return procedure.Point{X: p[0], Y: p[1]} }

type surfaceYAML struct {
	ID        string `yaml:"id"`
	Title     string `yaml:"title"`
	Face      string `yaml:"face"`
	Role      string `yaml:"role"`
	HighTouch bool   `yaml:"high_touch"`
	WipeS     int    `yaml:"wipe_s"`
	DriesS    int    `yaml:"dries_s"`
	Basis     string `yaml:"basis"`
}

type itemYAML struct {
	ID    string   `yaml:"id"`
	Title string   `yaml:"title"`
	Kind  string   `yaml:"kind"`
	Goes  []string `yaml:"goes"`
	Basis string   `yaml:"basis"`
}

type placeYAML struct {
	ID    string `yaml:"id"`
	Title string `yaml:"title"`
	Kind  string `yaml:"kind"`
	Basis string `yaml:"basis"`
}

type productYAML struct {
	ID     string `yaml:"id"`
	Title  string `yaml:"title"`
	Level  string `yaml:"level"`
	LabelS int    `yaml:"label_s"`
	DriesS int    `yaml:"dries_s"`
	Basis  string `yaml:"basis"`
}

type stepYAML struct {
	ID      string   `yaml:"id"`
	Label   string   `yaml:"label"`
	Area    string   `yaml:"area"`
	Acts    []string `yaml:"acts"`
	Seconds int      `yaml:"seconds"`
}

type pairYAML struct {
	Earlier string `yaml:"earlier"`
	Later   string `yaml:"later"`
	Why     string `yaml:"why"`
	Basis   string `yaml:"basis"`
}

type markYAML struct {
	ID       string `yaml:"id"`
	Title    string `yaml:"title"`
	Rule     string `yaml:"rule"`
	Surface  string `yaml:"surface"`
	Worth    int    `yaml:"worth"`
	Critical bool   `yaml:"critical"`
}

// ReadProcedure reads a procedure file; all faults at once.
func ReadProcedure(file string, text []byte) (*procedure.Procedure, []error) {
	var y procedureYAML
	d, ok := read(file, text, &y)
	if !ok {
		return nil, d.faults
	}
	def := y.definition(d)
	p, faults := procedure.New(def, rules.Names())
	for _, f := range faults {
		d.fault(f.Path, "%s", f.Text)
	}
	marksOfSurfaces(d, def.MarkSheet.Marks)
	if len(d.faults) > 0 {
		return nil, d.faults
	}
	return p, nil
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
	def := procedure.Definition{ID: y.ID, Title: y.Title, Version: y.Version, Owner: y.Owner, ReviewBy: y.ReviewBy}
	def.Settings = procedure.Settings{
		WetAddsUp: y.Settings.Wet == "add-up", StagingWithPatient: y.Settings.StagingWithPatient, Basis: d.basis("settings.basis", y.Settings.Basis),
	}
	if y.Settings.Wet != "add-up" && y.Settings.Wet != "restart" {
		d.fault("settings.wet", "%q is none of restart, add-up", y.Settings.Wet)
	}
	for i, s := range y.Surfaces {
		def.Surfaces = append(def.Surfaces, procedure.Surface{ID: s.ID, Title: s.Title, Face: s.Face, Role: procedure.Role(s.Role),
			HighTouch: s.HighTouch, WipeS: s.WipeS, DriesS: s.DriesS, Basis: d.rowBasis("surfaces", i, s.Basis)})
	}
	for i, it := range y.Items {
		def.Items = append(def.Items, procedure.Item{ID: it.ID, Title: it.Title, Kind: procedure.ItemKind(it.Kind), Goes: it.Goes,
			Basis: d.rowBasis("items", i, it.Basis)})
	}
	for i, pl := range y.Places {
		def.Places = append(def.Places, procedure.Place{ID: pl.ID, Title: pl.Title, Kind: procedure.PlaceKind(pl.Kind), Basis: d.rowBasis("places", i, pl.Basis)})
	}
	for i, pr := range y.Products {
		def.Products = append(def.Products, procedure.Product{ID: pr.ID, Title: pr.Title, Level: procedure.Level(pr.Level),
			LabelS: pr.LabelS, DriesS: pr.DriesS, Basis: d.rowBasis("products", i, pr.Basis)})
	}
	for i, s := range y.Steps {
		def.Steps = append(def.Steps, procedure.Step{ID: s.ID, Label: s.Label, Area: s.Area, Seconds: s.Seconds,
			Acts: d.acts(fmt.Sprintf("steps.%d.acts", i), s.Acts, nil)})
	}
	for i, o := range y.Order {
		def.Order = append(def.Order, procedure.Pair{Earlier: o.Earlier, Later: o.Later, Why: o.Why, Basis: d.rowBasis("order", i, o.Basis)})
	}
	def.MarkSheet = procedure.MarkSheet{CutPercent: y.MarkSheet.CutPercent, Basis: d.basis("mark_sheet.basis", y.MarkSheet.Basis)}
	for _, m := range y.MarkSheet.Marks {
		def.MarkSheet.Marks = append(def.MarkSheet.Marks, procedure.Mark{ID: m.ID, Title: m.Title, Rule: m.Rule, Surface: m.Surface, Worth: m.Worth, Critical: m.Critical})
	}
	def.Begins, def.Station, def.Work = procedure.Begin(y.Begins), y.Station, y.Work
	for _, a := range y.Areas {
		def.Areas = append(def.Areas, procedure.Area{ID: a.ID, Title: a.Title})
	}
	def.Picture = y.Picture.picture()
	return def
}

func (y *pictureYAML) picture() procedure.Picture {
	p := procedure.Picture{Width: y.Width, Height: y.Height, Floor: y.Floor, Hands: y.Hands.point()}
	for _, l := range y.Labels {
		p.Labels = append(p.Labels, procedure.Label{Text: l.Text, At: l.At.point()})
	}
	for _, s := range y.Shapes {
		p.Shapes = append(p.Shapes, procedure.Shape{Surface: s.Surface, Path: s.Path, At: s.At.point()})
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
