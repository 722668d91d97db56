package web

import (
	"context"
	"crypto/rand"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
	"stillwet/views"
)

// itemEntry is an item of everybody's, and somebody's entry of it.
func (c *clinic) itemEntry(who *browser) (item, entry string) {
	ctx := context.Background()
	i, err := c.SaveItem(ctx, c.educator.actor, rand.Text(), training.Item{Title: "Blood-borne pathogens", EveryMonths: 12, NoticeDays: 30, Everybody: true, KeepYears: 3})
	require.NoError(c.T, err)
	require.NoError(c.T, c.EnterItem(ctx, c.educator.actor, rand.Text(), training.ItemEntry{ItemID: i.ID, On: c.Today(), Trainer: "Uma Invented", Evidence: "Blue folder"}, []string{who.id()}))
	of, err := c.ItemsOfPerson(ctx, who.actor, who.id())
	require.NoError(c.T, err)
	return i.ID, of.Entries[0].ID
}

func TestItemsAreEnteredForAClassAndPutRight(t *testing.T) {
	c := staffed(t)
	send := func(path string, form url.Values) answer {
		form.Set("key", rand.Text())
		return c.educator.post(path, form)
	}
	form := url.Values{"title": {"Fit test"}, "months": {"12"}, "notice": {"30"}, "keep": {"3"}, "seq": {"0"}, "everybody": {"yes"}, "content": {""}}
	r := send("/items", form)
	require.Equal(t, 303, r.StatusCode)
	at, _, _ := strings.Cut(r.Header.Get("Location"), "?")
	require.Contains(t, c.educator.get(r.Header.Get("Location")).body, "The item is added.")
	require.Contains(t, c.educator.get("/items").body, "Fit test")
	require.Contains(t, c.trainee.get("/people/"+c.trainee.id()).body, "Not done")

	class := url.Values{"on": {string(c.Today())}, "trainer": {"Uma Invented"}, "evidence": {"TB test negative, blue folder"}, "who-" + c.trainee.id(): {"yes"}, "who-" + c.preceptor.id(): {"yes"}}
	r = send(at+"/entries", class)
	require.Equal(t, 422, r.StatusCode)
	require.Contains(t, r.body, "This looks as if it spoke of a tuberculosis test")
	require.Contains(t, r.body, "TB test negative, blue folder", "what was typed is there still")
	class.Set("evidence", "Blue folder")
	require.Equal(t, 303, send(at+"/entries", class).StatusCode)
	require.Contains(t, c.educator.get(at).body, "Uma Invented")
	r = send(at+"/entries", class)
	require.Equal(t, 409, r.StatusCode)
	require.Contains(t, r.body, "have an entry of")

	of, err := c.ItemsOfPerson(context.Background(), c.trainee.actor, c.trainee.id())
	require.NoError(t, err)
	e := "/item-entries/" + of.Entries[0].ID
	require.Equal(t, 200, c.trainee.get(e).StatusCode)
	require.Equal(t, 404, c.otherLearner.get(e).StatusCode)
	is := url.Values{"person": {c.preceptor.id()}, "item": {of.Entries[0].ItemID}, "on": {"2026-01-05"}, "evidence": {"Blue folder"}, "why": {"It was of another day."}, "password": {"wrong"}}
	r = send(e+"/correct", is)
	require.Equal(t, 422, r.StatusCode)
	require.Contains(t, r.body, "It was of another day.")
	is.Set("password", clinictest.Password)
	r = send(e+"/correct", is)
	require.Equal(t, 303, r.StatusCode)
	require.Contains(t, c.educator.get(r.Header.Get("Location")).body, "It was of another day.")
	require.Contains(t, c.trainee.get(e).body, "This entry was wrong.")
	standsFor, _, _ := strings.Cut(r.Header.Get("Location"), "?")
	require.Equal(t, 303, send(standsFor+"/withdraw", url.Values{"why": {"Nobody was there."}, "password": {clinictest.Password}}).StatusCode)
	require.Contains(t, c.educator.get(r.Header.Get("Location")).body, "Nobody was there.")
	require.Contains(t, c.educator.get("/changes?kind=items").body, "Item corrected")

	form.Set("title", "Fit test, yearly")
	form.Set("seq", "1")
	require.Contains(t, send(at, form).body, "Say why it changes")
	form.Set("why", "The policy has another name for it.")
	require.Equal(t, 303, send(at, form).StatusCode)
	form.Set("title", "Fit test, each year")
	stale := send(at, form)
	require.Equal(t, 409, stale.StatusCode)
	require.Contains(t, stale.body, "Press again to change it once more: title “Fit test, yearly” → “Fit test, each year”.")
	require.Contains(t, stale.body, `name="seq" value="2"`, "the next press counts")
	form.Set("months", "a year")
	require.Contains(t, send(at, form).body, "The number of months is no number.")
}

func TestHealthDataIsKeptOnAWordOnly(t *testing.T) {
	for text, warned := range map[string]bool{"Hepatitis B vaccine given": true, "titre 200": true, "PPD read": true, "TB screening": true, "medical clearance": true, "needlestick of May": true,
		"Blood-borne pathogens": false, "Fit test": false, "Respirator, size M": false, "Exposure control plan": false, "TB control plan of the clinic": false, "contents": false, "reimmerse": false} {
		require.Equal(t, warned, training.ItemTextWarning(text) != "", text)
	}
	in := map[string]string{"title": "Hepatitis B vaccine"}
	require.NotEmpty(t, warned(in, "title"))
	require.NotEmpty(t, warned(in, "title"), "sent once more it is warned of once more")
	in["sure"] = strings.TrimPrefix(in["sure"], views.AskSure)
	require.Empty(t, warned(in, "title"), "it was said that it may stay")
	in["title"] = "Hepatitis B vaccines"
	require.NotEmpty(t, warned(in, "title"))
}
