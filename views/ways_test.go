package views

import (
	"context"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// drawn is a procedure with a picture: a screen, a chair and the hands.
func drawn(t *testing.T) *procedure.Procedure {
	t.Helper()
	surface := func(id, title string) procedure.Surface {
		return procedure.Surface{ID: id, Title: title, Face: id, Role: procedure.StationSurface, WipeS: 5, Basis: procedure.Basis{Kind: procedure.CommonPractice}}
	}
	custom := procedure.Basis{Kind: procedure.CommonPractice}
	p, faults := procedure.New(procedure.Definition{
		ID: "p", Title: "P", Version: "1", Owner: "Nobody", ReviewBy: "2030-01-01", Begins: procedure.NobodyThere, Station: "station", Work: "work",
		Areas:    []procedure.Area{{ID: "all", Title: "All"}},
		Surfaces: []procedure.Surface{surface("screen", "Screen"), surface("chair", "Chair")},
		Items:    []procedure.Item{{ID: "lines", Title: "Used lines", Kind: procedure.SingleUse, Goes: []string{"bin"}, Basis: custom}},
		Places:   []procedure.Place{{ID: "bin", Title: "Waste bin", Kind: procedure.Waste, Basis: custom}},
		Products: []procedure.Product{{ID: "wipe", Title: "Wipe", Level: procedure.LowLevel, LabelS: 60, DriesS: 90, Basis: custom}},
		Steps: []procedure.Step{
			{ID: "wipe-screen", Label: "Wipe the screen", Area: "all", Acts: procedure.Acts{{Verb: action.Wipe, Object: "screen"}}},
			{ID: "leave", Label: "Leave", Area: "all", Acts: procedure.Acts{{Verb: action.LeaveStation}}, Seldom: true},
			{ID: "spent", Label: "The wipe is spent", Area: "all", Acts: procedure.Acts{{Verb: action.WipeSpent}}, Seldom: true},
		},
		MarkSheet: procedure.MarkSheet{CutPercent: 80, Basis: custom, Marks: []procedure.Mark{
			{ID: "wet", Title: "Wet for its time", Rule: "wet", Worth: 1}, {ID: "friction", Title: "Wiped with friction", Watcher: true, Worth: 1, Critical: true}}},
		Picture: procedure.Picture{Width: 800, Height: 400, Hands: procedure.Point{X: 400, Y: 100}, Shapes: []procedure.Shape{
			{Surface: "screen", Path: "M0 0h10v10z", At: procedure.Point{X: 100, Y: 100}}, {Surface: "chair", Path: "M20 0h10v10z", At: procedure.Point{X: 400, Y: 300}}}},
	}, []string{"wet"})
	require.Empty(t, faults)
	return p
}

// onDrawn is a result over four steps, each of one act.
func onDrawn(t *testing.T, findings ...assess.Finding) Result {
	r := resultWith(findings...)
	r.Procedure, r.Steps = drawn(t), []int{1, 2, 3}
	return r
}

func hops(pairs ...string) (way []assess.Hop) {
	for i, p := range pairs {
		from, to, _ := strings.Cut(p, ">")
		way = append(way, assess.Hop{Act: i + 1, From: from, To: to})
	}
	return way
}

func TestAWayIsToldInASentenceAndStepByStep(t *testing.T) {
	r := onDrawn(t, assess.Finding{Rule: "a", Act: 3, Message: "Touched: the screen.", Way: hops("chair>gloves", "gloves>screen")})
	list := r.findings()
	require.Equal(t, "The chair touched your gloves at step 1; those gloves touched the screen at step 2.", r.travelled(list[0].Finding))
	ways := r.ways(list)
	require.Len(t, ways, 1)
	require.Equal(t, "1: Touched: the screen.", ways[0].Title)
	require.Equal(t, []string{"1a", "1b"}, []string{ways[0].Hops[0].No, ways[0].Hops[1].No})
	require.Equal(t, "The chair touched your gloves at step 1.", ways[0].Hops[0].Text)
	require.Equal(t, "Your gloves touched the screen at step 2.", ways[0].Hops[1].Text)
}

// Results that were stored before ways keep their chain.
func TestAStoredChainIsToldByStepsToo(t *testing.T) {
	r := onDrawn(t)
	r.Steps = []int{0, 1, 1}
	require.Equal(t, "chair to gloves (step 1); gloves to screen (before the first step)", r.travelled(assess.Finding{Chain: []string{"chair to gloves (act 3)", "gloves to screen (act 1)"}}))
	require.Empty(t, r.travelled(assess.Finding{}))
}

// arrowsOf are the arrows of a result's picture.
func arrowsOf(r Result) []wayLine { return r.drawing(r.findings(), false).ways }

func TestArrowsJoinPlacesOfThePicture(t *testing.T) {
	r := onDrawn(t,
		assess.Finding{Rule: "a", Act: 3, Surface: "screen", Message: "A.", Way: hops("lines>gloves", "gloves>screen")},
		assess.Finding{Rule: "b", Act: 3, Surface: "chair", Message: "B.", Way: hops("lines>gloves", "gloves>screen", "screen>wipe", "wipe>chair")},
	)
	all := arrowsOf(r)
	var nos []string
	for _, a := range all {
		nos = append(nos, a.No)
	}
	// What stays in the hands is no line, and a line of two ways is drawn once.
	require.Equal(t, []string{"1b, 2b", "2c", "2d"}, nos)
	require.NotEqual(t, all[0].Path, all[1].Path, "there and back are two lines")
	require.Contains(t, stationCaption(r, r.findings()), "lettered in their order")
	require.Empty(t, arrowsOf(onDrawn(t, assess.Finding{Rule: "a", Act: 1})))
}

// An arrow's head must be seen: it ends beside the numbers of its place.
func TestArrowsEndBesideTheNumbers(t *testing.T) {
	from, to := spot{at: procedure.Point{X: 0, Y: 0}}, spot{procedure.Point{X: 300, Y: 0}, 80, 26}
	end := to.edge(procedure.Point{X: 150, Y: 0}, 7)
	require.Equal(t, 300-40-7, end.X)
	above := to.edge(procedure.Point{X: 300, Y: -100}, 7)
	require.Equal(t, -(26/2 + 7), above.Y)
	require.Equal(t, procedure.Point{X: 2, Y: 0}, from.edge(procedure.Point{X: 150, Y: 0}, 2))
	near := to.edge(procedure.Point{X: 310, Y: 0}, 7)
	require.Equal(t, 305, near.X, "never past the middle of the way")
}

func TestOnlyTheFirstWaysAreDrawnAndAllAreTold(t *testing.T) {
	var findings []assess.Finding
	for _, rule := range []string{"a", "b", "c", "d"} {
		findings = append(findings, assess.Finding{Rule: rule, Act: 1, Way: hops("chair>gloves")})
	}
	r := onDrawn(t, findings...)
	require.Equal(t, "1a, 2a, 3a", arrowsOf(r)[0].No)
	require.Len(t, r.ways(r.findings()), 4)
}

func TestAdviceStandsApart(t *testing.T) {
	r := onDrawn(t, assess.Finding{Rule: "custom", Act: 1, Level: assess.AdviceLevel}, assess.Finding{Rule: "hard", Act: 3, Level: assess.BreachLevel})
	list := r.findings()
	require.Equal(t, []string{"1"}, numbersOf(only(list, false)))
	require.Equal(t, []string{"2"}, numbersOf(only(list, true)))
	require.Equal(t, "hard", list[0].Rule, "advice comes after the breaches, wherever it was")
	page := rendered(t, findingsList(r, list))
	require.Less(t, strings.Index(page, ">Breaches<"), strings.Index(page, ">Advice<"))
	require.Contains(t, page, "costs no mark")
	require.NotContains(t, rendered(t, findingsList(r, only(list, false))), ">Advice<")
}

func numbersOf(list []numbered) (nos []string) {
	for _, x := range list {
		nos = append(nos, x.No)
	}
	return nos
}

func TestWhatTheClinicDoesNotAskForStandsApart(t *testing.T) {
	r := onDrawn(t)
	r.Result.NotAssessed = []assess.Gap{
		{Rule: "wet", Surface: "screen", Reason: "Nobody noted it.", Unasked: true}, {Rule: "wet", Surface: "chair", Reason: "Nobody noted it.", Unasked: true},
		{Rule: "hands", Reason: "Nobody measured."}, {Rule: "gown", Worn: action.Gown, Reason: "Nobody saw."},
	}
	require.Equal(t, []gap{{"hands", "Nobody measured."}, {"gown, Gown", "Nobody saw."}}, r.gaps(false))
	require.Equal(t, []gap{{"Wet for its time", "Screen; chair"}}, r.gaps(true), "one for all surfaces of a mark")
	page := rendered(t, notAssessed(r))
	require.Contains(t, page, ">Not assessed<")
	require.Contains(t, page, ">Not seen, and not asked for<")
}

// The learner's own numbers: acts of one step share one, events and what was taken
// back have none. The first tap of a rub that was timed is not shown.
func TestTheLogIsNumberedByTheLearnersSteps(t *testing.T) {
	r := onDrawn(t)
	r.Log = &action.Log{Witness: action.Order | action.Clock}
	for _, a := range []action.Act{
		{Verb: action.PutOn, Object: action.Gloves}, {Verb: action.Wipe, Object: "screen"}, {Verb: action.Wipe, Object: "chair"},
		{Verb: action.RubHands}, {Verb: action.Undone, Undoes: 4}, {Verb: action.PutOn, Object: action.Gown}, {Verb: action.Undone, Undoes: 6},
		{Verb: action.StillWet, Object: "screen"}, {Verb: action.RubHands, Millis: 21_000},
	} {
		r.Log.Add(a)
	}
	r.Steps = []int{1, 2, 2, 0, 0, 0, 0, 0, 3}
	var got []string
	for _, l := range r.lines(nil) {
		got = append(got, strings.TrimSpace(l.Number+" "+l.Text))
	}
	require.Equal(t, []string{"1 Put on gloves", "2 Wipe: screen", "Wipe: chair", "Put on gown", "Taken back: put on gown",
		"Seen still wet: screen", "3 Rub hands with hand rub for 21 s"}, got)
	require.True(t, r.lines(nil)[3].Gone)
	require.Equal(t, "after step 2", r.stepOf(8))
}

func rendered(t *testing.T, c interface {
	Render(ctx context.Context, w io.Writer) error
}) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, c.Render(t.Context(), &b))
	return b.String()
}
