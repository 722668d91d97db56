package web

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"net/http/httptest"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/valyala/fasthttp"

	"stillwet/internal/clinictest"
)

// heldLog is the log of a clinic's program. At the end of every test that asks
// through the pages it must hold none of the secrets that were used in it.
type heldLog struct {
	mu      sync.Mutex
	b       bytes.Buffer
	secrets []string
}

func (l *heldLog) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *heldLog) secret(texts ...string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, s := range texts {
		if s != "" {
			l.secrets = append(l.secrets, s)
		}
	}
}

func (l *heldLog) holdsNoSecret(c *clinic) func() {
	l.secret(clinictest.Password)
	return func() {
		text := l.b.String()
		for _, s := range l.secrets {
			require.NotContains(c.T, text, s)
		}
	}
}

// lines are the log since the last call.
func (l *heldLog) lines() []string {
	l.mu.Lock()
	defer l.mu.Unlock()
	text := l.b.String()
	l.b.Reset()
	return strings.Split(strings.TrimSuffix(text, "\n"), "\n")
}

// logs asks once and finds the one line that comes of it.
func (c *clinic) logs(ask func() answer, parts ...string) {
	c.T.Helper()
	c.log.lines()
	a := ask()
	lines := c.log.lines()
	require.Len(c.T, lines, 1, "one line an event: %d %.300s", a.StatusCode, a.body)
	for _, p := range parts {
		require.Contains(c.T, lines[0], p)
	}
}

// What the server gives up before it was read has no method.
func TestWhatWasNotReadHasNoMethodInTheLog(t *testing.T) {
	c := newClinic(t)
	for status, failure := range map[string]error{
		"408": &net.OpError{Op: "read", Net: "tcp", Err: os.ErrDeadlineExceeded},
		"413": fasthttp.ErrBodyTooLarge,
		"431": &fasthttp.ErrSmallBuffer{},
		"400": errors.New("no request at all"),
		"502": &net.DNSError{},
	} {
		c.log.lines()
		var request fasthttp.RequestCtx
		c.app.Server().ErrorHandler(&request, failure)
		lines := c.log.lines()
		require.Len(t, lines, 1)
		require.Contains(t, lines[0], "status="+status+" method=unread")
	}
}

func TestEveryEventHasItsLine(t *testing.T) {
	w := withRecords(t)
	in := func(username, password string) func() answer {
		return func() answer {
			return w.anonymous().post("/sign-in", url.Values{"username": {username}, "password": {password}})
		}
	}
	post := func(b *browser, path string, form url.Values) func() answer {
		return func() answer {
			form.Set("key", rand.Text())
			return b.post(path, form)
		}
	}
	edda, tess := "who="+w.educator.id()+` name="Edda Invented"`, "who="+w.trainee.id()+` name="Tess Invented"`
	of := "record=" + w.trainee.id()
	const here = "from=0.0.0.0"
	w.logs(in("tess", clinictest.Password), "msg=sign-in", tess, "outcome=good", here, "route=/sign-in")
	w.logs(in("TESS", "a wrong one"), "msg=sign-in", tess, "outcome=failed", here)
	w.logs(in("nobody.at.all", "a wrong one"), "msg=sign-in", "outcome=failed", here)
	for range 5 {
		in("theo", "a wrong one")()
	}
	w.logs(in("theo", clinictest.Password), "outcome=throttled", "Theo Invented")
	at := "/people/" + w.trainee.id()
	w.logs(post(w.educator, at+"/close", url.Values{}), `msg="account closed"`, edda, of, "outcome=good", "route=/people/:id/close")
	w.logs(post(w.educator, at+"/reopen", url.Values{}), `msg="account reopened"`, edda, of)
	w.logs(post(w.educator, at+"/first-password", url.Values{}), `msg="first password given"`, edda, of)
	w.logs(post(w.educator, "/people/"+w.preceptor.id()+"/entitle", entitling()),
		`msg="entitlement granted"`, edda, "record="+w.preceptor.id())
	w.logs(post(w.educator, "/people", url.Values{"name": {"Nora Invented"}, "staff_no": {""}, "username": {"nora"}, "role-trainee": {"yes"}, "hired": {"2026-01-01"}}),
		`msg="person added"`, edda, "outcome=good")
	w.logs(func() answer { return w.educator.get("/annual/2026.xlsx") }, `msg="workbook exported"`, edda, "outcome=good")
	w.logs(func() answer { return w.preceptor.get("/annual/2026.xlsx") }, `msg="workbook exported"`, "Pia Invented", "outcome=refused")
	w.logs(post(w.preceptor, at+"/close", url.Values{}), `msg="account closed"`, "Pia Invented", "outcome=refused")
	w.logs(post(w.preceptor, "/password", url.Values{"old": {"a wrong one"}, "password": {"another long enough"}}), `msg="own password changed"`, "outcome=failed")
	w.log.secret("another long enough")
	w.logs(post(w.preceptor, "/password", url.Values{"old": {clinictest.Password}, "password": {"another long enough"}}), `msg="own password changed"`, "Pia Invented", "outcome=good")
	w.logs(func() answer { return w.otherLearner.get("/people") }, `msg="request refused"`, "Theo Invented", "route=/people ", "status=403")
	require.Equal(t, []string{""}, func() []string { w.educator.get("/people"); return w.log.lines() }(), "reading is no event")
}

