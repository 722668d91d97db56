package scenarios_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"stillwet/internal/procedure"
	"stillwet/scenarios"
)

// A small bench of two parts. Everything about it is invented.
const (
	benchFile = "bench.procedure.yaml"
	toolsFile = "tools.parts.yaml"
	handsFile = "hands.parts.yaml"

	benchText = `id: bench
title: Bench
version: "1"
owner: Nobody, for tests
review_by: "2030-01-01"
begins: nobody there
station: bench
work: cleaning
parts: [hands, tools]
settings: {wet: restart, basis: clinic to confirm}
surfaces:
  - {id: lamp, title: Lamp, face: lamp, role: station, wipe_s: 5, basis: clinic to confirm}
steps:
  - {id: wipe-lamp, label: Wipe the lamp, area: all, acts: [wipe lamp]}
picture:
  shapes:
    - {surface: lamp, at: [5, 5], path: "M1 1h9v9z"}
mark_sheet:
  cut_percent: 80
  basis: clinic to confirm
  marks:
    - {id: order, title: Order, rule: declared-order, worth: 1}
`
	handsText = `areas:
  - {id: all, title: All}
steps:
  - {id: gloves-on, label: Gloves on, area: all, acts: [put on gloves]}
  - {id: take, label: Take a wipe, area: all, acts: [take wipe w of shelf]}
  - {id: strong, label: Take a strong one, area: all, acts: [take wipe w of spirit]}
products:
  - {id: soap, title: Soap, level: low, label_s: 60, dries_s: 90, basis: clinic to confirm}
  - {id: spirit, title: Spirit, level: intermediate, label_s: 30, dries_s: 40, basis: clinic to confirm}
marks:
  - {id: wet, title: Wet, rule: wet-long-enough, worth: 5, critical: true}
`
	toolsText = `surfaces:
  - {id: top, title: Top, face: top, role: station, wipe_s: 5, basis: clinic to confirm}
  - {id: vice, title: Vice, face: vice, role: station, wipe_s: 5, basis: clinic to confirm}
  - {id: drawer, title: Drawer, face: drawer, role: station, off: true, wipe_s: 7, basis: clinic to confirm}
items:
  - {id: rag, title: Rag, kind: single-use, goes: [bin], basis: clinic to confirm}
  - {id: crate, title: Crate, kind: reusable, goes: [yard], off: true, basis: clinic to confirm}
places:
  - {id: bin, title: Bin, kind: waste, basis: clinic to confirm}
  - {id: yard, title: Yard, kind: set-apart, off: true, basis: clinic to confirm}
steps:
  - {id: wipe-top, label: Wipe the top, area: all, acts: [wipe top]}
  - {id: wipe-vice, label: Wipe the vice, area: all, acts: [wipe vice]}
  - {id: wipe-drawer, label: Wipe the drawer, area: all, acts: [wipe drawer]}
  - {id: rag-away, label: Throw away the rag, area: all, acts: [discard rag in bin]}
  - {id: crate-out, label: Set the crate out, area: all, acts: [set crate at yard]}
order:
  - {earlier: gloves-on, later: wipe-top, why: so, basis: common practice}
  - {earlier: wipe-top, later: wipe-vice, why: so, basis: clinic to confirm}
  - {earlier: wipe-top, later: wipe-drawer, why: so, basis: "published: A Book"}
picture:
  width: 200
  height: 100
  floor: M0 99h200
  hands: [190, 9]
  labels:
    - {text: Bench, at: [9, 99]}
  shapes:
    - {surface: top, at: [50, 5], path: "M40 1h9v9z"}
    - {surface: vice, at: [90, 5], path: "M80 1h9v9z"}
    - {surface: drawer, at: [130, 5], path: "M120 1h9v9z"}
marks:
  - {id: every-top, title: Top done, rule: every-surface, surface: top, worth: 1}
  - {id: every-drawer, title: Drawer done, rule: every-surface, surface: drawer, worth: 1}
`
)

// bench is the set with words of its files changed: file, old, new.
func bench(t testing.TB, changes ...[3]string) fstest.MapFS {
	t.Helper()
	texts := map[string]string{benchFile: benchText, handsFile: handsText, toolsFile: toolsText, "programme.yaml": "competencies: []\n"}
	for _, c := range changes {
		before := texts[c[0]]
		texts[c[0]] = strings.Replace(before, c[1], c[2], 1)
		require.NotEqual(t, before, texts[c[0]], "%s has no %q", c[0], c[1])
	}
	set := fstest.MapFS{}
	for name, text := range texts {
		set[name] = &fstest.MapFile{Data: []byte(text)}
	}
	return set
}

func own(text string) [3]string {
	return [3]string{benchFile, "settings: {", text + "settings: {"}
}

