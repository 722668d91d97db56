package views

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

func TestPeopleStandByUrgencyAndReadyOnesAreFound(t *testing.T) {
	person := func(name string, w training.StandingWord, ready bool) training.Standing {
		return training.Standing{Person: training.Person{Name: name}, Word: w, Ready: ready}
	}
	p := People{All: []training.Standing{
		person("Ada", training.Current, false), person("Ben", training.Current, true), person("Cleo", training.Lapsed, false),
		person("Dora", training.ReadyToSign, true), person("Eli", training.DueSoon, true),
	}}
	names := func() (all []string) {
		for _, s := range p.Shown() {
			all = append(all, s.Person.Name)
		}
		return all
	}
	require.Equal(t, []string{"Cleo", "Eli", "Dora", "Ada", "Ben"}, names())
	p.Filter.Standing = training.ReadyToSign
	require.Equal(t, []string{"Eli", "Dora", "Ben"}, names(), "also who could be signed again")
	require.Equal(t, 3, p.count(training.ReadyToSign), "the count is that of its rows")
}
