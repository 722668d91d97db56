package web

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// whoMay is written by hand, apart from the table of routes: a route that is
// opened wider by mistake differs from it.
const whoMay = `
anyone: GET / | GET /first/:token | GET /healthz | GET /help | GET /readyz | GET /recorder | GET /sign-in | GET /static/:hash/:name | GET /sw.js | POST /first/:token | POST /sign-in | POST /sign-in/demo
trainee preceptor educator manager: GET /earlier-entries/:id | GET /item-entries/:id | GET /password | GET /people/:id | GET /procedures/:id | GET /session | POST /password | POST /password/sessions | POST /picture | POST /sign-out
trainee preceptor educator: GET /attempts/:id | GET /course/:module | GET /course/:module/:part | GET /demonstrations/:id | GET /demonstrations/:id/play | GET /duties/:id | GET /plans/:id | GET /practice | GET /practice/:scenario | POST /attempts/:id/take-up | POST /course/:module/:part/answer | POST /course/:module/:part/seen | POST /demonstrations/:id/refuse | POST /demonstrations/:id/sign/learner | POST /duties/:id/read | POST /practice/:scenario/discard | POST /practice/:scenario/finish | POST /practice/:scenario/start | POST /practice/:scenario/steps | POST /practice/:scenario/tap
preceptor educator manager: GET /people | GET /today
preceptor educator: GET /demonstrations/:id/correct | GET /demonstrations/:id/pack | GET /demonstrations/:id/record | GET /watch | GET /watch/new | POST /demonstrations/:id/abandon | POST /demonstrations/:id/batch | POST /demonstrations/:id/correct | POST /demonstrations/:id/end | POST /demonstrations/:id/hand-over | POST /demonstrations/:id/keep | POST /demonstrations/:id/marks | POST /demonstrations/:id/outcome | POST /demonstrations/:id/restate | POST /demonstrations/:id/sign/preceptor | POST /demonstrations/:id/take-back | POST /demonstrations/:id/take-over | POST /demonstrations/:id/withdraw | POST /people/:id/sign-off | POST /watch/copy | POST /watch/new
educator manager: GET /annual/:file | GET /items | GET /items/:id | GET /observations | GET /people/record
educator: GET /assignments | GET /assignments/:id | GET /changes | GET /earlier | GET /earlier/import | GET /items/import | GET /parts | GET /people/:id/earlier | GET /people/:id/edit | GET /people/ask | GET /people/import | GET /people/links | GET /people/new | GET /people/waits | GET /requirements | GET /requirements/:competency | GET /set | GET /set/edit | GET /set/scenarios/:scenario/try | GET /set/versions/:number | GET /set/versions/:number/files | GET /watch/endings | POST /assignments | POST /assignments/:id/undo | POST /clock | POST /duties/:id/move | POST /duties/:id/take-back | POST /earlier-entries/:id/correct | POST /earlier-entries/:id/withdraw | POST /earlier/:id/confirm | POST /earlier/:id/discard | POST /earlier/import | POST /earlier/import/confirm | POST /item-entries/:id/correct | POST /item-entries/:id/withdraw | POST /items | POST /items/:id | POST /items/:id/entries | POST /items/import | POST /items/import/confirm | POST /observations/target | POST /people | POST /people/:id/absence | POST /people/:id/account | POST /people/:id/close | POST /people/:id/correct | POST /people/:id/earlier | POST /people/:id/entitle | POST /people/:id/entitlements/:entitlement/end | POST /people/:id/first-password | POST /people/:id/leaves | POST /people/:id/link | POST /people/:id/orientation | POST /people/:id/reopen | POST /people/:id/returns | POST /people/ask | POST /people/import | POST /people/import/bad | POST /people/import/confirm | POST /people/links | POST /plans/:id | POST /plans/:id/close | POST /requirements/:competency | POST /requirements/:competency/preview | POST /set/approvers | POST /set/bring | POST /set/discard | POST /set/edit | POST /set/propose | POST /set/scenarios/:scenario/try | POST /set/try | POST /set/undo | POST /set/versions/:number/approve | POST /set/versions/:number/draft | POST /set/versions/:number/follow | POST /set/versions/:number/withdraw | POST /sign-offs/:id/withdraw
`

func TestWhoMayAskIsAsWrittenDown(t *testing.T) {
	groups := map[string][]string{}
	for _, r := range routes() {
		var who []string
		for _, role := range []training.Role{training.Trainee, training.Preceptor, training.Educator, training.Manager} {
			if !r.who.open && r.who.allows(training.Person{Role: role}) {
				who = append(who, string(role))
			}
		}
		name := strings.Join(who, " ")
		if r.who.open {
			name = "anyone"
		}
		groups[name] = append(groups[name], r.method+" "+r.path)
	}
	var b strings.Builder
	for _, name := range []string{"anyone", "trainee preceptor educator manager", "trainee preceptor educator", "preceptor educator manager", "preceptor educator", "educator manager", "educator"} {
		slices.Sort(groups[name])
		fmt.Fprintf(&b, "\n%s: %s", name, strings.Join(groups[name], " | "))
		delete(groups, name)
	}
	require.Empty(t, groups)
	require.Equal(t, whoMay, b.String()+"\n")
}