func benchOf(t testing.TB, set fstest.MapFS) *procedure.Procedure {
	t.Helper()
	lib, err := scenarios.LoadFS(set)
	require.NoError(t, err)
	p, ok := lib.Procedure("bench")
	require.True(t, ok)
	return p
}

func idsOf[T any](all []T, id func(T) string) (ids []string) {
	for _, x := range all {
		ids = append(ids, id(x))
	}
	return ids
}

func surfaces(p *procedure.Procedure) []string {
	return idsOf(p.Surfaces, func(s procedure.Surface) string { return s.ID })
}

func pairs(p *procedure.Procedure) []string {
	return idsOf(p.Order, func(o procedure.Pair) string { return o.Earlier + " " + o.Later })
}

func marks(p *procedure.Procedure) []string {
	return idsOf(p.MarkSheet.Marks, func(m procedure.Mark) string { return m.ID })
}

func shapes(p *procedure.Procedure) []string {
	return idsOf(p.Picture.Shapes, func(s procedure.Shape) string { return s.Surface })
}

func TestPartsComeInTheirOrderThenTheProceduresOwnRows(t *testing.T) {
	p := benchOf(t, bench(t))
	require.Equal(t, []string{"top", "vice", "lamp"}, surfaces(p))
	require.Equal(t, []string{"gloves-on", "take", "strong", "wipe-top", "wipe-vice", "rag-away", "wipe-lamp"}, p.StepIDs())
	require.Equal(t, []string{"wet", "every-top", "order"}, marks(p))
	require.Equal(t, []string{"top", "vice", "lamp"}, shapes(p))
	require.Equal(t, procedure.Point{X: 190, Y: 9}, p.Picture.Hands)
	require.Equal(t, 200, p.Picture.Width)
	require.Equal(t, "Bench", p.Picture.Labels[0].Text)

	turned := benchOf(t, bench(t, [3]string{benchFile, "[hands, tools]", "[tools, hands]"}))
	require.Equal(t, []string{"wipe-top", "wipe-vice", "rag-away", "gloves-on", "take", "strong", "wipe-lamp"}, turned.StepIDs())
}

// What is hashed is the whole: how it was put together does not count.
func TestAProcedureOfPartsIsThatOfOneFile(t *testing.T) {
	whole := `id: bench
title: Bench
version: "1"
owner: Nobody, for tests
review_by: "2030-01-01"
begins: nobody there
station: bench
work: cleaning
settings: {wet: restart, basis: clinic to confirm}
areas: [{id: all, title: All}]
surfaces:
  - {id: top, title: Top, face: top, role: station, wipe_s: 5, basis: clinic to confirm}
  - {id: vice, title: Vice, face: vice, role: station, wipe_s: 5, basis: clinic to confirm}
  - {id: lamp, title: Lamp, face: lamp, role: station, wipe_s: 5, basis: clinic to confirm}
items: [{id: rag, title: Rag, kind: single-use, goes: [bin], basis: clinic to confirm}]
places: [{id: bin, title: Bin, kind: waste, basis: clinic to confirm}]
products:
  - {id: soap, title: Soap, level: low, label_s: 60, dries_s: 90, basis: clinic to confirm}
  - {id: spirit, title: Spirit, level: intermediate, label_s: 30, dries_s: 40, basis: clinic to confirm}
steps:
  - {id: gloves-on, label: Gloves on, area: all, acts: [put on gloves]}
  - {id: take, label: Take a wipe, area: all, acts: [take wipe w of shelf]}
  - {id: strong, label: Take a strong one, area: all, acts: [take wipe w of spirit]}
  - {id: wipe-top, label: Wipe the top, area: all, acts: [wipe top]}
  - {id: wipe-vice, label: Wipe the vice, area: all, acts: [wipe vice]}
  - {id: rag-away, label: Throw away the rag, area: all, acts: [discard rag in bin]}
  - {id: wipe-lamp, label: Wipe the lamp, area: all, acts: [wipe lamp]}
order:
  - {earlier: gloves-on, later: wipe-top, why: so, basis: common practice}
  - {earlier: wipe-top, later: wipe-vice, why: so, basis: clinic to confirm}
picture:
  {width: 200, height: 100, floor: M0 99h200, hands: [190, 9], labels: [{text: Bench, at: [9, 99]}], shapes: [
    {surface: top, at: [50, 5], path: "M40 1h9v9z"}, {surface: vice, at: [90, 5], path: "M80 1h9v9z"}, {surface: lamp, at: [5, 5], path: "M1 1h9v9z"}]}
mark_sheet:
  cut_percent: 80
  basis: clinic to confirm
  marks:
    - {id: wet, title: Wet, rule: wet-long-enough, worth: 5, critical: true}
    - {id: every-top, title: Top done, rule: every-surface, surface: top, worth: 1}
    - {id: order, title: Order, rule: declared-order, worth: 1}
`
	p, faults := scenarios.ReadProcedure("whole.yaml", []byte(whole))
	require.Empty(t, faults)
	require.Equal(t, string(p.Text), string(benchOf(t, bench(t)).Text))
	require.Equal(t, p.Hash, benchOf(t, bench(t)).Hash)
	require.NotEqual(t, p.Hash, benchOf(t, bench(t, [3]string{toolsFile, "wipe_s: 5", "wipe_s: 6"})).Hash, "a part's row counts")
}

