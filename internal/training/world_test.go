package training_test

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/store"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

var ctx = context.Background()

const turnover = "turnover-between-patients"

// library is proved once: it never changes.
var library = sync.OnceValues(scenarios.Load)

// world is a clinic of invented people over a real file, with a clock of its own.
type world struct {
	t     testing.TB
	dir   string
	store *store.Store
	*training.Service
	now                                 time.Time
	ids                                 int
	prefix                              string
	educator, preceptor, other, trainee training.Actor
}

func newWorld(t testing.TB) *world {
	w := &world{t: t, dir: t.TempDir(), now: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)}
	w.open()
	t.Cleanup(func() { require.NoError(t, w.store.Close()) })
	return w
}

func (w *world) open() {
	var err error
	w.store, err = store.Open(ctx, w.dir)
	require.NoError(w.t, err)
	lib, err := library()
	require.NoError(w.t, err)
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(w.t, err)
	w.Service = training.New(training.Config{
		Records: w.store, Library: lib, Zone: zone, Clinic: "Invented Clinic of Lakeside",
		Now:      func() training.Instant { return training.InstantOf(w.now) },
		NewID:    w.newID,
		HashCost: training.HashCost{MemoryKiB: 8, Passes: 1},
	})
}

func (w *world) newID() string { w.ids++; return fmt.Sprintf("%sid%06d", w.prefix, w.ids) }

func (w *world) key() string { return "key-" + w.newID() }

func (w *world) pass(d time.Duration) { w.now = w.now.Add(d) }

// staffed adds an educator, two entitled preceptors and a new hire.
func staffed(t testing.TB) *world {
	w := newWorld(t)
	token, open, err := w.FirstRunToken(ctx)
	require.NoError(t, err)
	require.True(t, open)
	_, err = w.CreateFirstEducator(ctx, token, w.key(), "Edda Invented", "edda", training.DemoPassword)
	require.NoError(t, err)
	w.educator = w.in("edda")
	w.preceptor = w.hire("Pia Invented", "pia", training.Preceptor)
	w.other = w.hire("Otto Invented", "otto", training.Preceptor)
	w.trainee = w.hire("Tess Invented", "tess", training.Trainee)
	for _, a := range []training.Actor{w.preceptor, w.other} {
		_, err := w.Entitle(ctx, w.educator, w.key(), training.Entitlement{
			PersonID: a.Person.ID, Competency: turnover, From: "2026-01-01", Until: "2027-12-31"})
		require.NoError(t, err)
	}
	return w
}

func (w *world) in(username string) training.Actor {
	a, _, err := w.SignIn(ctx, username, training.DemoPassword)
	require.NoError(w.t, err)
	return a
}

func (w *world) hire(name, username string, role training.Role) training.Actor {
	_, first, err := w.AddPerson(ctx, w.educator, w.key(), training.Person{Name: name, Role: role, Hired: "2026-01-05"}, username)
	require.NoError(w.t, err)
	a, _, err := w.SignIn(ctx, username, first)
	require.NoError(w.t, err)
	require.True(w.t, a.MustChange)
	require.NoError(w.t, w.ChangePassword(ctx, a, w.key(), first, training.DemoPassword))
	return w.in(username)
}

func (w *world) procedure() *procedure.Procedure {
	p, ok := w.Library.Procedure("between-patients")
	require.True(w.t, ok)
	return p
}

// modelSteps turns a scenario's model log into the steps that write it.
func (w *world) modelSteps(sc *simulate.Scenario) (steps []string, at []action.Millis) {
	log, err := action.Parse("model", sc.Model, nil)
	require.NoError(w.t, err)
	var acts []action.Act
	for _, a := range log.Acts {
		if !a.Verb.Event() || a.Verb == action.BloodOn {
			acts = append(acts, a)
		}
	}
	p := w.procedure()
	acts = acts[startActs(sc, acts):]
	for len(acts) > 0 {
		best := -1
		for i, s := range p.Steps {
			if slices.Contains(sc.Steps, s.ID) && beginsWith(acts, s.Acts) && (best < 0 || len(s.Acts) > len(p.Steps[best].Acts)) {
				best = i
			}
		}
		require.GreaterOrEqual(w.t, best, 0, "no step for %s", acts[0].Text())
		s := &p.Steps[best]
		steps = append(steps, s.ID)
		at = append(at, acts[len(s.Acts)-1].At-simulate.Busy(p, s))
		acts = acts[len(s.Acts):]
	}
	return steps, at
}

// startActs counts the model's first lines that the scenario itself writes.
func startActs(sc *simulate.Scenario, acts []action.Act) int {
	n := 0
	for n < len(sc.Start) && n < len(acts) && acts[n].Text() == sc.Start[n].Text() {
		n++
	}
	return n
}

