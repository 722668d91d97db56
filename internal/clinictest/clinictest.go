// Package clinictest is the one clinic that tests work in: the real services over
// a real file, invented people, a clock of its own. It knows no procedure: what
// is practised and watched comes from the library, by default the frozen one.
// Only tests import it.
package clinictest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
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

// Name of the clinic.
const Name = "Invented Clinic of Lakeside"

// Password of everybody in it.
const Password = training.DemoPassword

// Frozen is the library that tests know step by step, proved once. The built-in one
// may change without moving them.
var Frozen = sync.OnceValues(func() (*scenarios.Library, error) {
	dir, err := frozenDir()
	if err != nil {
		return nil, err
	}
	return scenarios.LoadFS(os.DirFS(dir))
})

func frozenDir() (string, error) {
	dir, err := os.Getwd()
	for err == nil && filepath.Dir(dir) != dir {
		if _, absent := os.Stat(filepath.Join(dir, "go.mod")); absent == nil {
			break
		}
		dir = filepath.Dir(dir)
	}
	return filepath.Join(dir, "testdata", "checks", "station"), err
}

// Options differ from clinic to clinic; the zero value is the usual one.
type Options struct {
	Library *scenarios.Library // the frozen one
	Files   map[string][]byte  // the set lies in the data file, and begins with these; Library then says what they hold
	Dir     string             // a folder of its own
	Zone    string             // America/Chicago
	Start   time.Time          // 2 March 2026, 15:00 UTC
	Running bool               // the clock goes on by itself, as the world's does
	IDs     func() string      // numbered ones
}

// FrozenFiles are the files of the frozen library.
var FrozenFiles = sync.OnceValues(func() (map[string][]byte, error) {
	dir, err := frozenDir()
	if err != nil {
		return nil, err
	}
	set, err := scenarios.ReadSet(os.DirFS(dir))
	if err != nil {
		return nil, err
	}
	return set.Map(), nil
})

// Clinic is the services with the file under them.
type Clinic struct {
	*training.Service
	T          testing.TB
	Dir        string
	Store      *store.Store
	Competency training.Competency  // the library's first
	Procedure  *procedure.Procedure // its procedure
	Run        *simulate.Scenario   // its first run against the clock
	options    Options

	mu   sync.Mutex
	now  time.Time
	from time.Time // when the clock began to run, by the world's
	ids  int

	tablet tablet
}

// New opens an empty clinic, which is closed with its test.
func New(t testing.TB, o Options) *Clinic {
	t.Helper()
	if o.Library == nil {
		lib, err := Frozen()
		require.NoError(t, err)
		o.Library = lib
	}
	if o.Dir == "" {
		o.Dir = t.TempDir()
	}
	if o.Zone == "" {
		o.Zone = "America/Chicago"
	}
	if o.Start.IsZero() {
		o.Start = time.Date(2026, 3, 2, 15, 0, 0, 0, time.UTC)
	}
	c := &Clinic{T: t, Dir: o.Dir, options: o, now: o.Start, from: time.Now()}
	c.Competency = o.Library.Competencies()[0]
	c.Procedure, _ = o.Library.Procedure(c.Competency.Procedure)
	require.NotNil(t, c.Procedure)
	for _, id := range c.Competency.Scenarios {
		if s, ok := o.Library.Scenario(id); ok && s.Kind == simulate.TimedRun && c.Run == nil {
			c.Run = s
		}
	}
	c.begin()
	c.Open()
	t.Cleanup(c.Close)
	return c
}

// blank is a data file that the store has made and nobody has written to. Each clinic
// begins with a copy: to make one anew takes a dozen migrations.
var blank = sync.OnceValues(func() (text []byte, err error) {
	dir, err := os.MkdirTemp("", "stillwet-blank-")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	s, err := store.Open(context.Background(), dir)
	if err != nil {
		return nil, err
	}
	if err := s.Close(); err != nil {
		return nil, err
	}
	return os.ReadFile(filepath.Join(dir, store.DataFile))
})

// begin puts an empty data file into a folder that has none; its key is made when it is
// opened.
func (c *Clinic) begin() {
	c.T.Helper()
	path := filepath.Join(c.Dir, store.DataFile)
	if _, err := os.Stat(path); err == nil {
		return
	}
	text, err := blank()
	require.NoError(c.T, err)
	require.NoError(c.T, os.WriteFile(path, text, 0o600))
}

// Open opens the file and makes the services anew, after a Close.
func (c *Clinic) Open() {
	c.T.Helper()
	c.open(store.Open)
}

// OpenToRead is Open where the disk takes no writing.
func (c *Clinic) OpenToRead() {
	c.T.Helper()
	c.open(store.OpenToRead)
}

