package training_test

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// groups is what a report says, by kind and what.
func groups(r training.RecheckReport) map[string]int {
	all := map[string]int{}
	for _, g := range r.Groups {
		all[g.Kind+": "+g.What] = g.Logs
	}
	return all
}

// Today's rules judge today's records as they were judged; nothing is written.
func TestRecheckFindsNothingInTodaysRecords(t *testing.T) {
	w := staffed(t)
	w.everything()
	before, err := w.Store.Definitions(ctx)
	require.NoError(t, err)
	r, err := w.Recheck(ctx, nil)
	require.NoError(t, err)
	require.Equal(t, r.Logs, r.Same)
	require.Greater(t, r.Logs, 3)
	require.Empty(t, r.Groups)
	require.Empty(t, r.Unjudged)
	require.Equal(t, assess.RulesVersion, r.RulesVersion)
	after, err := w.Store.Definitions(ctx)
	require.NoError(t, err)
	require.Equal(t, before, after)
}

// draft is the procedure in force with one change.
func draft(t *testing.T, p *procedure.Procedure, change func(*procedure.Definition)) *procedure.Procedure {
	t.Helper()
	var d procedure.Definition
	text, err := json.Marshal(p.Definition)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &d))
	change(&d)
	changed, faults := procedure.New(d, rules.Names())
	require.Empty(t, faults)
	return changed
}

// A label of five minutes in the draft: the timed run would not have been wet for
// long enough, the built order has no seconds and stays as it is, and the signed
// demonstration keeps its judgement though it would be judged otherwise.
func TestRecheckByADraftTellsWhatWouldDiffer(t *testing.T) {
	w := staffed(t)
	build := w.Build(w.trainee, "ordinary-turnover", nil)
	run := w.Play(w.trainee)
	w.Modules(w.trainee)
	d := w.signBoth(w.preceptor, w.watch(w.preceptor, w.watched()), training.WatchedMet)
	r, err := w.Recheck(ctx, draft(t, w.Procedure, func(d *procedure.Definition) {
		for i := range d.Products {
			d.Products[i].LabelS = 300
		}
	}))
	require.NoError(t, err)
	got := groups(r)
	require.Equal(t, 1, r.Signed)
	require.Positive(t, got["outcome: pass -> not pass"])
	require.Positive(t, got["found now: wet-long-enough"])
	var named []string
	for _, g := range r.Groups {
		if g.Kind == "found now" && g.What == "wet-long-enough" {
			named = g.Records
			require.Contains(t, g.Why, "of 5:00")
		}
	}
	require.Contains(t, named, "attempt "+run.ID)
	require.NotContains(t, named, "attempt "+build.ID)
	again, err := w.Demonstration(ctx, w.preceptor, d.ID)
	require.NoError(t, err)
	require.Equal(t, d.ResultJSON, again.ResultJSON)

	// A draft without a surface that the logs name cannot judge them, and says why.
	r, err = w.Recheck(ctx, draft(t, w.Procedure, func(d *procedure.Definition) { d.Products[0].ID = "other-wipe" }))
	require.NoError(t, err)
	require.NotEmpty(t, r.Unjudged)
	require.Contains(t, r.Unjudged[0].Reason, `unknown product "station-wipe"`)
	require.Zero(t, r.Different)
}

// A stored result that says something else than the rules say now is found, whatever
// its words are; other words alone are none.
func TestRecheckComparesWhatWasFoundAndNotItsWords(t *testing.T) {
	w := staffed(t)
	a := w.Build(w.trainee, "ordinary-turnover", func(steps []string) []string { return steps[1:] })
	result, err := assess.ParseResult(a.ResultJSON)
	require.NoError(t, err)
	require.NotEmpty(t, result.Findings)
	store := func(id string, change func(*assess.Result)) {
		changed, err := assess.ParseResult(a.ResultJSON)
		require.NoError(t, err)
		change(changed)
		b := a
		b.ID = id
		b.ResultJSON, err = changed.JSON()
		require.NoError(t, err)
		require.NoError(t, w.Store.Write(ctx, func(u training.Unit) error { return u.AddAttempt(ctx, b) }))
	}
	store("other-words", func(r *assess.Result) { r.Findings[0].Message = "In other words." })
	r, err := w.Recheck(ctx, nil)
	require.NoError(t, err)
	require.Zero(t, r.Different)
	store("moved", func(r *assess.Result) { r.Findings[0].Act++ })
	store("unmarked", func(r *assess.Result) { r.Marks.Lines[0].Status = assess.Missed })
	r, err = w.Recheck(ctx, nil)
	require.NoError(t, err)
	require.Equal(t, 2, r.Different)
	rule := result.Findings[0].Rule
	require.Equal(t, map[string]int{
		"found now: " + rule: 1, "found no longer: " + rule: 1,
		fmt.Sprintf("mark: %s: missed -> %s", result.Marks.Lines[0].ID, result.Marks.Lines[0].Status): 1,
	}, groups(r))
}

// BenchmarkRecheck prints the time a log; memory must not grow with their number.
// The aim is 100,000 logs in 10 s on two cores, 100 us a log.
func BenchmarkRecheck(b *testing.B) {
	for _, logs := range []int{1000, 8000} {
		b.Run(fmt.Sprint(logs), func(b *testing.B) {
			w := staffed(b)
			kinds := []training.Attempt{
				w.Build(w.trainee, "ordinary-turnover", nil), w.Play(w.trainee),
				w.Build(w.trainee, "blood-on-the-machine", func(s []string) []string { return s[:len(s)/2] }),
			}
			require.NoError(b, w.Store.Write(ctx, func(u training.Unit) error {
				for i := range logs - len(kinds) {
					a := kinds[i%len(kinds)]
					a.ID = fmt.Sprintf("a%d", i)
					if err := u.AddAttempt(ctx, a); err != nil {
						return err
					}
				}
				return nil
			}))
			b.ReportAllocs()
			start := time.Now()
			for b.Loop() {
				r, err := w.Recheck(ctx, nil)
				require.NoError(b, err)
				require.Equal(b, logs, r.Same)
			}
			b.ReportMetric(float64(time.Since(start).Microseconds())/float64(b.N)/float64(logs), "us/log")
		})
	}
}