// Aliases of YAML stand for what they name.
func TestAliasesAreFollowed(t *testing.T) {
	p := benchOf(t, bench(t, own("change:\n  surfaces: [{id: top, title: Slab}]\n  steps: [{id: wipe-top, acts: &acts [touch top]}, {id: wipe-vice, acts: *acts}]\n")))
	require.Equal(t, "Slab", p.Surfaces[0].Title)
	require.Equal(t, "touch top", p.Steps[p.StepIndex("wipe-vice")].Acts[0].Text())
}

func TestARowIsChangedByTheFieldsThatDiffer(t *testing.T) {
	was := benchOf(t, bench(t))
	set := bench(t, own(`change:
  surfaces: [{id: top, title: Slab, dries_s: 50}]
  steps: [{id: wipe-top, seconds: 9}]
  order: [{earlier: gloves-on, later: wipe-top, confirmed: {by: Mara Voss, on: "2026-09-01"}}]
  marks: [{id: wet, critical: false}]
`))
	other := strings.Replace(benchText, "id: bench", "id: other", 1)
	set["other.procedure.yaml"] = &fstest.MapFile{Data: []byte(other)}
	p := benchOf(t, set)
	top := was.Surfaces[0]
	top.Title, top.DriesS = "Slab", 50
	require.Equal(t, top, p.Surfaces[0], "the rest is as it was, and so is its place")
	require.Equal(t, 9, p.Steps[p.StepIndex("wipe-top")].Seconds)
	require.Equal(t, procedure.Confirmed{By: "Mara Voss", On: "2026-09-01"}, p.Order[0].Confirmed)
	require.False(t, p.MarkSheet.Marks[0].Critical)
	require.Equal(t, 5, p.MarkSheet.Marks[0].Worth)

	lib, err := scenarios.LoadFS(set)
	require.NoError(t, err)
	same, ok := lib.Procedure("other")
	require.True(t, ok)
	require.Equal(t, was.Surfaces, same.Surfaces, "another procedure of the same part")
	require.Equal(t, was.MarkSheet, same.MarkSheet)
}

// With a surface go the steps that wipe nothing else, their pairs and the marks for
// it; its shape stays as scenery, so that the picture is whole.
func TestWhatIsLeftOutTakesWithItWhatConcernsNothingElse(t *testing.T) {
	p := benchOf(t, bench(t, own(`without:
  surfaces: [top]
  products: [spirit]
  items: [rag]
`)))
	require.Equal(t, []string{"vice", "lamp"}, surfaces(p))
	require.Equal(t, []string{"gloves-on", "take", "wipe-vice", "wipe-lamp"}, p.StepIDs())
	require.Empty(t, p.Order)
	require.Equal(t, []string{"wet", "order"}, marks(p))
	require.Equal(t, []string{"", "vice", "lamp"}, shapes(p))
	require.Equal(t, "M40 1h9v9z", p.Picture.Shapes[0].Path)
}

func TestSingleRowsAreLeftOut(t *testing.T) {
	p := benchOf(t, bench(t, own(`without:
  steps: [rag-away]
  marks: [every-top]
  order: [[gloves-on, wipe-top]]
  places: [yard]
`)))
	require.Equal(t, []string{"gloves-on", "take", "strong", "wipe-top", "wipe-vice", "wipe-lamp"}, p.StepIDs())
	require.Equal(t, []string{"wet", "order"}, marks(p))
	require.Equal(t, []string{"wipe-top wipe-vice"}, pairs(p))
	require.Len(t, p.Items, 1, "the thing itself stays")
}

// A step that does something to another thing as well is not left out in silence.
func TestAStepThatConcernsMoreIsAFault(t *testing.T) {
	_, err := scenarios.LoadFS(bench(t, own("without: {surfaces: [top]}\n"), [3]string{toolsFile, "acts: [wipe top]", "acts: [wipe top, wipe vice]"}))
	require.ErrorContains(t, err, at(t, toolsFile, "acts: [wipe top]")+" steps.0.acts.0: unknown surface \"top\"")
}

