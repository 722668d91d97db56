package views

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

func TestPeopleStandByUrgencyAndReadyOnesAreFound(t *testing.T) {
	person := func(name string, w training.StandingWord, ready bool, due training.Day, team string) training.Standing {
		return training.Standing{Person: training.Person{ID: name, Name: name, Team: team}.WithRoles(training.Trainee), Word: w, Ready: ready, Due: due}
	}
	p := People{Roll: training.Roll{Standings: []training.Standing{
		person("Ada", training.Current, false, "2026-09-01", "late"), person("Ben", training.Current, true, "2026-08-01", "early"), person("Cleo", training.Lapsed, false, "2026-01-01", ""),
		person("Dora", training.ReadyToSign, true, "", "Early"), person("Eli", training.DueSoon, true, "2026-03-09", "late"),
	}, Others: []training.Person{{Name: "Mo", Role: training.Manager, Also: "", Team: "early"}},
		Away: []training.Away{{Person: training.Person{Name: "Gil", Role: training.Trainee, Left: "2025-01-01"}}}}}
	names := func(f Filter) (all []string) {
		p.Filter = f
		rows, _ := p.Rows()
		for _, s := range rows {
			all = append(all, s.Person.Name)
		}
		return all
	}
	require.Equal(t, []string{"Cleo", "Eli", "Dora", "Ada", "Ben"}, names(Filter{}))
	require.Equal(t, []string{"Ada", "Ben", "Cleo", "Dora", "Eli"}, names(Filter{Sort: ByName}))
	require.Equal(t, []string{"Cleo", "Eli", "Ben", "Ada", "Dora"}, names(Filter{Sort: ByDue}), "who has no due day stands last")
	require.Equal(t, []string{"Ben", "Dora", "Ada", "Eli", "Cleo"}, names(Filter{Sort: ByTeam}), "who is in no team stands last")
	require.Equal(t, []string{"Dora", "Ben"}, names(Filter{Team: "early"}))
	require.Empty(t, names(Filter{Role: training.Manager}))
	require.Equal(t, []string{"Eli"}, names(Filter{Search: " eLI"}))
	require.Equal(t, []string{"Eli", "Dora", "Ben"}, names(Filter{Standing: training.ReadyToSign}), "also who could be signed again")

	for _, f := range []Filter{{}, {Team: "early"}, {Search: "e"}, {Team: "late", Standing: training.Current}} {
		p.Filter = f
		_, counts := p.Rows()
		for _, w := range training.StandingWords {
			require.Len(t, names(toggled(Filter{Team: f.Team, Search: f.Search}, w)), counts[w], "%s of %v: the count is that of its rows", w, f)
		}
	}
	p.Filter = Filter{Role: training.Manager}
	require.Len(t, p.others(), 1)
	p.Filter = Filter{Standing: training.Current}
	require.Empty(t, p.others(), "who is in no training stands under no word")
	p.Filter = Filter{Left: true, Search: "gil"}
	require.Len(t, p.away(), 1)
	p.Filter.Role = training.Preceptor
	require.Empty(t, p.away())
	require.Equal(t, []string{"Early", "late"}, p.teams(), "a team in any case is one")
	require.Equal(t, "/people?left=yes&role=trainee&rows=all&search=a&sort=due&standing=due&team=x",
		Filter{Standing: training.DueSoon, Search: "a", Team: "x", Role: training.Trainee, Left: true, Sort: ByDue, Whole: true}.address())
}

// A very long list is cut, and says so; all of it is a press away.
func TestALongListOfPeopleIsCut(t *testing.T) {
	p := People{}
	for i := range mostPeople + 1 {
		p.Standings = append(p.Standings, training.Standing{Person: training.Person{Name: fmt.Sprint(i)}, Word: training.Current})
	}
	rows, _ := p.Rows()
	require.Len(t, p.shown(rows), mostPeople)
	p.Filter.Whole = true
	require.Len(t, p.shown(rows), mostPeople+1)
	p.Filter.Whole, p.Standings = false, p.Standings[1:]
	rows, _ = p.Rows()
	require.False(t, p.cut(rows))
}
