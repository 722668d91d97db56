package web

import (
	"html"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

var numberLink = regexp.MustCompile(`(?s)<li>\s*<a href="([^"]*)"[^>]*>(?:<svg.*?</svg>)?<b>(\d+)</b> ?<span>([^<]*)</span>`)

// rowsBehind counts the rows that a number's link leads to.
func rowsBehind(t *testing.T, b *browser, href string) int {
	t.Helper()
	path, part, _ := strings.Cut(href, "#")
	page := b.get(path)
	require.Equal(t, 200, page.StatusCode, href)
	switch {
	case part != "":
		_, text, found := strings.Cut(page.body, `aria-labelledby="`+part+`"`)
		require.True(t, found, href)
		text, _, _ = strings.Cut(text, "</section>")
		return max(0, strings.Count(text, "<tr>")-strings.Count(text, "<thead>"))
	case path == "/people/links":
		return strings.Count(page.body, `name="person-`)
	case strings.HasPrefix(path, "/observations?"):
		return strings.Count(page.body, `aria-label="Observation of `)
	}
	return strings.Count(page.body, `form="chosen" name="person"`)
}

func TestEachNumberOfTheDeskHasJustItsRowsBehindIt(t *testing.T) {
	c := crowded(t, 30, 4)
	seen := map[string]int{}
	for _, filter := range []string{"", "?role=preceptor", "?role=trainee", "?search=1", "?search=nobody-at-all", "?due=60", "?alone=no", "?standing=current&sort=name"} {
		found := numberLink.FindAllStringSubmatch(c.educator.get("/people"+filter).body, -1)
		require.Len(t, found, len(training.StandingWords)+10, filter)
		for _, m := range found {
			n, err := strconv.Atoi(m[2])
			require.NoError(t, err)
			if strings.Contains(m[0], "aria-current") && !strings.Contains(m[1], "due=") && !strings.Contains(m[1], "alone=") {
				continue // it lets go what is chosen
			}
			require.Equal(t, rowsBehind(t, c.educator, html.UnescapeString(m[1])), n, "%s under %q, at %s", m[3], filter, m[1])
			seen[m[3]] += n
		}
	}
	for _, what := range []string{"Current", "Due in 30 days", "May not work alone", "Waiting for a signature", "Demonstrations not finished", "of 10 station observations in March"} {
		require.NotZero(t, seen[what], what)
	}
}