func TestWhatIsOffIsThereWhenNamed(t *testing.T) {
	off := benchOf(t, bench(t))
	require.Negative(t, off.SurfaceIndex("drawer"))
	require.Negative(t, off.ItemIndex("crate"))
	require.Negative(t, off.PlaceIndex("yard"))
	require.Negative(t, off.StepIndex("crate-out"))
	require.NotContains(t, marks(off), "every-drawer")
	require.Len(t, off.Picture.Shapes, 3, "what is not there is not drawn")

	on := benchOf(t, bench(t, own("on: [drawer, crate, yard]\n")))
	require.Equal(t, []string{"top", "vice", "drawer", "lamp"}, surfaces(on))
	require.Equal(t, []string{"gloves-on", "take", "strong", "wipe-top", "wipe-vice", "wipe-drawer", "rag-away", "crate-out", "wipe-lamp"}, on.StepIDs())
	require.Equal(t, []string{"gloves-on wipe-top", "wipe-top wipe-vice", "wipe-top wipe-drawer"}, pairs(on))
	require.Equal(t, []string{"wet", "every-top", "every-drawer", "order"}, marks(on))
	require.Equal(t, []string{"top", "vice", "drawer", "lamp"}, shapes(on))
}

// A procedure without parts may have rows that are off, too.
// A pair is a pair while both are drawn: of a surface that this procedure does without the
// shape stays, of one that is off it goes, and the other stands alone.
func TestAPairThatHasLostASide(t *testing.T) {
	paired := [][3]string{{toolsFile, "surface: vice, at", "surface: vice, pair: bench, at"}, {toolsFile, "surface: drawer, at", "surface: drawer, pair: bench, name: Till, at"}}
	pairs := func(changes ...[3]string) (all []string) {
		for _, s := range benchOf(t, bench(t, append(changes, paired...)...)).Picture.Shapes {
			all = append(all, s.Surface+" "+s.Pair+s.Name)
		}
		return all
	}
	require.Equal(t, []string{"top ", "vice ", "lamp "}, pairs(), "the drawer is off")
	require.Equal(t, []string{"top ", "vice bench", "drawer benchTill", "lamp "}, pairs(own("on: [drawer]\n")))
	require.Equal(t, []string{"top ", " bench", "drawer benchTill", "lamp "}, pairs(own("on: [drawer]\nwithout: {surfaces: [vice]}\n")))
}

func TestAnOwnRowMayBeOff(t *testing.T) {
	p := benchOf(t, bench(t, [3]string{benchFile, "face: lamp,", "face: lamp, off: true,"}))
	require.Equal(t, []string{"top", "vice"}, surfaces(p))
	require.Negative(t, p.StepIndex("wipe-lamp"))
}

// at is the file and line of a text of the untouched set, as a message has it.
func at(t testing.TB, file, text string) string {
	t.Helper()
	all := map[string]string{benchFile: benchText, handsFile: handsText, toolsFile: toolsText}[file]
	before, _, ok := strings.Cut(all, text)
	require.True(t, ok, "%s has no %q", file, text)
	return fmt.Sprintf("%s:%d:", file, strings.Count(before, "\n")+1)
}

