package procedure_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

var rules = []string{"wet-long-enough", "declared-order"}

// small is a procedure with everything in it once.
func small() procedure.Definition {
	return procedure.Definition{
		ID: "bench", Title: "Bench", Version: "1", Owner: "Nobody", ReviewBy: "2030-01-01",
		Surfaces: []procedure.Surface{{ID: "top", Title: "Top", Face: "top", Role: procedure.StationSurface, WipeS: 5}},
		Items:    []procedure.Item{{ID: "rag", Title: "Rag", Kind: procedure.SingleUse, Goes: []string{"bin"}}},
		Places:   []procedure.Place{{ID: "bin", Title: "Bin", Kind: procedure.Waste}},
		Products: []procedure.Product{{ID: "soap", Title: "Soap", Level: procedure.LowLevel, LabelS: 60, DriesS: 90}},
		Steps: []procedure.Step{
			{ID: "take", Label: "Take", Area: "all", Acts: procedure.Acts{{Verb: action.TakeWipe, With: "w", Of: procedure.Shelf, At: action.Untimed}}},
			{ID: "wipe", Label: "Wipe", Area: "all", Acts: procedure.Acts{{Verb: action.Wipe, Object: "top", At: action.Untimed}}},
		},
		Order:     []procedure.Pair{{Earlier: "take", Later: "wipe", Why: "so"}},
		MarkSheet: procedure.MarkSheet{CutPercent: 80, Marks: []procedure.Mark{{ID: "wet", Title: "Wet", Rule: "wet-long-enough", Worth: 1}}},
		Begins:    procedure.NobodyThere, Station: "bench", Work: "cleaning", Areas: []procedure.Area{{ID: "all", Title: "All"}},
		Picture: procedure.Picture{Width: 200, Height: 200, Shapes: []procedure.Shape{{Surface: "top", Path: "M0 0h9v9z", At: procedure.Point{X: 5, Y: 5}}}},
	}
}

func made(t testing.TB, d procedure.Definition) *procedure.Procedure {
	t.Helper()
	p, faults := procedure.New(d, rules)
	require.Empty(t, faults)
	return p
}

func TestAStoredProcedureIsTheSame(t *testing.T) {
	p := made(t, small())
	sum := sha256.Sum256(p.Text)
	require.Equal(t, hex.EncodeToString(sum[:]), p.Hash, "the hash is that of the stored bytes")
	again, faults := procedure.Stored(p.Text)
	require.Empty(t, faults)
	require.Equal(t, p, again)
	require.Contains(t, string(p.Text), `"take wipe w of shelf"`, "acts are kept as lines, whatever number a verb has")
}

// The bytes that the first records cite, kept as version 1 made them.
func TestAProcedureOfVersion1IsRead(t *testing.T) {
	text, err := os.ReadFile("../../testdata/upgrades/schema-2/between-patients.procedure.json")
	require.NoError(t, err)
	p, faults := procedure.Stored(text)
	require.Empty(t, faults)
	require.Equal(t, "a67341288d97bbeeaf4476dd951c5fca15a0ff09ecdb5fef19d743ed542882b8", p.Hash, "as the records of that time cite it")
	require.Equal(t, procedure.PatientThere, p.Begins)
	require.Equal(t, "station", p.Station)
	require.Len(t, p.Areas, 7)
	lines := map[string]string{}
	for _, s := range p.Steps {
		var all []string
		for i := range s.Acts {
			all = append(all, s.Acts[i].Text())
		}
		lines[s.ID] = strings.Join(all, "; ")
	}
	// Read off the procedure's file of that time; what a wipe was taken of was the
	// product at hand, whatever the step said.
	for id, want := range map[string]string{
		"rub-hands": "rub hands 20s", "lines-off": "take off lines; take off dialyzer", "wait": "wait", "declare-ready": "declare ready",
		"bucket-empty": "empty bucket in drain", "blood-front": "blood on front", "fresh-wipe": "take wipe w of shelf", "look": "look at station",
	} {
		require.Equal(t, want, lines[id], id)
	}
	for _, s := range p.Surfaces {
		_, drawn := p.ShapeOf(s.ID)
		require.True(t, drawn, "version 1 drew %s", s.ID)
	}
}

func TestWhatANewerProgramWroteIsRefusedNotDropped(t *testing.T) {
	p := made(t, small())
	for name, text := range map[string]string{
		"unknown field": strings.Replace(string(p.Text), `"Title":"Bench"`, `"Title":"Bench","Colour":"red"`, 1),
		"two things":    string(p.Text) + "{}",
		"unknown verb":  strings.Replace(string(p.Text), `"wipe top"`, `"polish top"`, 1),
		"nothing":       "",
		"huge":          `{"ID":"` + strings.Repeat("a", procedure.MaxText) + `"}`,
	} {
		_, faults := procedure.Stored([]byte(text))
		require.NotEmpty(t, faults, name)
	}
}

// What was in force can be read, also when a rule of its mark sheet is gone and
// a check has become stricter.
func TestAKeptProcedureNeedsNoRuleOfToday(t *testing.T) {
	p := made(t, small())
	text := strings.ReplaceAll(string(p.Text), "wet-long-enough", "a-rule-that-is-gone")
	text = strings.Replace(text, `"Label":"Take"`, `"Label":""`, 1)
	kept, faults := procedure.Stored([]byte(text))
	require.Empty(t, faults)
	require.True(t, kept.Judged("a-rule-that-is-gone"))
}

// A definition that says something of what came after version 1 has to say all.
func TestHalfANewDefinitionIsNoOldOne(t *testing.T) {
	d := small()
	d.Areas = nil
	_, faults := procedure.New(d, rules)
	var paths []string
	for _, f := range faults {
		paths = append(paths, f.Path)
	}
	require.Subset(t, paths, []string{"areas", "steps.0.area"})
}

