package training

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWhoNeedsIt(t *testing.T) {
	person := func(job, team string, roles ...Role) Person {
		return Person{Job: job, Team: team}.WithRoles(roles...)
	}
	newHire, preceptor := person("Technician, LPN", "Early", Trainee), person("", "", Preceptor)
	for _, c := range []struct {
		name      string
		needs     Needs
		p         Person
		signedOff bool
		want      bool
	}{
		{"nothing said", Needs{}, newHire, false, true},
		{"new hires", Needs{New: true}, newHire, false, true},
		{"new hires, once signed off", Needs{New: true}, newHire, true, false},
		{"staff", Needs{Staff: true}, newHire, true, true},
		{"staff, before", Needs{Staff: true}, newHire, false, false},
		{"staff is nobody who only precepts", Needs{Staff: true}, preceptor, true, false},
		{"a role", Needs{Roles: []Role{Preceptor}}, preceptor, false, true},
		{"another role", Needs{Roles: []Role{Preceptor}}, newHire, false, false},
		{"a further role", Needs{Roles: []Role{Preceptor}}, person("", "", Educator, Preceptor), false, true},
		{"a job, in any case", Needs{Jobs: []string{"lpn"}}, newHire, false, true},
		{"a part of a job", Needs{Jobs: []string{"Tech"}}, newHire, false, false},
		{"a team, in any case and spacing", Needs{Teams: []string{" early "}}, newHire, false, true},
		{"no team", Needs{Teams: []string{"Early"}}, preceptor, false, false},
		{"any of several", Needs{New: true, Teams: []string{"Late"}, Jobs: []string{"LPN"}}, newHire, true, true},
	} {
		require.Equal(t, c.want, c.needs.fits(c.p, c.signedOff), c.name)
	}
}
