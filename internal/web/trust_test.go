package web

import (
	"crypto/rand"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// The educator's first page tells of a clock that went back; her word ends it, and what
// was signed meanwhile keeps its mark.
func TestAClockBehindIsOnTheDeskAndOnTheRecord(t *testing.T) {
	w := staffed(t)
	d := w.Watch(w.preceptor.actor, w.trainee.actor, w.GoodWork())
	require.NotContains(t, w.educator.get("/people").body, "One of the two times is wrong")
	w.Pass(-3 * time.Hour) // sessions that began after now have ended
	w.educator, w.preceptor = w.signIn("edda", clinictest.Password), w.signIn("pia", clinictest.Password)
	require.Contains(t, w.educator.get("/people").body, "One of the two times is wrong")
	require.NotContains(t, w.preceptor.get("/people").body, "One of the two times is wrong", "she is who can settle it")
	w.SignBoth(w.preceptor.actor, d, "tess", training.WatchedMet)
	require.Contains(t, w.preceptor.get("/demonstrations/"+d.ID).body, "clock stood behind when this was signed")
	got := w.educator.post("/clock", url.Values{"key": {rand.Text()}})
	require.Equal(t, 303, got.StatusCode)
	require.NotContains(t, w.educator.get("/people").body, "One of the two times is wrong")
	require.Contains(t, w.preceptor.get("/demonstrations/"+d.ID).body, "clock stood behind when this was signed")
}

// A person whose password was reset is told so when they choose their own, and after.
func TestTheOwnerOfAnAccountIsToldOfAReset(t *testing.T) {
	w := staffed(t)
	first, err := w.NewFirstPassword(t.Context(), w.educator.actor, w.Key(), w.trainee.id())
	require.NoError(t, err)
	b := w.signIn("tess", first)
	body := b.get("/password").body
	require.Contains(t, body, "Choose your own password")
	require.Contains(t, body, "A new first password was given by Edda Invented")
	require.Contains(t, body, "The password was changed by whoever was signed in as you")
}

// What an entitlement lacks is told at its form, with what was typed.
func TestARefusedEntitlementKeepsWhatWasTyped(t *testing.T) {
	w := staffed(t)
	form := entitling()
	form.Set("credential", "")
	form.Set("key", rand.Text())
	got := w.educator.post("/people/"+w.preceptor.id()+"/entitle", form)
	require.Equal(t, 422, got.StatusCode)
	require.Contains(t, got.body, "needs a credential")
	require.Contains(t, got.body, `value="Marek Invented"`)
	require.Contains(t, got.body, "red folder, page 3")
	form = entitling()
	form.Set("key", rand.Text())
	require.Equal(t, 303, w.educator.post("/people/"+w.preceptor.id()+"/entitle", form).StatusCode)
	body := w.educator.get("/people/" + w.preceptor.id()).body
	require.Contains(t, body, "may watch and sign off")
	require.Contains(t, body, "approved on paper by Marek Invented, medical director")
}

// The form of an owner's link sent twice, as by a double click, signs in twice.
func TestAnOwnersLinkSentTwiceIsDoneOnce(t *testing.T) {
	w := staffed(t)
	token, _, err := w.OwnerLink(t.Context(), "edda")
	require.NoError(t, err)
	b := w.anonymous()
	require.Contains(t, b.get("/first/"+token).body, "Choose your password, Edda Invented")
	form := url.Values{"key": {rand.Text()}, "password": {"rain on the slate roof"}}
	require.Equal(t, 303, b.post("/first/"+token, form).StatusCode)
	require.Equal(t, 303, b.post("/first/"+token, form).StatusCode)
	form.Set("key", rand.Text())
	require.Equal(t, 404, w.anonymous().post("/first/"+token, form).StatusCode, "another sending finds the link used")
}
