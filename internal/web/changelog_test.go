package web

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/roster"
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
	for _, text := range []string{"Person: added", "Account: opened", "Entitlement granted", "Entitlement ended", "He moves to another unit.", "Account: closed"} {
		require.Contains(t, body, text)
	}
	require.Regexp(t, "Account: closed Tess Invented .{0,20}Closed Edda", wordsOf(body))
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

// wordsOf is a page's text with single blanks.
func wordsOf(body string) string {
	return strings.Join(strings.Fields(regexp.MustCompile("<[^>]*>").ReplaceAllString(body, " ")), " ")
}

// Sign-offs from paper and items are told by whose they are, of what, and what was before.
func TestTheLogTellsPapersAndItems(t *testing.T) {
	w := staffed(t)
	ctx := t.Context()
	for _, x := range []struct {
		who *browser
		on  training.Day
	}{{w.trainee, "2024-02-02"}, {w.otherLearner, "2024-03-03"}} {
		require.NoError(t, w.EnterEarlier(ctx, w.educator.actor, w.Key(), training.EarlierLine{PersonID: x.who.id(), Competency: turnover, On: x.on, SignedBy: "Ulla Before", Evidence: "Green folder", Here: true}, clinictest.Password))
	}
	all, err := w.EarlierOf(ctx, w.trainee.actor, w.trainee.id())
	require.NoError(t, err)
	is := training.EarlierLine{PersonID: w.trainee.id(), Competency: turnover, On: "2024-02-05", SignedBy: "Ulla Before", Evidence: "Green folder", Site: "Sister clinic"}
	require.NoError(t, w.CorrectEarlier(ctx, w.educator.actor, w.Key(), all[0].ID, is, "It was the fifth.", clinictest.Password))
	item, entry := w.itemEntry(w.trainee)
	_, err = w.CorrectItemEntry(ctx, w.educator.actor, w.Key(), entry, training.ItemEntry{ItemID: item, PersonID: w.trainee.id(), On: "2026-01-05", Evidence: "Blue folder"}, "It was in January.", clinictest.Password)
	require.NoError(t, err)
	all, err = w.EarlierOf(ctx, w.trainee.actor, w.trainee.id())
	require.NoError(t, err)
	require.NoError(t, w.WithdrawEarlier(ctx, w.educator.actor, w.Key(), all[0].ID, "Not hers.", clinictest.Password))

	page := wordsOf(w.educator.get("/changes?name=tess").body)
	title := ""
	for _, c := range w.Library.Competencies() {
		if c.ID == turnover {
			title = c.Title
		}
	}
	for _, text := range []string{
		"Sign-off from paper confirmed Tess Invented", "For “" + title + "”; day 2 Feb 2024; signed by Ulla Before; shown here; due ", "evidence Green folder",
		"Sign-off from paper corrected Tess Invented For “" + title + "”; day 5 Feb 2024, was 2 Feb 2024; not shown here any more; other site Sister clinic; due ", "why “It was the fifth.”",
		"Sign-off from paper withdrawn Tess Invented", "day 5 Feb 2024", "why “Not hers.”",
		"Item entered Tess Invented", "tem “Blood-borne pathogens”", "Item corrected Tess Invented Item “Blood-borne pathogens”; day 5 Jan 2026, was ", "no trainer any more, was Uma Invented",
	} {
		require.Contains(t, page, text)
	}
	require.NotContains(t, page, "3 Mar 2024", "of somebody else")
	require.Contains(t, wordsOf(w.educator.get("/changes?kind=rights").body), "3 Mar 2024")
	w.aPaper(w.trainee) // a batch, of which only lines of the name are shown
	waiting, err := w.EarlierWaiting(ctx, w.educator.actor)
	require.NoError(t, err)
	require.NoError(t, w.ConfirmEarlier(ctx, w.educator.actor, w.Key(), waiting[0].ID, clinictest.Password))
	require.Contains(t, wordsOf(w.educator.get("/changes?name=tess").body), "2 Jan 2024")
}

// How somebody came to be as they are is said in words.
func TestTheLogTellsAChangeOfAListInWords(t *testing.T) {
	w := staffed(t)
	p := w.trainee.actor.Person
	bring := func(text string) {
		f, err := roster.Read(strings.NewReader(text), int64(len(text)), roster.Options{Today: w.Today().Time()})
		require.NoError(t, err)
		done, err := w.ImportRoster(t.Context(), f)
		require.NoError(t, err)
		require.Empty(t, done.Faults)
	}
	bring("Staff number,Name,Job title\n" + p.StaffNo + "," + p.Name + ",Technician\n")
	p, err := w.Service.Person(t.Context(), w.educator.actor, p.ID)
	require.NoError(t, err)
	seen := training.SeenPerson(p)
	p.Job = ""
	_, err = w.Service.Prove(t.Context(), w.educator.actor, clinictest.Password)
	require.NoError(t, err)
	require.NoError(t, w.CorrectPerson(t.Context(), w.educator.actor, w.Key(), p, seen, "No job."))
	page := wordsOf(w.educator.get("/people/" + p.ID + "/edit").body)
	require.Contains(t, page, "Job title Technician; by a list of people")
	require.Contains(t, page, "No job title any more, was Technician; why “No job.”")
	require.NotContains(t, page, "through")
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
