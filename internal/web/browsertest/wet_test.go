package browsertest

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

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
		const films = Object.fromEntries([...played.films].map(([id, f]) => [id, { dry: f.dry, reached: film(f, 1e9).state === "reached" }]));
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
	for id, lib := range map[string]*scenarios.Library{"against-the-clock": builtIn, "trolley-by-the-clock": trolley} {
		t.Run(id, func(t *testing.T) {
			c := newClinicOver(t, lib).staff()
			b := c.signedIn("tess", desktop)
			b.open("/practice/" + id)
			b.follow("main form .btn.big", "/practice/"+id)
			b.until(`document.getElementById("run-data") !== null`, "no run page")
			sc, p := c.Scenario(id)
			lists := [][]simulate.Tap{modelTaps(t, p, sc)}
			for seed := range uint64(150) {
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

func modelTaps(t *testing.T, p *procedure.Procedure, sc *simulate.Scenario) []simulate.Tap {
	taps, _, err := simulate.Taps(p, sc, simulate.CuesOf(sc.Model))
	require.NoError(t, err)
	return taps
}

// randomTaps wipes, takes wipes and changes gloves at random; with other acts
// the engine would also see what dirties a surface, which the page leaves out.
func randomTaps(r *rand.Rand, p *procedure.Procedure, sc *simulate.Scenario) (taps []simulate.Tap) {
	var offered []string
	for _, id := range sc.Steps {
		if !slices.ContainsFunc(p.Steps[p.StepIndex(id)].Acts, func(a action.Act) bool {
			return a.Verb != action.Wipe && a.Verb != action.TakeWipe && a.Object != action.Gloves
		}) {
			offered = append(offered, id)
		}
	}
	at := action.Millis(0)
	for range 5 + r.IntN(40) {
		at += action.Millis(r.IntN(30)) * 1000
		if r.IntN(8) == 0 {
			at += action.Millis(r.IntN(180)) * 1000
		}
		taps = append(taps, simulate.Tap{Step: offered[r.IntN(len(offered))], At: at})
	}
	return taps
}

// simulated is the same told by the simulation's log and the engine's spells.
func simulated(t *testing.T, p *procedure.Procedure, sc *simulate.Scenario, taps []simulate.Tap) told {
	const longAfter = action.Millis(12 * 3600 * 1000)
	played, err := simulate.Run(p, sc, taps, longAfter)
	require.NoError(t, err)
	want := told{Ends: make([]action.Millis, len(taps)), Films: map[string]film{}, Events: []action.Millis{}}
	for i, a := range played.Log.Acts {
		switch {
		case played.From[i] >= 0:
			want.Ends[played.From[i]] = a.At
		case a.Verb == action.Dry:
			want.Films[a.Object] = film{Dry: a.At}
		default:
			want.Events = append(want.Events, a.At)
		}
	}
	spells, err := assess.Spells(p, played.Log)
	require.NoError(t, err)
	for _, x := range spells {
		f := want.Films[x.Surface]
		f.Reached = x.Reached
		want.Films[x.Surface] = f
	}
	return want
}