func beginsWith(acts, step []action.Act) bool {
	if len(acts) < len(step) {
		return false
	}
	for i, a := range step {
		b := acts[i]
		if a.Verb != b.Verb || a.Object != b.Object || a.Place != b.Place {
			return false
		}
	}
	return true
}

// build makes the model's order as a person would and finishes it.
func (w *world) build(who training.Actor, scenario string, change func([]string) []string) training.Attempt {
	sc, ok := w.Library.Scenario(scenario)
	require.True(w.t, ok)
	d, err := w.OpenDraft(ctx, who, scenario)
	require.NoError(w.t, err)
	steps, _ := w.modelSteps(sc)
	if change != nil {
		steps = change(steps)
	}
	d, err = w.SaveSteps(ctx, who, d.ID, d.Revision, steps)
	require.NoError(w.t, err)
	w.pass(10 * time.Minute)
	a, err := w.FinishBuild(ctx, who, w.key(), d.ID, d.Revision)
	require.NoError(w.t, err)
	return a
}

func (w *world) run(who training.Actor) training.Attempt {
	sc, ok := w.Library.Scenario("against-the-clock")
	require.True(w.t, ok)
	d, err := w.StartRun(ctx, who, w.key(), sc.ID, sc.Pace)
	require.NoError(w.t, err)
	start := w.now
	steps, at := w.modelSteps(sc)
	for i, step := range steps {
		w.now = start.Add(time.Duration(at[i]) * time.Millisecond / time.Duration(sc.Pace))
		_, err := w.Tap(ctx, who, d.ID, w.key(), step, at[i])
		require.NoError(w.t, err)
	}
	end := at[len(at)-1] + 10_000
	w.now = start.Add(time.Duration(end) * time.Millisecond / time.Duration(sc.Pace))
	a, err := w.FinishRun(ctx, who, w.key(), d.ID, end)
	require.NoError(w.t, err)
	return a
}

func (w *world) modules(who training.Actor) {
	require.Equal(w.t, "pass", string(w.build(who, "ordinary-turnover", nil).Outcome))
	require.Equal(w.t, "pass", string(w.build(who, "blood-on-the-machine", nil).Outcome))
	require.Equal(w.t, "pass", string(w.run(who).Outcome))
}

// observation is one line of a demonstration that goes well.
type observation struct {
	text string
	at   action.Millis
}

// goodTurnover is the clocked model as a preceptor would note it: no dry-outs
// but those of the bucket, and a "still wet" when a surface reaches its time.
func (w *world) goodTurnover() []observation {
	sc, ok := w.Library.Scenario("against-the-clock")
	require.True(w.t, ok)
	log, err := action.Parse("model", sc.Model, nil)
	require.NoError(w.t, err)
	var out []observation
	last := map[string]action.Millis{}
	for _, a := range log.Acts {
		if a.Verb == action.Wipe {
			last[a.Object] = a.At
		}
		if a.Verb == action.Dry && !strings.HasPrefix(a.Object, "bucket-") {
			continue
		}
		out = append(out, observation{a.Text(), a.At})
	}
	for surface, at := range last {
		out = append(out, observation{"still wet " + surface, at + 120_000})
	}
	slices.SortStableFunc(out, func(a, b observation) int {
		return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.text, b.text)*0)
	})
	return out
}

// watch records a demonstration up to its end.
func (w *world) watch(preceptor training.Actor, lines []observation) training.Demonstration {
	d, err := w.StartDemonstration(ctx, preceptor, w.key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(w.t, err)
	start := w.now
	for _, o := range lines {
		w.now = start.Add(time.Duration(o.at) * time.Millisecond)
		_, err := w.Observe(ctx, preceptor, d.ID, training.Observed{Key: w.key(), AtMs: int64(o.at), Text: o.text})
		require.NoError(w.t, err)
	}
	d, err = w.EndDemonstration(ctx, preceptor, w.key(), d.ID, int64(lines[len(lines)-1].at), "Calm and complete.")
	require.NoError(w.t, err)
	return d
}

func (w *world) signBoth(preceptor training.Actor, d training.Demonstration, m training.Meaning) training.Demonstration {
	_, err := w.SignAsLearner(ctx, preceptor, w.key(), d.ID, "Tess", training.DemoPassword)
	require.NoError(w.t, err)
	d, err = w.SignAsPreceptor(ctx, preceptor, w.key(), d.ID, m, training.DemoPassword)
	require.NoError(w.t, err)
	return d
}

// signedOff takes the trainee through the whole chain.
func (w *world) signedOff() training.SignOff {
	w.modules(w.trainee)
	w.signBoth(w.preceptor, w.watch(w.preceptor, w.goodTurnover()), training.WatchedMet)
	w.pass(24 * time.Hour)
	w.signBoth(w.other, w.watch(w.other, w.goodTurnover()), training.WatchedMet)
	o, err := w.SignOff(ctx, w.preceptor, w.key(), w.trainee.Person.ID, turnover, training.DemoPassword)
	require.NoError(w.t, err)
	return o
}
