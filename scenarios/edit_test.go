package scenarios_test

import (
	"encoding/json"
	"errors"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/scenarios"
)

type fields = map[string]string

// edited is the built-in set with edits, loaded.
func edited(t *testing.T, edits ...scenarios.Edit) (*scenarios.Set, *scenarios.Library) {
	t.Helper()
	s, err := scenarios.BuiltIn().With(edits...)
	require.NoError(t, err)
	lib, err := s.Load()
	require.NoError(t, err)
	return s, lib
}

func proced(t *testing.T, lib *scenarios.Library, id string) *procedure.Procedure {
	t.Helper()
	p, ok := lib.Procedure(id)
	require.True(t, ok)
	return p
}

var (
	whole = []string{"between-patients", endOfDay, isolation} // those with the whole machine
	every = append([]string{spill}, whole...)
)

func TestNoEditChangesNothing(t *testing.T) {
	s, err := scenarios.BuiltIn().With()
	require.NoError(t, err)
	require.Equal(t, scenarios.BuiltIn().Hash(), s.Hash())
}

// Only the file of the row is written anew, and says the same but for the field.
func TestARowOfAPartIsChangedForAll(t *testing.T) {
	s, lib := edited(t, scenarios.Edit{Do: "put", List: "surfaces", Row: "front", Fields: fields{"title": "Front: panel, door", "name": "Front", "must_see": "true", "wipe_s": "25", "dries_s": ""}})
	for _, name := range scenarios.BuiltIn().Names() {
		was, _ := scenarios.BuiltIn().File(name)
		is, _ := s.File(name)
		require.Equal(t, name == "machine.parts.yaml", string(was) != string(is), name)
		for line := range strings.Lines(string(was)) {
			if line = strings.TrimSpace(line); strings.HasPrefix(line, "#") {
				require.Contains(t, string(is), line, "comments stay")
			}
		}
	}
	before, err := scenarios.Load()
	require.NoError(t, err)
	for _, id := range every {
		p, was := proced(t, lib, id), proced(t, before, id).Definition
		is := p.Surfaces[p.SurfaceIndex("front")]
		require.Equal(t, "Front: panel, door", is.Title)
		require.Equal(t, "Front", p.NameOf("front"))
		require.True(t, is.MustSee)
		require.Equal(t, 25, is.WipeS)
		was.Surfaces, was.Steps = slices.Clone(was.Surfaces), slices.Clone(was.Steps)
		was.Surfaces[p.SurfaceIndex("front")] = is
		was.Steps[p.StepIndex("wipe-front")].Label = "Wipe the front: panel, door"
		require.Equal(t, was.Surfaces, p.Surfaces, "the others stay, and their order")
		require.Equal(t, was.Steps, p.Steps, "the step is called as what it wipes")
	}
}

func TestWhatIsRenamedIsCalledSoEverywhere(t *testing.T) {
	_, lib := edited(t, scenarios.Edit{Do: "put", List: "surfaces", Row: "keyboard", Fields: fields{"title": "Key pad"}})
	for _, id := range whole {
		p := proced(t, lib, id)
		require.Equal(t, "Wipe screen, buttons and knobs and key pad", p.Steps[p.StepIndex("wipe-controls")].Label)
		require.Equal(t, "Machine keyboard disinfected", builtIn(t, id, nil).MarkSheet.Marks[p.MarkIndex("every-keyboard")].Title)
		require.Equal(t, "Key pad disinfected", p.MarkSheet.Marks[p.MarkIndex("every-keyboard")].Title)
	}
	require.Empty(t, lib.Resting())
}

func TestASurfaceThatIsDropped(t *testing.T) {
	_, lib := edited(t, scenarios.Edit{Do: "drop", List: "surfaces", Row: "screen"})
	for _, id := range whole {
		p := proced(t, lib, id)
		require.Negative(t, p.SurfaceIndex("screen"))
		require.Negative(t, p.MarkIndex("every-screen"))
		require.Negative(t, p.StepIndex("touch-screen"))
		step := p.Steps[p.StepIndex("wipe-controls")]
		require.Len(t, step.Acts, 2)
		require.Equal(t, "Wipe buttons and knobs and machine keyboard", step.Label)
	}
	require.Equal(t, []string{"blood-on-the-screen"}, resting(t, lib, "scenario"), "its story is about the screen")

	s, _ := edited(t, scenarios.Edit{Do: "hide", List: "surfaces", Row: "right"}, scenarios.Edit{Do: "show", List: "surfaces", Row: "right"})
	back, err := s.Load()
	require.NoError(t, err)
	before, err := scenarios.Load()
	require.NoError(t, err)
	for _, id := range every {
		require.Equal(t, proced(t, before, id).Surfaces, proced(t, back, id).Surfaces)
	}
}

