package web

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"

	"stillwet/exports"
	"stillwet/internal/store"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

const turnover = "turnover-between-patients"

// clinic is the real program over a real file, with invented people and a
// clock of its own.
type clinic struct {
	t   testing.TB
	dir string
	now time.Time
	ids int
	*training.Service
	app                                        *fiber.App
	educator, preceptor, trainee, otherLearner *browser
}

func newClinic(t testing.TB) *clinic { return openClinic(t, false) }

func openClinic(t testing.TB, secure bool) *clinic {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	return openOver(t, lib, secure)
}

// openOver is a clinic that works by a library of procedures and scenarios.
func openOver(t testing.TB, lib *scenarios.Library, secure bool) *clinic {
	c := &clinic{t: t, dir: t.TempDir(), now: time.Date(2026, 3, 2, 15, 0, 0, 0, time.UTC)}
	st, err := store.Open(context.Background(), c.dir)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	c.Service = training.New(training.Config{
		Records: st, Library: lib, Zone: time.UTC, Clinic: "Invented Clinic of Lakeside",
		Now:      func() training.Instant { return training.InstantOf(c.now) },
		NewID:    func() string { c.ids++; return fmt.Sprintf("id%06d", c.ids) },
		HashCost: training.HashCost{MemoryKiB: 8, Passes: 1},
	})
	c.app, err = New(Config{
		Service: c.Service, Library: lib, Secure: secure, Log: slog.New(slog.DiscardHandler), WriteAnnual: exports.Annual,
	})
	require.NoError(t, err)
	return c
}

// staffed has one person of each role, and a second new hire.
func staffed(t testing.TB) *clinic { return newClinic(t).staff() }

func (c *clinic) staff() *clinic {
	t := c.t
	ctx := context.Background()
	token, open, err := c.FirstRunToken(ctx)
	require.NoError(t, err)
	require.True(t, open)
	_, err = c.CreateFirstEducator(ctx, token, "key-first", "Edda Invented", "edda", training.DemoPassword)
	require.NoError(t, err)
	c.educator = c.signIn("edda", training.DemoPassword)
	c.preceptor = c.hire("Pia Invented", "pia", training.Preceptor)
	c.trainee = c.hire("Tess Invented", "tess", training.Trainee)
	c.otherLearner = c.hire("Theo Invented", "theo", training.Trainee)
	_, err = c.Entitle(ctx, c.educator.actor, "key-entitle", training.Entitlement{
		PersonID: c.preceptor.id(), Competency: c.Library.Competencies()[0].ID, From: "2026-01-01", Until: "2027-12-31"})
	require.NoError(t, err)
	return c
}

func (c *clinic) hire(name, username string, role training.Role) *browser {
	ctx := context.Background()
	_, first, err := c.AddPerson(ctx, c.educator.actor, "key-hire-"+username, training.Person{Name: name, Role: role, Hired: "2026-01-05"}, username)
	require.NoError(c.t, err)
	a, _, err := c.SignIn(ctx, username, first)
	require.NoError(c.t, err)
	require.NoError(c.t, c.ChangePassword(ctx, a, "key-own-"+username, first, training.DemoPassword))
	return c.signIn(username, training.DemoPassword)
}

// browser is somebody's session.
type browser struct {
	c      *clinic
	actor  training.Actor
	cookie string
	token  string
}

func (b *browser) id() string { return b.actor.Person.ID }

// signIn signs in through the page, as a person does, and picks up a token.
func (c *clinic) signIn(username, password string) *browser {
	b := c.anonymous()
	r := b.post("/sign-in", url.Values{"username": {username}, "password": {password}})
	require.Equal(c.t, 303, r.StatusCode, "%s", r.body)
	b.cookie = r.Cookies()[0].Value
	var err error
	b.actor, err = c.Resume(context.Background(), b.cookie)
	require.NoError(c.t, err)
	b.token = tokenIn(c.t, b.get("/help"))
	return b
}

func (c *clinic) anonymous() *browser { return &browser{c: c} }

var tokenPattern = regexp.MustCompile(`name="token" value="([0-9a-f]+)"`)

func tokenIn(t testing.TB, a answer) string {
	m := tokenPattern.FindStringSubmatch(a.body)
	require.NotNil(t, m, "no token on the page: %s", a.body)
	return m[1]
}

// answer is a response with its body read.
type answer struct {
	*http.Response
	body string
}

func (b *browser) get(path string) answer { return b.do(httptest.NewRequest("GET", path, nil)) }

// post sends a form with the session's token.
func (b *browser) post(path string, form url.Values) answer {
	if form == nil {
		form = url.Values{}
	}
	if b.token != "" && !form.Has("token") {
		form.Set("token", b.token)
	}
	r := httptest.NewRequest("POST", path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return b.do(r)
}

// send posts JSON as our scripts do.
func (b *browser) send(path, body string) answer {
	r := httptest.NewRequest("POST", path, strings.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Accept", "application/json")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	r.Header.Set("X-Form-Token", b.token)
	return b.do(r)
}

func (b *browser) do(r *http.Request) answer {
	b.c.t.Helper()
	if b.cookie != "" {
		r.AddCookie(&http.Cookie{Name: "stillwet", Value: b.cookie})
	}
	resp, err := b.c.app.Test(r, -1)
	require.NoError(b.c.t, err)
	body, err := io.ReadAll(resp.Body)
	require.NoError(b.c.t, err)
	require.NoError(b.c.t, resp.Body.Close())
	return answer{resp, string(body)}
}
