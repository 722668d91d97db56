package views

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// What differs is told by kind, in one order, and no line is lost on the way into the fold.
func TestWhatDiffersIsToldByKind(t *testing.T) {
	lines := []toldLine{{Kind: "scenario", Text: "a"}, {Kind: "odd", Text: "b"}, {Kind: "pair", Text: "c"}, {Kind: "scenario", Text: "d"}, {Kind: "product", Text: "e"}}
	all := grouped(lines)
	var said []string
	for _, g := range all {
		for _, l := range g.Lines {
			said = append(said, g.Title+": "+l.Text)
		}
	}
	require.Equal(t, []string{"Products: e", "What comes before what: c", "Scenarios: a", "Scenarios: d", "Besides: b"}, said)
	for most, want := range map[int][2]int{0: {0, 5}, 1: {1, 4}, 3: {3, 2}, 5: {5, 0}, 9: {5, 0}} {
		first, rest := cutAfter(all, most)
		require.Equal(t, want, [2]int{linesIn(first), linesIn(rest)}, most)
	}
	_, rest := cutAfter(all, 3)
	require.Equal(t, "Scenarios", rest[0].Title, "the name stands again over what is folded")
}

func linesIn(all []toldGroup) (n int) {
	for _, g := range all {
		n += len(g.Lines)
	}
	return n
}

// Twelve lines stand open; the thirteenth opens a fold that says how many there are.
func TestALongListIsFolded(t *testing.T) {
	var lines []toldLine
	for i := range 12 {
		lines = append(lines, toldLine{Kind: "pair", Text: fmt.Sprintf("line %d.", i)})
	}
	require.NotContains(t, rendered(t, toldList(lines)), "<details")
	page := rendered(t, toldList(append(lines, toldLine{Kind: "pair", Text: "the last"}, toldLine{Kind: "mark", Text: "and one"})))
	require.Regexp(t, `(?s)line 11\..*<details class="fold"><summary>2 more</summary>.*the last.*Mark sheet.*and one.*</details>`, page)
}

// Only what fails the whole by one miss is called critical.
func TestWeightsAreSaidInPlainWords(t *testing.T) {
	for weight, says := range map[training.Weight]string{training.Demanded: "<b>(now a demand)</b>", training.Failing: "<b>(now critical)</b>", training.Longer: "<b>(a longer contact time)</b>"} {
		page := rendered(t, weighedList([]training.Change{{Kind: "pair", Text: "A before B", Weight: weight}}))
		require.Contains(t, page, says)
	}
	require.NotContains(t, rendered(t, weighedList([]training.Change{{Kind: "pair", Text: "A before B", Weight: training.Told}})), "<b>")
}

// The first look is at what is asked for otherwise; what there is room for stands beside it,
// the rest is folded, and nothing is lost.
func TestTheFewChangesThatMatterStandFirst(t *testing.T) {
	all := []training.Change{{Kind: "product", Text: "longer", Weight: training.Longer}}
	for i := range 20 {
		all = append(all, training.Change{Kind: "surface", Text: fmt.Sprintf("surface %d.", i), Weight: training.Told})
	}
	all = append(all, training.Change{Kind: "pair", Text: "critical", Weight: training.Failing}, training.Change{Kind: "pair", Text: "a word", Weight: training.Told})
	first, rest := firstToRead(all)
	require.Len(t, first, 12)
	require.Len(t, rest, 11)
	require.Equal(t, []string{"longer", "critical"}, []string{first[0].Text, first[1].Text})
	require.Regexp(t, `(?s)longer.*critical.*<summary>What changed besides \(11\)</summary>.*a word`, rendered(t, changesTold(all)))
}

// Who was hired under a version reads the procedure; what was before stands folded behind it.
func TestANewHireReadsTheProcedure(t *testing.T) {
	v := DutyView{Own: true, Holds: true}
	v.Kind, v.Changes = training.ReadDuty, []training.Change{{Kind: "pair", Text: "A before B", Weight: training.Told}}
	require.Regexp(t, `(?s)Read what changed, and sign.*<h2[^>]*>What changed.*A before B.*as it now stands`, rendered(t, DutyPage(Frame{}, v)))
	v.NewHire = true
	require.Regexp(t, `(?s)Read the procedure, and sign.*as it now stands.*<summary>What was otherwise before you came</summary>.*A before B`, rendered(t, DutyPage(Frame{}, v)))
}
