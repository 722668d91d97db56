// Package web is the program in the browser: it takes requests apart, calls the
// services and renders pages. It decides nothing about the trade. It is the
// only package that names fiber.
//
// What may be asked for, and by whom, stands in one table (routes.go). Each
// handler is given a visit: the request, the signed-in person and the services.
package web

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/gofiber/fiber/v2/middleware/compress"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Config is what the web needs from outside.
type Config struct {
	Service *training.Service
	Library training.Library
	Log     *slog.Logger
	Secure  bool // reached by https: Secure cookies and HSTS
	Behind  bool // a proxy in front says from where a request comes
	Open    bool // reached from other machines without https: passwords can be read on the way
	// OnlyPort, when it is not "", is where alone requests are answered: under
	// OnlyHost, the machine's own names and the address they came to.
	OnlyHost, OnlyPort string
	// WriteAnnual writes the annual workbook.
	WriteAnnual func(io.Writer, training.Annual) error
	// Ready reports whether records can be kept; nil means always.
	Ready func(context.Context) error
	// Backups and Heads say how the copies stand that are kept outside the data
	// file; nil when none are.
	Backups, Heads func() Kept
	// LowSpace is how little is left on the disk, in words; "" while it is enough,
	// and nil means always.
	LowSpace func() string
}

// Kept is how copies stand: when the last good one was made ("" for none yet), and
// why the last try failed ("" when it did not).
type Kept struct {
	Last training.Instant
	Err  string
}

// Limits of a request. A body's stands with its route.
const (
	headerLimit = 16 << 10
	actTime     = 15 * time.Second
)

type server struct {
	Config
	procedures lately[*procedure.Procedure] // that records cite
	titles     lately[string]               // of scenarios that attempts cite
	orders     lately[[]course.StepRow]     // right ones of procedures
}

// New makes the app with every route and its rule.
func New(c Config) (*fiber.App, error) {
	if c.Service == nil || c.Library == nil || c.Log == nil || c.WriteAnnual == nil {
		return nil, errors.New("web: a service, a library, a log and a workbook writer are needed")
	}
	s := &server{Config: c}
	app := fiber.New(fiber.Config{
		AppName:      "Stillwet",
		Immutable:    true, // values are kept after the handler returns
		ErrorHandler: s.fail,
		BodyLimit:    fewFields, ReadBufferSize: headerLimit,
		DisablePreParseMultipartForm: true, // those that come in parts are read once they may
		ReadTimeout:                  10 * time.Second, WriteTimeout: time.Minute, IdleTimeout: time.Minute,
		DisableStartupMessage: true,
	})
	app.Server().HeaderReceived = s.bodyLimits(routes())
	app.Use(plainBody, s.headers, survive, s.ownHosts, compress.New(compress.Config{Level: compress.LevelBestSpeed}))
	for _, r := range routes() {
		app.Add(r.method, r.path, s.enter(r))
		if r.method == fiber.MethodGet { // the same answer without its body
			app.Add(fiber.MethodHead, r.path, s.enter(r))
		}
	}
	return app, nil
}

// survive turns a panic on the way to a route into an error; a handler's own is
// turned into one where it is called.
func survive(c *fiber.Ctx) (err error) {
	defer survived(&err)
	return c.Next()
}

func survived(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("a handler panicked: %v", p)
	}
}
