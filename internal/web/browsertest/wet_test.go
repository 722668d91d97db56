package browsertest

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

// told is what the page's wet clock says of some taps.
type told struct {
	Ends   []action.Millis `json:"ends"` // of each tap
	Films  map[string]film `json:"films"`
	Events []action.Millis `json:"events"`
}

type film struct {
	Dry     action.Millis `json:"dry"`
	Reached bool          `json:"reached"`
}

// playing runs the page's own module over lists of taps.
const playing = `(async () => {
	const { timeline, film } = await import(new URL("wet.js", document.querySelector("script[src$='run.js']").src));
	const data = JSON.parse(document.getElementById("run-data").textContent);
	return %s.map((taps) => {
		const played = timeline(data, taps);
		const films = Object.fromEntries([...played.films].map(([id, f]) => [id, { dry: f.dry, reached: ["reached", "dry"].includes(film(f, 1e9).state) }]));
		return { ends: played.done.map((d) => d.end), films, events: played.events.map((e) => e.at) };
	});
})()`

// The clock on the page is an estimate for the eye, but of the same world: for
// any taps it ends each step, dries each surface and reaches each label time
// when the simulation and the engine do.
func TestTheWetClockOfThePageAgrees(t *testing.T) {
	builtIn, err := scenarios.Load()
	require.NoError(t, err)
	trolley, err := scenarios.LoadFS(os.DirFS("../../../testdata/trolley"))
	require.NoError(t, err)
	for name, x := range map[string]struct {
		id  string
		lib *scenarios.Library
	}{"built in": {"against-the-clock", builtIn}, "trolley": {"trolley-by-the-clock", trolley}, "a busy trolley": {"trolley-by-the-clock", busyTrolley(t)},
		"a coat": {"the-coat-against-the-clock", builtIn}, "an alarm": {"an-alarm-against-the-clock", builtIn}, "three minutes": {"three-minutes-wet", builtIn},
		"treatment time": {"against-the-clock", treated(t, "station-wipe", "blood-wipe")}, "both readings": {"against-the-clock", treated(t, "station-wipe")}} {
		t.Run(name, func(t *testing.T) {
			id, c := x.id, newClinicOver(t, x.lib).staff()
			b := c.signedIn("tess", desktop)
			b.open("/practice/" + id)
			b.follow("main form .btn.big", "/practice/"+id)
			b.until(`document.getElementById("run-data") !== null`, "no run page")
			sc, p := c.Scenario(id)
			open, err := c.Unfinished(context.Background(), c.In("tess"), id, false)
			require.NoError(t, err)
			sc = sc.Variant(open.Seed)
			lists := [][]simulate.Tap{modelTaps(t, p, sc)}
			for seed := range uint64(400) {
				lists = append(lists, randomTaps(rand.New(rand.NewPCG(seed, 3)), p, sc))
			}
			text, err := json.Marshal(lists)
			require.NoError(t, err)
			all := eval[[]told](b, fmt.Sprintf(playing, text))
			require.Len(t, all, len(lists))
			for i, got := range all {
				require.Equal(t, simulated(t, p, sc, lists[i]), got, "taps %v", lists[i])
			}
		})
	}
}

// treated is the built-in set with the labels of some products read as treatment time.
func treated(t *testing.T, products ...string) *scenarios.Library {
	var edits []scenarios.Edit
	for _, id := range products {
		edits = append(edits, scenarios.Edit{Do: "put", List: "products", Row: id, Fields: map[string]string{
			"reading": "treatment", "reading_words": "Leave it alone.", "reading_by": "Mara Voss", "reading_on": "2027-01-02", "dries_s": "40 s"}})
	}
	set, err := scenarios.BuiltIn().With(edits...)
	require.NoError(t, err)
	lib, err := set.Load()
	require.NoError(t, err)
	return lib
}

// modelTaps are the steps of the model, without its waits: the busy trolley's
// surfaces are not wet when they should be.
func modelTaps(t *testing.T, p *procedure.Procedure, sc *simulate.Scenario) []simulate.Tap {
	cues := slices.DeleteFunc(simulate.CuesOf(sc.Model), func(cue string) bool { return strings.HasPrefix(cue, "until-") })
	taps, _, err := simulate.Taps(p, sc, cues)
	require.NoError(t, err)
	return taps
}

