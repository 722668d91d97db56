package web

import (
	"crypto/rand"
	"flag"
	"fmt"
	"net/url"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

var update = flag.Bool("update", false, "write testdata/cells.txt anew; read the difference")

const cellsFile = "testdata/cells.txt"

// apart are the routes that would end the sessions of this test.
var apart = []string{"/sign-out", "/sign-in/demo"}

// ownerships are the addresses of a route with an id, in this order: one's own
// record (as a new hire), another's, none, one that cannot be.
var ownerships = []string{"plain", "own", "other", "missing", "malformed"}

// Every route, asked by everybody, of every ownership: the answers stand in
// cells.txt, a line a route. A route that is not there fails.
func TestWhoGetsWhat(t *testing.T) {
	w := withRecords(t)
	kinds, who := w.kinds()
	written := map[string]string{}
	if text, err := os.ReadFile(cellsFile); !*update {
		require.NoError(t, err)
		for line := range strings.Lines(string(text)) {
			route, answers, _ := strings.Cut(strings.TrimSpace(line), ": ")
			written[route] = answers
		}
	}
	cells, out := 0, "the answers to "+strings.Join(kinds, ", ")+": of the route as it is, or of one's own, another's, a missing and a malformed record\n"
	for _, r := range routes() {
		if slices.Contains(apart, r.path) {
			continue
		}
		var answers []string
		for _, kind := range kinds {
			got := w.statuses(r, kind, who[kind])
			cells += len(got)
			answers = append(answers, strings.Join(got, " "))
		}
		name, found := r.method+" "+r.path, strings.Join(answers, " | ")
		out += name + ": " + found + "\n"
		if !*update {
			require.Contains(t, written, name, "a new route: say who gets what (go test ./internal/web -run WhoGetsWhat -args -update), and read it")
			require.Equal(t, written[name], found, "%s to %s", name, kinds)
			delete(written, name)
		}
	}
	if *update {
		require.NoError(t, os.WriteFile(cellsFile, []byte(out), 0o600))
	}
	delete(written, strings.SplitN(out, ": ", 2)[0])
	require.Empty(t, written, "a route that is no more")
	t.Logf("%d cells: %d routes, %d kinds of people", cells, len(routes())-len(apart), len(kinds))
}

// kinds are all there are of people, each with a session.
func (w *records) kinds() (names []string, who map[string]*browser) {
	first := func(name, username string, role training.Role) *browser {
		_, password, err := w.AddPerson(w.T.Context(), w.educator.actor, rand.Text(), training.Person{Name: name, Role: role}, username)
		require.NoError(w.T, err)
		return w.signIn(username, password)
	}
	w.Hire(w.educator.actor, "Clara Invented", "clara", training.Educator)
	w.Hire(w.educator.actor, "Mona Invented", "mona", training.Manager)
	w.Hire(w.educator.actor, "Tim Invented", "tim", training.Educator)
	closed, throttled := w.signIn("clara", clinictest.Password), w.signIn("tim", clinictest.Password)
	require.NoError(w.T, w.SetDisabled(w.T.Context(), w.educator.actor, rand.Text(), closed.id(), true))
	for range 30 {
		w.anonymous().post("/sign-in", url.Values{"username": {"tim"}, "password": {"a wrong one"}})
		throttled.post("/password", url.Values{"key": {rand.Text()}, "old": {"a wrong one"}, "password": {"another long enough"}})
	}
	return []string{"a stranger", "a new hire", "a preceptor", "an educator", "an educator whose account is closed", "an educator whose name is throttled",
			"a new hire with a first password", "an educator with a first password", "a manager"},
		map[string]*browser{"a stranger": w.anonymous(), "a new hire": w.trainee, "a preceptor": w.preceptor, "an educator": w.educator,
			"an educator whose account is closed": closed, "an educator whose name is throttled": throttled,
			"a new hire with a first password": first("Fay Invented", "fay", training.Trainee), "an educator with a first password": first("Flora Invented", "flora", training.Educator),
			"a manager": w.signIn("mona", clinictest.Password)}
}

// statuses asks a route for each ownership, and checks what holds for all.
func (w *records) statuses(r route, kind string, b *browser) (got []string) {
	at := w.addresses(r.path)
	for _, whose := range ownerships {
		path, ok := at[whose]
		if !ok {
			continue
		}
		a := b.get(path)
		if r.method == "POST" {
			a = b.post(path, nil)
		}
		where := fmt.Sprintf("%s %s (%s) by %s: %.300s", r.method, path, whose, kind, a.body)
		require.Less(w.T, a.StatusCode, 500, where)
		switch {
		case r.who.open:
		case b.cookie == "" || strings.Contains(kind, "closed"):
			require.Equal(w.T, 401, a.StatusCode, where)
		case !r.who.allows(b.actor.Person):
			require.Equal(w.T, 403, a.StatusCode, where)
		case strings.Contains(kind, "first password") && r.path != "/password":
			require.Contains(w.T, []int{303, 403}, a.StatusCode, where)
		case whose == "missing" || whose == "malformed":
			require.GreaterOrEqual(w.T, a.StatusCode, 400, where)
		}
		got = append(got, fmt.Sprint(a.StatusCode))
	}
	return got
}

// Nobody adds to what another watches, though their role lets them ask.
func TestOnlyTheWatcherWritesARecording(t *testing.T) {
	w := staffed(t)
	w.EntitleTo(w.educator.actor, w.educator.actor)
	r := w.preceptor.post("/watch/new", startForm(w.trainee.id(), turnover, "station-wipe"))
	require.Equal(t, 303, r.StatusCode, r.body)
	at := strings.TrimSuffix(r.Header.Get("Location"), "/record")
	before := w.dump()
	for path, body := range map[string]string{
		"/batch": `{"device":"tablet-1","acts":[{"key":%q,"n":1,"step":"rub-hands","at_ms":1,"wall":"2026-03-02T15:00:00.000Z"}]}`, "/end": `{"key":%q,"at_ms":3000,"comment":""}`, "/abandon": `{"key":%q}`,
	} {
		got := w.educator.send(at+path, fmt.Sprintf(body, rand.Text()))
		require.Equal(t, 403, got.StatusCode, "%s: %s", path, got.body)
	}
	got := w.educator.post(at+"/sign/preceptor", url.Values{"key": {rand.Text()}, "meaning": {"watched-met"}, "password": {clinictest.Password}})
	require.Equal(t, 403, got.StatusCode, got.body)
	require.Equal(t, before, w.dump())
}
