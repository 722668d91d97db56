package station_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
	"stillwet/scenarios"
)

func builtIn(t testing.TB) *procedure.Procedure {
	t.Helper()
	text, err := os.ReadFile("../../testdata/checks/station/between-patients.procedure.yaml")
	require.NoError(t, err)
	p, faults := scenarios.ReadProcedure("p", text)
	require.Empty(t, faults)
	return p
}

func play(t testing.TB, p *procedure.Procedure, acts string, trace *station.Trace) station.State {
	t.Helper()
	log, err := action.Parse("t", "stillwet log 1\nprocedure between-patients -\nwitness order\n"+acts, p.Words)
	require.NoError(t, err)
	bound, err := station.Bind(p, log)
	require.NoError(t, err)
	m := station.Machine{P: p, Witness: log.Witness, Trace: trace}
	s := station.Start(p)
	for i := range bound {
		m.Apply(&s, &bound[i])
	}
	return s
}

// The search for the fewest changes merges equal states, so a state must be
// comparable, and acts that commute must lead to equal ones.
func TestStatesAreComparable(t *testing.T) {
	p := builtIn(t)
	one := play(t, p, "put on gloves\ndiscard disposables in waste-bin\nset reusables at soiled-tray\n", nil)
	two := play(t, p, "put on gloves\nset reusables at soiled-tray\ndiscard disposables in waste-bin\n", nil)
	require.True(t, one == two)
	require.False(t, one == play(t, p, "put on gloves\nset reusables at soiled-tray\n", nil))
}

// F8 of the guidance (CDC checklist, from memory): touching a done surface with
// a dirty thing makes it dirty again. The finding can tell the way.
func TestContaminationCarriesItsCauses(t *testing.T) {
	p := builtIn(t)
	trace := station.NewTrace()
	s := play(t, p, "put on gloves\ntake wipe w1 of station-wipe\nwipe screen\ntake off bucket\ntouch screen\n", trace)
	screen := p.SurfaceIndex("screen")
	require.Equal(t, station.SpoiltByWork, s.Surfaces[screen].Spoilt)
	require.Equal(t, station.UsedGloves, s.Gloves)
	require.Equal(t, []station.Hop{{Act: 4, From: "bucket", To: "gloves"}, {Act: 5, From: "gloves", To: "screen"}}, trace.SurfaceWay(screen))
	require.Equal(t, []station.Hop{{Act: 4, From: "bucket", To: "gloves"}}, trace.GlovesWay())
	require.Equal(t, []string{"Prime bucket (act 4)", "gloves (act 5)"}, station.Lines(p, trace.SurfaceWay(screen)))
}

func TestAnActThatCannotBeDoneChangesNothingElse(t *testing.T) {
	p := builtIn(t)
	before := play(t, p, "put on gloves\n", nil)
	after := play(t, p, "put on gloves\nput on gloves\n", nil)
	require.Equal(t, station.AlreadyWorn, after.Impossible)
	after.Impossible = station.Possible
	require.True(t, before == after)
}

// A line that was forgotten for sure is put in (ruling 18): who wipes has a wipe,
// and who wipes the screen is at the station.
func TestAForgottenLineIsAssumed(t *testing.T) {
	p := builtIn(t)
	s := play(t, p, "put on gloves\nwipe screen\n", nil)
	require.Equal(t, station.TookWipe, s.Assumed)
	require.Equal(t, station.Wiped, s.Surfaces[p.SurfaceIndex("screen")].Clean)
	s = play(t, p, "take off bucket\nleave station\nempty bucket in toilet\nput bucket back\n", nil)
	require.Equal(t, station.CameBack, s.Assumed)
	require.True(t, s.Items[p.ItemIndex("bucket")].Empty, "a bucket is emptied away from the station")
	require.True(t, s.Items[p.ItemIndex("bucket")].Back)
}

func TestGlovesFollowTheRulings(t *testing.T) {
	p := builtIn(t)
	for acts, want := range map[string]station.Gloves{
		"put on gloves\n": station.FreshGloves,
		"put on gloves\nbring supplies to staging\n":                                       station.FreshGloves,
		"put on gloves\ntake wipe w of station-wipe\nwipe top\nwipe top\n":                 station.WorkingGloves,
		"put on gloves\ntouch chair\n":                                                     station.UsedGloves,
		"put on gloves\ntake off lines\n":                                                  station.UsedGloves,
		"put on gloves\nhelp patient out\n":                                                station.UsedGloves,
		"blood on top\nput on gloves\ntake wipe w of blood-wipe\nclean top\n":              station.SoiledGloves,
		"put on gloves\ntouch chair\ntake off gloves\n":                                    station.NoGloves,
		"not seen gloves-on\n":                                                             station.UnknownGloves,
		"put on gloves\ntake wipe w of station-wipe\nwipe top\nwait\ntouch top\n":          station.WorkingGloves,
		"put on gloves\ntouch chair\ntake off gloves\nput on gloves\n":                     station.FreshGloves,
		"put on gloves\ntake off bucket\ntake wipe w of station-wipe\nwipe bucket-sides\n": station.UsedGloves,
	} {
		require.Equal(t, want, play(t, p, acts, nil).Gloves, acts)
	}
}

// A station thing once bloody stays "was bloody" until it is disinfected with
// an intermediate-level product (CDC Notes for Clinical Managers, F11).
func TestWasBloodyNeedsTheStrongerProduct(t *testing.T) {
	p := builtIn(t)
	top := p.SurfaceIndex("top")
	clean := "blood on top\nput on gloves\ntake wipe w1 of station-wipe\nclean top\n"
	require.True(t, play(t, p, clean+"take wipe w2 of station-wipe\nwipe top\n", nil).Surfaces[top].WasBlood)
	require.False(t, play(t, p, clean+"take wipe w2 of blood-wipe\nwipe top\n", nil).Surfaces[top].WasBlood)
}

func TestBindRefusesWordsOfAnotherProcedure(t *testing.T) {
	p := builtIn(t)
	for _, a := range []action.Act{
		{Verb: action.Wipe, Object: "lines"}, {Verb: action.Discard, Object: "screen", Place: "drain"},
		{Verb: action.Discard, Object: "lines", Place: "river"}, {Verb: action.TakeWipe, With: "w1", Of: "soap"},
		{Verb: action.PutOn, Object: "hat"}, {Verb: action.NotSeen, Object: "nothing"}, {Verb: action.Touch, Object: "moon"},
	} {
		log := &action.Log{Procedure: p.ID, Witness: action.Order}
		log.Add(a)
		_, err := station.Bind(p, log)
		require.ErrorContains(t, err, "is not in procedure between-patients", "%+v", a)
	}
}

func BenchmarkApply(b *testing.B) {
	p := builtIn(b)
	text, err := os.ReadFile("../../testdata/checks/station/ordinary-turnover.model.log")
	require.NoError(b, err)
	log, err := action.Parse("m", string(text), p.Words)
	require.NoError(b, err)
	acts, err := station.Bind(p, log)
	require.NoError(b, err)
	m := station.Machine{P: p, Witness: log.Witness}
	b.ReportAllocs()
	for b.Loop() {
		s := station.Start(p)
		for i := range acts {
			m.Apply(&s, &acts[i])
		}
	}
}

// What begins is the procedure's to say.
func TestWhoIsThereAtTheStart(t *testing.T) {
	p := builtIn(t)
	require.True(t, station.Start(p).Present)
	nobody := *p
	nobody.Begins = procedure.NobodyThere
	require.False(t, station.Start(&nobody).Present)
}
