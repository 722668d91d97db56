package training

import (
	"fmt"
	"strings"
	"sync/atomic"
	"time"
	"unicode"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// DemoPassword signs for everybody in a demo clinic. It is shown on the demo's
// sign-in page and means nothing elsewhere.
const DemoPassword = "wet-for-the-whole-time"

// Library is the procedures and scenarios in force.
type Library interface {
	Procedure(id string) (*procedure.Procedure, bool)
	Scenario(id string) (*simulate.Scenario, bool)
	Scenarios() []*simulate.Scenario // easiest first
	Competencies() []Competency
	Modules() []course.Module // the course; empty where there is none
	Module(id string) (*course.Module, bool)
}

// Config is what a service needs from outside: it has no clock, ids or settings
// of its own. Only secrets (salts, tokens, first passwords) come from the
// system's randomness, for nobody may be able to choose them.
type Config struct {
	Records Records
	Library Library // a *Shelf where the set lies in the data file
	// LoadSet proves a set's files and gives what is in them; its error names every fault.
	// StartingSet is the set that a clinic begins with. Both are nil where the set does
	// not lie in the data file.
	LoadSet     func(files map[string][]byte) (Library, error)
	StartingSet func() (map[string][]byte, error)
	// Differ tells what a procedure has otherwise than it was (nil: it was not there), and
	// what each change weighs; nil where procedures do not change.
	Differ func(was, is *procedure.Procedure) []Change
	// Unconfirmed names what nobody of the clinic has confirmed of a procedure and of some of
	// its products, so that nothing can be signed off by it; nil asks for nothing.
	Unconfirmed func(p *procedure.Procedure, products []string) []string
	Now         func() Instant
	NewID       func() string  // fresh, unguessable
	Zone        *time.Location // in which days are counted, until the first educator says another
	// KeepZone keeps the zone that the first educator says with the clinic's settings; nil
	// where it is not asked.
	KeepZone func(name string) error
	Clinic   string
	Demo     bool
	// DemoOffers are the people the demo's sign-in page offers; without them it
	// is the first of each role.
	DemoOffers []string
	// Seed gives the seed of a person's next try, after so many; nil makes one.
	Seed func(personID string, so ScenarioTries) string
	// HashCost is what hashing a new password costs; zero is ProductionCost.
	// Tests take less, and nobody else should.
	HashCost HashCost
}

// Service is everything people do, checked for who may do it.
type Service struct {
	Config
	gates *gates
	spare *spare
	zone  atomic.Pointer[time.Location] // one that was said since the start
	probe func(act string)              // a test's, between an act's first look-up and its checks
}

// Actor is the signed-in person an act is done for.
type Actor struct {
	Person  Person
	Session string // hash of the session id
	// MustChange: signed in with a first password. Only ChangePassword and
	// SignOut are open to them until they have chosen their own.
	MustChange bool
	ProvedAt   Instant // when the password was last given in this session
	Handed     string  // the demonstration that a learner signs in it; nothing else is shown
}

// New makes a service.
func New(c Config) *Service {
	if c.HashCost == (HashCost{}) {
		c.HashCost = ProductionCost
	}
	return &Service{Config: c, gates: newGates(), spare: newSpare()}
}

// Zone is the one in which the clinic's days are counted.
func (s *Service) Zone() *time.Location {
	if said := s.zone.Load(); said != nil {
		return said
	}
	return s.Config.Zone
}

// setZone has days be counted in another zone, from now on and after the next start. It is
// for a clinic in which nothing has been recorded yet.
func (s *Service) setZone(name string) error {
	zone, err := ParseZone(name)
	if err != nil || zone.String() == s.Zone().String() || s.KeepZone == nil {
		return err
	}
	if err := s.KeepZone(zone.String()); err != nil {
		return fmt.Errorf("keep the time zone: %w", err)
	}
	s.zone.Store(zone)
	if shelf, ok := s.Library.(*Shelf); ok {
		shelf.setZone(zone)
	}
	return nil
}

// ParseZone is a time zone by its name in the time zone database, as America/Chicago.
func ParseZone(name string) (*time.Location, error) {
	name = strings.TrimSpace(name)
	for _, written := range []string{name, capitals(strings.ReplaceAll(name, " ", "_")), strings.ToUpper(name)} {
		if zone, err := time.LoadLocation(written); err == nil && name != "" && !strings.EqualFold(name, "Local") {
			return zone, nil
		}
	}
	return nil, refuse(ErrInvalid, "“%s” is no time zone. Write it as America/Chicago, Europe/Berlin or UTC.", clip(name))
}

// capitals writes the words of a zone with a capital each, as the database mostly does.
func capitals(name string) string {
	begins := true
	return strings.Map(func(r rune) rune {
		if begins {
			r = unicode.ToUpper(r)
		} else {
			r = unicode.ToLower(r)
		}
		begins = r == '/' || r == '_' || r == '-'
		return r
	}, name)
}

// Today is the clinic's day.
func (s *Service) Today() Day { return s.Now().Day(s.Zone()) }

// Every act that writes takes a client-made key: the same key again answers
// what was answered before, the same key for another act is ErrKeyReused.
