package course_test

import (
	"maps"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/course"
	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

// played is a log of the built-in procedure as an example.
func played(t *testing.T, text string) []course.Shown {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	p, ok := lib.Procedure("between-patients")
	require.True(t, ok)
	shown, err := course.Example(p, &simulate.Scenario{ID: "played", Procedure: p.ID, Model: text})
	require.NoError(t, err)
	return shown
}

// films are the surfaces after each act.
func films(all []course.Shown) (after []map[string]course.Scene) {
	now := map[string]course.Scene{}
	for _, x := range all {
		maps.Copy(now, x.Scenes)
		after = append(after, maps.Clone(now))
	}
	return after
}

// With a clock the picture tells what the wet spells of the log tell.
func TestScenesAgreeWithTheSpells(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	s, _ := lib.Scenario("against-the-clock")
	p, _ := lib.Procedure(s.Procedure)
	log, err := action.Parse(s.ID, s.Model, p.Words)
	require.NoError(t, err)
	spells, err := assess.Spells(p, log)
	require.NoError(t, err)
	require.Greater(t, len(spells), 15)
	after := films(example(t, s.ID))
	seen := map[course.Film]int{}
	for i, now := range after {
		for _, x := range spells {
			if want := filmAt(x, log.Acts[i].At); want != "" {
				require.Equal(t, want, now[x.Surface].Film, "%s after %s", x.Surface, log.Acts[i].Text())
				seen[want]++
			}
		}
	}
	for _, f := range []course.Film{course.NotWiped, course.StillWet, course.Reached, course.ThenDry} {
		require.Positive(t, seen[f], f)
	}
	require.Equal(t, len(p.Surfaces), len(after[0]), "the first act tells all")
}

// filmAt is what the spells of a surface say of a moment; "" just when one begins or ends.
func filmAt(x assess.SurfaceSpells, t action.Millis) course.Film {
	film := course.NotWiped
	for _, s := range x.Spells {
		switch {
		case t == s.From, t == s.To:
			return ""
		case t < s.From:
			return film
		case t < s.To && t-s.From >= x.NeedMs:
			film = course.Reached
		case t < s.To:
			film = course.StillWet
		case s.To-s.From >= x.NeedMs:
			film = course.ThenDry
		default:
			film = course.TooShort
		}
	}
	return film
}

// Blood is seen in the picture until it is cleaned off, and no wipe before that wets.
func TestBloodIsSeenInTheScene(t *testing.T) {
	after := films(played(t, `stillwet log 2
procedure between-patients -
witness order clock drying
0:05 blood on counter
0:10 take wipe w1 of blood-wipe
0:20 wipe counter
0:30 clean counter with w1
0:40 take wipe w2 of blood-wipe
0:50 wipe counter
`))
	for i, want := range []course.Film{course.Bloody, course.Bloody, course.Bloody, course.NotWiped, course.NotWiped, course.StillWet} {
		require.Equal(t, want, after[i]["counter"].Film, i)
	}
}

// The station wipe asks for two minutes.
func TestScenesOfAWorkThatGoesWrong(t *testing.T) {
	after := films(played(t, `stillwet log 2
procedure between-patients -
witness order clock drying
0:05 help patient out
0:20 rub hands 20s
0:28 put on gloves
0:30 take wipe w1 of station-wipe
1:00 wipe screen
1:10 wipe top
1:30 wipe buttons
2:00 dry screen
3:40 touch front
3:50 touch buttons
`))
	at := func(act int, surface string) course.Scene { return after[act-1][surface] }
	require.Equal(t, course.Scene{Film: course.NotWiped}, at(4, "screen"))
	require.Equal(t, course.Scene{Film: course.StillWet}, at(5, "screen"))
	require.Equal(t, course.Scene{Film: course.StillWet, Share: 25}, at(7, "screen"), "30 of 120 seconds")
	require.Equal(t, course.Scene{Film: course.TooShort}, at(8, "screen"))
	require.Equal(t, course.Scene{Film: course.StillWet, Share: 41}, at(8, "top"), "50 of 120 seconds, never rounded up")
	require.Equal(t, course.Scene{Film: course.Reached}, at(9, "top"))
	require.Equal(t, course.Scene{Film: course.Spoilt}, at(10, "buttons"))
}

// Without a clock a wait is wet time and drying, and how far the time is nobody knows.
func TestScenesWithoutAClock(t *testing.T) {
	all := example(t, "ordinary-turnover")
	after := films(all)
	wiped := map[string]bool{}
	for i, x := range all {
		switch x.Act.Verb {
		case action.Wipe:
			wiped[x.Act.Object] = true
			require.Equal(t, course.StillWet, after[i][x.Act.Object].Film, x.Act.Text())
		case action.Wait:
			for id := range wiped {
				require.Equal(t, course.ThenDry, after[i][id].Film, id)
			}
		}
	}
	require.Greater(t, len(wiped), 15)
}

// The rows are always the same ones, and each goes on from the act before.
func TestTheRowsOfAnExample(t *testing.T) {
	all := example(t, "blood-on-the-machine")
	row := func(act, term string) course.Row {
		for _, r := range of(t, all, act).Rows {
			if r.Term == term {
				return r
			}
		}
		t.Fatal(term)
		return course.Row{}
	}
	for _, c := range []struct{ act, term, was, is string }{
		{"help patient out", "Patient", "in the chair", "gone"}, {"rub hands", "Hands", "used", "clean"},
		{"put on gloves", "Gloves", "none", "fresh"}, {"take off lines", "Gloves", "fresh", "used"}, {"take off gloves", "Gloves", "clean, in use", "none"},
		{"take wipe", "Wipe in hand", "none", "fresh"}, {"take off bucket", "Prime bucket", "in its place", "off"},
		{"empty bucket", "Prime bucket", "off", "off, empty"}, {"put bucket back", "Prime bucket", "off, empty", "back in its place"},
		{"blood on front", "Blood to be seen", "nothing", "Front panel"}, {"clean front", "Blood to be seen", "Front panel", "nothing"},
	} {
		require.Equal(t, course.Row{Term: c.term, Was: c.was, Is: c.is}, row(c.act, c.term), c.act)
	}
	for i := range all[1:] {
		require.Len(t, all[i+1].Rows, len(all[0].Rows))
		for n, r := range all[i+1].Rows {
			require.Equal(t, all[0].Rows[n].Term, r.Term)
			require.Equal(t, all[i].Rows[n].Is, r.Was, all[i+1].Act.Text())
		}
	}
}
