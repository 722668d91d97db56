// Package demo fills an empty clinic with invented people and a year of
// invented work. Nothing is written past the services: every attempt and
// demonstration is a log that the engine judged, every signature a leaf of the
// ledger. A clock of its own walks through the year.
package demo

import (
	"context"
	"fmt"
	"slices"
	"time"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Clinic is the name of the invented clinic.
const Clinic = "Hollowbrook Dialysis (invented)"

// Config is what filling needs from outside.
type Config struct {
	Records training.Records
	Library training.Library // nil where the set lies in the data file
	// The set lies in the data file when there is a LoadSet: version 1 is StartingSet,
	// version 2 what the educator confirmed of it.
	LoadSet      func(map[string][]byte) (training.Library, error)
	StartingSet  func() (map[string][]byte, error)
	ConfirmedSet func() (training.SetSaving, error)
	RenamedSet   func(files map[string][]byte) (training.SetSaving, error) // version 3, of this year
	Differ       func(was, is *procedure.Procedure) []training.Change
	NewID        func() string
	Zone         *time.Location
	Today        time.Time // the year ends here
	// HashCost is that of the service; zero is the real one.
	HashCost training.HashCost
}

// Offers picks the people whom the demo's sign-in page offers.
func Offers(people []training.Person) []string {
	var ids []string
	for _, p := range people {
		if p.StaffNo == newHireNo || p.StaffNo == preceptorNo || p.StaffNo == managerNo || p.Has(training.Educator) {
			ids = append(ids, p.ID)
		}
	}
	return ids
}

// filler does the work. The first error stops everything that follows.
type filler struct {
	Config
	ctx        context.Context
	now        time.Time
	service    *training.Service
	competency training.Competency
	procedure  *procedure.Procedure
	actors     map[string]training.Actor // by staff number
	usernames  map[string]string
	items      map[string]string // ids by title
	keys       int
	err        error
}

// Fill writes the demo clinic into empty records.
func Fill(ctx context.Context, c Config) error {
	f := &filler{Config: c, ctx: ctx, actors: map[string]training.Actor{}, usernames: map[string]string{}, items: map[string]string{}}
	now := func() training.Instant { return training.InstantOf(f.now) }
	if c.LoadSet != nil {
		f.Library = training.NewShelf(now, c.Zone)
	}
	f.service = training.New(training.Config{
		Records: c.Records, Library: f.Library, LoadSet: c.LoadSet, StartingSet: c.StartingSet, Differ: c.Differ, Now: now,
		NewID: c.NewID, Zone: c.Zone, Clinic: Clinic, Demo: true, HashCost: c.HashCost,
	})
	if err := f.service.Stock(ctx); err != nil {
		return err
	}
	f.competency = f.Library.Competencies()[0] // the demo's people work on the library's first one
	p, ok := f.Library.Procedure(f.competency.Procedure)
	if !ok {
		return fmt.Errorf("demo: procedure %q is missing", f.competency.Procedure)
	}
	f.procedure = p
	f.play(year(len(f.competency.Scenarios)))
	if f.err != nil {
		return fmt.Errorf("demo, on %s: %w", f.now.Format(time.DateOnly), f.err)
	}
	return nil
}

// event is something that happens so many days before today, at an hour.
type event struct {
	daysAgo, hour int
	do            func(*filler)
}

// play lets the events happen in the order of time: records are never written
// with a time before the last one.
func (f *filler) play(events []event) {
	slices.SortStableFunc(events, func(a, b event) int {
		if a.daysAgo != b.daysAgo {
			return b.daysAgo - a.daysAgo
		}
		return a.hour - b.hour
	})
	midnight := f.Today.In(f.Zone)
	midnight = time.Date(midnight.Year(), midnight.Month(), midnight.Day(), 0, 0, 0, 0, f.Zone)
	for _, e := range events {
		if f.err != nil {
			return
		}
		at := midnight.AddDate(0, 0, -e.daysAgo).Add(time.Duration(e.hour) * time.Hour)
		if at.After(f.now) {
			f.now = at
		}
		e.do(f)
	}
}

func (f *filler) key() string {
	f.keys++
	return fmt.Sprintf("demo-%06d", f.keys)
}

// ok keeps the first error and reports whether there is none.
func (f *filler) ok(err error) bool {
	if f.err == nil {
		f.err = err
	}
	return f.err == nil
}

func (f *filler) pass(d time.Duration) { f.now = f.now.Add(d) }

// as is a person at work. Signing in costs a password hash, so it is done once;
// signatures ask for the password all the same.
func (f *filler) as(number string) training.Actor { return f.actors[number] }

// signIn remembers a person as signed in.
func (f *filler) signIn(number string) {
	a, cookie, err := f.service.SignIn(f.ctx, f.usernames[number], training.DemoPassword)
	if f.ok(err) && f.ok(f.service.SignOut(f.ctx, cookie)) {
		f.actors[number] = a
	}
}