func TestASurfaceOfOneProcedure(t *testing.T) {
	_, lib := edited(t, scenarios.Edit{Do: "hide", List: "surfaces", Row: "keyboard", Procedure: endOfDay}, scenarios.Edit{Do: "show", List: "surfaces", Row: "hose", Procedure: isolation})
	require.Empty(t, resting(t, lib, "scenario"))
	for _, id := range every {
		p := proced(t, lib, id)
		require.Equal(t, id == isolation, p.SurfaceIndex("hose") >= 0, id)
		require.Equal(t, id == "between-patients" || id == isolation, p.SurfaceIndex("keyboard") >= 0, id)
	}
	p := proced(t, lib, endOfDay)
	require.Equal(t, "Wipe screen and buttons and knobs", p.Steps[p.StepIndex("wipe-controls")].Label)
	p = proced(t, lib, isolation)
	require.Equal(t, "Wipe screen, buttons and keyboard", p.Steps[p.StepIndex("wipe-controls")].Label)
}

func TestANewSurfaceIsWiped(t *testing.T) {
	_, lib := edited(t,
		scenarios.Edit{Do: "put", List: "surfaces", Row: "handle", Fields: fields{"title": "Handle", "face": "machine left", "thing": "machine", "wipe_s": "6"}},
		scenarios.Edit{Do: "put", List: "surfaces", Row: "foot-rest", Fields: fields{"title": "Foot rest", "face": "chair", "wipe_s": "9", "chair_side": "true"}},
		scenarios.Edit{Do: "put", List: "surfaces", Row: "screen-wall", Fields: fields{"title": "Screen between stations", "face": "screen wall", "wipe_s": "12", "area": "chair-side"}},
	)
	require.Empty(t, resting(t, lib, "scenario"))
	for _, id := range whole {
		p := proced(t, lib, id)
		require.Equal(t, p.SurfaceIndex("left")+1, p.SurfaceIndex("handle"), "it stands behind what is like it")
		step := p.Steps[p.StepIndex("wipe-handle")]
		require.Equal(t, "Wipe the handle", step.Label)
		require.Equal(t, "machine", step.Area)
		require.Equal(t, "chair-side", p.Steps[p.StepIndex("wipe-screen-wall")].Area)
		require.True(t, p.Surfaces[p.SurfaceIndex("foot-rest")].ChairSide)
	}
	p := proced(t, lib, spill)
	require.Negative(t, p.SurfaceIndex("handle"), "a spill does without the left side as well")
	require.Positive(t, p.SurfaceIndex("foot-rest"))
	s, ok := lib.Scenario("ordinary-turnover")
	require.True(t, ok)
	require.Contains(t, s.Model, "wipe left\nwipe handle\n", "with its face")
}

func TestProducts(t *testing.T) {
	_, lib := edited(t,
		scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"label_s": "180", "title": "Our wipe, 3-minute label"}},
		scenarios.Edit{Do: "put", List: "products", Row: "spray", Fields: fields{"title": "Spray, 5-minute label", "level": "intermediate", "label_s": "300", "dries_s": "400", "not_on": "screen, buttons"}},
		scenarios.Edit{Do: "drop", List: "products", Row: "bleach-dilution"},
		scenarios.Edit{Do: "put", List: "scenarios", Row: "against-the-clock", Fields: fields{"product": "spray", "story": "The label asks for 5 minutes.\nGo on.", "title": "Five minutes: wet"}},
	)
	p := proced(t, lib, "between-patients")
	require.Equal(t, 180, p.Products[p.ProductIndex("station-wipe")].LabelS)
	require.Equal(t, []string{"screen", "buttons"}, p.Products[p.ProductIndex("spray")].NotOn)
	require.Positive(t, p.StepIndex("take-spray"))
	require.Negative(t, p.ProductIndex("bleach-dilution"))
	require.Negative(t, p.StepIndex("take-bleach"))
	require.Empty(t, proced(t, lib, spill).Products[0].NotOn)
	require.NotContains(t, resting(t, lib, "scenario"), "against-the-clock", "the screen takes the other product")

	_, lib = edited(t,
		scenarios.Edit{Do: "put", List: "products", Row: "spray", Fields: fields{"title": "Spray", "level": "low", "label_s": "300", "dries_s": "400"}},
		scenarios.Edit{Do: "put", List: "scenarios", Row: "against-the-clock", Fields: fields{"product": "spray", "story": "The label asks for 5 minutes.\nGo on."}},
	)
	require.NotContains(t, resting(t, lib, "scenario"), "against-the-clock")
	s, ok := lib.Scenario("against-the-clock")
	require.True(t, ok)
	require.Equal(t, "The label asks for 5 minutes.\nGo on.", s.Story)
	require.Contains(t, s.Model, "of spray")
}

