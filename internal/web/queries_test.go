package web

import (
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/store"
)

// queries is how many questions a page asks of the file, three of them for the
// session. More need a reason; none may be asked for each row. The last number of pages that
// show standings is that of requirements, plans and leaves, and of what ended the plans that are listed; behind it stand the sign-offs from paper.
var queries = map[string]int{
	"people":     3 + 6 + 1 + 7 + 1 + 2 + 1 + 4 + 6 + 2 + 2 + 1 + 1, // observations and their target; what waits in the clinic, and which accounts; whose account is closed; of change training, and one's own duties; the ledger's last time; what was asked and is overdue
	"watch":      3 + 6 + 7 + 1 + 4 + 7 + 2 + 1 + 3 + 2 + 1,         // whose account is closed; whom one looks after; one's own to sign; one's own duties, and whom one may watch because of theirs
	"start":      3 + 2,
	"earlier":    3 + 2, // what waits, whose it is
	"new paper":  3 + 1,
	"paper":      3 + 3,                                             // whether it is due by the interval
	"items":      3 + 4,                                             // items, entries, people
	"item":       3 + 6,                                             // the same; the versions, and who works here
	"item entry": 3 + 5,                                             // the entry, the items, the person; what a correction may choose from
	"practice":   3 + 5 + 5 + 2 + 4 + 1 + 3 + 1,                     // of the course: marks, who looks after one
	"lesson":     3 + 5 + 2 + 1 + 3 + 1,                             // one's way, and the answers
	"module":     3 + 5 + 2 + 3 + 1,                                 // one's way
	"set":        3 + 2 + 1 + 1,                                     // versions with their events; the draft; the files
	"read":       3 + 2,                                             // the library is in memory; the versions, on whose word it is in force
	"build":      3 + 4,                                             // unfinished work of both ways; with the tries, which story is told
	"record":     3 + 1 + 5 + 6 + 4 + 2 + 1 + 3 + 4 + 1 + 4 + 3 + 2, // who signed as what, who could approve and look after
	"own":        3 + 1 + 5 + 6 + 3 + 2 + 2 + 4 + 1 + 4 + 3 + 2,
	"duty":       3 + 1 + 1 + 1,     // the last is whether they were hired under it
	"attempt":    3 + 2 + 2,         // the versions, of which one was in force
	"review":     3 + 6 + 2 + 1 + 1, // the same; what became of it and what was corrected; how it was received
	"play":       3 + 5 + 2,
	"correct":    3 + 4 + 1 + 1, // the lines as they stand
	"endings":    3 + 2,
	"plan":       3 + 3,
	"new person": 3 + 1,         // the teams that there are
	"edit":       3 + 1 + 3 + 1, // the changes, as the log has them; the teams
	"recorder":   3 + 8,         // which device records, what was sent, what an earlier program wrote
	"links":      3 + 3,         // people, accounts, links
	"changes":    3 + 3 + 1,     // leaves with the ones before them; what they are of, who is named; titles of items
	"needs":      3 + 1,
	"require":    3 + 2, // with the words that are in use
	"waits":      3 + 6 + 2 + 1,
	"ask":        3 + 2,         // the items that can be asked, and the people
	"asked":      3 + 3 + 2 + 2, // what was asked, of whom, what was taken back; how far each is; who is here
	"asked one":  3 + 3 + 2 + 2, // the same
	"today":      3 + 6 + 4 + 1,
	"observed":   3 + 5, // observations, targets, return demonstrations, the first of all; who is named
}

func TestAPageAsksTheSameOfASmallAndALargeClinic(t *testing.T) {
	for _, people := range []int{3, 30} {
		c := crowded(t, people, 12)
		var asked []string
		var one sync.Mutex // a page may ask two things at once
		require.NoError(t, c.Records.(*store.Store).OnStatement(func(statement string) {
			one.Lock()
			defer one.Unlock()
			asked = append(asked, statement)
		}))
		pages := c.pages()
		pages["build"] = func() answer { return c.trainee.get("/practice/ordinary-turnover") }
		pages["own"] = func() answer { return c.trainee.get("/people/" + c.trainee.id()) }
		found := map[string]int{}
		for name, page := range pages {
			asked = nil
			require.Equal(t, 200, page().StatusCode, name)
			found[name] = len(asked)
			if len(asked) != queries[name] {
				t.Log(name, "\n", strings.Join(asked, "\n "))
			}
			for _, statement := range asked {
				wide := strings.Contains(statement, "result_json") || strings.Contains(statement, "SELECT * FROM `attempts`") ||
					strings.Contains(statement, "SELECT * FROM `demonstrations_now`")
				require.False(t, wide && !slices.Contains([]string{"attempt", "review", "recorder", "play", "correct", "observed"}, name), "%s reads results: %s", name, statement)
			}
		}
		require.Equal(t, queries, found, "of %d people", people)
	}
}

// A person's record loads the attempts it shows and how many there are.
func TestALongRecordShowsItsNewest(t *testing.T) {
	c := crowded(t, 2, 45)
	page := c.educator.get("/people/crowd-00002").body
	require.Equal(t, 20, strings.Count(page, `href="/attempts/crowd-00002-a`))
	require.Contains(t, page, `href="/attempts/crowd-00002-a0044"`)
	require.Contains(t, page, "The newest 20 of 45.")
	page = c.educator.get("/people/" + c.otherLearner.id()).body
	require.NotContains(t, page, "The newest")
}

// counted names each page that shows records; the rest are doors, files, the
// year's workbook, which is everything there is, and the records for a surveyor, which ask how
// each signer stood on each day of theirs.
var (
	counted = map[string]string{
		"/people/ask": "ask", "/assignments": "asked", "/assignments/:id": "asked one",
		"/people": "people", "/people/:id": "record", "/people/new": "new person", "/people/:id/edit": "edit", "/watch": "watch", "/watch/new": "start", "/practice": "practice", "/practice/:scenario": "build", "/course/:module": "module", "/procedures/:id": "read", "/set": "set", "/course/:module/:part": "lesson",
		"/attempts/:id": "attempt", "/duties/:id": "duty", "/demonstrations/:id": "review", "/demonstrations/:id/pack": "recorder",
		"/changes": "changes", "/demonstrations/:id/correct": "correct", "/demonstrations/:id/play": "play", "/earlier": "earlier", "/earlier-entries/:id": "paper", "/item-entries/:id": "item entry", "/items": "items", "/items/:id": "item", "/people/:id/earlier": "new paper", "/people/links": "links", "/people/waits": "waits", "/observations": "observed", "/plans/:id": "plan", "/requirements": "needs", "/requirements/:competency": "require", "/today": "today", "/watch/endings": "endings",
	}
	uncounted = []string{"/", "/healthz", "/readyz", "/demonstrations/:id/record", "/recorder", "/sw.js", "/session", "/static/:hash/:name", "/help", "/sign-in", "/first/:token", "/password", "/parts", "/annual/:file", "/people/import", "/people/record", "/items/import", "/earlier/import", "/set/edit", "/set/scenarios/:scenario/try", "/set/versions/:number", "/set/versions/:number/files"}
)

func TestEveryPageIsCounted(t *testing.T) {
	for _, r := range routes() {
		if r.method != "GET" || slices.Contains(uncounted, r.path) {
			continue
		}
		require.Contains(t, queries, counted[r.path], "how many questions does %s ask? Put it into the tables of this file and into pages of crowd_test.go", r.path)
	}
}
