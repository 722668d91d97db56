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
	"io"
	"log/slog"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/gofiber/fiber/v2/middleware/compress"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Config is what the web needs from outside.
type Config struct {
	Service *training.Service
	Library training.Library
	Log     *slog.Logger
	Secure  bool // reached by https: Secure cookies and HSTS
	// WriteAnnual writes the annual workbook.
	WriteAnnual func(io.Writer, training.Annual) error
	// Ready reports whether the program can do its work; nil means always.
	Ready func(context.Context) error
	// Backups and Heads say how the copies stand that are kept outside the data
	// file; nil when none are.
	Backups, Heads func() Kept
}

// Kept is how copies stand: when the last good one was made ("" for none yet), and
// why the last try failed ("" when it did not).
type Kept struct {
	Last training.Instant
	Err  string
}

// Limits of a request. No form of ours comes near the body limit.
const (
	bodyLimit   = 64 << 10
	headerLimit = 16 << 10
	actTime     = 15 * time.Second
)

type server struct {
	Config
	procedures lately[*procedure.Procedure] // that records cite
	titles     lately[string]               // of scenarios that attempts cite
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
		BodyLimit:    bodyLimit, ReadBufferSize: headerLimit,
		ReadTimeout: 10 * time.Second, WriteTimeout: time.Minute, IdleTimeout: time.Minute,
		DisableStartupMessage: true,
	})
	app.Use(plainBody, s.headers, s.survive, compress.New(compress.Config{Level: compress.LevelBestSpeed}))
	for _, r := range routes() {
		app.Add(r.method, r.path, s.enter(r))
		if r.method == fiber.MethodGet { // the same answer without its body
			app.Add(fiber.MethodHead, r.path, s.enter(r))
		}
	}
	return app, nil
}

// survive turns a panic of a handler into an error page and a line in the log.
func (s *server) survive(c *fiber.Ctx) (err error) {
	defer func() {
		if p := recover(); p != nil {
			s.Log.Error("a handler panicked", "path", c.Path(), "panic", p)
			err = errors.New("a handler panicked")
		}
	}()
	return c.Next()
}
