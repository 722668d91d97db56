package views

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// EditList is a list of the set with its rows.
type EditList struct {
	List, Procedure string
	Rows            []EditRow
	Open            int
	Revision        int
	Waits           int // version that waits to be approved: nothing is changed meanwhile
	Problem         string
	Over            []string               // products whose day has gone by
	Pictures        []*procedure.Procedure // whose pictures stand over the list of surfaces
	Away            []scenarios.Away       // what the set knows and no procedure has
	Rests           []Rest                 // what cannot follow the draft, beside what rested before
}

// mostRestsTold are named where a change was just made.
const mostRestsTold = 6

// EditRow is a row of a list, as a page shows it.
type EditRow struct {
	Row, Procedure, Title, Says, Standing string
	Off, Open                             bool
}

// EditForm is the form of a row.
type EditForm struct {
	List, Row, Procedure string
	New                  bool
	Title                string
	Fields               []EditField
	Revision             int
	Seen                 string // the row as the form shows it, to tell whether it changed since
	Standing             string
	Open, Off            bool
	Problem              string // of no field
	Leads                []Link // to the rows that it is about
	Steps                []Option
	LabelSays            string               // of a product that is to be confirmed
	ReadOn, ReadOnWrong  string               // the day that was given for it, and what is wrong with it
	Over                 []string             // that its day has gone by
	Picture              *procedure.Procedure // in which the surface stands, nil for none
	Aside                string               // what else is to know about the row
	Instead              []Option             // products that may take the place of one
	Done                 []Option             // steps that do something with a thing, or put one in a place
	Answer               []string             // steps of a scenario's right answer
	Rests                string               // why a scenario has none
	Try                  string               // where a scenario is tried, "" where it cannot be
}

// The lists of which a row can go without being lost, and of which it is taken out.
var (
	mayGo         = []string{"scenarios", "variants", "surfaces", "items", "places", "products"}
	mayBeTakenOut = []string{"order", "marks", "closing"}
)

// hasActs reports whether anything can be done with the row besides changing it.
func (e EditForm) hasActs() bool {
	return !e.New && (e.Open || slices.Contains(mayGo, e.List) || slices.Contains(mayBeTakenOut, e.List))
}

// SeenAs is a mark of the row as its form shows it: another one says that somebody changed
// the row in between.
func (e EditForm) SeenAs() string {
	text := fmt.Sprintf("%q %t %t", e.Standing, e.Open, e.Off)
	for _, x := range e.Fields {
		text += fmt.Sprintf(" %q %q", x.Name, x.Value)
	}
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:8])
}

// Option is one to choose from.
type Option struct{ Value, Text string }

// EditField is a field of a row with what is wrong with it.
type EditField struct {
	Name, Label, Hint, Value, Wrong string
	Long                            bool
	Options                         []Option
	Ticks                           []Option       // of which many can be chosen; Value has their values, with commas
	Date                            bool           // a day
	Claims                          bool           // lines of claims, as edits have them
	Basis                           bool           // what a row rests on: a kind, and a source where it is published
	RowWrong                        map[int]string // likewise by line
	timeWrong                       map[int]bool   // of which the time is
}

func (x EditField) id() string { return "field-" + x.Name }

var yesNo = []Option{{"true", "yes"}, {"false", "no"}}

func truth(is bool) string { return either(is, "true", "false") }

