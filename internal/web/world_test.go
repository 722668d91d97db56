package web

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"

	"stillwet/exports"
	"stillwet/internal/clinictest"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

const turnover = "turnover-between-patients"

// clinic is the one of all tests, with the program in the browser over it.
type clinic struct {
	*clinictest.Clinic
	app                                        *fiber.App
	log                                        *heldLog
	config                                     Config // of the app; see serveAnew
	educator, preceptor, trainee, otherLearner *browser
}

func newClinic(t testing.TB) *clinic { return openClinic(t, false) }

func openClinic(t testing.TB, secure bool) *clinic { return openOver(t, nil, secure) }

// openOver is a clinic that works by a library of procedures and scenarios.
func openOver(t testing.TB, lib *scenarios.Library, secure bool) *clinic {
	return openWith(t, clinictest.Options{Library: lib, Zone: "UTC"}, Config{Secure: secure})
}

func openWith(t testing.TB, o clinictest.Options, config Config) *clinic {
	c := &clinic{Clinic: clinictest.New(t, o), log: &heldLog{}}
	c.serveAnew(config)
	t.Cleanup(c.log.holdsNoSecret(c))
	return c
}

// serveAnew makes the app over the clinic's present services; of the config only
// what differs is given.
func (c *clinic) serveAnew(config Config) {
	config.Service, config.Library, config.WriteAnnual = c.Service, c.Library, exports.Annual
	config.Log = NewLog(c.log, c.Now)
	var err error
	c.app, err = New(config)
	require.NoError(c.T, err)
	c.config = config
}

// staffed has one person of each role, and a second new hire.
func staffed(t testing.TB) *clinic { return newClinic(t).staff() }

func (c *clinic) staff() *clinic {
	educator := c.FirstEducator("Edda Invented", "edda")
	preceptor := c.Hire(educator, "Pia Invented", "pia", training.Preceptor)
	c.Hire(educator, "Tess Invented", "tess", training.Trainee)
	c.Hire(educator, "Theo Invented", "theo", training.Trainee)
	c.EntitleTo(educator, preceptor)
	c.educator, c.preceptor = c.signIn("edda", clinictest.Password), c.signIn("pia", clinictest.Password)
	c.trainee, c.otherLearner = c.signIn("tess", clinictest.Password), c.signIn("theo", clinictest.Password)
	return c
}

// browser is somebody's session.
type browser struct {
	c      *clinic
	actor  training.Actor
	cookie string
	known  string // that somebody signed in in it
	token  string
	from   string // an address that a proxy tells
}

func (b *browser) id() string { return b.actor.Person.ID }

// signIn signs in through the page, as a person does, and picks up a token.
func (c *clinic) signIn(username, password string) *browser {
	return c.anonymous().signIn(username, password)
}

func (b *browser) signIn(username, password string) *browser {
	c := b.c
	r := b.post("/sign-in", url.Values{"username": {username}, "password": {password}})
	require.Equal(c.T, 303, r.StatusCode, "%s", r.body)
	for _, cookie := range r.Cookies() {
		if strings.HasSuffix(cookie.Name, "-known") {
			b.known = cookie.Value
		} else {
			b.cookie = cookie.Value
		}
	}
	c.log.secret(b.cookie, b.known)
	var err error
	b.actor, err = c.Resume(context.Background(), b.cookie)
	require.NoError(c.T, err)
	b.token = tokenIn(c.T, b.get("/help"))
	c.log.secret(b.token)
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
	b.c.T.Helper()
	if b.cookie != "" {
		r.AddCookie(&http.Cookie{Name: "stillwet", Value: b.cookie})
	}
	if b.known != "" {
		r.AddCookie(&http.Cookie{Name: "stillwet-known", Value: b.known})
	}
	if b.from != "" {
		r.Header.Set("X-Forwarded-For", b.from)
	}
	resp, err := b.c.app.Test(r, -1)
	require.NoError(b.c.T, err)
	body, err := io.ReadAll(resp.Body)
	require.NoError(b.c.T, err)
	require.NoError(b.c.T, resp.Body.Close())
	return answer{resp, string(body)}
}

// entitling is the form of an entitlement with everything in it but its key.
func entitling() url.Values {
	return url.Values{"competency": {turnover}, "from": {"2026-01-01"}, "until": {"2028-01-01"}, "watch": {"yes"}, "sign-off": {"yes"}, "credential": {"RN"},
		"founding": {"The clinic begins."}, "approval": {"paper"}, "approver": {"Marek Invented"}, "approver-role": {"medical director"},
		"approved-on": {"2026-01-01"}, "paper": {"red folder, page 3"}}
}
