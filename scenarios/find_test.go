package scenarios_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

// eachFind does something with every find scenario as 20 seeds make it, in a clinic that
// has confirmed nothing and in one that has confirmed all.
func eachFind(t *testing.T, do func(t *testing.T, s *simulate.Scenario, p *procedure.Procedure, played simulate.Played, whole *assess.Result)) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	found := 0
	for kind, l := range map[string]*scenarios.Library{"as it comes": lib, "confirmed": lib.Confirmed("Edda Invented", "2027-06-30")} {
		for _, base := range l.Scenarios() {
			if base.Kind != simulate.FindWrong {
				continue
			}
			found++
			p, ok := l.Procedure(base.Procedure)
			require.True(t, ok)
			require.Greater(t, len(base.Variants), 3)
			seen := map[string]bool{}
			for _, seed := range seeds() {
				s := base.Variant(seed)
				seen[s.Hash] = true
				played, _, err := simulate.Play(p, s, s.Cues)
				require.NoError(t, err)
				whole, err := rules.Assess(p, played.Log, s.ID)
				require.NoError(t, err)
				t.Run(fmt.Sprintf("%s, %s, %s", base.ID, seed, kind), func(t *testing.T) { do(t, s, p, played, whole) })
			}
			require.Greater(t, len(seen), 3, "seeds make different ones")
		}
	}
	require.Equal(t, 8, found)
}

// keyRows is the first row of each breach.
func keyRows(played simulate.Played, whole *assess.Result) (rows []int) {
	for _, same := range assess.SaidOnce(whole.Breaches()) {
		rows = append(rows, assess.RowsOf(played.Log, same)[0])
	}
	return rows
}

func TestWhatIsFoundIsJudged(t *testing.T) {
	t.Parallel()
	eachFind(t, func(t *testing.T, s *simulate.Scenario, p *procedure.Procedure, played simulate.Played, whole *assess.Result) {
		key := keyRows(played, whole)
		judged := func(picks ...int) *assess.Search { return assess.Sought(played.Log, whole, picks) }

		all := judged(key...)
		require.Equal(t, assess.Pass, all.Marks.Result)
		require.Equal(t, 1.0, all.Marks.Score)
		require.Empty(t, all.Marks.WrongRows())

		require.Equal(t, assess.NotPass, judged().Marks.Result, "an empty answer")
		var every []int
		for _, a := range played.Log.Acts {
			every = append(every, a.Number)
		}
		greedy := judged(every...)
		require.Equal(t, assess.NotPass, greedy.Marks.Result, "every row")
		require.Len(t, greedy.Seen, len(all.Seen), "though all is found")

		wrong := slices.DeleteFunc(slices.Clone(every), func(n int) bool { return !slices.Contains(greedy.Marks.WrongRows(), n) })
		require.NotEmpty(t, wrong)
		one := judged(append(slices.Clone(key), wrong[0])...)
		require.Equal(t, []int{wrong[0]}, one.Marks.WrongRows())
		require.Less(t, one.Marks.Score, 1.0, "a wrong row costs")
		require.Equal(t, assess.NotPass, judged(append(slices.Clone(key), wrong[:3]...)...).Marks.Result)
		require.Equal(t, assess.NotPass, judged(wrong...).Marks.Result)
	})
}

// A mistake is found at a row that it touches: one of the step that was put in, of the
// steps beside the gap, or one after it.
func TestWhatIsPlantedIsFoundWhereItIs(t *testing.T) {
	t.Parallel()
	eachFind(t, func(t *testing.T, s *simulate.Scenario, p *procedure.Procedure, played simulate.Played, whole *assess.Result) {
		rows := keyRows(played, whole)
		require.GreaterOrEqual(t, len(rows), len(s.Planted))
		require.LessOrEqual(t, len(rows), 2*len(s.Planted))
		for _, m := range s.Planted {
			less := slices.DeleteFunc(slices.Clone(s.Planted), func(x simulate.Mistake) bool { return x.ID == m.ID })
			without := *s
			without.Cues = simulate.Spoil(simulate.CuesOf(s.Model), less)
			mended, _, err := simulate.Play(p, &without, without.Cues)
			require.NoError(t, err)
			then, err := rules.Assess(p, mended.Log, s.ID)
			require.NoError(t, err)
			require.Less(t, len(then.Breaches()), len(whole.Breaches()), "%s goes with its mistake", m.ID)
			same := 0 // rows that are the same from the beginning, with and without it
			for same < len(mended.Log.Acts) && played.Log.Acts[same].Text() == mended.Log.Acts[same].Text() {
				same++
			}
			require.True(t, slices.ContainsFunc(rows, func(n int) bool { return n > same }), "%s is found after the work differs", m.ID)
		}
	})
}

const finds = "a-colleagues-hands.yaml"

