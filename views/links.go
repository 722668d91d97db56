package views

import (
	"net/url"
	"strings"

	"github.com/a-h/templ"

	"stillwet/internal/training"
)

// LinksPageData is who has not chosen a password of their own yet.
type LinksPageData struct {
	All    []training.WaitingAccount // of the team
	Team   string                    // "" is every team
	Teams  []string
	Tick   string            // tickAll, tickNone, or who has nothing to come in with
	Chosen map[string]string // sign-in names as they were typed, by the people who were chosen; nil at first
	Wrong  string
}

// What is ticked at first, as the address says.
const (
	tickAll  = "all"
	tickNone = "none"
)

// ticked is the address of the page with other ticks.
func (p LinksPageData) ticked(tick string) templ.SafeURL {
	return templ.SafeURL("/people/links?" + url.Values{"team": {p.Team}, "tick": {tick}}.Encode())
}

func (p LinksPageData) menu() Menu { return teamMenu(p.Team, p.Teams) }

// hereNow says at a field which words are in use, so that none is written otherwise.
func hereNow(words []string) string {
	switch n := len(words); {
	case n == 0:
		return ""
	case n > mostWordsSaid:
		return " Here now: " + strings.Join(words[:mostWordsSaid], ", ") + " and others."
	}
	return " Here now: " + strings.Join(words, ", ") + "."
}

const mostWordsSaid = 20

// teamMenu chooses among teams, or all of them.
func teamMenu(team string, teams []string) Menu {
	m := Menu{ID: "team", Label: "Team", Value: team, Options: []Option{{"", "Every team"}}}
	for _, t := range teams {
		if m.Options = append(m.Options, Option{t, t}); strings.EqualFold(t, team) {
			m.Value = t
		}
	}
	return m
}

// chosen reports whether somebody is ticked: at first who has nothing to come in with.
func (p LinksPageData) chosen(f Frame, w training.WaitingAccount) bool {
	if p.Chosen != nil {
		_, ok := p.Chosen[w.Person.ID]
		return ok
	}
	switch p.Tick {
	case tickAll:
		return true
	case tickNone:
		return false
	}
	return !w.Has
}

func (p LinksPageData) username(w training.WaitingAccount) string {
	if typed := p.Chosen[w.Person.ID]; typed != "" {
		return typed
	}
	return w.Username
}

// waitingText says how somebody can come in now.
func (f Frame) waitingText(w training.WaitingAccount, now training.Instant) string {
	what := either(w.Link, "A link", "A first password")
	switch {
	case !w.Has:
		return "No account yet"
	case w.Until <= now:
		return what + " ended unused on " + f.Moment(w.Until)
	}
	return what + " is good until " + f.Moment(w.Until)
}

// SlipsPageData is links that were made just now, told this once.
type SlipsPageData struct {
	All  []training.GivenLink // none on a repeat
	Base string               // address of the program
}