func (c *Clinic) open(how func(context.Context, string) (*store.Store, error)) {
	c.T.Helper()
	zone, err := time.LoadLocation(c.options.Zone)
	require.NoError(c.T, err)
	c.Store, err = how(context.Background(), c.Dir)
	require.NoError(c.T, err)
	ids := c.options.IDs
	if ids == nil {
		ids = c.NewID
	}
	config := training.Config{
		Records: c.Store, Library: c.options.Library, Zone: zone, Clinic: Name, NewID: ids,
		Now:      func() training.Instant { return training.InstantOf(c.Now()) },
		HashCost: training.HashCost{MemoryKiB: 8, Passes: 1}, // a real one takes longer than most tests
	}
	if c.options.Files != nil {
		config.Library = training.NewShelf(config.Now, zone)
		config.LoadSet = loadSet
		config.Differ = scenarios.Changes
		config.StartingSet = func() (map[string][]byte, error) { return c.options.Files, nil }
	}
	c.Service = training.New(config)
	if c.options.Files != nil {
		require.NoError(c.T, c.Stock(c.ctx()))
	}
}

func loadSet(files map[string][]byte) (training.Library, error) {
	set, err := scenarios.SetOf(files)
	if err != nil {
		return nil, err
	}
	return set.Load()
}

// Close closes the file; a second time does nothing.
func (c *Clinic) Close() {
	if c.Store != nil {
		require.NoError(c.T, c.Store.Close())
		c.Store = nil
	}
}

// Now is the clinic's time.
func (c *Clinic) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.options.Running {
		return c.now.Add(time.Since(c.from))
	}
	return c.now
}

// Pass lets time go by.
func (c *Clinic) Pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// Set sets a clock that stands.
func (c *Clinic) Set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
}

// At sets the clock to so much of a scenario's clock after a start.
func (c *Clinic) At(start time.Time, t action.Millis, pace int) {
	c.Set(start.Add(time.Duration(t) * time.Millisecond / time.Duration(pace)))
}

// NewID is a fresh id.
func (c *Clinic) NewID() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.ids++
	return fmt.Sprintf("id%06d", c.ids)
}

// Key is a fresh key of an act.
func (c *Clinic) Key() string { return "key-" + c.NewID() }

func (c *Clinic) ctx() context.Context { return context.Background() }

// FirstEducator makes the first person, by the one-time link.
func (c *Clinic) FirstEducator(name, username string) training.Actor {
	c.T.Helper()
	token, open, err := c.FirstRunToken(c.ctx())
	require.NoError(c.T, err)
	require.True(c.T, open)
	_, err = c.CreateFirstEducator(c.ctx(), token, c.Key(), training.FirstEducator{Name: name, Username: username, Password: Password})
	require.NoError(c.T, err)
	return c.In(username)
}

// In signs somebody in.
func (c *Clinic) In(username string) training.Actor {
	c.T.Helper()
	a, _, err := c.SignIn(c.ctx(), username, Password)
	require.NoError(c.T, err)
	return a
}

// Hire adds a person, who chooses the clinic's password and signs in.
func (c *Clinic) Hire(by training.Actor, name, username string, role training.Role) training.Actor {
	c.T.Helper()
	_, first, err := c.AddPerson(c.ctx(), by, c.Key(), training.Person{Name: name, Role: role, Hired: "2026-01-05"}, username)
	require.NoError(c.T, err)
	a, _, err := c.SignIn(c.ctx(), username, first)
	require.NoError(c.T, err)
	require.True(c.T, a.MustChange)
	_, err = c.ChangePassword(c.ctx(), a, c.Key(), first, Password)
	require.NoError(c.T, err)
	return c.In(username)
}

// OnPaper is an approval by somebody who has no account.
var OnPaper = training.Approval{How: training.ApprovedPaper, By: "M. Invented", Role: "medical director", On: "2026-01-01", Where: "red folder, page 3"}

// EntitleTo lets somebody watch and sign off the clinic's competency.
func (c *Clinic) EntitleTo(by, who training.Actor) {
	c.T.Helper()
	_, err := c.Entitle(c.ctx(), by, c.Key(), training.Entitlement{
		PersonID: who.Person.ID, Competency: c.Competency.ID, From: "2026-01-01", Until: "2027-12-31",
		Watch: true, SignOff: true, Credential: "RN", Founding: "The clinic begins with this programme.", Approval: OnPaper,
	}, training.SecondPerson{})
	require.NoError(c.T, err)
}

// Scenario finds a scenario with its procedure.
func (c *Clinic) Scenario(id string) (*simulate.Scenario, *procedure.Procedure) {
	c.T.Helper()
	s, ok := c.Library.Scenario(id)
	require.True(c.T, ok, id)
	p, ok := c.Library.Procedure(s.Procedure)
	require.True(c.T, ok, s.Procedure)
	return s, p
}

// Taps are the taps of a scenario's model, and when the last is finished.
func (c *Clinic) Taps(id string) (taps []simulate.Tap, end action.Millis) {
	c.T.Helper()
	s, p := c.Scenario(id)
	taps, end, err := simulate.Taps(p, s, simulate.CuesOf(s.Model))
	require.NoError(c.T, err)
	return taps, end
}

// Steps are the steps of a scenario's model.
func (c *Clinic) Steps(id string) []string {
	c.T.Helper()
	taps, _ := c.Taps(id)
	steps := make([]string, len(taps))
	for i, t := range taps {
		steps[i] = t.Step
	}
	return steps
}

