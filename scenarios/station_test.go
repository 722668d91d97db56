package scenarios_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

const turnover = "between-patients"

var bed = scenarios.Edit{Do: "put", List: "variants", Row: "at-a-bed", Procedure: turnover, Fields: fields{"title": "Bed", "without": "chair, keyboard"}}

// A bed has what the chair's station has, but for what it does without: steps, marks and
// shapes go with it, settings and marks stay those of the work.
func TestAVariantIsTheSameWorkAtAnotherStation(t *testing.T) {
	set, lib := edited(t, bed)
	require.Empty(t, resting(t, lib, "scenario"))
	base, p := proced(t, lib, turnover), proced(t, lib, "at-a-bed")
	require.Equal(t, "Bed", p.Variant)
	require.Equal(t, turnover, p.VariantOf)
	require.Equal(t, base.Definition.Title+": Bed", p.Definition.Title)
	require.Equal(t, base.Settings, p.Settings)
	var want []string
	for _, s := range base.Surfaces {
		if s.ID != "chair" && s.ID != "keyboard" {
			want = append(want, s.ID)
		}
	}
	require.Equal(t, want, surfaces(p))
	require.Negative(t, p.StepIndex("wipe-chair"))
	require.Negative(t, p.MarkIndex("every-keyboard"))
	require.Equal(t, "Wipe screen and buttons and knobs", p.Steps[p.StepIndex("wipe-controls")].Label)
	require.Equal(t, "Wipe screen, buttons and keyboard", base.Steps[base.StepIndex("wipe-controls")].Label)
	for _, s := range p.Picture.Shapes {
		require.NotEmpty(t, s.Surface, "what it does without is no scenery either")
	}
	names := func(p *procedure.Procedure) (all []string) {
		for _, l := range p.Picture.Labels {
			all = append(all, l.Text)
		}
		return all
	}
	require.Contains(t, names(base), "Chair")
	require.NotContains(t, names(p), "Chair")
	require.Contains(t, names(p), "Machine")
	require.Len(t, p.Picture.Shapes, len(base.Picture.Shapes)-2)
	before, err := scenarios.Load()
	require.NoError(t, err)
	require.Equal(t, proced(t, before, turnover).Hash, base.Hash, "the usual station is as it was")
	for _, c := range lib.Competencies() {
		require.Equal(t, c.Procedure == turnover, slices.Equal(c.Variants, []string{"at-a-bed"}), c.ID)
		require.False(t, c.EachVariant)
	}
	require.Equal(t, []scenarios.StationVariant{{ID: "at-a-bed", Of: turnover, Title: "Bed", Without: []string{"chair", "keyboard"}}}, set.StationVariants())
}

// What is changed later of the work is changed at every station, and what is of one station
// is there alone.
func TestAVariantFollowsTheWork(t *testing.T) {
	_, lib := edited(t, bed,
		scenarios.Edit{Do: "put", List: "surfaces", Row: "screen", Fields: fields{"title": "Display"}},
		scenarios.Edit{Do: "set", List: "settings", Fields: fields{"cut_percent": "80"}},
		scenarios.Edit{Do: "put", List: "order", Row: "wipe-left wipe-right", Fields: fields{"why": "Left to right."}},
		scenarios.Edit{Do: "put", List: "surfaces", Row: "bed-rails", Procedure: "at-a-bed", Fields: fields{"title": "Bed rails", "face": "bed", "wipe_s": "20", "area": "chair-side"}},
		scenarios.Edit{Do: "put", List: "variants", Row: "at-a-bed", Fields: fields{"title": "Hospital bed", "without": "chair"}},
		scenarios.Edit{Do: "set", List: "settings", Procedure: turnover, Fields: fields{"variants": "each"}},
	)
	base, p := proced(t, lib, turnover), proced(t, lib, "at-a-bed")
	require.Equal(t, "Hospital bed", p.Variant)
	require.Equal(t, "Display", p.Surfaces[p.SurfaceIndex("screen")].Title)
	require.Equal(t, 80, p.MarkSheet.CutPercent)
	require.Contains(t, pairs(p), "wipe-left wipe-right")
	require.GreaterOrEqual(t, p.SurfaceIndex("keyboard"), 0)
	require.Negative(t, p.SurfaceIndex("chair"))
	require.Negative(t, base.SurfaceIndex("bed-rails"))
	require.Equal(t, "chair-side", p.Steps[p.StepIndex("wipe-bed-rails")].Area)
	i := slices.IndexFunc(lib.Competencies(), func(c training.Competency) bool { return c.Procedure == turnover })
	require.True(t, lib.Competencies()[i].EachVariant)

	_, lib = edited(t, bed, scenarios.Edit{Do: "hide", List: "variants", Row: "at-a-bed"})
	_, there := lib.Procedure("at-a-bed")
	require.False(t, there)
	require.Empty(t, lib.Variants(turnover))
	_, lib = edited(t, bed, scenarios.Edit{Do: "hide", List: "variants", Row: "at-a-bed"}, scenarios.Edit{Do: "show", List: "variants", Row: "at-a-bed"})
	require.Len(t, lib.Variants(turnover), 1)
}

