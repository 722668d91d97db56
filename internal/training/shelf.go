package training

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// Shelf is the library of a clinic whose set lies in its data file: at each moment the
// version in force then. Versions that were approved for a day to come stand on it
// already, so that they come into force with their day, and not with somebody's act.
type Shelf struct {
	now  func() Instant
	zone atomic.Pointer[time.Location]
	held atomic.Pointer[[]shelved] // by number; never changed, only replaced
	mu   sync.Mutex                // of who replaces it
}

// shelved is a version that holds or will.
type shelved struct {
	number int
	hash   string
	from   Instant // the first moment of its first day; "" always
	lib    Library
}

// NewShelf is an empty shelf: nothing is asked of it before [Service.Stock].
func NewShelf(now func() Instant, zone *time.Location) *Shelf {
	s := &Shelf{now: now}
	s.zone.Store(zone)
	return s
}

func (s *Shelf) setZone(zone *time.Location) { s.zone.Store(zone) }

// Current is the version in force now. Whoever asks for several things that belong
// together asks one of these.
func (s *Shelf) Current() Library {
	_, lib := s.current()
	return lib
}

// Number is the number of the version in force now; 0 before there is any.
func (s *Shelf) Number() int {
	number, _ := s.current()
	return number
}

func (s *Shelf) current() (int, Library) {
	held := s.held.Load()
	if held == nil || len(*held) == 0 {
		return 0, empty{}
	}
	now := s.now()
	for _, v := range slices.Backward(*held) {
		if v.from <= now {
			return v.number, v.lib
		}
	}
	return (*held)[0].number, (*held)[0].lib // the clock was set back before all of them
}

// start is the first moment of a day.
func (s *Shelf) start(day Day) Instant {
	if day == "" {
		return ""
	}
	return day.AddDays(-1).End(s.zone.Load())
}

// put places a version that was just approved.
func (s *Shelf) put(v SetVersion, lib Library) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var held []shelved
	if now := s.held.Load(); now != nil {
		held = slices.DeleteFunc(slices.Clone(*now), func(x shelved) bool { return x.number == v.Number })
	}
	held = append(held, shelved{v.Number, v.Hash, s.start(v.InForceFrom()), lib})
	slices.SortFunc(held, func(a, b shelved) int { return a.number - b.number })
	now := s.now()
	holds := 0 // what stands before it never holds again
	for i, x := range held {
		if x.from <= now {
			holds = i
		}
	}
	held = held[holds:]
	s.held.Store(&held)
}

// loaded is a library of the shelf by its hash, nil when it has none.
func (s *Shelf) loaded(hash string) Library {
	if now := s.held.Load(); now != nil {
		for _, x := range *now {
			if x.hash == hash {
				return x.lib
			}
		}
	}
	return nil
}

func (s *Shelf) replace(held []shelved) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.held.Store(&held)
}

// Stock puts the version in force, and those that were approved for later, on the shelf,
// when a folder is opened. Before there are versions it is the starting set.
func (s *Service) Stock(ctx context.Context) error {
	shelf, ok := s.Library.(*Shelf)
	if !ok {
		return nil
	}
	versions, err := s.Records.SetVersions(ctx)
	if err != nil {
		return err
	}
	if len(versions) == 0 {
		return s.stockStart(shelf)
	}
	var held []shelved
	now := SetInForce(versions, s.Today())
	for _, v := range versions {
		if v.Number != now.Number && (v.Number < now.Number || !v.Stands()) {
			continue
		}
		lib := shelf.loaded(v.Hash)
		if lib == nil {
			if lib, err = s.heldVersion(ctx, v); err != nil {
				return err
			}
		}
		held = append(held, shelved{v.Number, v.Hash, shelf.start(v.InForceFrom()), lib})
	}
	shelf.replace(held)
	return nil
}

func (s *Service) heldVersion(ctx context.Context, v SetVersion) (Library, error) {
	files, err := s.Records.SetFiles(ctx, v.Number)
	if err != nil {
		return nil, err
	}
	lib, err := s.loadSet(files)
	if err != nil {
		return nil, &unreadable{v.Number, err}
	}
	return lib, nil
}

func (s *Service) stockStart(shelf *Shelf) error {
	files, err := s.StartingSet()
	if err != nil {
		return err
	}
	lib, err := s.loadSet(files)
	if err == nil {
		shelf.replace([]shelved{{0, SetHash(files), "", lib}})
	}
	return err
}

// unreadable is a version that holds and that this program cannot read.
type unreadable struct {
	number int
	why    error
}

func (u *unreadable) Error() string {
	return fmt.Sprintf("version %d of the clinic's set holds, and this program cannot read it; go back to the program of before: %v", u.number, u.why)
}

func (u *unreadable) Unwrap() error { return u.why }

// present is what holds now, for an act that asks more than one thing of it.
func (s *Service) present() Library {
	if shelf, ok := s.Library.(*Shelf); ok {
		return shelf.Current()
	}
	return s.Library
}

// The shelf as a library.

// Procedure returns a procedure in force by its id.
func (s *Shelf) Procedure(id string) (*procedure.Procedure, bool) { return s.Current().Procedure(id) }

// Scenario returns a scenario in force by its id.
func (s *Shelf) Scenario(id string) (*simulate.Scenario, bool) { return s.Current().Scenario(id) }

// Scenarios are those in force, easiest first.
func (s *Shelf) Scenarios() []*simulate.Scenario { return s.Current().Scenarios() }

// Competencies are those in force.
func (s *Shelf) Competencies() []Competency { return s.Current().Competencies() }

// Modules are those of the course in force.
func (s *Shelf) Modules() []course.Module { return s.Current().Modules() }

// Module returns a module of the course in force by its id.
func (s *Shelf) Module(id string) (*course.Module, bool) { return s.Current().Module(id) }

// empty is the library of a shelf on which nothing stands.
type empty struct{}

func (empty) Procedure(string) (*procedure.Procedure, bool) { return nil, false }
func (empty) Scenario(string) (*simulate.Scenario, bool)    { return nil, false }
func (empty) Scenarios() []*simulate.Scenario               { return nil }
func (empty) Competencies() []Competency                    { return nil }
func (empty) Modules() []course.Module                      { return nil }
func (empty) Module(string) (*course.Module, bool)          { return nil, false }
