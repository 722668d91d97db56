package scenarios_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/scenarios"
)

func newItem(kind, goes string) scenarios.Edit {
	return scenarios.Edit{Do: "put", List: "items", Row: "sponges", Fields: fields{"title": "Sponges", "kind": kind, "goes": goes, "when_named": "false"}}
}

// actsOf are the acts of a step of a procedure, as text.
func actsOf(p *procedure.Procedure, step string) (acts []string) {
	i := p.StepIndex(step)
	if i < 0 {
		return nil
	}
	for _, a := range p.Steps[i].Acts {
		acts = append(acts, a.Text())
	}
	return acts
}

// A new thing of each kind has the steps that a turnover needs with it, and in every model
// it goes out before the first wipe: nothing rests.
func TestANewThingGoesOutInEveryModel(t *testing.T) {
	for kind, x := range map[string]struct {
		goes  string
		steps map[string]string
	}{
		"single-use":     {"waste-bin", map[string]string{"discard-sponges": "discard sponges in waste-bin"}},
		"single-patient": {"soiled-tray", map[string]string{"set-apart-sponges": "set sponges at soiled-tray"}},
		"reusable":       {"soiled-tray", map[string]string{"set-apart-sponges": "set sponges at soiled-tray", "disinfect-sponges": "disinfect sponges"}},
		"circuit":        {"waste-bin, leakproof-container", map[string]string{"take-off-sponges": "take off sponges", "discard-sponges": "discard sponges in leakproof-container"}},
		"sharp":          {"sharps-box", map[string]string{"put-in-sharps-sponges": "put sponges in sharps"}},
		"supplies":       {"staging", map[string]string{"bring-sponges": "bring sponges to staging"}},
	} {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			_, lib := edited(t, newItem(kind, x.goes))
			for _, id := range whole {
				p := proced(t, lib, id)
				for step, act := range x.steps {
					require.Equal(t, []string{act}, actsOf(p, step), id)
				}
			}
			require.Empty(t, resting(t, lib, "scenario"))
			if kind == "supplies" {
				return
			}
			for _, id := range []string{"ordinary-turnover", "against-the-clock", "end-of-day-in-order", "isolation-turnover"} {
				model := modelOf(t, lib, id)
				for step, act := range x.steps {
					if step != "disinfect-sponges" {
						require.Less(t, strings.Index(model, act), strings.Index(model, "wipe bucket"), id)
						require.Positive(t, strings.Index(model, act), id)
					}
				}
			}
			s, ok := lib.Scenario("the-bucket-goes-back-last")
			require.True(t, ok)
			require.True(t, slices.ContainsFunc(s.Start, func(a action.Act) bool { return a.Object == "sponges" }), "where others were put away before, so was this")
			require.NotContains(t, s.Steps, "discard-sponges")
		})
	}
}

// One that is there only when it is named changes no story.
func TestAThingThatIsThereWhenNamedIsInNoModel(t *testing.T) {
	e := newItem("single-use", "waste-bin")
	e.Fields["when_named"] = "true"
	_, lib := edited(t, e)
	require.Empty(t, resting(t, lib, "scenario"))
	require.NotContains(t, modelOf(t, lib, "ordinary-turnover"), "sponges")
	p := proced(t, lib, "between-patients")
	require.True(t, p.Steps[p.StepIndex("discard-sponges")].Seldom, "it stands behind the others")
}