func shownSeconds(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func basisText(b procedure.Basis) string {
	if b.Kind == procedure.Published {
		return string(b.Kind) + ": " + b.Source
	}
	return string(b.Kind)
}

func basisField(b procedure.Basis) EditField {
	return EditField{Name: "basis", Label: "Rests on", Value: basisText(b), Basis: true}
}

// basisKinds are what a row can rest on, each with what it says.
var basisKinds = []Option{{string(procedure.Published), "a published source"}, {string(procedure.CommonPractice), "common practice, which no source says"}, {string(procedure.ClinicToConfirm), "the clinic's own, to be confirmed"}}

// gatherBasis brings kind and source under the name of the one field that they are.
func gatherBasis(in map[string]string, name string) {
	kind, there := in["f-"+name+"-kind"]
	if !there {
		return
	}
	in["f-"+name] = kind
	if kind == string(procedure.Published) {
		in["f-"+name] += ": " + strings.TrimSpace(in["f-"+name+"-source"])
	}
}

// basisParts are the kind that a text names, and its source.
func (x EditField) basisParts() (kind, source string) {
	kind, source, _ = strings.Cut(x.Value, ":")
	return strings.TrimSpace(kind), strings.TrimSpace(source)
}

// EditRows are the rows of a list over all procedures, each once, or of one procedure.
func EditRows(list string, all []*procedure.Procedure, scs []*simulate.Scenario, hidden []scenarios.Rest) (rows []EditRow) {
	if list == "scenarios" {
		for _, s := range scs {
			rows = append(rows, EditRow{Row: s.ID, Title: s.Title, Says: kindText(s.Kind)})
		}
		for _, r := range hidden {
			if r.Of == "scenario" {
				rows = append(rows, EditRow{Row: r.ID, Title: r.Title, Says: r.Why, Off: r.Hidden})
			}
		}
		return rows
	}
	for _, p := range all {
		for _, r := range rowsOf(list, p) {
			if !slices.ContainsFunc(rows, func(x EditRow) bool { return x.Row == r.Row && x.Procedure == r.Procedure }) {
				rows = append(rows, r)
			}
		}
	}
	return rows
}

func rowsOf(list string, p *procedure.Procedure) (rows []EditRow) {
	add := func(id, title, says string, b procedure.Basis, c procedure.Confirmed) {
		rows = append(rows, EditRow{Row: id, Title: title, Says: says, Standing: standing(b, c), Open: b.Custom(c)})
	}
	switch list {
	case "surfaces":
		for _, x := range p.Surfaces {
			add(x.ID, x.Title, procedure.Capital(strings.Trim(x.ThingOf()+"; "+procedure.Within(surfaceText(x)), "; ")), x.Basis, x.Confirmed)
		}
	case "products":
		for _, x := range p.Products {
			rows = append(rows, EditRow{Row: x.ID, Title: x.Title, Says: "Contact time " + clock(x.LabelS) + ", stays wet " + clock(x.DriesS) + "; " + procedure.Within(productText(p, x)),
				Standing: labelStanding(x), Open: x.CheckedBy == "" || x.Basis.Custom(x.Confirmed)})
		}
	case "order":
		for _, x := range p.Order {
			add(x.Earlier+" "+x.Later, p.Title(x.Earlier)+", then: "+procedure.Within(p.Title(x.Later)), either(x.Critical, "Critical. ", "")+x.Why, x.Basis, x.Confirmed)
		}
	case "items":
		for _, x := range p.Items {
			add(x.ID, x.Title, itemKindText(x.Kind)+". To: "+titles(p, x.Goes)+either(x.WhenNamed, ". There only in stories that name it", ""), x.Basis, x.Confirmed)
		}
	case "places":
		for _, x := range p.Places {
			add(x.ID, x.Title, placeKindText(x.Kind), x.Basis, x.Confirmed)
		}
	case "closing":
		for _, x := range p.Closing {
			add(x.Step, p.Title(x.Step), x.Why, x.Basis, x.Confirmed)
		}
	case "steps":
		for _, x := range p.Steps {
			rows = append(rows, EditRow{Row: x.ID, Title: x.Label, Says: strconv.Itoa(x.Seconds) + " s"})
		}
	case "marks":
		for _, x := range p.MarkSheet.Marks {
			r := EditRow{Row: x.ID, Title: x.Title, Says: "Worth " + strconv.Itoa(x.Worth) + either(x.Critical, ", critical", "")}
			if x.Confirmed.By != "" {
				r.Standing = standing(procedure.Basis{}, x.Confirmed)
			}
			rows = append(rows, r)
		}
	case "settings":
		rows = append(rows, EditRow{Row: p.ID, Procedure: p.ID, Title: p.Definition.Title, Says: fmt.Sprintf("Passes with %d %%; review by %s", p.MarkSheet.CutPercent, day(training.Day(p.ReviewBy))),
			Standing: standing(p.Settings.Basis, p.Settings.Confirmed), Open: p.Settings.Basis.Custom(p.Settings.Confirmed)})
	}
	return rows
}

// FieldsOf are the fields of a row as they stand; ok is false when there is no such row.
func FieldsOf(list, row string, all []*procedure.Procedure) (title string, fields []EditField, ok bool) {
	for _, p := range all {
		if title, fields, ok = fieldsOf(list, row, p); ok {
			return title, fields, true
		}
	}
	return "", nil, false
}

// ScenarioFields are those of a scenario: its words, and the product on its shelf.
func ScenarioFields(x scenarios.Told, all []*procedure.Procedure) []EditField {
	fields := []EditField{{Name: "title", Label: "Title", Value: x.Title},
		{Name: "story", Label: "Story", Hint: "{label time} and {product} stand for those of the product on the shelf; other names in curly brackets for what varies from try to try.", Value: x.Story, Long: true}}
	if x.Product != "" {
		field := EditField{Name: "product", Label: "Product on the shelf", Value: x.Product, Options: products(all)}
		if !slices.ContainsFunc(field.Options, func(o Option) bool { return o.Value == x.Product }) {
			field.Options = append([]Option{{x.Product, x.Product + ", which your stations do not have"}}, field.Options...)
		}
		fields = append(fields, field)
	}
	return append(fields, EditField{Name: "teaches", Label: "What it teaches", Value: x.Teaches, Long: true})
}

// Instead are the products that there are besides one.
func Instead(all []*procedure.Procedure, row string) []Option {
	return slices.DeleteFunc(products(all), func(o Option) bool { return o.Value == row })
}

func products(all []*procedure.Procedure) []Option {
	return eachOnce(all, func(p *procedure.Procedure) []procedure.Product { return p.Products }, func(x procedure.Product) Option { return Option{x.ID, x.Title} })
}

// eachOnce are options of the rows that procedures have, each once; one without a value is
// none.
func eachOnce[Row any](all []*procedure.Procedure, rows func(*procedure.Procedure) []Row, option func(Row) Option) (options []Option) {
	for _, p := range all {
		for _, row := range rows(p) {
			if o := option(row); o.Value != "" && !slices.Contains(options, o) {
				options = append(options, o)
			}
		}
	}
	return options
}

// StepOptions are the steps to choose a pair from, by their words.
func StepOptions(all []*procedure.Procedure) []Option {
	options := eachOnce(all, func(p *procedure.Procedure) []procedure.Step { return p.Steps }, func(x procedure.Step) Option { return Option{x.ID, x.Label} })
	slices.SortFunc(options, func(x, y Option) int { return strings.Compare(x.Text, y.Text) })
	return options
}

func surfacesOf(p *procedure.Procedure) []procedure.Surface { return p.Surfaces }

func fieldsOf(list, row string, p *procedure.Procedure) (title string, fields []EditField, ok bool) {
	switch list {
	case "surfaces":
		if i := p.SurfaceIndex(row); i >= 0 {
			return p.Surfaces[i].Title, surfaceFields(p.Surfaces[i]), true
		}
	case "products":
		if i := p.ProductIndex(row); i >= 0 {
			return p.Products[i].Title, labelFields(p.Products[i]), true
		}
	case "items":
		if i := p.ItemIndex(row); i >= 0 {
			x := p.Items[i]
			return x.Title, itemFields(x), true
		}
	case "places":
		if i := p.PlaceIndex(row); i >= 0 {
			x := p.Places[i]
			return x.Title, placeFields(x), true
		}
	case "steps":
		if i := p.StepIndex(row); i >= 0 {
			x := p.Steps[i]
			return x.Label, []EditField{{Name: "label", Label: "Words on the button", Value: x.Label}, {Name: "short", Label: "Fewer words, for the board that is tapped on", Value: x.Short}, {Name: "seconds", Label: "Seconds it takes in a run", Value: strconv.Itoa(x.Seconds)},
				{Name: "seldom", Label: "Done now and then", Value: truth(x.Seldom), Options: yesNo}}, true
		}
	case "order":
		for _, x := range p.Order {
			if x.Earlier+" "+x.Later == row {
				return p.Title(x.Earlier) + ", then: " + procedure.Within(p.Title(x.Later)), []EditField{{Name: "why", Label: "Why", Value: x.Why, Long: true},
					criticalField(x.Critical), basisField(x.Basis)}, true
			}
		}
	case "closing":
		for _, x := range p.Closing {
			if x.Step == row {
				return p.Title(x.Step), []EditField{{Name: "why", Label: "Why", Value: x.Why, Long: true}, basisField(x.Basis)}, true
			}
		}
	case "marks":
		if i := p.MarkIndex(row); i >= 0 {
			x := p.MarkSheet.Marks[i]
			return x.Title, []EditField{{Name: "title", Label: "Name", Value: x.Title}, {Name: "worth", Label: "Worth", Value: strconv.Itoa(x.Worth)},
				{Name: "critical", Label: "Critical", Hint: "One miss, and the whole is not passed.", Value: truth(x.Critical), Options: yesNo}}, true
		}
	case "settings":
		if p.ID == row {
			return p.Definition.Title, settingFields(p), true
		}
	}
	return "", nil, false
}

// criticalField is that of a pair.
func criticalField(is bool) EditField {
	return EditField{Name: "critical", Label: "Critical", Hint: "Broken once, and the whole is not passed. A pair that rests on no published source has to be confirmed first.", Value: truth(is), Options: yesNo}
}

// OwnFace is chosen for a surface that is a side of its own, which then has its name.
const OwnFace = "a side of its own"

// faceOptions are the sides that there are, and one of its own.
func faceOptions(all []*procedure.Procedure, own bool) []Option {
	options := eachOnce(all, surfacesOf, func(s procedure.Surface) Option { return Option{s.Face, procedure.Capital(s.Face)} })
	if own {
		options = append(options, Option{OwnFace, OwnFace})
	}
	return options
}

func thingOptions(all []*procedure.Procedure) []Option {
	return eachOnce(all, surfacesOf, func(s procedure.Surface) Option { return Option{s.ThingOf(), procedure.Capital(s.ThingOf())} })
}

func surfaceFields(x procedure.Surface) []EditField {
	return []EditField{
		{Name: "title", Label: "Name", Value: x.Title}, {Name: "face", Label: "Side it belongs to", Hint: "Surfaces of one side may share a wipe.", Value: x.Face},
		{Name: "thing", Label: "Thing the side is of", Value: x.Thing},
		{Name: "must_see", Label: "A watcher must see it wet for its time", Value: truth(x.MustSee), Options: yesNo},
		{Name: "chair_side", Label: "Within reach of the chair", Value: truth(x.ChairSide), Options: yesNo}, {Name: "high_touch", Label: "Often touched", Value: truth(x.HighTouch), Options: yesNo},
		{Name: "wipe_s", Label: "Seconds one wipe takes", Value: shownSeconds(x.WipeS)}, {Name: "dries_s", Label: "Dries after seconds", Hint: "Empty: as the product's row says.", Value: shownSeconds(x.DriesS)},
		basisField(x.Basis),
	}
}

func settingFields(p *procedure.Procedure) []EditField {
	s := p.Settings
	return []EditField{
		{Name: "title", Label: "Name of the procedure", Value: p.Definition.Title}, {Name: "owner", Label: "Owner", Value: p.Owner}, {Name: "review_by", Label: "Review by", Date: true, Value: p.ReviewBy},
		{Name: "version", Label: "Your version", Value: p.Version}, {Name: "cut_percent", Label: "Lowest score that passes, in percent", Value: strconv.Itoa(p.MarkSheet.CutPercent)},
		{Name: "wet", Label: "A dry gap", Value: either(s.WetAddsUp, "add-up", "restart"), Options: []Option{{"restart", "starts the contact time anew"}, {"add-up", "wet times add up over it"}}},
		{Name: "one_wipe", Label: "One wipe", Value: string(s.OneWipe), Options: []Option{{"", "a fresh one for each side is advised"}, {"face", "a fresh one for each side is asked"}, {"thing", "a fresh one for each thing is asked"}, {"off", "not judged"}}},
		{Name: "hands", Label: "Hands", Value: string(s.Hands), Options: []Option{{"", "CDC: rub 20 s, wash 15 s"}, {"who", "WHO: rub 20 s, wash 40 s"}}},
		{Name: "staging_with_patient", Label: "Staging surface while the patient is there", Value: truth(s.StagingWithPatient), Options: yesNo},
		{Name: "patient_free_s", Label: "Seconds between patients", Hint: "Empty: not asked.", Value: shownSeconds(s.PatientFreeS)},
		{Name: "see_one_face_of", Label: "Who watches must see one whole side wet of", Value: s.SeeOneFaceOf, Options: append([]Option{{"", "nothing: only what its own row says"}}, thingOptions([]*procedure.Procedure{p})...)},
		{Name: "board", Label: "Boards of recorder and run", Hint: "A group of the list shows at most 19 tiles at a time, those of hands and wipes among them.", Value: string(s.Board), Options: []Option{{"", "the picture of the station"}, {string(procedure.ListBoard), "a list, in groups by area"}}},
		basisField(s.Basis),
	}
}

// NewFields are those of a row that is not there yet.
func NewFields(list string) []EditField {
	switch list {
	case "surfaces":
		return surfaceFields(procedure.Surface{WipeS: 10, Basis: procedure.Basis{Kind: procedure.ClinicToConfirm}})
	case "products":
		return labelFields(procedure.Product{Level: procedure.LowLevel, Basis: procedure.Basis{Kind: procedure.ClinicToConfirm}})
	case "items":
		return itemFields(procedure.Item{Kind: procedure.SingleUse, Basis: procedure.Basis{Kind: procedure.ClinicToConfirm}})
	case "places":
		return placeFields(procedure.Place{Kind: procedure.Waste, Basis: procedure.Basis{Kind: procedure.ClinicToConfirm}})
	case "variants":
		return []EditField{}
	case "order":
		return []EditField{{Name: "earlier", Label: "First"}, {Name: "later", Label: "Then"}, {Name: "why", Label: "Why", Long: true}, criticalField(false), basisField(procedure.Basis{Kind: procedure.ClinicToConfirm})}
	}
	return nil
}

// NewTitle heads the form of a row that is not there yet.
func NewTitle(list string) string {
	return map[string]string{"surfaces": "A new surface", "items": "A new thing", "places": "A new place", "products": "A new product", "variants": "A station of another kind", "order": "A new pair of steps"}[list]
}

// NewIn reports whether rows can be added to a list here.
func NewIn(list string) bool { return NewFields(list) != nil }

// confirmLead says what it means to confirm a whole table.
func (l EditList) confirmLead() string {
	text := "Every row here that rests on custom or is a starting point becomes your clinic's own, under your name and today's date."
	if l.List == "order" || l.List == "marks" || l.List == "closing" {
		text += " What was advice is a demand from then on: who does otherwise has a breach."
	}
	return text
}

func (l EditList) lead() string {
	if l.Waits > 0 {
		return fmt.Sprintf("Version %d waits to be approved; nothing is changed meanwhile.", l.Waits)
	}
	for _, x := range listTitles {
		if x.List == l.List {
			return x.About
		}
	}
	return ""
}
