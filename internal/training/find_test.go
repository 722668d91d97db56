package training_test

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/clinictest"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// found is a find scenario of the living set.
const found = "a-colleagues-hands"

// living is a clinic with the set as it comes: the frozen one has nothing to find in.
func living(t testing.TB) *world {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	return openWorld(t, clinictest.Options{Library: lib})
}

// key are the rows at which the engine finds something in a draft's work, as strings.
func (w *world) key(d training.Draft) (rows []string) {
	log, _, err := w.Shown(d)
	require.NoError(w.T, err)
	whole, err := rules.Assess(w.Procedure, log, found)
	require.NoError(w.T, err)
	for n := range len(log.Acts) {
		for _, f := range whole.Breaches() {
			if f.Act == n+1 && (len(rows) == 0 || rows[len(rows)-1] != strconv.Itoa(n+1)) {
				rows = append(rows, strconv.Itoa(n+1))
			}
		}
	}
	require.NotEmpty(w.T, rows)
	return rows
}

// search opens a search and has it judged by some rows.
func (w *world) search(guided bool, pick func(key []string) []string) training.Attempt {
	d, err := w.OpenDraft(ctx, w.trainee, found, guided)
	require.NoError(w.T, err)
	w.Pass(4 * time.Minute)
	a, err := w.FinishFind(ctx, w.trainee, w.Key(), d.ID, d.Revision, pick(w.key(d)))
	require.NoError(w.T, err)
	return a
}

func all(key []string) []string { return key }

func TestASearchSurvivesAndIsJudged(t *testing.T) {
	w := living(t).staff()
	d, err := w.OpenDraft(ctx, w.trainee, found, false)
	require.NoError(t, err)
	d, err = w.SaveSteps(ctx, w.trainee, d.ID, 0, []string{"3", "17"})
	require.NoError(t, err)
	w.Close()
	w.Open()
	same, err := w.OpenDraft(ctx, w.trainee, found, false)
	require.NoError(t, err)
	require.Equal(t, d, same)
	for _, wrong := range [][]string{{"0"}, {"-1"}, {"9999"}, {"4", "4"}, {"5", "4"}, {"04"}, {"rub-hands"}, {""}} {
		_, err = w.SaveSteps(ctx, w.trainee, d.ID, 1, wrong)
		require.ErrorIs(t, err, training.ErrInvalid, "%v", wrong)
		_, err = w.FinishFind(ctx, w.trainee, w.Key(), d.ID, 1, wrong)
		require.ErrorIs(t, err, training.ErrInvalid, "%v", wrong)
	}
	_, err = w.SaveSteps(ctx, w.trainee, d.ID, 0, []string{"3"})
	require.ErrorIs(t, err, training.ErrConflict, "made from a stale page")
	_, err = w.FinishFind(ctx, w.trainee, w.Key(), d.ID, 0, []string{"3"})
	require.ErrorIs(t, err, training.ErrConflict)
	_, err = w.FinishFind(ctx, w.trainee, w.Key(), d.ID, 1, nil)
	require.ErrorIs(t, err, training.ErrInvalid, "nothing is marked")
	_, err = w.FinishBuild(ctx, w.trainee, w.Key(), d.ID, 1)
	require.ErrorIs(t, err, training.ErrNotFound, "it is no order")
	_, err = w.FinishFind(ctx, w.preceptor, w.Key(), d.ID, 1, []string{"3"})
	require.ErrorIs(t, err, training.ErrNotFound, "somebody else's")

	picks := w.key(d)
	a, err := w.FinishFind(ctx, w.trainee, w.Key(), d.ID, 1, picks)
	require.NoError(t, err)
	require.Equal(t, assess.Pass, a.Outcome)
	require.Equal(t, 1.0, a.Score)
	require.Equal(t, picks, a.Steps)
	log, err := action.Parse("log", a.Log, w.Procedure.Words)
	require.NoError(t, err)
	require.Equal(t, a.Log, action.Format(log), "the work as it was shown")
	_, err = w.Draft(ctx, w.trainee, d.ID)
	require.ErrorIs(t, err, training.ErrNotFound, "a finished search is gone")
}

func TestASearchThatMissesIsToldWhatItMissed(t *testing.T) {
	w := living(t).staff()
	a := w.search(false, func([]string) []string { return []string{"2"} })
	require.Equal(t, assess.NotPass, a.Outcome)
	result, err := assess.ParseResult(a.ResultJSON)
	require.NoError(t, err)
	require.NotEmpty(t, result.Findings)
	by, err := w.Store.MissedRules(ctx, []string{a.ID})
	require.NoError(t, err)
	for _, f := range result.Findings {
		require.Contains(t, by[a.ID], f.Rule, "the lessons that teach this are found by it")
	}
	b := w.search(false, all)
	by, err = w.Store.MissedRules(ctx, []string{b.ID})
	require.NoError(t, err)
	require.Empty(t, by[b.ID], "what was seen was not missed")
}

// Practice says at once what is wrong at a marked row, or that nothing is; a test never.
func TestOnlyPracticeIsToldAtOnce(t *testing.T) {
	w := living(t).staff()
	for _, guided := range []bool{true, false} {
		d, err := w.OpenDraft(ctx, w.trainee, found, guided)
		require.NoError(t, err)
		key := w.key(d)
		d, err = w.SaveSteps(ctx, w.trainee, d.ID, 0, append([]string{}, key[0]))
		require.NoError(t, err)
		told, err := w.Told(d)
		require.NoError(t, err)
		if !guided {
			require.Empty(t, told)
			continue
		}
		require.Len(t, told, 1)
		require.Equal(t, key[0], strconv.Itoa(told[0].Row))
		require.NotEmpty(t, told[0].Findings)
		d, err = w.SaveSteps(ctx, w.trainee, d.ID, 1, []string{"2"})
		require.NoError(t, err)
		told, err = w.Told(d)
		require.NoError(t, err)
		if key[0] != "2" {
			require.Equal(t, []training.RowTold{{Row: 2}}, told, "nothing is wrong there")
		}
	}
}

// Sealed and judged again, a search is what it was; a changed mark is told.
func TestSearchesAreVerifiedAndJudgedAgain(t *testing.T) {
	w := living(t).staff()
	w.search(true, all)
	w.search(false, func(key []string) []string { return append([]string{}, key[0]) })
	w.search(false, all)
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
	r, err := w.Recheck(ctx, nil)
	require.NoError(t, err)
	require.Equal(t, 3, r.Logs)
	require.Equal(t, 3, r.Same)
	require.Empty(t, r.Groups)

	// Under a draft that does not ask for hands before the patient, there is less to find.
	r, err = w.Recheck(ctx, draft(t, w.Procedure, func(d *procedure.Definition) {
		marks := d.MarkSheet.Marks[:0]
		for _, m := range d.MarkSheet.Marks {
			if m.Rule != "ppe-order" && m.Rule != "hands-before-patient" && !strings.HasPrefix(m.Rule, "hands-before-gloves") {
				marks = append(marks, m)
			}
		}
		d.MarkSheet.Marks = marks
	}))
	require.NoError(t, err)
	require.Positive(t, r.Different)
	require.Empty(t, r.Unjudged)
}

// Each try is another work, and a test another than the practice before it.
func TestSearchesVary(t *testing.T) {
	w := living(t).staff()
	logs := map[string]bool{}
	for range 12 {
		logs[w.search(false, all).Log] = true
	}
	sc, _ := w.Scenario(found)
	require.Equal(t, simulate.FindWrong, sc.Kind)
	require.Len(t, sc.Variants, 10)
	require.Greater(t, len(logs), 1)
}
