package assess

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
)

// shown is a log of so many rows, with what is said of some.
func shown(acts ...action.Act) *action.Log {
	log := &action.Log{}
	for _, a := range acts {
		log.Add(a)
	}
	return log
}

func ten() *action.Log {
	acts := make([]action.Act, 10)
	for i := range acts {
		acts[i] = action.Act{Verb: action.RubHands}
	}
	return shown(acts...)
}

func breach(act int, critical bool) Finding {
	return Finding{Rule: "r", Act: act, Message: "m", Critical: critical, Level: BreachLevel}
}

func TestASearchIsMarked(t *testing.T) {
	advice := Finding{Rule: "a", Act: 9, Message: "advised", Level: AdviceLevel}
	four := []Finding{breach(2, false), breach(4, false), breach(6, true), breach(8, false), advice}
	for name, c := range map[string]struct {
		picks       []int
		met, missed int
		outcome     Outcome
		wrong       []int
	}{
		"all":                   {[]int{2, 4, 6, 8}, 4, 0, Pass, nil},
		"one wrong":             {[]int{1, 2, 4, 6, 8}, 4, 1, Pass, []int{1}},
		"two wrong":             {[]int{1, 2, 3, 4, 6, 8}, 4, 2, NotPass, []int{1, 3}},
		"advice costs nothing":  {[]int{2, 4, 6, 8, 9}, 4, 0, Pass, nil},
		"one not seen":          {[]int{2, 4, 6}, 3, 1, NotPass, nil},
		"the critical not seen": {[]int{2, 4, 8}, 3, 1, NotPass, nil},
		"nothing":               {nil, 0, 4, NotPass, nil},
		"all rows":              {[]int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, 4, 5, NotPass, []int{1, 3, 5, 7, 10}},
	} {
		t.Run(name, func(t *testing.T) {
			s := Sought(ten(), &Result{Findings: four}, c.picks)
			require.Equal(t, c.met, s.Marks.Met)
			require.Equal(t, c.missed, s.Marks.Missed)
			require.Equal(t, c.outcome, s.Marks.Result)
			require.Equal(t, c.outcome == Pass, s.Marks.Pass)
			require.Equal(t, c.wrong, s.Marks.WrongRows())
			require.Len(t, s.Seen, c.met)
			require.Len(t, s.Findings, len(four)-c.met, "what was not seen, and advice")
			if total := c.met + c.missed; c.met > 0 {
				require.InDelta(t, float64(c.met)/float64(total), s.Marks.Score, 1e-9)
			}
		})
	}
}

// A critical breach that is not seen fails, also where the share is reached.
func TestEveryCriticalBreachMustBeSeen(t *testing.T) {
	var findings []Finding
	for n := 1; n <= 5; n++ {
		findings = append(findings, breach(n, n == 5))
	}
	require.Equal(t, NotPass, Sought(ten(), &Result{Findings: findings}, []int{1, 2, 3, 4}).Marks.Result)
	require.Equal(t, Pass, Sought(ten(), &Result{Findings: findings}, []int{2, 3, 4, 5}).Marks.Result)
	require.Equal(t, NotPass, Sought(ten(), &Result{}, nil).Marks.Result, "where nothing is to be found nothing is passed")
}

// What was done several times is found at any of them; what the engine tells at “ready”
// is to be seen where its surface dried, unless it was wiped since.
func TestRowsOfAFinding(t *testing.T) {
	again := breach(2, true)
	again.Acts = []int{2, 5, 7}
	require.Equal(t, []int{2, 5, 7}, RowsOf(ten(), []Finding{again}))

	wipe, dry := action.Act{Verb: action.Wipe, Object: "pole"}, action.Act{Verb: action.Dry, Object: "pole"}
	other, ready := action.Act{Verb: action.Dry, Object: "top"}, action.Act{Verb: action.DeclareReady}
	atReady := func(n int) Finding { return Finding{Rule: "wet", Act: n, Surface: "pole", Message: "m"} }
	require.Equal(t, []int{2, 4}, RowsOf(shown(wipe, dry, other, ready), []Finding{atReady(4)}))
	require.Equal(t, []int{4}, RowsOf(shown(dry, wipe, other, ready), []Finding{atReady(4)}), "wet to the end")
	require.Equal(t, []int{3}, RowsOf(shown(wipe, dry, action.Act{Verb: action.Touch, Object: "pole"}, ready), []Finding{atReady(3)}), "told where it was used")
}

func TestWhatIsKeptOfASearch(t *testing.T) {
	s := Sought(ten(), &Result{Findings: []Finding{breach(2, true), breach(4, false)}}, []int{2})
	text, err := s.JSON()
	require.NoError(t, err)
	result, err := ParseResult(text)
	require.NoError(t, err)
	require.Equal(t, s.Findings, result.Findings)
	require.Equal(t, s.Marks, result.Marks)
	seen, err := ParseSeen(text)
	require.NoError(t, err)
	require.Equal(t, s.Seen, seen)
}