func TestPairs(t *testing.T) {
	_, lib := edited(t,
		scenarios.Edit{Do: "confirm", List: "order", Row: "wipe-top wipe-front", Fields: fields{"by": "Mara Voss", "on": "2027-01-02"}},
		scenarios.Edit{Do: "drop", List: "order", Row: "bucket-aside wipe-top"},
		scenarios.Edit{Do: "put", List: "order", Row: "wipe-left wipe-right", Fields: fields{"why": "Left to right."}},
		scenarios.Edit{Do: "put", List: "order", Row: "wipe-right wipe-chair", Fields: fields{"why": "From the machine to the chair.", "basis": "common practice"}},
	)
	require.Empty(t, resting(t, lib, "scenario"))
	for _, id := range whole {
		p := proced(t, lib, id)
		pair := func(earlier, later string) *procedure.Pair {
			i := slices.IndexFunc(p.Order, func(o procedure.Pair) bool { return o.Earlier == earlier && o.Later == later })
			if i < 0 {
				return nil
			}
			return &p.Order[i]
		}
		require.Equal(t, procedure.Confirmed{By: "Mara Voss", On: "2027-01-02"}, pair("wipe-top", "wipe-front").Confirmed)
		require.Nil(t, pair("bucket-aside", "wipe-top"))
		require.True(t, pair("wipe-left", "wipe-right").Custom())
		require.Equal(t, procedure.CommonPractice, pair("wipe-right", "wipe-chair").Basis.Kind)
	}
	require.Empty(t, resting(t, lib, "lesson"), "a lesson shows the pairs that there are")
}

func TestMarksSettingsAndClosing(t *testing.T) {
	_, lib := edited(t,
		scenarios.Edit{Do: "put", List: "marks", Row: "order", Fields: fields{"worth": "9", "critical": "true"}},
		scenarios.Edit{Do: "drop", List: "marks", Row: "calm"},
		scenarios.Edit{Do: "confirm", List: "marks", Row: "order", Fields: fields{"by": "Mara Voss", "on": "2027-01-02"}},
		scenarios.Edit{Do: "set", List: "settings", Procedure: endOfDay, Fields: fields{"cut_percent": "85", "wet": "add-up", "patient_free_s": "300", "owner": "Mara Voss"}},
		scenarios.Edit{Do: "put", List: "items", Row: "reusables", Fields: fields{"goes": "soiled-tray, waste-bin"}},
		scenarios.Edit{Do: "drop", List: "closing", Row: "sharps-out"},
		scenarios.Edit{Do: "put", List: "closing", Row: "look", Fields: fields{"why": "Blood that nobody saw dries overnight."}},
		scenarios.Edit{Do: "put", List: "closing", Row: "waste-out", Fields: fields{"why": "Because."}},
		scenarios.Edit{Do: "hide", List: "scenarios", Row: "called-away"},
	)
	p := proced(t, lib, endOfDay)
	require.Equal(t, 85, p.MarkSheet.CutPercent)
	require.True(t, p.Settings.WetAddsUp)
	require.Equal(t, 300, p.Settings.PatientFreeS)
	require.Equal(t, "Mara Voss", p.Owner)
	require.Equal(t, []string{"soiled-tray", "waste-bin"}, p.Items[p.ItemIndex("reusables")].Goes)
	var closing []string
	for _, c := range p.Closing {
		closing = append(closing, c.Step+": "+c.Why)
	}
	require.Contains(t, closing, "look: Blood that nobody saw dries overnight.")
	require.Contains(t, closing, "waste-out: Because.")
	require.NotContains(t, strings.Join(closing, " "), "sharps-out")
	other := proced(t, lib, "between-patients")
	require.Equal(t, 90, other.MarkSheet.CutPercent)
	require.False(t, other.Settings.WetAddsUp)
	for _, id := range every {
		p := proced(t, lib, id)
		m := p.MarkSheet.Marks[p.MarkIndex("order")]
		require.True(t, m.Critical && m.Worth == 9 && m.Confirmed.By == "Mara Voss")
		require.Negative(t, p.MarkIndex("calm"))
	}
	_, there := lib.Scenario("called-away")
	require.False(t, there)
	i := slices.IndexFunc(lib.Resting(), func(r scenarios.Rest) bool { return r.ID == "called-away" })
	require.True(t, lib.Resting()[i].Hidden)

	s, err := scenarios.BuiltIn().With(scenarios.Edit{Do: "hide", List: "scenarios", Row: "called-away"}, scenarios.Edit{Do: "show", List: "scenarios", Row: "called-away"})
	require.NoError(t, err)
	shown, err := s.Load()
	require.NoError(t, err)
	require.Empty(t, shown.Resting())
}

