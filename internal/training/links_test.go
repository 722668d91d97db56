package training_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// Whoever came by a list gets a link, chooses a password by it, once, and signs in.
func TestALinkLetsSomebodyChooseTheirPassword(t *testing.T) {
	w := staffed(t)
	nora := w.imported("Name,Role\nNora Öztürk-Lang,staff\n")[0]
	waiting, err := w.WaitingAccounts(ctx, w.educator)
	require.NoError(t, err)
	require.Equal(t, []training.WaitingAccount{{Person: nora, Username: "nora.lang"}}, waiting)
	given, err := w.GiveLinks(ctx, w.educator, w.Key(), []training.WantedLink{{PersonID: nora.ID, Username: " Nora.Lang "}})
	require.NoError(t, err)
	require.Len(t, given, 1)
	require.Equal(t, "nora.lang", given[0].Username)
	h, err := w.LinkHolder(ctx, given[0].Token)
	require.NoError(t, err)
	require.Equal(t, "Edda Invented", h.MadeBy)
	require.Equal(t, "nora.lang", h.Username)

	for _, bad := range []string{"short", "nora ozturk lang nora", "passwordpassword"} {
		_, err = w.UseLink(ctx, given[0].Token, w.Key(), bad)
		require.ErrorIs(t, err, training.ErrInvalid, bad)
	}
	_, err = w.UseLink(ctx, given[0].Token, w.Key(), long)
	require.NoError(t, err)
	w.In("edda")
	actor, _, err := w.SignIn(ctx, "nora.lang", long)
	require.NoError(t, err)
	require.False(t, actor.MustChange, "it is her own")
	_, err = w.UseLink(ctx, given[0].Token, w.Key(), long+" again")
	require.ErrorIs(t, err, training.ErrNotFound, "once")
	w.verifies()
}

// A link in place of a forgotten password ends what was before, and who made it is told.
func TestALinkInPlaceOfAPassword(t *testing.T) {
	w := staffed(t)
	ask := []training.WantedLink{{PersonID: w.trainee.Person.ID}}
	given, err := w.GiveLinks(ctx, w.educator, w.Key(), ask)
	require.NoError(t, err)
	_, _, err = w.SignIn(ctx, "tess", training.DemoPassword)
	require.ErrorIs(t, err, training.ErrPassword, "the old one is void")
	later, err := w.GiveLinks(ctx, w.educator, w.Key(), ask)
	require.NoError(t, err)
	_, err = w.LinkHolder(ctx, given[0].Token)
	require.ErrorIs(t, err, training.ErrNotFound, "a new link ends the one before")
	w.Pass(72 * time.Hour)
	_, err = w.UseLink(ctx, later[0].Token, w.Key(), long)
	require.ErrorIs(t, err, training.ErrNotFound, "too old")
	w.educator = w.In("edda")
	given, err = w.GiveLinks(ctx, w.educator, w.Key(), ask)
	require.NoError(t, err)
	require.NoError(t, w.SetDisabled(ctx, w.educator, w.Key(), w.trainee.Person.ID, true))
	_, err = w.UseLink(ctx, given[0].Token, w.Key(), long)
	require.ErrorIs(t, err, training.ErrNotFound, "closed")
	_, err = w.GiveLinks(ctx, w.educator, w.Key(), ask)
	require.ErrorIs(t, err, training.ErrConflict)
	require.NoError(t, w.SetDisabled(ctx, w.educator, w.Key(), w.trainee.Person.ID, false))
	given, err = w.GiveLinks(ctx, w.educator, w.Key(), ask)
	require.NoError(t, err)
	_, err = w.UseLink(ctx, given[0].Token, w.Key(), long)
	require.NoError(t, err)
	tess, _, err := w.SignIn(ctx, "tess", long)
	require.NoError(t, err)
	told, err := w.AccountChanges(ctx, tess)
	require.NoError(t, err)
	links := slices.DeleteFunc(told, func(c training.AccountChange) bool { return c.What != "link given" })
	require.Len(t, links, 4)
	require.Equal(t, "Edda Invented", links[0].By)
	account, err := w.Store.AccountOf(ctx, tess.Person.ID)
	require.NoError(t, err)
	require.Equal(t, w.educator.Person.ID, account.ResetBy, "she could have signed in her place")
	w.verifies()
}

// All of the links are made, or none.
func TestLinksAreMadeTogether(t *testing.T) {
	w := staffed(t)
	two := w.imported("Name,Role\nNora,staff\nNils,staff\n")
	_, err := w.GiveLinks(ctx, w.educator, w.Key(), []training.WantedLink{{PersonID: two[0].ID, Username: "newly"}, {PersonID: two[1].ID, Username: "tess"}})
	require.ErrorIs(t, err, training.ErrConflict)
	require.ErrorContains(t, err, two[1].Name+": the sign-in name \"tess\" is already another person's")
	waiting, err := w.WaitingAccounts(ctx, w.educator)
	require.NoError(t, err)
	require.Len(t, waiting, 2)
	require.False(t, waiting[0].Has || waiting[1].Has)
	_, err = w.GiveLinks(ctx, w.educator, w.Key(), []training.WantedLink{{PersonID: w.educator.Person.ID}})
	require.ErrorIs(t, err, training.ErrForbidden, "not one's own")
	_, err = w.GiveLinks(ctx, w.educator, w.Key(), nil)
	require.ErrorIs(t, err, training.ErrInvalid)
}
