package views

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// anyRun is a run of some length with wet spells, hands and findings anywhere.
func anyRun(r *rand.Rand) Result {
	end := action.Millis(30_000 + r.IntN(5_400_000))
	at := func() action.Millis { return action.Millis(r.Int64N(int64(end) + 1)) }
	var findings []assess.Finding
	for i := range r.IntN(40) {
		s := float64(at()) / 1000
		findings = append(findings, assess.Finding{Rule: "r" + strconv.Itoa(i), Surface: fmt.Sprintf("s%d", r.IntN(8)), Act: 1, AtS: &s, Critical: r.IntN(2) == 0, Message: "M."})
	}
	x := resultWith(findings...)
	x.Log = &action.Log{Witness: action.Order | action.Clock}
	for range r.IntN(60) {
		a := action.Act{At: at(), Verb: []action.Verb{action.RubHands, action.PutOn, action.TakeOff}[r.IntN(3)], Object: action.Gloves}
		x.Log.Acts = append(x.Log.Acts, a)
	}
	x.Log.Acts = append(x.Log.Acts, action.Act{Verb: action.DeclareReady, At: end})
	for i := range 6 {
		spells := assess.SurfaceSpells{Surface: fmt.Sprintf("s%d", i), NeedMs: action.Millis(30_000 + r.IntN(300_000)), Unknown: r.IntN(6) == 0}
		for from := at() / 4; from < end && r.IntN(4) > 0; {
			to := min(end, from+action.Millis(r.IntN(400_000)))
			spells.Spells = append(spells.Spells, assess.Spell{From: from, To: to})
			from = to + action.Millis(r.IntN(300_000))
		}
		x.Spells = append(x.Spells, spells)
	}
	return x
}

// boxed is a place on a track, in pixels.
type boxed struct {
	left, right float64
	what        string
}

// Nothing on a track covers anything else, on the narrowest track and so on any wider:
// the distances of marks grow with it, their sizes do not. No word runs out of the track.
func TestMarksOfTheTimelineNeverOverlap(t *testing.T) {
	marks, words, deep := 0, 0, 0
	for seed := range uint64(400) {
		r := anyRun(rand.New(rand.NewPCG(seed, 9)))
		for _, row := range r.timeline(r.findings()).Tracks {
			lanes := map[int][]boxed{}
			for _, b := range row.Bars {
				left, right := b.box()
				lanes[0] = append(lanes[0], boxed{left, right, "bar"})
				if b.Word != "" {
					words++
					require.LessOrEqual(t, right, float64(trackLeast), "seed %d: a word runs out of the track", seed)
				}
			}
			bars := len(lanes[0])
			for _, m := range row.Marks {
				left, right := m.box()
				require.Greater(t, left, -16.0, "seed %d: %v", seed, m)
				require.Less(t, right, float64(trackLeast)+16, "seed %d: %v", seed, m)
				for i, o := range lanes[m.Lane] {
					require.False(t, left < o.right && o.left < right, "seed %d: %v lies over a %s (%d of %d bars)", seed, m, o.what, i, bars)
				}
				lanes[m.Lane] = append(lanes[m.Lane], boxed{left, right, "mark"})
				require.LessOrEqual(t, m.y()+markLane, row.height())
				marks, deep = marks+1, max(deep, m.Lane)
			}
		}
	}
	require.Greater(t, marks, 5000)
	require.Greater(t, words, 50)
	require.Greater(t, deep, 1, "some stood so near that they need a third lane")
}

func TestTheTrackIsAsWideAsItsLanesNeed(t *testing.T) {
	css, err := os.ReadFile("static/css/9-surface.css")
	require.NoError(t, err)
	require.Contains(t, string(css), fmt.Sprintf(".track { overflow: visible; min-width: %dpx; }", trackLeast))
}

// Critical is told where it tells one finding from another.
func TestCriticalIsShownWhereItDistinguishes(t *testing.T) {
	at := seconds(10)
	critical, other := assess.Finding{Rule: "a", Act: 1, AtS: at, Critical: true}, assess.Finding{Rule: "b", Act: 3, AtS: seconds(100)}
	both := resultWith(critical, other)
	both.Procedure = drawn(t)
	page := rendered(t, Timeline(both, both.findings()))
	require.Contains(t, page, `class="flag lesser"`)
	require.Contains(t, page, "Other findings")
	alike := resultWith(critical)
	alike.Procedure = drawn(t)
	page = rendered(t, Timeline(alike, alike.findings()))
	require.NotContains(t, page, "lesser")
	require.NotContains(t, page, "Other findings")
}

// A name stands whole: it has no end that is cut off.
func TestNamesOfTheTimelineAreWhole(t *testing.T) {
	r := onDrawn(t)
	r.Procedure.Surfaces[0].Title = "Line holders, latches and small parts"
	r.Spells = []assess.SurfaceSpells{{Surface: "screen", NeedMs: 60_000, Spells: []assess.Spell{{From: 0, To: 30_000}}}}
	page := rendered(t, Timeline(r, nil))
	require.Contains(t, page, `<span class="line-name">Line holders, latches and small parts</span>`)
	require.Contains(t, page, ">Too short<")
}
