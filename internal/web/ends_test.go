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

// A sign-off that was given in error is withdrawn by the educator; everybody named in it
// reads why, and standing goes back to what the evidence says.
func TestASignOffIsWithdrawn(t *testing.T) {
	w := staffed(t)
	w.Modules(w.trainee.actor)
	for range 2 {
		w.SignBoth(w.preceptor.actor, w.Watch(w.preceptor.actor, w.trainee.actor, w.GoodWork()), "tess", training.WatchedMet)
		w.Pass(24 * time.Hour)
	}
	w.educator, w.preceptor, w.trainee = w.signIn("edda", clinictest.Password), w.signIn("pia", clinictest.Password), w.signIn("tess", clinictest.Password)
	o, err := w.Service.SignOff(t.Context(), w.preceptor.actor, w.Key(), w.trainee.id(), turnover, clinictest.Password)
	require.NoError(t, err)
	at := "/people/" + w.trainee.id()
	require.Contains(t, w.educator.get(at).body, "Withdraw this sign-off")
	require.NotContains(t, w.trainee.get(at).body, "Withdraw this sign-off")
	form := url.Values{"key": {rand.Text()}, "person": {w.trainee.id()}, "why": {""}, "password": {clinictest.Password}}
	got := w.educator.post("/sign-offs/"+o.ID+"/withdraw", form)
	require.Equal(t, 422, got.StatusCode)
	require.Contains(t, got.body, "Say why it is withdrawn")
	form.Set("why", "The second demonstration was of somebody else.")
	form.Set("password", "not hers")
	got = w.educator.post("/sign-offs/"+o.ID+"/withdraw", form)
	require.Equal(t, 422, got.StatusCode)
	require.Contains(t, got.body, "The second demonstration was of somebody else.", "what was typed stays")
	form.Set("password", clinictest.Password)
	require.Equal(t, 303, w.educator.post("/sign-offs/"+o.ID+"/withdraw", form).StatusCode)
	for who, b := range map[string]*browser{"educator": w.educator, "preceptor": w.preceptor, "trainee": w.trainee} {
		body := b.get(at).body
		require.Contains(t, body, "Withdrawn", who)
		require.Contains(t, body, "The second demonstration was of somebody else.", who)
		require.NotContains(t, body, "Withdraw this sign-off", who)
		require.Contains(t, body, "Ready to sign", who)
	}
	form.Set("key", rand.Text())
	require.Equal(t, 409, w.educator.post("/sign-offs/"+o.ID+"/withdraw", form).StatusCode, "once")
}

// An entitlement that ends can be used no more, and is not given twice.
func TestAnEntitlementEnds(t *testing.T) {
	w := staffed(t)
	at := "/people/" + w.preceptor.id()
	all, err := w.Store.Entitlements(t.Context(), w.preceptor.id())
	require.NoError(t, err)
	require.Equal(t, 200, w.preceptor.get("/watch/new?person="+w.trainee.id()).StatusCode)
	w.Pass(16 * time.Minute)
	form := url.Values{"key": {rand.Text()}, "why": {"He moves to another unit."}}
	got := w.educator.post(at+"/entitlements/"+all[0].ID+"/end", form)
	require.Equal(t, 422, got.StatusCode)
	require.Contains(t, got.body, "Give your own password as well")
	require.Contains(t, got.body, "He moves to another unit.")
	form.Set("own", clinictest.Password)
	require.Equal(t, 303, w.educator.post(at+"/entitlements/"+all[0].ID+"/end", form).StatusCode)
	require.Contains(t, w.preceptor.get(at).body, "He moves to another unit.")
	_, err = w.Service.StartDemonstration(t.Context(), w.preceptor.actor, w.Key(), w.trainee.id(), turnover, "station-wipe")
	require.ErrorContains(t, err, "not entitled")
}
