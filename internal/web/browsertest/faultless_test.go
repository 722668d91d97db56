package browsertest

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/simulate"
)

// watcher is a preceptor who taps what she sees, in its own time.
type watcher struct {
	*tab
	c             *clinic
	id            string
	taps, answers int
	last          string          // tile that was pressed last: a second press at once is taken for one
	at            time.Duration   // how far the work has come
	done          map[string]bool // steps that a tap on their face noted already
	alone         bool            // the server is away
}

// sent waits until the server has everything; while it is away, until all is kept.
func (w *watcher) sent() {
	if !w.alone {
		w.tab.sent()
		return
	}
	time.Sleep(150 * time.Millisecond)
}

// see lets the clock go on and looks at the board again.
func (w *watcher) see(d time.Duration) {
	w.sent()
	if w.alone {
		w.passes(d)
	} else {
		w.c.later(w.tab, w.id, d)
	}
	w.answerAll()
}

// passes lets the clocks of server and tablet go on without a look at the server.
func (w *watcher) passes(d time.Duration) {
	w.c.Pass(d)
	eval[bool](w.tab, fmt.Sprintf(`(() => { for (const of of [performance, Date]) { const was = of.now.bind(of); of.now = () => was() + %d; } return true; })()`, d.Milliseconds()))
	pause() // until the board has looked at its clock
}

// answerAll answers what is asked as long as something is.
func (w *watcher) answerAll() {
	for {
		w.sent()
		asked := eval[string](w.tab, `document.querySelector("#panel-title").textContent.includes("Its time is not over") ? "" :
			[...document.querySelectorAll("#panel-cells .answer")].map((e) => e.textContent).find((x) => x === "Still wet" || x === "Dry") ?? ""`)
		if asked == "" {
			return
		}
		w.answer(asked)
		w.answers++
	}
}

// note taps a step, and answers what is asked before it.
func (w *watcher) note(step string) {
	if w.done[step] {
		delete(w.done, step)
		return
	}
	parts := strings.Fields(eval[string](w.tab, fmt.Sprintf(`document.querySelector(%q).dataset.kind === "face" ? document.querySelector(%[1]q).dataset.steps : ""`, tapOf(step))))
	w.press(tapOf(step))
	if w.asksOf(tapOf(step), "Wiped again") {
		w.again(step, parts)
		return
	}
	for _, other := range parts {
		w.done[other] = other != step
	}
	w.answerAll()
}

// asksOf reports whether what is asked is of the tile that was pressed: another face may come
// to its time in the same moment, and is asked about by itself.
func (w *watcher) asksOf(button, words string) bool {
	return eval[bool](w.tab, fmt.Sprintf(`document.querySelector("#panel-title").textContent.startsWith(document.querySelector(%q + " .name").textContent + ":") &&
		[...document.querySelectorAll("#panel-cells .tap")].some((e) => e.textContent === %q)`, button, words))
}

// again notes that one part of a face was wiped once more.
func (w *watcher) again(step string, parts []string) {
	for _, other := range parts {
		if p := w.c.Procedure; other != step {
			w.answer(p.NameOf(p.Steps[p.StepIndex(other)].Acts[0].Object))
			w.taps++
		}
	}
	w.answer("Wiped again")
	w.taps++
	w.sent()
}

func (w *watcher) press(button string) {
	tile := eval[string](w.tab, fmt.Sprintf(`document.querySelector(%q).dataset.steps ?? ""`, button))
	if tile == w.last {
		pause()
	}
	w.last = tile
	w.click(button)
	w.taps++
	w.sent()
}

// watching is a preceptor at the beginning of a turnover.
func (c *clinic) watching() *watcher {
	b, id := c.recording(tablet)
	return &watcher{tab: b, c: c, id: id, done: map[string]bool{}}
}

// work is a part of a turnover, tapped as it happens.
func (w *watcher) work(part []simulate.Tap) {
	for _, s := range part {
		at := time.Duration(s.At) * time.Millisecond
		if gap := at - w.at; gap > 10*time.Second {
			w.see(gap)
		}
		w.at = at
		switch s.Step {
		case "wait":
			continue // whoever watches says what is seen
		case "rub-hands", "wash-hands":
			w.press(tapOf(s.Step))
			w.see(41 * time.Second)
			w.press(tapOf(s.Step))
		case "declare-ready":
			w.see(2*time.Minute + 3*time.Second)
			w.note(s.Step)
		default:
			w.note(s.Step)
		}
	}
}

// finish ends the recording, and gives what was found with what is asked for before.
func (w *watcher) finish() (asked string, r assess.Result) {
	w.click("#end")
	asked = strings.Join(eval[[]string](w.tab, `["unanswered", "no-face", "undeclared", "undone"].map((id) => document.getElementById(id)).filter((e) => !e.hidden).map((e) => e.textContent)`), " ")
	w.click("#finish-yes")
	w.until(`document.getElementById("signing") !== null`, "no review")
	d, err := w.c.Demonstration(w.t.Context(), w.c.In("pia"), w.id)
	require.NoError(w.t, err)
	require.NoError(w.t, json.Unmarshal(d.ResultJSON, &r))
	return asked, r
}

