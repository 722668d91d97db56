package training

import (
	"time"

	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// Library is the procedures and scenarios in force.
type Library interface {
	Procedure(id string) (*procedure.Procedure, bool)
	Scenario(id string) (*simulate.Scenario, bool)
	Scenarios() []*simulate.Scenario // easiest first
	Competencies() []Competency
}

// Config is what a service needs from outside: no clock, randomness or
// settings of its own.
type Config struct {
	Records Records
	Library Library
	Now     func() Instant
	NewID   func() string // fresh, unguessable
	Zone    *time.Location
	Clinic  string
	Demo    bool
}

// Service is everything people do, checked for who may do it.
type Service struct{ Config }

// Actor is the signed-in person an act is done for.
type Actor struct {
	Person  Person
	Session string // hash of the session id
}

// New makes a service.
func New(c Config) *Service { return &Service{c} }

// Today is the clinic's day.
func (s *Service) Today() Day { return s.Now().Day(s.Zone) }

// Methods (each in the file of its subject). Every act that writes takes a
// client-made key: the same key again answers what was answered before, the
// same key for another act is ErrKeyReused.
//
//	accounts.go
//	  FirstRunToken(ctx) (token string, open bool, err error)
//	  CreateFirstEducator(ctx, token, key, name, username, password string) (Person, error)
//	  SignIn(ctx, username, password string) (Actor, cookie string, err error)
//	  SignInDemo(ctx, personID string) (Actor, cookie string, err error)   // only when Demo
//	  SignOut(ctx, cookie string) error
//	  Resume(ctx, cookie string) (Actor, error)          // ErrExpired after 30 min idle or 10 h
//	  AddPerson(ctx, actor, key string, p Person, username string) (Person, firstPassword string, err error) // educator
//	  ChangePassword(ctx, actor, old, new string) error
//	  Entitle(ctx, actor, key string, e Entitlement) (Entitlement, error)   // educator
//	practice.go
//	  Home(ctx, actor) (Home, error)                     // own standing, next module, drafts, attempts
//	  OpenDraft(ctx, actor, scenarioID string) (Draft, error)     // the open one, or a new one
//	  SaveSteps(ctx, actor, draftID string, revision int, steps []string) (Draft, error)
//	  StartRun(ctx, actor, key, scenarioID string, pace int) (Draft, error)
//	  Tap(ctx, actor, draftID, key, step string, at action.Millis) (Draft, error)
//	  FinishBuild(ctx, actor, key, draftID string, revision int) (Attempt, error)
//	  FinishRun(ctx, actor, key, draftID string, at action.Millis) (Attempt, error)
//	  DiscardDraft(ctx, actor, draftID string) error
//	  Attempt(ctx, actor, id string) (Attempt, error)    // own; preceptor and educator: anyone's
//	demonstrations.go
//	  StartDemonstration(ctx, actor, key, traineeID, competency, product string) (Demonstration, error)
//	  Observe(ctx, actor, demoID string, o Observed) (Observed, error)  // idempotent by key
//	  Undo(ctx, actor, demoID, key string, seq int, atMs int64) (Observed, error)
//	  Observations(ctx, actor, demoID string) (Demonstration, []Observed, error)
//	  EndDemonstration(ctx, actor, key, demoID string, atMs int64, comment string) (Demonstration, error)
//	  Demonstration(ctx, actor, id string) (Demonstration, error)
//	  SignAsLearner(ctx, actor, key, demoID, username, password string) (Demonstration, error)
//	  SignAsPreceptor(ctx, actor, key, demoID string, m Meaning, password string) (Demonstration, error)
//	  SignOff(ctx, actor, key, personID, competency, password string) (SignOff, error)
//	standing.go
//	  People(ctx, actor) ([]Standing, error)             // preceptor and educator
//	  Record(ctx, actor, personID string) (PersonRecord, error)
//	annual.go
//	  Annual(ctx, actor, year int) (Annual, error)       // what the workbook shows