// What the whole of a clinic confirms is what the demo clinic confirmed.
func TestConfirmingATable(t *testing.T) {
	as := fields{"by": "Mara Voss", "on": "2026-09-01"}
	_, lib := edited(t, confirmAll(as)...)
	require.Empty(t, resting(t, lib, "scenario"))
	built, err := scenarios.Load()
	require.NoError(t, err)
	for _, id := range every {
		want, got := proced(t, built.Confirmed(as["by"], as["on"]), id), proced(t, lib, id)
		require.Equal(t, want.Order, got.Order)
		require.Equal(t, want.Closing, got.Closing)
		require.Equal(t, want.MarkSheet.Marks, got.MarkSheet.Marks)
	}
}

func TestEditsAreRefusedAtTheirFields(t *testing.T) {
	for name, c := range map[string]struct {
		edit              scenarios.Edit
		field, text, list string
	}{
		"deed":             {edit: scenarios.Edit{Do: "burn", List: "surfaces", Row: "top"}, text: `"burn" is none of`},
		"list":             {edit: scenarios.Edit{Do: "put", List: "pictures", Row: "top"}, text: `cannot be done in "pictures"`},
		"no row":           {edit: scenarios.Edit{Do: "put", List: "surfaces", Fields: fields{"title": "Shelf"}}, field: "id", text: "say which row"},
		"no row to drop":   {edit: scenarios.Edit{Do: "drop", List: "order"}, field: "id", text: "say which row"},
		"only place":       {edit: scenarios.Edit{Do: "hide", List: "surfaces", Row: "staging"}, list: "items", text: "“Supplies for the turnover” may go only to the staging surface for supplies: say first where else it may go, or that your stations do not have it"},
		"only place, once": {edit: scenarios.Edit{Do: "hide", List: "surfaces", Row: "staging", Procedure: endOfDay}, list: "items", text: "“Supplies for the turnover” may go only to"},
		"bad product":      {edit: scenarios.Edit{Do: "put", List: "products", Row: "A Foam", Fields: fields{"title": "A foam"}}, field: "id", text: "cannot be an id"},
		"deed of list":     {edit: scenarios.Edit{Do: "hide", List: "marks", Row: "order"}, text: `"hide" cannot be done in "marks"`},
		"procedure":        {edit: scenarios.Edit{Do: "set", List: "settings", Procedure: "end-of-the-day"}, text: "nearest: end-of-day"},
		"row":              {edit: scenarios.Edit{Do: "hide", List: "surfaces", Row: "topp"}, text: "nearest: top"},
		"mark":             {edit: scenarios.Edit{Do: "put", List: "marks", Row: "ordre"}, text: "nearest: order"},
		"scenario":         {edit: scenarios.Edit{Do: "hide", List: "scenarios", Row: "programme"}, text: "no scenario"},
		"field":            {edit: scenarios.Edit{Do: "put", List: "surfaces", Row: "top", Fields: fields{"wipes": "4"}}, field: "wipes", text: `unknown field "wipes"`},
		"no number":        {edit: scenarios.Edit{Do: "put", List: "surfaces", Row: "top", Fields: fields{"wipe_s": "long"}}, field: "wipe_s", text: "cannot unmarshal"},
		"label":            {edit: scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"label_s": "0"}}, field: "label_s", text: "0 s is not between"},
		"label, no time":   {edit: scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"label_s": "a while"}}, field: "label_s", text: "3:00, 3 min, 2 min 40 s or 180 s"},
		"label of what":    {edit: scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"label_s": "3"}}, field: "label_s", text: "Write 3 min or 3 s"},
		"claim, no time":   {edit: scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"claims": "used\t2:00\tHIV\n-\tlong\tfungi"}}, field: "claims.1.label_s", text: "3:00, 3 min, 2 min 40 s or 180 s"},
		"claim unused":     {edit: scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"claims": "-\t2:00\tHIV"}}, field: "claims", text: "tick “claimed” at one"},
		"level":            {edit: scenarios.Edit{Do: "put", List: "products", Row: "station-wipe", Fields: fields{"level": "high"}}, field: "level", text: "none of low, intermediate"},
		"title":            {edit: scenarios.Edit{Do: "put", List: "surfaces", Row: "top", Fields: fields{"title": ""}}, field: "title", text: "must not be empty"},
		"short name":       {edit: scenarios.Edit{Do: "put", List: "surfaces", Row: "top", Fields: fields{"name": "The very top of the machine"}}, field: "name", text: "too many for a picture"},
		"name of nothing":  {edit: scenarios.Edit{Do: "put", List: "surfaces", Row: "nothing", Fields: fields{"title": "N", "face": "n", "wipe_s": "4", "name": "N"}}, field: "name", text: "does not show"},
		"new without":      {edit: scenarios.Edit{Do: "put", List: "surfaces", Row: "shelf-top", Fields: fields{"title": "Shelf"}}, field: "face", text: "must not be empty"},
		"new twice":        {edit: scenarios.Edit{Do: "put", List: "surfaces", Row: "station", Fields: fields{"title": "Shelf", "face": "shelf", "wipe_s": "3"}}, field: "id", text: "already names something else"},
		"bad id":           {edit: scenarios.Edit{Do: "put", List: "surfaces", Row: "The Shelf", Fields: fields{"title": "Shelf", "face": "shelf", "wipe_s": "3"}}, field: "id", text: "cannot be an id"},
		"pair of nothing":  {edit: scenarios.Edit{Do: "put", List: "order", Row: "wipe-topp wipe-front"}, field: "earlier", text: "nearest: wipe-top"},
		"no pair":          {edit: scenarios.Edit{Do: "put", List: "order", Row: "wipe-top"}, text: "EARLIER LATER"},
		"no why":           {edit: scenarios.Edit{Do: "put", List: "order", Row: "wipe-left wipe-right"}, field: "why", text: "told why"},
		"confirm by":       {edit: scenarios.Edit{Do: "confirm", List: "order", Row: "wipe-top wipe-front", Fields: fields{"by": "Mara Voss"}}, field: "confirmed", text: "on which day"},
		"goes nowhere":     {edit: scenarios.Edit{Do: "put", List: "items", Row: "reusables", Fields: fields{"goes": ""}}, field: "goes", text: "may go"},
		"goes to nothing":  {edit: scenarios.Edit{Do: "put", List: "items", Row: "reusables", Fields: fields{"goes": "waste-bin, wast"}}, field: "goes.1", text: `unknown place "wast"`},
		"setting":          {edit: scenarios.Edit{Do: "set", List: "settings", Fields: fields{"one_wipe": "hand"}}, field: "one_wipe", text: "none of face"},
		"board":            {edit: scenarios.Edit{Do: "set", List: "settings", Fields: fields{"board": "wheel"}}, field: "board", text: "no form of a board"},
		"cut":              {edit: scenarios.Edit{Do: "set", List: "settings", Fields: fields{"cut_percent": "120"}}, field: "cut_percent", text: "120 is not between"},
		"worth":            {edit: scenarios.Edit{Do: "put", List: "marks", Row: "order", Fields: fields{"worth": "0"}}, field: "worth", text: "0 is not between"},
		"scenario product": {edit: scenarios.Edit{Do: "put", List: "scenarios", Row: "ordinary-turnover", Fields: fields{"product": "soap"}}, field: "product", text: "unknown product"},
		"control":          {edit: scenarios.Edit{Do: "put", List: "surfaces", Row: "top", Fields: fields{"title": "a\x00b"}}, field: "title", text: "no text"},
		"circle":           {edit: scenarios.Edit{Do: "put", List: "order", Row: "wipe-front wipe-top", Fields: fields{"why": "x"}}, list: "settings", field: "order", text: "circle"},
	} {
		t.Run(name, func(t *testing.T) {
			s, err := scenarios.BuiltIn().With(c.edit)
			require.Nil(t, s)
			var faults scenarios.FieldFaults
			require.True(t, errors.As(err, &faults), "%v", err)
			found := slices.ContainsFunc(faults, func(f scenarios.FieldFault) bool {
				list := c.list
				row := f.Row == c.edit.Row
				if list == "" {
					list = c.edit.List
				}
				if list != c.edit.List || list == "settings" { // of another row
					row = true
				}
				return f.List == list && row && f.Field == c.field && strings.Contains(f.Text, c.text)
			})
			require.True(t, found, "%+v", faults)
		})
	}
}