func TestAVariantIsToldInWords(t *testing.T) {
	was, err := scenarios.Load()
	require.NoError(t, err)
	_, is := edited(t, bed)
	var all []string
	for _, d := range scenarios.Differences(was, is) {
		all = append(all, told(d))
	}
	require.Contains(t, all, "Variant “Bed” of “Station turnover between patients”:  -> new (at-a-bed)")
	require.Contains(t, all, "At “Bed”: Surface “Chair with arms and gaps”: there ->  (at-a-bed)")
	require.Len(t, all, 14, "only what it has otherwise: %v", all)
	require.Len(t, is.Unconfirmed(), len(was.Unconfirmed()), "its rows are those of the work")
}

func TestVariantsAreRefusedAtTheirFields(t *testing.T) {
	for name, c := range map[string]struct {
		edit        scenarios.Edit
		field, text string
	}{
		"of nothing":   {scenarios.Edit{Do: "put", List: "variants", Row: "at-a-bed", Fields: fields{"title": "Bed"}}, "", "of which procedure"},
		"bad id":       {scenarios.Edit{Do: "put", List: "variants", Row: "At a bed", Procedure: turnover, Fields: fields{"title": "Bed"}}, "id", "cannot be an id"},
		"no name":      {scenarios.Edit{Do: "put", List: "variants", Row: "at-a-bed", Procedure: turnover}, "title", "is called"},
		"of another":   {scenarios.Edit{Do: "put", List: "variants", Row: endOfDay, Procedure: turnover, Fields: fields{"title": "Bed"}}, "id", "procedure of its own"},
		"hide another": {scenarios.Edit{Do: "hide", List: "variants", Row: endOfDay}, "", "cannot be hidden"},
		"hide nothing": {scenarios.Edit{Do: "hide", List: "variants", Row: "at-a-sofa"}, "", "no variant"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := scenarios.BuiltIn().With(c.edit)
			var faults scenarios.FieldFaults
			require.ErrorAs(t, err, &faults)
			require.True(t, slices.ContainsFunc(faults, func(f scenarios.FieldFault) bool {
				return f.List == "variants" && f.Field == c.field && strings.Contains(f.Text, c.text)
			}), "%+v", faults)
		})
	}
}

// The files themselves: a variant of a variant, of nothing, with settings of its own.
func TestFaultsOfVariantsNameTheirLine(t *testing.T) {
	const file = "at-a-bed.procedure.yaml"
	load := func(text string, more ...string) error {
		b := bench(t)
		set, err := scenarios.ReadSet(b)
		require.NoError(t, err)
		files := set.Map()
		files[file] = []byte(text)
		for i := 0; i+1 < len(more); i += 2 {
			files[more[i]] = []byte(more[i+1])
		}
		with, err := scenarios.SetOf(files)
		require.NoError(t, err)
		_, err = with.Load()
		return err
	}
	require.NoError(t, load("id: at-a-bed\nvariant_of: bench\nvariant: Bed\n"))
	require.ErrorContains(t, load("id: at-a-bed\nvariant_of: bensh\nvariant: Bed\n"), file+":2: variant_of: there is no procedure")
	require.ErrorContains(t, load("id: at-a-bed\nvariant_of: bench\nvariant: Bed\nsettings: {wet: add-up, basis: common practice}\n"), file+":4: settings: a variant has this from")
	require.ErrorContains(t, load("id: at-a-bed\nvariant_of: bench\n"), "variant: a variant says of which procedure")
	require.ErrorContains(t, load("id: at-a-bed\nvariant_of: bench\nvariant: Bed\nwithout: {surfaces: [no-such]}\n"), file+":4: without.surfaces.0: there is no surface")
	require.ErrorContains(t, load("id: at-a-bed\nvariant_of: b\nvariant: Bed\n", "b.procedure.yaml", "id: b\nvariant_of: bench\nvariant: B\n"), "is a variant itself")
}