// busyTrolley lets the worker leave and come back, and blood show by itself and
// by a step. Its model is not one of good work, and is not asked to be.
func busyTrolley(t *testing.T) *scenarios.Library {
	set := fstest.MapFS{}
	for name, change := range map[string][2]string{
		"programme.yaml": {}, "trolley-in-order.yaml": {}, "trolley-in-order.model.log": {}, "trolley-by-the-clock.model.log": {},
		"trolley-by-the-clock.yaml": {`- {at: "0:40", happens: alarm}`, `- {at: "0:50", happens: blood on handle}` + "\n" + `  - {at: "0:55", happens: patient touches lower-shelf}` + "\n" + `  - {after: gloves-off, happens: blood on lower-shelf}`},
		"supply-trolley.procedure.yaml": {"\norder:", `  - {id: leave, label: Leave, area: person, acts: [leave station], seconds: 5}
  - {id: come-back, label: Come back, area: person, acts: [come back], seconds: 5}
  - {id: see-blood, label: See blood, area: trolley, acts: [blood on upper-shelf], seconds: 1}
  - {id: clean-upper-shelf, label: Clean the upper shelf, area: trolley, acts: [clean upper-shelf], seconds: 0}

order:`},
	} {
		text, err := os.ReadFile("../../../testdata/trolley/" + name)
		require.NoError(t, err)
		require.Contains(t, string(text), change[0])
		set[name] = &fstest.MapFile{Data: []byte(strings.Replace(string(text), change[0], change[1], 1))}
	}
	lib, err := scenarios.Unproved(set)
	require.NoError(t, err)
	return lib
}

// harmless are the acts that the page follows. With others the engine would also
// see what dirties a surface, which the page leaves out.
var harmless = []action.Verb{action.Wipe, action.TakeWipe, action.Clean, action.BloodOn, action.LeaveStation, action.ComeBack}

// randomTaps wipes, takes wipes, changes gloves and more at random, whether or
// not it can be done. First a wipe is taken off the shelf: of one that nobody ever
// took the engine guesses the product from those taken later, as no clock can.
func randomTaps(r *rand.Rand, p *procedure.Procedure, sc *simulate.Scenario) (taps []simulate.Tap) {
	var offered []string
	for _, id := range sc.Steps {
		if !slices.ContainsFunc(p.Steps[p.StepIndex(id)].Acts, func(a action.Act) bool {
			return !slices.Contains(harmless, a.Verb) && a.Object != action.Gloves
		}) {
			offered = append(offered, id)
		}
	}
	at := action.Millis(0)
	taps = append(taps, simulate.Tap{Step: fromShelf(p)})
	for range 5 + r.IntN(40) {
		at += action.Millis(r.IntN(30)) * 1000
		if r.IntN(8) == 0 {
			at += action.Millis(r.IntN(180)) * 1000
		}
		taps = append(taps, simulate.Tap{Step: offered[r.IntN(len(offered))], At: at})
	}
	return taps
}

// fromShelf is the step that takes a wipe off the shelf.
func fromShelf(p *procedure.Procedure) string {
	i := slices.IndexFunc(p.Steps, func(s procedure.Step) bool {
		return s.Acts[0].Verb == action.TakeWipe && s.Acts[0].Of == procedure.Shelf
	})
	return p.Steps[i].ID
}

// simulated is the same told by the simulation's log and the engine's spells.
func simulated(t *testing.T, p *procedure.Procedure, sc *simulate.Scenario, taps []simulate.Tap) told {
	const longAfter = action.Millis(12 * 3600 * 1000)
	played, err := simulate.Run(p, sc, taps, longAfter)
	require.NoError(t, err)
	want := told{Ends: make([]action.Millis, len(taps)), Films: map[string]film{}, Events: []action.Millis{}}
	for i, a := range played.Log.Acts {
		if a.Verb == action.BloodOn {
			delete(want.Films, a.Object)
		}
		switch {
		case i < len(sc.Start): // so when it began
		case played.From[i] >= 0:
			want.Ends[played.From[i]] = a.At
		case a.Verb == action.Dry:
			want.Films[a.Object] = film{Dry: a.At}
		default:
			want.Events = append(want.Events, a.At)
		}
	}
	played.Log.Acts = append(played.Log.Acts, action.Act{Number: len(played.Log.Acts) + 1, Verb: action.Pause, At: longAfter}) // what runs on when all is dry has its time
	spells, err := assess.Spells(p, played.Log)
	require.NoError(t, err)
	for _, x := range spells {
		if f, ok := want.Films[x.Surface]; ok {
			f.Reached = x.Reached
			want.Films[x.Surface] = f
		}
	}
	return want
}
