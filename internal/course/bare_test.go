package course_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/course"
	"stillwet/scenarios"
)

// Somebody who stands by sees what is wet and what has dried, and neither that a time is
// over nor that a touch has spoilt it.
func TestWhatABystanderSees(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	p, ok := lib.Procedure("between-patients")
	require.True(t, ok)
	log, err := action.Parse("bare", `stillwet log 2
procedure between-patients -
witness order clock drying
0:10 take wipe w1 of station-wipe
0:20 wipe staging
0:22 blood on counter
0:25 wipe pole
0:30 touch screen
0:40 touch staging
0:50 wipe counter
0:55 clean counter
2:05 dry pole
2:45 dry staging
`, p.Words)
	require.NoError(t, err)
	acts, err := course.Bare(p, log)
	require.NoError(t, err)
	require.Len(t, acts, 10)
	require.Len(t, acts[0].Scenes, len(p.Surfaces))
	films := map[course.Film]bool{}
	for _, a := range acts {
		require.Nil(t, a.Without)
		require.Empty(t, a.Changes)
		for _, s := range a.Scenes {
			films[s.Film] = true
		}
	}
	require.Equal(t, map[course.Film]bool{course.NotWiped: true, course.StillWet: true, course.Dried: true, course.Bloody: true}, films)
	require.Equal(t, course.StillWet, acts[1].Scenes["staging"].Film)
	require.Empty(t, acts[5].Scenes, "a touch changes nothing that is seen")
	require.Equal(t, course.Bloody, acts[2].Scenes["counter"].Film)
	require.Empty(t, acts[6].Scenes, "a wipe does not take blood off")
	require.Equal(t, course.NotWiped, acts[7].Scenes["counter"].Film)
	require.Equal(t, course.Dried, acts[8].Scenes["pole"].Film, "too short, which is not told")
	require.Equal(t, course.Dried, acts[9].Scenes["staging"].Film)
	require.Equal(t, acts[1].Scenes["staging"].Share, acts[3].Scenes["pole"].Share, "the share tells no time")
}