func TestFaultsOfPartsNameTheRowWhereItStands(t *testing.T) {
	here := at(t, benchFile, "settings: {") // where own() puts its first line
	for name, c := range map[string]struct {
		change [3]string
		want   string
	}{
		"value in a part":         {[3]string{toolsFile, "vice, role: station, wipe_s: 5", "vice, role: station, wipe_s: 0"}, at(t, toolsFile, "vice, role") + " surfaces.1.wipe_s: 0 s is not between"},
		"basis in a part":         {[3]string{handsFile, "dries_s: 90, basis: clinic to confirm", "dries_s: 90, basis: hearsay"}, at(t, handsFile, "dries_s: 90") + " products.0.basis: basis \"hearsay\" is none of"},
		"word in a part's step":   {[3]string{toolsFile, "[wipe vice]", "[wipe vise]"}, at(t, toolsFile, "[wipe vice]") + " steps.1.acts.0: unknown surface \"vise\"; nearest: vice"},
		"rule in a part's mark":   {[3]string{handsFile, "rule: wet-long-enough", "rule: wet-enough"}, at(t, handsFile, "rule: wet-long") + " marks.0.rule: unknown rule"},
		"shape in a part":         {[3]string{toolsFile, "surface: vice, at: [90, 5]", "surface: vice, at: [900, 5]"}, at(t, toolsFile, "surface: vice, at") + " picture.shapes.1.at: 900, 5 is outside"},
		"unknown field in a part": {[3]string{toolsFile, "title: Vice,", "titel: Vice,"}, at(t, toolsFile, "title: Vice,") + " unknown field \"titel\""},
		"half a pair":             {[3]string{toolsFile, "surface: vice, at", "surface: vice, pair: bench, at"}, at(t, toolsFile, "surface: vice, at") + ` picture.shapes.1.pair: "bench" is said of 1; a pair is`},
		"a long name":             {[3]string{toolsFile, "surface: vice, at", "surface: vice, name: the vice at the end of the bench, at"}, at(t, toolsFile, "surface: vice, at") + " picture.shapes.1.name: 32 letters"},
		"no list of parts":        {[3]string{handsFile, "marks:", "closing: []\nmarks:"}, at(t, handsFile, "marks:") + " unknown field \"closing\""},
		"no yaml":                 {[3]string{toolsFile, "surfaces:\n", "surfaces: [\n"}, toolsFile + ":"},
		"order in a circle":       {[3]string{toolsFile, "earlier: wipe-top, later: wipe-vice", "earlier: wipe-top, later: gloves-on"}, at(t, toolsFile, "order:") + " order: the order runs in a circle"},
		"no such part":            {[3]string{benchFile, "[hands, tools]", "[hands, tools, brooms]"}, at(t, benchFile, "parts:") + ` parts.2: there is no part "brooms": its file would be brooms.parts.yaml`},
		"part of another folder":  {[3]string{benchFile, "[hands, tools]", "[hands, ../tools]"}, at(t, benchFile, "parts:") + ` parts.1: there is no part "../tools"`},
		"part twice":              {[3]string{benchFile, "[hands, tools]", "[hands, tools, hands]"}, at(t, benchFile, "parts:") + ` parts.2: part "hands" is named twice`},
		"same step in two parts": {[3]string{toolsFile, "id: rag-away", "id: gloves-on"},
			at(t, toolsFile, "id: rag-away") + ` steps.3.id: step "gloves-on" stands in ` + at(t, handsFile, "id: gloves-on")[:len(handsFile)+2] + " already"},
		"own row of a part's id": {[3]string{benchFile, "{id: lamp,", "{id: top,"}, at(t, benchFile, "{id: lamp,") + ` surfaces.0.id: surface "top" stands in ` + at(t, toolsFile, "{id: top")[:len(toolsFile)+2]},
		"same pair":              {own("order: [{earlier: wipe-top, later: wipe-vice, why: so, basis: common practice}]\n"), here + ` order.0.earlier: pair "wipe-top before wipe-vice" stands in `},
		"drawn in two files":     {[3]string{benchFile, "surface: lamp", "surface: top"}, at(t, benchFile, "surface: lamp") + ` picture.shapes.0.surface: shape "top" stands in `},
		"twice in one part":      {[3]string{toolsFile, "id: vice", "id: top"}, at(t, toolsFile, "id: vice") + ` surfaces.1.id: "top" is there twice`},
		"two frames":             {[3]string{handsFile, "marks:", "picture: {width: 300}\nmarks:"}, at(t, toolsFile, "width: 200") + " picture.width: the picture's width stands in hands.parts.yaml already"},
		"changed value":          {own("change: {surfaces: [{id: top, wipe_s: 0}]}\n"), here + " change.surfaces.0.wipe_s: 0 s is not between"},
		"change of nothing":      {own("change: {marks: [{id: wett, critical: true}]}\n"), here + ` change.marks.0.id: there is no mark "wett"; nearest: wet`},
		"change of no pair":      {own("change: {order: [{earlier: wipe-vice, later: wipe-top}]}\n"), here + ` change.order.0.earlier: there is no pair "wipe-vice before wipe-top"; nearest: `},
		"change without an id":   {own("change: {steps: [{seconds: 4}]}\n"), here + ` change.steps.0.id: there is no step ""`},
		"change, unknown field":  {own("change: {marks: [{id: wet, critcal: true}]}\n"), here + ` unknown field "critcal"`},
		"change by a merge":      {own("change: {marks: [{<<: {critical: true}, id: wet}]}\n"), here + " change.marks.0.<<: write out what is changed"},
		"without nothing":        {own("without: {surfaces: [topp]}\n"), here + ` without.surfaces.0: there is no surface "topp"; nearest: top`},
		"without no step":        {own("without: {steps: [rag-awai]}\n"), here + ` without.steps.0: there is no step "rag-awai"; nearest: rag-away`},
		"without no pair":        {own("without: {order: [[wipe-vice, wipe-top]]}\n"), here + ` without.order.0: there is no pair "wipe-vice before wipe-top"`},
		"without half a pair":    {own("without: {order: [[wipe-vice]]}\n"), here + ` without.order.0: there is no pair "wipe-vice"; nearest: `},
		"without twice":          {own("without: {items: [rag, rag]}\n"), here + ` without.items.1: item "rag" is left out twice`},
		"without, unknown list":  {own("without: {labels: [Bench]}\n"), here + ` unknown field "labels"`},
		"on of nothing":          {own("on: [drawers]\n"), here + ` on.0: there is no surface "drawers"; nearest: drawer`},
		"on of what is not off":  {own("on: [top]\n"), here + ` on.0: "top" is not off`},
		"on twice":               {own("on: [drawer, drawer]\n"), here + ` on.1: "drawer" is not off, or is named twice`},
		"place still off":        {own("on: [crate]\n"), at(t, toolsFile, "goes: [yard]") + ` items.1.goes.0: unknown place "yard"`},
		"settings":               {[3]string{benchFile, "wet: restart,", "wet: restart, one_wipe: thumb,"}, here + ` settings.one_wipe: "thumb" is none of face, thing, off`},
		"hands":                  {[3]string{benchFile, "wet: restart,", "wet: restart, hands: long,"}, here + ` settings.hands: "long" is none of cdc, who`},
		"a face of nothing":      {[3]string{benchFile, "wet: restart,", "wet: restart, see_one_face_of: car,"}, here + ` settings.see_one_face_of: no surface is a part of "car"`},
		"confirmed by nobody":    {[3]string{toolsFile, "why: so, basis: common practice", `why: so, basis: common practice, confirmed: {on: "2026-09-01"}`}, at(t, toolsFile, "basis: common") + " order.0.confirmed: say who"},
		"closing of nothing":     {own("closing: [{step: wipe-lamb, why: so, basis: common practice}]\n"), here + ` closing.0.step: unknown step "wipe-lamb"; nearest: wipe-lamp`},
		"closing, no basis":      {own("closing: [{step: wipe-lamp, why: so, basis: so}]\n"), here + ` closing.0.basis: basis "so" is none of`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := scenarios.LoadFS(bench(t, c.change))
			require.ErrorContains(t, err, c.want)
		})
	}
}