// The holder of an owner's link is not signed in, and known all the same.
func TestAnOwnersLinkIsToldByItsHolder(t *testing.T) {
	w := staffed(t)
	token, holder, err := w.OwnerLink(t.Context(), "edda")
	require.NoError(t, err)
	w.log.secret(token, "another long enough")
	who := "who=" + holder.ID + ` name="Edda Invented"`
	use := func(password string) func() answer {
		return func() answer {
			return w.anonymous().post("/first/"+token, url.Values{"key": {rand.Text()}, "password": {password}})
		}
	}
	w.logs(use("short"), `msg="one-time link used"`, who, "outcome=failed")
	w.logs(use("another long enough"), `msg="one-time link used"`, who, "outcome=good", "route=/first/:token")
	w.logs(use("another long enough"), `msg="one-time link used"`, "outcome=failed")
}

// What is typed or asked for does not come into the log: a password may be typed
// as a name or into the address, a first-run link is a path.
func TestNoSecretStandsInTheLog(t *testing.T) {
	c := newClinic(t)
	token, _, err := c.FirstRunToken(t.Context())
	require.NoError(t, err)
	c.log.secret(token, "typed in the wrong field", "typed+in+the+wrong+field", "typed%20in")
	b := c.anonymous()
	b.get("/first/" + token)
	b.get("/first/" + token + "/x")
	b.get("/First/" + token)
	b.post("/first/"+token, url.Values{"key": {rand.Text()}, "name": {"Edda"}, "username": {"edda"}, "password": {"typed in the wrong field"}, "extra": {"typed in the wrong field"}})
	b.get("/first/" + token)
	b.post("/sign-in", url.Values{"username": {"typed in the wrong field"}, "password": {"x"}})
	b.post("/sign-in?password=typed+in+the+wrong+field", url.Values{"username": {"edda"}, "password": {"typed in the wrong field!"}})
	b.get("/typed%20in%20the%20wrong%20field")
	b.do(httptest.NewRequest("DELETE", "/people/typed%20in", nil))
	b.signIn("edda", "typed in the wrong field")
	b.post("/people/typed%20in/close", url.Values{"key": {rand.Text()}})
	b.get("/people/typed%20in")
	b.get("/annual/typed%20in")
	first := b.post("/people", url.Values{"key": {rand.Text()}, "name": {"Nora Invented"}, "staff_no": {""}, "username": {"nora"}, "role-trainee": {"yes"}, "hired": {"2026-01-01"}})
	for _, word := range strings.FieldsFunc(first.body, func(r rune) bool { return r == '<' || r == '>' }) {
		if strings.Count(word, "-") == 3 && len(word) == 23 {
			c.log.secret(word)
		}
	}
	require.Greater(t, len(c.log.secrets), 7)
	require.NotEmpty(t, c.log.b.String())
}