// Whatever somebody types into a field of text stands there as text, or is refused.
func FuzzEditedText(f *testing.F) {
	for _, s := range []string{"a", "true", "1", "null", "~", "a: b", "# no", "}, {id: x", "&a *a", "'\"", "a\nb", "  a ", "|", "- a", "é", "2027-01-02", "!!int 4", "%", "@x", "a\tb", "\u0085", "<<", "\ufeff"} {
		f.Add(s)
	}
	built, err := scenarios.ReadSet(bench(f))
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, s string) {
		edit := scenarios.Edit{Do: "put", List: "surfaces", Row: "top", Fields: fields{"title": s, "wipe_s": s}}
		if _, err := built.With(edit); err == nil {
			require.NotEmpty(t, s)
		}
		edit.Fields = fields{"title": s}
		set, err := built.With(edit)
		if err != nil {
			return
		}
		lib, err := set.Load()
		require.NoError(t, err)
		p, ok := lib.Procedure("bench")
		require.True(t, ok)
		require.Equal(t, s, p.Surfaces[p.SurfaceIndex("top")].Title)
	})
}

func TestEditsAreData(t *testing.T) {
	e := scenarios.Edit{Do: "put", List: "surfaces", Row: "top", Fields: fields{"title": "Top"}}
	text, err := json.Marshal(e)
	require.NoError(t, err)
	require.JSONEq(t, `{"do":"put","list":"surfaces","row":"top","fields":{"title":"Top"}}`, string(text))
}