func TestAllFaultsOfAllPartsAtOnce(t *testing.T) {
	set := bench(t, [3]string{benchFile, "[hands, tools]", "[hands, tools, brooms]"},
		[3]string{toolsFile, "title: Vice,", "titel: Vice,"}, [3]string{handsFile, "title: Soap", "titel: Soap"})
	set["Big_Tools.parts.yaml"] = &fstest.MapFile{Data: []byte("steps: []\n")}
	set["unused.parts.yaml"] = &fstest.MapFile{Data: []byte("surfaces: [{colour: red}]\n")}
	_, err := scenarios.LoadFS(set)
	for _, want := range []string{`unknown field "titel"`, at(t, toolsFile, "title: Vice,"), at(t, handsFile, "title: Soap"), `no part "brooms"`, `unused.parts.yaml:1: unknown field "colour"`, "Big_Tools.parts.yaml:1: no procedure can name this part"} {
		require.ErrorContains(t, err, want)
	}
}

// A part's fault is one fault, however many procedures have the part.
func TestAFaultOfASharedPartIsToldOnce(t *testing.T) {
	for _, change := range [][3]string{{toolsFile, "vice, role: station", "vice, role: stand"}, {toolsFile, "title: Vice,", "titel: Vice,"}} {
		set := bench(t, change)
		set["other.procedure.yaml"] = &fstest.MapFile{Data: []byte(strings.Replace(benchText, "id: bench", "id: other", 1))}
		_, err := scenarios.LoadFS(set)
		var all interface{ Unwrap() []error }
		require.True(t, errors.As(err, &all))
		require.Len(t, all.Unwrap(), 1, err)
	}
}

// What is refused is not unknown: its own faults are told, not those of what names it.
func TestWhatNamesARefusedProcedureIsSilent(t *testing.T) {
	set := bench(t, [3]string{handsFile, "title: Soap", "titel: Soap"})
	set["tidy.yaml"] = &fstest.MapFile{Data: []byte("id: tidy\ntitle: T\nversion: \"1\"\nkind: build\nprocedure: bench\nlevel: 1\nproduct: soap\nstory: s\nwithout: [strong]\n")}
	programme := "competencies:\n  - {id: c, title: C, procedure: bench, scenarios: [tidy], demonstrations: 1, recheck: 1, interval_months: 1}\n"
	set["programme.yaml"] = &fstest.MapFile{Data: []byte(programme)}
	_, err := scenarios.LoadFS(set)
	require.ErrorContains(t, err, `unknown field "titel"`)
	require.NotContains(t, err.Error(), "unknown procedure")
	require.NotContains(t, err.Error(), "unknown scenario")
	set["programme.yaml"] = &fstest.MapFile{Data: []byte(strings.Replace(programme, "procedure: bench", "procedure: bank", 1))}
	_, err = scenarios.LoadFS(set)
	require.ErrorContains(t, err, `programme.yaml:2: competencies.0.procedure: unknown procedure "bank"`)
}

