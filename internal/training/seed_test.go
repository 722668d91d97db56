package training_test

import (
	"database/sql"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
)

// seeding is the frozen library with an ordinary turnover that varies: the chair or
// the top has blood.
type seeding struct {
	training.Library
	varied *simulate.Scenario
}

func (l seeding) Scenario(id string) (*simulate.Scenario, bool) {
	if id == l.varied.ID {
		return l.varied, true
	}
	return l.Library.Scenario(id)
}

func varied(t *testing.T, lib training.Library) seeding {
	t.Helper()
	plain, ok := lib.Scenario("ordinary-turnover")
	require.True(t, ok)
	facts := []simulate.Fact{{Name: "where", Options: []simulate.Option{{Value: "chair", Words: "the chair"}, {Value: "top", Words: "the top"}}}}
	var all []*simulate.Scenario
	for _, fixed := range simulate.Combinations(facts) {
		s := *plain
		s.Facts = fixed
		s.Story = "Blood on " + fixed[0].Words + "."
		s.Start = []action.Act{{Verb: action.BloodOn, Object: fixed[0].Value, At: action.Untimed}}
		require.NoError(t, s.Seal())
		all = append(all, &s)
	}
	all[0].Vary, all[0].Variants = facts, all
	return seeding{lib, all[0]}
}

func TestATryKeepsItsSeed(t *testing.T) {
	w := staffed(t)
	lib := varied(t, w.Library)
	w.Service.Library = lib
	who := w.trainee

	next, err := w.NextTry(ctx, who, "ordinary-turnover", false)
	require.NoError(t, err)
	d, err := w.OpenDraft(ctx, who, "ordinary-turnover", false)
	require.NoError(t, err)
	require.Len(t, d.Seed, 16)
	require.Equal(t, lib.varied.Variant(d.Seed), next.Scenario, "what was told before is what it is")

	require.NoError(t, w.DiscardDraft(ctx, who, w.Key(), d.ID))
	again, err := w.OpenDraft(ctx, who, "ordinary-turnover", false)
	require.NoError(t, err)
	require.Equal(t, d.Seed, again.Seed, "discarding makes no other story")
	reread, err := w.Draft(ctx, who, again.ID)
	require.NoError(t, err)
	require.Equal(t, again.Seed, reread.Seed)

	a := w.finished(again)
	require.Equal(t, again.Seed, a.Seed)
	require.Equal(t, lib.varied.Variant(a.Seed).Hash, a.ScenarioHash)
	require.Contains(t, a.Log, "blood on "+lib.varied.Variant(a.Seed).Facts[0].Value)
	kept, err := w.CitedScenario(ctx, a.ScenarioHash)
	require.NoError(t, err)
	require.Equal(t, lib.varied.Variant(a.Seed).Story, kept.Story)
	require.Equal(t, a.Seed, w.leafOf(training.AttemptLeaf, a.ID)["seed"])

	third, err := w.OpenDraft(ctx, who, "ordinary-turnover", false)
	require.NoError(t, err)
	require.NotEqual(t, a.Seed, third.Seed, "a further try is told anew")
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}

func (w *world) finished(d training.Draft) training.Attempt {
	w.T.Helper()
	d, err := w.SaveSteps(ctx, w.trainee, d.ID, d.Revision, []string{"rub-hands"})
	require.NoError(w.T, err)
	a, err := w.FinishBuild(ctx, w.trainee, w.Key(), d.ID, d.Revision)
	require.NoError(w.T, err)
	return a
}

func (w *world) leafOf(kind training.LeafKind, record string) (leaf map[string]any) {
	w.T.Helper()
	db := raw(w.T, w.Dir)
	var text []byte
	err := db.QueryRow(`SELECT l.leaf FROM ledger_leaves l JOIN record_leaves r ON r.leaf = l.i WHERE r.kind = ? AND r.record = ?`, kind, record).Scan(&text)
	require.NotErrorIs(w.T, err, sql.ErrNoRows)
	require.NoError(w.T, err)
	require.NoError(w.T, db.Close())
	require.NoError(w.T, json.Unmarshal(text, &leaf))
	return leaf
}

// A draft that was opened before there were seeds is what it was, and its attempt's
// leaf knows no seed.
func TestATryWithoutASeedIsTheScenarioItself(t *testing.T) {
	w := staffed(t)
	lib := varied(t, w.Library)
	w.Service.Library = lib
	w.Service.Seed = func(string, training.ScenarioTries) string { return "" }
	d, err := w.OpenDraft(ctx, w.trainee, "ordinary-turnover", false)
	require.NoError(t, err)
	require.Empty(t, d.Seed)
	a := w.finished(d)
	require.Equal(t, lib.varied.Hash, a.ScenarioHash)
	require.NotContains(t, w.leafOf(training.AttemptLeaf, a.ID), "seed")
}

func TestASeedCanBeGiven(t *testing.T) {
	w := staffed(t)
	w.Service.Seed = func(person string, so training.ScenarioTries) string {
		require.Equal(t, w.trainee.Person.ID, person)
		require.Equal(t, training.ScenarioTries{ScenarioID: w.Run.ID}, so)
		return "given"
	}
	d, err := w.StartRun(ctx, w.trainee, w.Key(), w.Run.ID, 1, false)
	require.NoError(t, err)
	require.Equal(t, "given", d.Seed)
}
