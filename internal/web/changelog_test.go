package web

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// Who changed what is read from the ledger: what is so since, what was before, and by whom.
func TestTheLogOfChanges(t *testing.T) {
	w := staffed(t)
	all, err := w.Store.Entitlements(t.Context(), w.preceptor.id())
	require.NoError(t, err)
	require.NoError(t, w.EndEntitlement(t.Context(), w.educator.actor, w.Key(), w.preceptor.id(), all[0].ID, "He moves to another unit."))
	require.NoError(t, w.SetDisabled(t.Context(), w.educator.actor, w.Key(), w.trainee.id(), true))

	body := w.educator.get("/changes").body
	for _, text := range []string{"Person: added", "Account: opened", "Entitlement granted", "Entitlement ended", "He moves to another unit.", "Account: closed", "Closed yes, was no"} {
		require.Contains(t, body, text)
	}
	require.Less(t, strings.Index(body, "Account: closed"), strings.Index(body, "Entitlement ended"), "the newest first")

	body = w.educator.get("/changes?kind=rights").body
	require.Contains(t, body, "Entitlement ended")
	require.NotContains(t, body, "Account: closed")
	body = w.educator.get("/changes?name=TESS").body
	require.Contains(t, body, "Account: closed")
	require.NotContains(t, body, "Entitlement ended")
	today := string(w.Service.Today())
	require.Contains(t, w.educator.get("/changes?from="+today+"&to="+today).body, "Entitlement ended")
	require.Contains(t, w.educator.get("/changes?to="+string(w.Service.Today().AddDays(-1))).body, "No such change.")
	require.Equal(t, 404, w.educator.get("/changes?kind=weather").StatusCode)
	require.Equal(t, 422, w.educator.get("/changes?from=yesterday").StatusCode)
	require.Equal(t, 404, w.educator.get("/changes?under=x").StatusCode)
}

// A long log is read page by page, and none of it is lost between two.
func TestTheLogOfChangesInPages(t *testing.T) {
	w := staffed(t)
	for range 60 {
		require.NoError(t, w.SetDisabled(t.Context(), w.educator.actor, w.Key(), w.trainee.id(), true))
		require.NoError(t, w.SetDisabled(t.Context(), w.educator.actor, w.Key(), w.trainee.id(), false))
	}
	first, err := w.Changes(t.Context(), w.educator.actor, training.ChangeQuery{Group: training.ChangesOfAccounts})
	require.NoError(t, err)
	require.True(t, first.More)
	rest, err := w.Changes(t.Context(), w.educator.actor, training.ChangeQuery{Group: training.ChangesOfAccounts, Before: first.All[len(first.All)-1].Leaf})
	require.NoError(t, err)
	require.False(t, rest.More)
	accounts, err := w.Store.Accounts(t.Context())
	require.NoError(t, err)
	opened := 0
	for _, c := range append(first.All, rest.All...) {
		if c.Said == "opened" {
			opened++
		}
	}
	require.Equal(t, len(accounts), opened)
	require.GreaterOrEqual(t, len(first.All)+len(rest.All), 120+opened)
}