func TestAFileIsReadWithThePartsBesideIt(t *testing.T) {
	p, faults := scenarios.ReadProcedure("some/folder/"+benchFile, []byte(benchText), bench(t))
	require.Empty(t, faults)
	require.Equal(t, benchOf(t, bench(t)).Hash, p.Hash)

	_, faults = scenarios.ReadProcedure("some/folder/"+benchFile, []byte(benchText), bench(t, [3]string{toolsFile, "title: Vice,", "titel: Vice,"}))
	require.Len(t, faults, 1)
	require.ErrorContains(t, faults[0], "some/folder/"+at(t, toolsFile, "title: Vice,")+` unknown field "titel"`)

	_, faults = scenarios.ReadProcedure(benchFile, []byte(benchText))
	require.Len(t, faults, 2, "one text alone has no parts")
	require.ErrorContains(t, faults[0], at(t, benchFile, "parts:")+` parts.0: there is no part "hands"`)
}

func TestAHugePartIsRefused(t *testing.T) {
	set := bench(t)
	set[toolsFile] = &fstest.MapFile{Data: []byte("# " + strings.Repeat("x", procedure.MaxText))}
	_, err := scenarios.LoadFS(set)
	require.ErrorContains(t, err, toolsFile+":1: the file is larger than")
}

// The caps are those of the whole.
func TestPartsTogetherKeepTheCaps(t *testing.T) {
	more := strings.Builder{}
	for i := range procedure.MaxSteps {
		fmt.Fprintf(&more, "  - {id: s%d, label: S, area: all, acts: [touch top]}\n", i)
	}
	_, err := scenarios.LoadFS(bench(t, [3]string{toolsFile, "steps:\n", "steps:\n" + more.String()}))
	require.ErrorContains(t, err, "steps: 135 are too many; the limit is 128")
}

// Every field that came after version 2, once.
func TestTheNewFieldsAreRead(t *testing.T) {
	const everything = `id: all
title: All
version: "1"
owner: Nobody
review_by: "2030-01-01"
begins: nobody there
station: bench
work: cleaning
areas: [{id: a, title: A}]
settings:
  {wet: add-up, staging_with_patient: true, one_wipe: off, hands: who, patient_free_s: 300, clear_alone: true, isolation: true, see_one_face_of: machine, basis: common practice}
surfaces:
  - {id: top, title: Top, face: top, thing: machine, role: station, high_touch: true, chair_side: true, must_see: true, row: 2, area_dm2: 30, wipe_s: 5, dries_s: 9, basis: common practice}
items:
  - {id: needles, title: Needles, kind: sharp, goes: [box], when_named: true, isolation: true, basis: common practice}
places:
  - {id: box, title: Box, kind: sharps, basis: common practice}
products:
  - {id: bleach, title: Bleach, level: low, label_s: 60, dries_s: 90, not_on: [top], made_h: 26, past_date: true, area_dm2: 50, basis: common practice}
steps:
  - {id: dry, label: Dry, area: a, acts: [wipe dry top], seconds: 3}
  - {id: touch, label: Touch, area: a, acts: [touch phone]}
order:
  - {earlier: dry, later: touch, why: so, basis: common practice, confirmed: {by: Mara Voss, on: "2026-09-01"}}
closing:
  - {step: dry, why: so, basis: common practice, confirmed: {by: Mara Voss, on: "2026-09-01"}}
mark_sheet:
  cut_percent: 50
  basis: clinic to confirm
  marks:
    - {id: gown, title: Gown, rule: gloved, worn: gown, worth: 1, confirmed: {by: Mara Voss, on: "2026-09-01"}}
    - {id: calm, title: Calm, watcher: true, worth: 2}
`
	p, faults := scenarios.ReadProcedure("all.procedure.yaml", []byte(everything))
	require.Empty(t, faults)
	custom, mara := procedure.Basis{Kind: procedure.CommonPractice}, procedure.Confirmed{By: "Mara Voss", On: "2026-09-01"}
	require.Equal(t, procedure.Settings{WetAddsUp: true, StagingWithPatient: true, Basis: custom, OneWipe: procedure.AnyWipe, Hands: procedure.WHOHands,
		PatientFreeS: 300, ClearAlone: true, Isolation: true, SeeOneFaceOf: "machine"}, p.Settings)
	require.Equal(t, []procedure.Surface{{ID: "top", Title: "Top", Face: "top", Role: procedure.StationSurface, HighTouch: true, WipeS: 5, DriesS: 9, Basis: custom,
		Thing: "machine", ChairSide: true, MustSee: true, Row: 2, AreaDm2: 30}}, p.Surfaces)
	require.Equal(t, []procedure.Item{{ID: "needles", Title: "Needles", Kind: procedure.Sharp, Goes: []string{"box"}, Basis: custom, WhenNamed: true, Isolation: true}}, p.Items)
	require.Equal(t, []procedure.Product{{ID: "bleach", Title: "Bleach", Level: procedure.LowLevel, LabelS: 60, DriesS: 90, Basis: custom,
		NotOn: []string{"top"}, MadeH: 26, PastDate: true, AreaDm2: 50}}, p.Products)
	require.Equal(t, []procedure.Pair{{Earlier: "dry", Later: "touch", Why: "so", Basis: custom, Confirmed: mara}}, p.Order)
	require.Equal(t, []procedure.Closing{{Step: "dry", Why: "so", Basis: custom, Confirmed: mara}}, p.Closing)
	require.Equal(t, []procedure.Mark{{ID: "gown", Title: "Gown", Rule: "gloved", Worth: 1, Worn: "gown", Confirmed: mara}, {ID: "calm", Title: "Calm", Worth: 2, Watcher: true}}, p.MarkSheet.Marks)

	cdc, faults := scenarios.ReadProcedure("all.procedure.yaml", []byte(strings.Replace(strings.Replace(everything, "hands: who", "hands: cdc", 1), "one_wipe: off", "one_wipe: face", 1)))
	require.Empty(t, faults)
	require.Equal(t, procedure.CDCHands, cdc.Settings.Hands)
	require.Equal(t, procedure.FaceBreach, cdc.Settings.OneWipe)
}