// Where something may go is changed: a step puts it there, also in the models.
func TestAThingGoesElsewhere(t *testing.T) {
	put := func(f fields) scenarios.Edit {
		return scenarios.Edit{Do: "put", List: "items", Row: "disposables", Fields: f}
	}
	_, lib := edited(t, put(fields{"goes": "leakproof-container"}))
	require.Empty(t, lib.Resting(), "its step puts them there, in every story too")
	require.Equal(t, []string{"discard disposables in leakproof-container"}, actsOf(proced(t, lib, "between-patients"), "discard-disposables"))
	require.Contains(t, modelOf(t, lib, "ordinary-turnover"), "discard disposables in leakproof-container")

	_, lib = edited(t, scenarios.Edit{Do: "put", List: "items", Row: "reusables", Fields: fields{"goes": "waste-bin", "kind": "single-use"}})
	require.Equal(t, []string{"set reusables at soiled-tray"}, actsOf(proced(t, lib, "between-patients"), "set-apart"), "another act has a step of its own")
	require.Contains(t, modelOf(t, lib, "ordinary-turnover"), "discard reusables in waste-bin")
	_, lib = edited(t, scenarios.Edit{Do: "put", List: "items", Row: "needles", Fields: fields{"goes": "waste-bin"}}, scenarios.Edit{Do: "put", List: "items", Row: "needles", Fields: fields{"goes": "leakproof-container"}})
	require.Equal(t, []string{"discard needles in waste-bin"}, actsOf(proced(t, lib, "between-patients"), "needles-to-waste"), "a step that names its place stays what it says")

	_, lib = edited(t, newItem("single-use", "waste-bin"), scenarios.Edit{Do: "put", List: "items", Row: "sponges", Fields: fields{"goes": "leakproof-container", "title": "Gauze"}})
	p := proced(t, lib, "between-patients")
	require.Equal(t, []string{"discard sponges in leakproof-container"}, actsOf(p, "discard-sponges"), "the step that the program made goes there now")
	require.Equal(t, "Throw away the gauze", p.Title("discard-sponges"), "and is called as what it throws away")
	require.Negative(t, p.StepIndex("discard-sponges-2"))

	_, lib = edited(t, scenarios.Edit{Do: "put", List: "items", Row: "tape", Fields: fields{"title": "Adhesive tape"}})
	require.Equal(t, "Throw away the adhesive tape", proced(t, lib, "between-patients").Title("discard-tape"))
}

// A new place stands with its like, is in every procedure that has them, and things may go
// there.
func TestANewPlace(t *testing.T) {
	place := scenarios.Edit{Do: "put", List: "places", Row: "red-bag", Fields: fields{"title": "Red bag", "kind": "leak-proof"}}
	_, lib := edited(t, place, scenarios.Edit{Do: "put", List: "items", Row: "lines", Fields: fields{"goes": "leakproof-container, red-bag"}})
	for _, id := range every {
		p := proced(t, lib, id)
		require.Equal(t, procedure.LeakProof, p.Places[p.PlaceIndex("red-bag")].Kind, id)
		require.Equal(t, procedure.ClinicToConfirm, p.Places[p.PlaceIndex("red-bag")].Basis.Kind)
	}
	require.Empty(t, resting(t, lib, "scenario"))
	_, err := scenarios.BuiltIn().With(scenarios.Edit{Do: "put", List: "places", Row: "red-bag", Fields: fields{"title": "Red bag", "kind": "red"}})
	var faults scenarios.FieldFaults
	require.ErrorAs(t, err, &faults)
	require.Equal(t, "kind", faults[0].Field)
}

// Supplies that may lie elsewhere are brought there, in steps and stories, so that the surface
// on which they lay can go; only what is about that surface rests.
func TestSuppliesAreBroughtToWhereTheyMayLie(t *testing.T) {
	var edits []scenarios.Edit
	for _, item := range []string{"supplies", "next-set"} {
		edits = append(edits, scenarios.Edit{Do: "put", List: "items", Row: item, Fields: fields{"goes": "clean-area"}})
	}
	_, lib := edited(t, edits...)
	require.Empty(t, resting(t, lib, "scenario"))
	p := proced(t, lib, "between-patients")
	require.Equal(t, "Gather supplies", p.Title("bring-supplies"))
	require.Equal(t, "Bring clean supplies and lines for the next patient", p.Title("bring-next"))
	require.Equal(t, "A helper brings supplies", p.Title("helper-supplies"))
	_, lib = edited(t, append(edits, scenarios.Edit{Do: "hide", List: "surfaces", Row: "staging"})...)
	require.Equal(t, []string{"the-bucket-goes-back-last"}, resting(t, lib, "scenario"))
	require.Contains(t, modelOf(t, lib, "ordinary-turnover"), "bring supplies to clean-area\n")
}

// What cannot go because of another row names that row.
func TestARefusalNamesTheRowThatIsInTheWay(t *testing.T) {
	_, err := scenarios.BuiltIn().With(scenarios.Edit{Do: "hide", List: "surfaces", Row: "staging"})
	var faults scenarios.FieldFaults
	require.ErrorAs(t, err, &faults)
	require.Equal(t, "items supplies", faults[0].List+" "+faults[0].Row)
	require.Contains(t, faults[0].Text, "say first where else it may go")
}