// Build makes the model's order as a person would, changed or not, and has it
// judged.
func (c *Clinic) Build(who training.Actor, scenario string, change func([]string) []string) training.Attempt {
	c.T.Helper()
	d, err := c.OpenDraft(c.ctx(), who, scenario, false)
	require.NoError(c.T, err)
	steps := c.Steps(scenario)
	if change != nil {
		steps = change(slices.Clone(steps))
	}
	d, err = c.SaveSteps(c.ctx(), who, d.ID, d.Revision, steps)
	require.NoError(c.T, err)
	c.Pass(10 * time.Minute)
	a, err := c.FinishBuild(c.ctx(), who, c.Key(), d.ID, d.Revision)
	require.NoError(c.T, err)
	return a
}

// Play makes the run that the model of the competency's run is.
func (c *Clinic) Play(who training.Actor) training.Attempt {
	c.T.Helper()
	s := c.Run
	d, err := c.StartRun(c.ctx(), who, c.Key(), s.ID, s.Pace, false)
	require.NoError(c.T, err)
	start := c.Now()
	taps, end := c.Taps(s.ID)
	for _, t := range taps {
		c.At(start, t.At, s.Pace)
		_, err := c.Tap(c.ctx(), who, d.ID, c.Key(), t.Step, t.At)
		require.NoError(c.T, err)
	}
	c.At(start, end, s.Pace)
	a, err := c.FinishRun(c.ctx(), who, c.Key(), d.ID, end)
	require.NoError(c.T, err)
	return a
}

// Modules passes every module of the competency.
func (c *Clinic) Modules(who training.Actor) {
	c.T.Helper()
	for _, id := range c.Competency.Scenarios {
		s, _ := c.Scenario(id)
		a := training.Attempt{}
		if s.Kind == simulate.TimedRun {
			a = c.Play(who)
		} else {
			a = c.Build(who, id, nil)
		}
		require.Equal(c.T, "pass", string(a.Outcome), id)
	}
}

// Seen is one line of a demonstration as a watcher notes it.
type Seen struct {
	At   action.Millis
	Text string
}

// GoodWork is the model of the competency's run as a watcher notes it.
func (c *Clinic) GoodWork() (lines []Seen) {
	c.T.Helper()
	log, err := action.Parse("model", c.Run.Model, c.Procedure.Words)
	require.NoError(c.T, err)
	for _, a := range simulate.Watched(c.Procedure, log) {
		lines = append(lines, Seen{At: a.At, Text: a.Text()})
	}
	return lines
}

// Watch records a demonstration up to its end.
func (c *Clinic) Watch(preceptor, learner training.Actor, lines []Seen) training.Demonstration {
	c.T.Helper()
	d, err := c.StartDemonstration(c.ctx(), preceptor, c.Key(), learner.Person.ID, c.Competency.ID, c.Run.Product)
	require.NoError(c.T, err)
	return c.toTheEnd(preceptor, d.ID, lines)
}

// Choose is the preceptor's choice of an outcome.
func (c *Clinic) Choose(preceptor training.Actor, id string, m training.Meaning) {
	c.T.Helper()
	_, err := c.Service.Choose(c.ctx(), preceptor, c.Key(), id, m, "It looked so.")
	require.NoError(c.T, err)
}

// SignBoth has an outcome chosen and puts both signatures on it.
func (c *Clinic) SignBoth(preceptor training.Actor, d training.Demonstration, learnersName string, m training.Meaning) training.Demonstration {
	c.T.Helper()
	c.Choose(preceptor, d.ID, m)
	_, err := c.SignAsLearner(c.ctx(), preceptor, c.Key(), d.ID, training.Learner{Username: learnersName, Password: Password})
	require.NoError(c.T, err)
	d, err = c.SignAsPreceptor(c.ctx(), preceptor, c.Key(), d.ID, m, Password)
	require.NoError(c.T, err)
	return d
}

// ObserveUnread is a routine observation, watched to its last line and not kept yet; trainee is
// "" where nobody is named.
func (c *Clinic) ObserveUnread(preceptor training.Actor, at training.Setting, trainee string, lines []Seen) (id string) {
	c.T.Helper()
	at.Purpose = training.ForRoutine
	d, err := c.StartWatching(c.ctx(), preceptor, c.Key(), training.Start{TraineeID: trainee, Competency: c.Competency.ID, Product: c.Run.Product, Setting: at})
	require.NoError(c.T, err)
	return c.toTheEnd(preceptor, d.ID, lines).ID
}

// toTheEnd sends the lines of a recording, each at its time, and ends it.
func (c *Clinic) toTheEnd(preceptor training.Actor, id string, lines []Seen) training.Demonstration {
	start := c.Now()
	for _, o := range lines {
		c.At(start, o.At, 1)
		require.NoError(c.T, c.Send(c.ctx(), preceptor, id, training.Watched{Key: c.Key(), AtMs: int64(o.At), Text: o.Text}))
	}
	d, err := c.EndDemonstration(c.ctx(), preceptor, c.Key(), id, int64(lines[len(lines)-1].At), "Calm and complete.")
	require.NoError(c.T, err)
	return d
}
