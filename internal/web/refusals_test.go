package web

import (
	"crypto/rand"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// A refused signature says so, also when the page it was sent from is stale
// and its card is gone.
func TestRefusedSignaturesSpeak(t *testing.T) {
	w := withRecords(t)
	at := "/demonstrations/" + w.demo
	learner := func() answer {
		return w.preceptor.post(at+"/sign/learner", url.Values{"key": {rand.Text()}, "username": {"tess"}, "password": {training.DemoPassword}})
	}
	preceptor := func(password string) answer {
		return w.preceptor.post(at+"/sign/preceptor", url.Values{"key": {rand.Text()}, "meaning": {string(training.WatchedNotMet)}, "password": {password}})
	}
	choose := func(meaning, why string) answer {
		return w.preceptor.post(at+"/outcome", url.Values{"key": {rand.Text()}, "meaning": {meaning}, "why": {why}})
	}
	for name, early := range map[string]answer{"learner": learner(), "preceptor": preceptor(training.DemoPassword), "met": choose(string(training.WatchedMet), "")} {
		require.Equal(t, 409, early.StatusCode, name)
		require.Contains(t, early.body, `role="alert"`, name)
	}
	named := choose(string(training.WatchedNotMet), "The patient Mr. Miller asked for it")
	require.Equal(t, 422, named.StatusCode)
	require.Contains(t, named.body, "Nothing about patients belongs in this record")
	require.Contains(t, named.body, "Mr. Miller asked for it</textarea>", "nothing that was typed is lost")
	require.Equal(t, 303, choose(string(training.WatchedNotMet), "").StatusCode)

	require.Equal(t, 303, learner().StatusCode)
	twice := learner()
	require.Equal(t, 409, twice.StatusCode)
	require.Contains(t, twice.body, "The learner has signed this demonstration already.")

	wrong := preceptor("not-the-password-at-all")
	require.Equal(t, 422, wrong.StatusCode)
	require.Contains(t, wrong.body, "That password is not right.")
	require.NotContains(t, wrong.body, "Name and password")

	require.Equal(t, 303, preceptor(training.DemoPassword).StatusCode)
	require.Contains(t, preceptor(training.DemoPassword).body, `role="alert"`, "signed by both")

	off := w.preceptor.post("/people/"+w.trainee.id()+"/sign-off", url.Values{"key": {rand.Text()}, "competency": {turnover}, "password": {training.DemoPassword}})
	require.Equal(t, 409, off.StatusCode)
	require.Contains(t, off.body, `role="alert"`, "nobody is signed off who is not ready, and it is said")
}

func TestAClosedAccountIsSaid(t *testing.T) {
	w := withRecords(t)
	at := "/people/" + w.trainee.id()
	require.NotContains(t, w.educator.get(at).body, "account closed")
	require.Contains(t, w.preceptor.get("/watch/new").body, w.trainee.id())
	require.Equal(t, 303, w.educator.post(at+"/close", url.Values{"key": {rand.Text()}}).StatusCode)
	page := w.educator.get(at).body
	require.Contains(t, page, "This account is closed.")
	require.Contains(t, page, at+"/reopen")
	require.NotContains(t, page, at+`/close"`, "only what applies is offered")
	require.NotContains(t, w.preceptor.get("/watch/new").body, w.trainee.id(), "nobody to watch who cannot sign")
	require.Equal(t, 303, w.educator.post(at+"/reopen", url.Values{"key": {rand.Text()}}).StatusCode)
	require.NotContains(t, w.educator.get(at).body, "This account is closed.")
}