// Whatever is edited in whatever order: it is refused at fields, or gives a set that loads
// without a fault and goes out and comes back the same.
func TestAnyEditsGiveASetThatLoadsOrAreRefused(t *testing.T) {
	pick := func(r *rand.Rand, from ...string) string { return from[r.IntN(len(from))] }
	edit := func(r *rand.Rand) scenarios.Edit {
		surface := pick(r, "screen", "front", "right", "pole", "chair", "counter", "floor", "hose", "clamps", "bucket-sides", "staging", "new-one", "new-two")
		switch r.IntN(12) {
		case 0, 1:
			return scenarios.Edit{Do: pick(r, "hide", "show"), List: "surfaces", Row: surface, Procedure: pick(r, "", "", endOfDay, spill)}
		case 2, 3:
			return scenarios.Edit{Do: "put", List: "surfaces", Row: pick(r, "new-one", "new-two", "top"), Fields: fields{"title": pick(r, "New", "Newer: one"), "face": pick(r, "machine front", "chair", "new"), "wipe_s": pick(r, "5", "12", "0")}}
		case 4:
			return scenarios.Edit{Do: "put", List: "products", Row: pick(r, "station-wipe", "blood-wipe", "spray"), Fields: fields{"title": "P", "level": pick(r, "low", "intermediate"), "label_s": pick(r, "60", "300", "900"), "dries_s": pick(r, "100", "320"), "not_on": pick(r, "", "screen", "front, hose")}}
		case 5:
			return scenarios.Edit{Do: pick(r, "hide", "show"), List: "products", Row: pick(r, "station-wipe", "blood-wipe", "bleach-dilution", "old-bleach", "spray")}
		case 6:
			return scenarios.Edit{Do: pick(r, "put", "drop"), List: "order", Row: pick(r, "wipe-top wipe-front", "wipe-left wipe-right", "bucket-aside wipe-top", "wipe-front wipe-top"), Fields: nil}
		case 7:
			if r.IntN(2) == 0 {
				return scenarios.Edit{Do: "put", List: "items", Row: pick(r, "pads", "reusables", "lines"), Fields: fields{"title": "Pads", "kind": pick(r, "single-use", "reusable", "circuit", "sharp", "next"), "goes": pick(r, "waste-bin", "soiled-tray", "leakproof-container, waste-bin", "staging", "nowhere")}}
			}
			return scenarios.Edit{Do: pick(r, "hide", "show"), List: pick(r, "items", "places"), Row: pick(r, "reusables", "bucket", "waste-bin", "soiled-tray", "drain")}
		case 8:
			return scenarios.Edit{Do: "confirm", List: pick(r, "order", "marks", "surfaces"), Fields: fields{"by": pick(r, "Mara Voss", ""), "on": "2027-01-02"}}
		case 9:
			return scenarios.Edit{Do: "drop", List: pick(r, "marks", "closing"), Row: pick(r, "calm", "order", "wet", "waste-out", "every-screen")}
		case 10:
			return scenarios.Edit{Do: pick(r, "hide", "show"), List: "scenarios", Row: pick(r, "ordinary-turnover", "against-the-clock", "a-colleagues-hands", "spill-on-the-side-table")}
		}
		return scenarios.Edit{Do: "set", List: "settings", Procedure: pick(r, "", endOfDay), Fields: fields{"one_wipe": pick(r, "face", "thing", "off"), "wet": pick(r, "restart", "add-up"), "patient_free_s": pick(r, "", "300")}}
	}
	refused := 0
	seeds := uint64(2)
	if thorough() {
		seeds = 60
	}
	for seed := range seeds {
		r := rand.New(rand.NewPCG(seed, 11))
		set, done := scenarios.BuiltIn(), []scenarios.Edit{}
		for range 10 {
			e := edit(r)
			next, err := set.With(e)
			var faults scenarios.FieldFaults
			if err != nil {
				require.ErrorAs(t, err, &faults, "%d: %+v after %+v", seed, e, done)
				for _, f := range faults {
					require.NotEmpty(t, f.List, "%+v: %+v", e, f)
				}
				refused++
				continue
			}
			set, done = next, append(done, e)
		}
		lib, err := set.Load()
		require.NoError(t, err, "%d: %+v", seed, done)
		require.NotEmpty(t, lib.Competencies())
		back, err := scenarios.ReadZip(set.Zip())
		require.NoError(t, err)
		require.Equal(t, set.Hash(), back.Hash())
		again, err := scenarios.BuiltIn().With(done...)
		require.NoError(t, err)
		require.Equal(t, set.Hash(), asUsualAs(t, set, again).Hash(), "one after the other or all at once: %d: %+v", seed, done)
	}
	require.Positive(t, refused)
}

// asUsualAs takes the wipes as usual steps that another set has as such. A product that was
// for a while the only one allowed somewhere has its wipe so from then on; where all is
// edited at once there is no such while.
func asUsualAs(t *testing.T, other, set *scenarios.Set) *scenarios.Set {
	t.Helper()
	usual := func(s *scenarios.Set) (steps []string) {
		lib, err := s.Outline()
		require.NoError(t, err)
		p, ok := lib.Procedure("between-patients")
		require.True(t, ok)
		for i := range p.Steps {
			if x := &p.Steps[i]; !x.Seldom && x.Acts[0].Verb == action.TakeWipe {
				steps = append(steps, x.ID)
			}
		}
		return steps
	}
	has := usual(set)
	for _, step := range usual(other) {
		if !slices.Contains(has, step) {
			var err error
			set, err = set.With(scenarios.Edit{Do: "put", List: "steps", Row: step, Fields: fields{"seldom": ""}})
			require.NoError(t, err)
		}
	}
	return set
}