// A faultless turnover, tapped as it happens, comes out faultless, with few taps and fewer
// answers.
func TestAFaultlessTurnoverTakesFewTaps(t *testing.T) {
	c := living(t)
	w := c.watching()
	model, _ := c.Taps("against-the-clock")
	w.work(model)
	acts := 0
	for _, text := range c.recorded(w.id) {
		act, err := action.ParseAct(text, c.Procedure.Words)
		require.NoError(t, err)
		if !act.Verb.Event() {
			acts++
		}
	}
	acts -= strings.Count(strings.Join(c.recorded(w.id), ";"), "undone") // cleanings of hands that were timed
	require.Greater(t, acts, 60)
	require.LessOrEqual(t, w.taps*60, acts*62, "%d taps for %d acts", w.taps, acts)
	require.LessOrEqual(t, w.answers, 8)
	asked, r := w.finish()
	require.Empty(t, asked, "something is left open that nobody asked for")
	require.Contains(t, w.text("h1"), "Passed, with nothing to change", "%+v", r.Findings)
}

// place is where the model does a step for the nth time.
func place(t *testing.T, model []simulate.Tap, step string, nth int) int {
	t.Helper()
	for i, s := range model {
		if s.Step == step {
			if nth--; nth == 0 {
				return i
			}
		}
	}
	require.FailNow(t, "the model has no such step", step)
	return -1
}

// one requires that a result tells one thing, of a surface or of none.
func one(t *testing.T, r assess.Result, rule, surface string) {
	t.Helper()
	require.Len(t, r.Findings, 1, "%+v", r.Findings)
	require.Equal(t, rule, r.Findings[0].Rule)
	require.Equal(t, surface, r.Findings[0].Surface)
}

// A part of a face that was left out is taken out of the tap on its face; it is told before
// the end, and found.
func TestAWipingLeftOutOnTheBoard(t *testing.T) {
	c := living(t)
	w := c.watching()
	model, _ := c.Taps("against-the-clock")
	i := place(t, model, "wipe-cuff", 1)
	w.work(model[:i])
	w.answer(c.Procedure.NameOf("cuff"))
	w.sent()
	w.work(model[i+1:])
	asked, r := w.finish()
	require.Contains(t, asked, "redo "+c.titleOf("cuff")+" (not noted as wiped) before")
	one(t, r, "every-surface", "cuff")
}

// Gloves that are not changed after tear-down.
func TestGlovesKeptOnOnTheBoard(t *testing.T) {
	c := living(t)
	w := c.watching()
	model, _ := c.Taps("against-the-clock")
	i := place(t, model, "gloves-off", 2)
	require.Equal(t, []string{"gloves-off", "rub-hands", "gloves-on"}, []string{model[i].Step, model[i+1].Step, model[i+2].Step})
	w.work(append(slices.Clone(model[:i]), model[i+3:]...))
	asked, r := w.finish()
	require.Empty(t, asked)
	one(t, r, "fresh-gloves", "bucket-inside")
}

// The pole dries soonest. Nobody wipes it again, and the watcher says that it looks dry.
func TestDriedTooEarlyOnTheBoard(t *testing.T) {
	c := living(t)
	w := c.watching()
	model, _ := c.Taps("against-the-clock")
	i := place(t, model, "wipe-pole", 2)
	require.Equal(t, "fresh-wipe", model[i-1].Step)
	w.work(model[:i-1])
	var wet string
	for wet = w.wetFor("wipe-pole"); wet < "1:40"; wet = w.wetFor("wipe-pole") { // its film is gone after 100 s
		w.see(5 * time.Second)
	}
	require.Less(t, wet, "1:56")
	w.press(tapOf("wipe-pole"))
	require.Contains(t, w.text("#panel-title"), "Its time is not over.")
	w.answer(c.Procedure.NameOf("cuff"))
	w.answer(c.Procedure.NameOf("attachments"))
	w.answer("Looks dry")
	w.sent()
	require.Contains(t, w.state("wipe-pole"), "Dry at 1:")
	w.at = time.Duration(model[i].At) * time.Millisecond
	w.work(model[i+1:])
	asked, r := w.finish()
	require.Contains(t, asked, "redo "+c.titleOf("pole")+" (time not reached) before")
	one(t, r, "wet-long-enough", "pole")
}

// wetFor is how long the tile of a step says that it has been wet.
func (w *watcher) wetFor(step string) string {
	state := w.state(step)
	wet, _, ok := strings.Cut(strings.TrimPrefix(state, "Wet "), " of ")
	require.True(w.t, ok, state)
	return wet
}

// titleOf is the whole name of a surface.
func (c *clinic) titleOf(surface string) string {
	return c.Procedure.Surfaces[c.Procedure.SurfaceIndex(surface)].Title
}