func TestFaultsOfFindScenarios(t *testing.T) {
	mistake := func(with string) func(string) string {
		return replace("{id: phone, put: {step: touch-phone, after: discard-circuit}}", with)
	}
	const line = "id: phone"
	for name, c := range map[string]struct {
		change      func(string) string
		place, want string
	}{
		"no base":         {replace("spoils: ordinary-turnover", "spoils: ordinary"), "spoils:", `there is no build or run scenario "ordinary"`},
		"base varies":     {replace("spoils: ordinary-turnover", "spoils: supplies-left-over"), "spoils:", "varies, which"},
		"base is a find":  {replace("spoils: ordinary-turnover", "spoils: a-colleagues-hands"), "spoils:", `there is no build or run scenario`},
		"own procedure":   {replace("level: 2", "procedure: between-patients\nlevel: 2"), "level:", "from the scenario that it spoils"},
		"no story":        {replace("level: 2", "level: 12"), "level:", "12 is not between 1 and 9"},
		"id twice":        {replace("id: phone", "id: first-hands"), line, "a mistake needs an id of its own"},
		"no edit":         {mistake("{id: phone}"), line, "a mistake is one of drop, put, move, change"},
		"two edits":       {mistake("{id: phone, drop: {step: look}, put: {step: look, after: look}}"), line, "a mistake is one of drop, put, move, change"},
		"unknown step":    {mistake("{id: phone, put: {step: touch-fone, after: discard-circuit}}"), line, "nearest: touch-phone"},
		"not in model":    {mistake("{id: phone, put: {step: touch-phone, after: touch-pen}}"), line, "touch-pen stands 0 times in the model"},
		"no such time":    {mistake("{id: phone, drop: {step: rub-hands, before: gloves-on, nth: 9}}"), line, "stands 3 times directly before gloves-on in the model, so there is no time 9"},
		"no place":        {mistake("{id: phone, put: {step: touch-phone}}"), line, "say before or after what it goes"},
		"to of nothing":   {mistake("{id: phone, put: {step: touch-phone, after: look, to: wait}}"), line, "“change” says to what"},
		"move of many":    {mistake("{id: phone, move: {step: rub-hands, after: look}}"), line, "move takes what stands once"},
		"no breach":       {mistake("{id: phone, put: {step: fresh-wipe, after: bucket-empty}}"), line, "with phone: this is no breach"},
		"too much":        {mistake("{id: phone, change: {step: discard-circuit, to: circuit-to-waste}}"), line, "this is 3 breaches, 2 is the most"},
		"at the end only": {mistake("{id: phone, drop: {step: rub-hands, before: declare-ready}}"), line, "told only at the end, at no row"},
		"waits in build":  {mistake("{id: phone, put: {step: +30s, after: look}}"), line, "without a clock has nothing to wait for"},
		"hides another":   {mistake("{id: phone, drop: {step: rub-hands, before: gloves-on, nth: 2}}"), "mistakes:", "told otherwise than apart"},
		"plants too many": {replace("plants: 3", "plants: 6"), "plants:", "6 is not between 1 and the 5 mistakes"},
		"plants all":      {replace("plants: 3", "plants: 5"), "plants:", "every try is the same"},
		"mistakes of run": {replace("kind: find", "kind: build"), "kind:", ""},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := scenarios.LoadFS(files(t, map[string]func(string) string{finds: c.change}))
			require.Error(t, err)
			at := lineOf(t, finds, c.place)
			if name == "own procedure" || name == "mistakes of run" {
				at = finds + ":"
			}
			require.ErrorContains(t, err, at)
			require.ErrorContains(t, err, c.want)
		})
	}
	many := func(s string) string {
		more := ""
		for _, i := range []string{"a", "b", "c", "d", "e", "f"} {
			more += "  - {id: " + i + ", put: {step: touch-pen, after: look}}\n"
		}
		return strings.Replace(s, "mistakes:\n", "mistakes:\n"+more, 1)
	}
	_, err := scenarios.LoadFS(files(t, map[string]func(string) string{finds: many}))
	require.ErrorContains(t, err, "165 combinations; 16 is the most")

	_, err = scenarios.LoadFS(files(t, map[string]func(string) string{ordinary: func(s string) string { return s + "plants: 2\n" }}))
	require.ErrorContains(t, err, "are of a find scenario")
}

// What is shown is kept whole: the sealed text of each variant plays the same work again.
func TestASealedFindPlaysTheSame(t *testing.T) {
	eachFind(t, func(t *testing.T, s *simulate.Scenario, p *procedure.Procedure, played simulate.Played, whole *assess.Result) {
		again, err := simulate.StoredScenario(s.Text)
		require.NoError(t, err)
		require.Equal(t, s.Hash, again.Hash)
		replayed, _, err := simulate.Play(p, again, again.Cues)
		require.NoError(t, err)
		require.Equal(t, played.Log.Acts, replayed.Log.Acts)
	})
}