// Confirmed are the rows without a published source, no others; the text carries it.
func TestAClinicConfirmsWhatRestsOnCustom(t *testing.T) {
	set := bench(t, own("on: [drawer]\nclosing:\n  - {step: wipe-lamp, why: so, basis: common practice}\n  - {step: wipe-top, why: so, basis: \"published: A Book\"}\n"),
		[3]string{benchFile, "    - {id: order,", "    - {id: calm, title: Calm, watcher: true, worth: 2}\n    - {id: ready, title: Ready, rule: staging-wet, worth: 1}\n    - {id: order,"},
		[3]string{toolsFile, "why: so, basis: clinic to confirm", `why: so, basis: clinic to confirm, confirmed: {by: Jo Lind, on: "2025-01-02"}`})
	lib, err := scenarios.LoadFS(set)
	require.NoError(t, err)
	was, ok := lib.Procedure("bench")
	require.True(t, ok)
	p, ok := lib.Confirmed("Mara Voss", "2026-09-01").Procedure("bench")
	require.True(t, ok)
	mara, nobody := procedure.Confirmed{By: "Mara Voss", On: "2026-09-01"}, procedure.Confirmed{}
	require.Equal(t, []procedure.Confirmed{mara, {By: "Jo Lind", On: "2025-01-02"}, nobody}, confirmations(p.Order, func(o procedure.Pair) procedure.Confirmed { return o.Confirmed }))
	require.Equal(t, []procedure.Confirmed{mara, nobody}, confirmations(p.Closing, func(c procedure.Closing) procedure.Confirmed { return c.Confirmed }))
	// The rules of wet and every-top are published, that of ready is common practice,
	// calm is the watcher's.
	byID := map[string]procedure.Confirmed{}
	for _, m := range p.MarkSheet.Marks {
		byID[m.ID] = m.Confirmed
	}
	require.Equal(t, map[string]procedure.Confirmed{"wet": nobody, "every-top": nobody, "every-drawer": nobody, "calm": mara, "ready": mara, "order": nobody}, byID)

	text, err := json.Marshal(p.Definition)
	require.NoError(t, err)
	require.Equal(t, string(text), string(p.Text))
	require.Equal(t, procedure.Digest(p.Text), p.Hash)
	require.NotEqual(t, was.Hash, p.Hash)
	require.Equal(t, []procedure.Confirmed{nobody, {By: "Jo Lind", On: "2025-01-02"}, nobody}, confirmations(was.Order, func(o procedure.Pair) procedure.Confirmed { return o.Confirmed }), "the library itself stays as it was")
	require.Panics(t, func() { lib.Confirmed("Mara Voss", "in September") })
}

func confirmations[T any](rows []T, of func(T) procedure.Confirmed) (all []procedure.Confirmed) {
	for _, r := range rows {
		all = append(all, of(r))
	}
	return all
}

func FuzzReadParts(f *testing.F) {
	f.Add(benchText, handsText, toolsText)
	f.Add("parts: [hands, tools]\nwithout: {order: [[a, b]]}\nchange: {steps: [~, {id: x}]}\non: [x]\n", "steps: [&a {id: x}, *a]\n", "marks: &m [{id: *m}]\n")
	f.Fuzz(func(t *testing.T, bench, hands, tools string) {
		set := fstest.MapFS{handsFile: {Data: []byte(hands)}, toolsFile: {Data: []byte(tools)}}
		p, faults := scenarios.ReadProcedure(benchFile, []byte(bench), set)
		require.True(t, (p == nil) == (len(faults) > 0), "either a procedure or faults")
		files := slices.Sorted(maps.Keys(set))
		for _, err := range faults {
			require.True(t, slices.ContainsFunc(append(files, benchFile), func(name string) bool { return strings.HasPrefix(err.Error(), name+":") }), err)
		}
	})
}
