package browsertest

import (
	"context"
	"crypto/rand"
	"log/slog"
	"net"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/exports"
	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/store"
	"stillwet/internal/training"
	"stillwet/internal/web"
	"stillwet/scenarios"
)

const (
	turnover = "turnover-between-patients"
	password = training.DemoPassword
)

// clinic is the real program over a real file, reached over the network. Its
// clock runs as the world's does, and can be set forward.
type clinic struct {
	t    testing.TB
	dir  string
	base string
	*training.Service
	end   context.CancelFunc
	ended chan error

	mu    sync.Mutex
	ahead time.Duration
}

// firstDay is where the clinic's clock begins.
var firstDay = time.Date(2026, 3, 2, 15, 0, 0, 0, time.UTC)

var started = time.Now()

func (c *clinic) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return firstDay.Add(time.Since(started) + c.ahead)
}

// pass sets the clinic's clock forward.
func (c *clinic) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.ahead += d
}

func newClinic(t testing.TB) *clinic {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	return newClinicOver(t, lib)
}

// newClinicOver is a clinic that works by a library of procedures and scenarios.
func newClinicOver(t testing.TB, lib *scenarios.Library) *clinic {
	c := &clinic{t: t, dir: t.TempDir(), ended: make(chan error, 1)}
	st, err := store.Open(context.Background(), c.dir)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	c.Service = training.New(training.Config{
		Records: st, Library: lib, Zone: time.UTC, Clinic: "Invented Clinic of Lakeside",
		Now: func() training.Instant { return training.InstantOf(c.now()) }, NewID: rand.Text,
		HashCost: training.HashCost{MemoryKiB: 8, Passes: 1},
	})
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	c.restart(listener)
	t.Cleanup(func() { c.stop() })
	c.base = "http://" + listener.Addr().String()
	return c
}

// restart serves on a listener, at first and after a stop.
func (c *clinic) restart(l net.Listener) {
	app, err := web.New(web.Config{Service: c.Service, Library: c.Library, Log: slog.New(slog.DiscardHandler), WriteAnnual: exports.Annual})
	require.NoError(c.t, err)
	ctx, end := context.WithCancel(context.Background())
	c.end = end
	go func() { c.ended <- web.Serve(ctx, app, l, time.Hour) }() // the test's own limit is enough
}

func (c *clinic) stop() {
	c.end()
	require.NoError(c.t, <-c.ended)
}

// staffed has an educator, an entitled preceptor and a new hire.
func staffed(t testing.TB) *clinic { return newClinic(t).staff() }

func (c *clinic) staff() *clinic {
	t := c.t
	ctx := t.Context()
	token, _, err := c.FirstRunToken(ctx)
	require.NoError(t, err)
	_, err = c.CreateFirstEducator(ctx, token, rand.Text(), "Edda Invented", "edda", password)
	require.NoError(t, err)
	educator := c.actor("edda")
	for _, p := range []struct {
		name, username string
		role           training.Role
	}{{"Pia Invented", "pia", training.Preceptor}, {"Tess Invented", "tess", training.Trainee}} {
		_, first, err := c.AddPerson(ctx, educator, rand.Text(), training.Person{Name: p.name, Role: p.role, Hired: "2026-01-05"}, p.username)
		require.NoError(t, err)
		a, _, err := c.SignIn(ctx, p.username, first)
		require.NoError(t, err)
		require.NoError(t, c.ChangePassword(ctx, a, rand.Text(), first, password))
	}
	_, err = c.Entitle(ctx, educator, rand.Text(), training.Entitlement{
		PersonID: c.actor("pia").Person.ID, Competency: c.Library.Competencies()[0].ID, From: "2026-01-01", Until: "2027-12-31"})
	require.NoError(t, err)
	return c
}

func (c *clinic) actor(username string) training.Actor {
	a, _, err := c.SignIn(context.Background(), username, password)
	require.NoError(c.t, err)
	return a
}

// signedIn is a tab of somebody who came in through the sign-in page.
func (c *clinic) signedIn(username string, s size) *tab {
	b := c.tab(s)
	b.signIn(username)
	return b
}

func (b *tab) signIn(username string) {
	b.t.Helper()
	b.open("/sign-in")
	b.fill("#username", username)
	b.fill("#password", password)
	b.follow(`form[action="/sign-in"] button`, "/")
	b.until(`location.pathname !== "/sign-in"`, "not signed in")
}

func (c *clinic) scenario(id string) (*simulate.Scenario, *procedure.Procedure) {
	sc, ok := c.Library.Scenario(id)
	require.True(c.t, ok)
	p, ok := c.Library.Procedure(sc.Procedure)
	require.True(c.t, ok)
	return sc, p
}

// timedStep is a step of a model log with the moment at which it begins.
type timedStep struct {
	id string
	at action.Millis
}

// model turns a scenario's model log into the steps that write it.
func (c *clinic) model(id string) (steps []timedStep) {
	sc, p := c.scenario(id)
	acts := c.modelActs(sc)
	for len(acts) > 0 {
		best := -1
		for i, s := range p.Steps {
			if slices.Contains(sc.Steps, s.ID) && beginsWith(acts, s.Acts) && (best < 0 || len(s.Acts) > len(p.Steps[best].Acts)) {
				best = i
			}
		}
		require.GreaterOrEqual(c.t, best, 0, "no step for %s", acts[0].Text())
		s := &p.Steps[best]
		steps = append(steps, timedStep{s.ID, acts[len(s.Acts)-1].At - simulate.Busy(p, s)})
		acts = acts[len(s.Acts):]
	}
	return steps
}

// modelActs are the acts of the worker in a model log.
func (c *clinic) modelActs(sc *simulate.Scenario) (acts []action.Act) {
	log, err := action.Parse("model", sc.Model, nil)
	require.NoError(c.t, err)
	for _, a := range log.Acts {
		if !a.Verb.Event() {
			acts = append(acts, a)
		}
	}
	return acts
}

func beginsWith(acts, step []action.Act) bool {
	if len(acts) < len(step) {
		return false
	}
	for i, a := range step {
		if b := acts[i]; a.Verb != b.Verb || a.Object != b.Object || a.Place != b.Place {
			return false
		}
	}
	return true
}

// seen is one line of a demonstration, as a preceptor taps it.
type seen struct {
	at         action.Millis
	step, text string
}

// goodTurnover is the clocked model as a preceptor would note it: the steps,
// the bucket's drying, and "still wet" when a surface reaches its time.
func (c *clinic) goodTurnover() []seen {
	sc, _ := c.scenario("against-the-clock")
	log, err := action.Parse("model", sc.Model, nil)
	require.NoError(c.t, err)
	var lines []seen
	last := map[string]action.Millis{}
	for _, a := range log.Acts {
		switch {
		case a.Verb == action.Dry && strings.HasPrefix(a.Object, "bucket-"):
			lines = append(lines, seen{at: a.At, text: a.Text()})
		case a.Verb == action.Dry:
		case a.Verb == action.TakeWipe:
			lines = append(lines, seen{at: a.At, step: "fresh-wipe"})
		default:
			if a.Verb == action.Wipe {
				last[a.Object] = a.At
			}
			lines = append(lines, seen{at: a.At, text: a.Text()})
		}
	}
	for surface, at := range last {
		lines = append(lines, seen{at: at + 120_000, text: "still wet " + surface})
	}
	slices.SortStableFunc(lines, func(a, b seen) int { return int(a.at - b.at) })
	return lines
}
