package browsertest

import (
	"context"
	"crypto/rand"
	"log/slog"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/exports"
	"stillwet/internal/action"
	"stillwet/internal/clinictest"
	"stillwet/internal/training"
	"stillwet/internal/web"
	"stillwet/scenarios"
)

const (
	turnover = "turnover-between-patients"
	password = clinictest.Password
)

// clinic is the one of all tests, reached over the network. Its clock runs as the
// world's does, and can be set forward.
type clinic struct {
	*clinictest.Clinic
	base  string
	end   context.CancelFunc
	ended chan error
}

func newClinic(t testing.TB) *clinic { return newClinicOver(t, nil) }

// newClinicOver is a clinic that works by a library of procedures and scenarios.
func newClinicOver(t testing.TB, lib *scenarios.Library) *clinic {
	return newClinicWith(t, clinictest.Options{Library: lib})
}

func newClinicWith(t testing.TB, o clinictest.Options) *clinic {
	o.Zone, o.Running, o.IDs = "UTC", true, rand.Text
	c := &clinic{Clinic: clinictest.New(t, o), ended: make(chan error, 1)}
	if o.Files != nil {
		require.NoError(t, c.Begin(t.Context()))
	}
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
	require.NoError(c.T, err)
	ctx, end := context.WithCancel(context.Background())
	c.end = end
	go func() { c.ended <- web.Serve(ctx, app, l, time.Hour) }() // the test's own limit is enough
}

// stop ends the server; a second time does nothing, so that a test that fails while
// it is stopped ends too.
func (c *clinic) stop() {
	if c.end == nil {
		return
	}
	c.end()
	c.end = nil
	require.NoError(c.T, <-c.ended)
}

// staffed has an educator, an entitled preceptor and a new hire.
func staffed(t testing.TB) *clinic { return newClinic(t).staff() }

// living is one that works by the built-in library, for what people really see.
func living(t testing.TB) *clinic {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	return newClinicOver(t, lib).staff()
}

// withSet is one whose set lies in its data file, as every real one's does.
func withSet(t testing.TB) *clinic {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	return newClinicWith(t, clinictest.Options{Library: lib, Files: scenarios.BuiltIn().Map()}).staff()
}

func (c *clinic) staff() *clinic {
	educator := c.FirstEducator("Edda Invented", "edda")
	c.EntitleTo(educator, c.Hire(educator, "Pia Invented", "pia", training.Preceptor))
	c.Hire(educator, "Tess Invented", "tess", training.Trainee)
	return c
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

// seen is one line of a demonstration, as a preceptor taps it.
type seen struct {
	at         action.Millis
	step, text string
}

// goodTurnover is the clocked model as a preceptor would note it, with a button
// for the wipes that are taken.
func (c *clinic) goodTurnover() (lines []seen) {
	for _, o := range c.GoodWork() {
		line := seen{at: o.At, text: o.Text}
		if strings.HasPrefix(o.Text, "take wipe") {
			line = seen{at: o.At, step: "fresh-wipe"}
		}
		lines = append(lines, line)
	}
	return lines
}