func TestFaultsLeadToTheirPlace(t *testing.T) {
	for path, spoil := range map[string]func(*procedure.Definition){
		"areas.0.title":              func(d *procedure.Definition) { d.Areas[0].Title = " " },
		"steps.1.area":               func(d *procedure.Definition) { d.Steps[1].Area = "al" },
		"begins":                     func(d *procedure.Definition) { d.Begins = "somebody there" },
		"station":                    func(d *procedure.Definition) { d.Station = "" },
		"work":                       func(d *procedure.Definition) { d.Work = "" },
		"products.0.id":              func(d *procedure.Definition) { d.Products[0].ID = procedure.Shelf },
		"picture.shapes.0.path":      func(d *procedure.Definition) { d.Picture.Shapes[0].Path = `M0 0"/><script>` },
		"picture.shapes.0.surface":   func(d *procedure.Definition) { d.Picture.Shapes[0].Surface = "tip" },
		"picture.shapes.0.name":      func(d *procedure.Definition) { d.Picture.Shapes[0].Name = "a name that is longer than a picture" },
		"picture.shapes.0.pair":      func(d *procedure.Definition) { d.Picture.Shapes[0].Pair = "bench" },
		"picture.shapes.0.at":        func(d *procedure.Definition) { d.Picture.Shapes[0].At.X = 201 },
		"picture.width":              func(d *procedure.Definition) { d.Picture.Width = 20 },
		"review_by":                  func(d *procedure.Definition) { d.ReviewBy = "some day" },
		"order.0.why":                func(d *procedure.Definition) { d.Order[0].Why = "" },
		"mark_sheet.marks.0.title":   func(d *procedure.Definition) { d.MarkSheet.Marks[0].Title = "" },
		"items.0.title":              func(d *procedure.Definition) { d.Items[0].Title = "" },
		"steps":                      func(d *procedure.Definition) { d.Steps = nil; d.Order = nil },
		"order.0.later":              func(d *procedure.Definition) { d.Order[0].Later = "wip" },
		"mark_sheet.marks.0.surface": func(d *procedure.Definition) { d.MarkSheet.Marks[0].Surface = "side" },
	} {
		d := small()
		spoil(&d)
		p, faults := procedure.New(d, rules)
		require.Nil(t, p, path)
		var paths []string
		for _, f := range faults {
			paths = append(paths, f.Path)
			require.NotEmpty(t, f.Text)
		}
		require.Contains(t, paths, path)
	}
}

// The caps are stated and told; up to them everything works.
func TestCapsAreTold(t *testing.T) {
	full := func(surfaces, items, steps int) procedure.Definition {
		d := small()
		for i := len(d.Surfaces); i < surfaces; i++ {
			d.Surfaces = append(d.Surfaces, procedure.Surface{ID: fmt.Sprintf("s%d", i), Title: "S", Face: "f", Role: procedure.StationSurface, WipeS: 1})
		}
		for i := len(d.Items); i < items; i++ {
			d.Items = append(d.Items, procedure.Item{ID: fmt.Sprintf("i%d", i), Title: "I", Kind: procedure.SingleUse, Goes: []string{"bin"}})
		}
		for i := len(d.Steps); i < steps; i++ {
			d.Steps = append(d.Steps, procedure.Step{ID: fmt.Sprintf("p%d", i), Label: "P", Area: "all", Acts: procedure.Acts{{Verb: action.Touch, Object: "top", At: action.Untimed}}})
		}
		return d
	}
	p := made(t, full(48, 32, 128))
	require.Len(t, p.Surfaces, 48)
	parts := p.PartsOf(&action.Act{Verb: action.Touch, Object: "top"})
	require.Len(t, parts, 126)
	require.Equal(t, procedure.StepPart{Step: 2}, parts[0])
	require.Equal(t, procedure.StepPart{Step: 127}, parts[125])
	for want, d := range map[string]procedure.Definition{
		"surfaces: 49 are too many; the limit is 48": full(49, 32, 128),
		"items: 33 are too many; the limit is 32":    full(48, 33, 128),
		"steps: 129 are too many; the limit is 128":  full(48, 32, 129),
	} {
		_, faults := procedure.New(d, rules)
		require.Len(t, faults, 1)
		require.Equal(t, want, faults[0].Error())
	}
}

func TestTheShelfIsResolved(t *testing.T) {
	take := action.Act{Verb: action.TakeWipe, With: "w", Of: procedure.Shelf}
	require.Equal(t, "soap", procedure.OnShelf(take, "soap").Of)
	take.Of = "spirit"
	require.Equal(t, "spirit", procedure.OnShelf(take, "soap").Of, "a step that names its product takes that one")
	_, err := action.ParseAct("take wipe w of shelf", made(t, small()).Words)
	require.ErrorContains(t, err, `unknown product "shelf"`, "a log says which product it was")
}

func TestTitlesInSentences(t *testing.T) {
	for title, want := range map[string]string{"Machine top": "machine top", "Écran": "écran", "": "", "ß": "ß", "\xff": "\xff"} {
		require.Equal(t, want, procedure.Within(title))
	}
}

func FuzzStored(f *testing.F) {
	p, _ := procedure.New(small(), rules)
	f.Add(p.Text)
	old, err := os.ReadFile("../../testdata/upgrades/schema-2/between-patients.procedure.json")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(old)
	f.Fuzz(func(t *testing.T, text []byte) {
		p, faults := procedure.Stored(text)
		require.True(t, (p == nil) == (len(faults) > 0), "either a procedure or faults")
	})
}
