package web

import (
	"crypto/rand"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/roster"
	"stillwet/internal/training"
)

var slipLink = regexp.MustCompile(`http://[^<]*?(/first/[A-Za-z0-9_-]+)`)

// Slips for everybody who has no account yet, printed once; who opens the link on it chooses
// a password and is in.
func TestSlipsLetPeopleIn(t *testing.T) {
	w := staffed(t)
	plan, err := w.PreviewRoster(t.Context(), w.educator.actor, listed(t, "Name,Role\nNora Invented,staff\nNils Invented,staff\n"))
	require.NoError(t, err)
	_, err = w.ConfirmRoster(t.Context(), w.educator.actor, w.Key(), listed(t, "Name,Role\nNora Invented,staff\nNils Invented,staff\n"), plan.Seen, nil)
	require.NoError(t, err)
	waiting, err := w.WaitingAccounts(t.Context(), w.educator.actor)
	require.NoError(t, err)
	require.Len(t, waiting, 2)
	page := w.educator.get("/people/links").body
	require.Contains(t, page, `value="nils.invented"`)
	require.Contains(t, page, "No account yet")

	w.Pass(16 * time.Minute)
	form := url.Values{"key": {rand.Text()}}
	for _, x := range waiting {
		form.Set("person-"+x.Person.ID, "yes")
		form.Set("name-"+x.Person.ID, x.Username)
	}
	form.Set("name-"+waiting[1].Person.ID, "no")
	got := w.educator.post("/people/links", form)
	require.Equal(t, 422, got.StatusCode)
	require.Contains(t, got.body, "Give your own password as well")
	form.Set("own", clinictest.Password)
	got = w.educator.post("/people/links", form)
	require.Equal(t, 422, got.StatusCode)
	require.Contains(t, got.body, "Nora Invented: The sign-in name needs 3 to 32")
	require.Contains(t, got.body, `value="no"`, "what was typed stays")
	form.Set("name-"+waiting[1].Person.ID, "nora")
	got = w.educator.post("/people/links", form)
	require.Equal(t, 200, got.StatusCode)
	links := slipLink.FindAllStringSubmatch(got.body, -1)
	require.Len(t, links, 2)
	again := w.educator.post("/people/links", form)
	require.Equal(t, 200, again.StatusCode)
	require.Contains(t, again.body, "shown once already")
	require.Empty(t, slipLink.FindAllString(again.body, -1))
	require.Contains(t, w.educator.get("/people/links").body, "A link is good until")

	b := w.anonymous()
	page = b.get(links[1][1]).body
	require.Contains(t, page, "Choose your password, Nora Invented")
	require.Contains(t, page, "Edda Invented made this link")
	got = b.post(links[1][1], url.Values{"key": {rand.Text()}, "password": {"a few words that nobody guesses"}})
	require.Equal(t, 303, got.StatusCode)
	_, _, err = w.SignIn(t.Context(), "nora", "a few words that nobody guesses")
	require.NoError(t, err)
	require.Equal(t, 404, w.anonymous().get(links[1][1]).StatusCode, "once")
	waiting, err = w.WaitingAccounts(t.Context(), w.educator.actor)
	require.NoError(t, err)
	require.Len(t, waiting, 1)
	require.IsType(t, training.WaitingAccount{}, waiting[0])
}

// listed is a roster from its text.
func listed(t *testing.T, text string) *roster.File {
	f, err := roster.Read(strings.NewReader(text), int64(len(text)), roster.Options{Today: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	return f
}