// A handler's panic and a disk's error come with their words, but not without end.
func TestAnErrorsLineHasAnEnd(t *testing.T) {
	w := staffed(t)
	config := w.config
	config.LowSpace = func() string { panic(strings.Repeat("p", 100_000)) }
	w.serveAnew(config)
	w.log.lines()
	w.logs(func() answer { return w.educator.get("/people") }, "level=ERROR", "a handler panicked: ppp", "status=500", "route=/people", "Edda Invented")
	require.Equal(t, 500, w.educator.get("/people").StatusCode)
	require.Less(t, w.log.b.Len(), 1000)
}

func TestAFloodStaysUnderTheHoursSize(t *testing.T) {
	now := time.Date(2026, 3, 2, 15, 0, 0, 0, time.UTC)
	var out bytes.Buffer
	log := NewLog(&out, func() time.Time { return now })
	for i := range 40_000 {
		log.Info("request not answered", "route", "none", "from", fmt.Sprintf("192.0.2.%d", i%250), "status", 404)
	}
	require.LessOrEqual(t, out.Len(), mostLogged/2)
	require.Greater(t, out.Len(), mostLogged/2-1000)
	log.Info("account closed", whoKey, "id000001", "name", "Edda Invented")
	require.Contains(t, out.String(), "Edda Invented", "strangers do not drown what known people do")
	for range 60_000 {
		log.Info("account closed", whoKey, "id000001", "name", "Edda Invented")
	}
	require.LessOrEqual(t, out.Len(), mostLogged)
	written := strings.Count(out.String(), "\n")
	now = now.Add(time.Hour)
	out.Reset()
	log.Info("sign-in", "status", 303)
	require.Contains(t, out.String(), fmt.Sprintf("lines_left_out=%d", 100_001-written))
	require.Contains(t, out.String(), "msg=sign-in", "the next hour has room again")
	require.Equal(t, 2, strings.Count(out.String(), "\n"))
}

func TestWhereARequestComesFrom(t *testing.T) {
	w := staffed(t)
	from := func(told string) string {
		b := w.anonymous()
		b.from = told
		w.log.lines()
		b.get("/nowhere")
		_, after, _ := strings.Cut(w.log.lines()[0], "from=")
		return strings.Fields(after)[0]
	}
	require.Equal(t, "0.0.0.0", from("192.0.2.1"), "anybody can write that header")
	w.serveAnew(Config{Behind: true})
	for told, want := range map[string]string{
		"192.0.2.1": "192.0.2.1", "10.9.9.9, 192.0.2.1": "192.0.2.1", "x\"y, ::ffff:192.0.2.1": "192.0.2.1", "2001:db8:1:2:3::4": "2001:db8:1:2::/64", "": "unknown", "a line": "unknown",
	} {
		require.Equal(t, want, from(told), told)
	}
	r := httptest.NewRequest("GET", "/nowhere", nil)
	r.Header["X-Forwarded-For"] = []string{"10.9.9.9", "192.0.2.1"}
	w.log.lines()
	w.anonymous().do(r)
	require.Contains(t, w.log.lines()[0], "from=192.0.2.1", "the proxy's own line is the last")
}

func TestBrowsersHaveShortWords(t *testing.T) {
	for agent, word := range map[string]string{
		"": "another program", "asker/8": "another program", "Mozilla/5.0 (X11; Linux x86_64)": "computer", "Mozilla/5.0 (Linux; Android 14; T) Safari": "tablet",
		"Mozilla/5.0 (Linux; Android 14) Mobile Safari": "phone", "Mozilla/5.0 (iPad; CPU OS 17)": "tablet", strings.Repeat("x", 5000): "another program",
	} {
		require.Equal(t, word, browserWord(agent))
	}
}
