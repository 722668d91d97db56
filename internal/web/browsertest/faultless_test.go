package browsertest

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
)

// watcher is a preceptor who taps what she sees, in its own time.
type watcher struct {
	*tab
	c             *clinic
	id            string
	taps, answers int
	last          string          // tile that was pressed last: a second press at once is taken for one
	done          map[string]bool // steps that a tap on their face noted already
}

// see lets the clock go on and looks at the board again.
func (w *watcher) see(d time.Duration) {
	w.sent()
	w.c.later(w.tab, w.id, d)
	w.answerAll()
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
	if w.asks("Wiped again") {
		w.again(step, parts)
		return
	}
	for _, other := range parts {
		w.done[other] = other != step
	}
	w.answerAll()
}

func (w *watcher) asks(words string) bool {
	return eval[bool](w.tab, fmt.Sprintf(`[...document.querySelectorAll("#panel-cells .tap")].some((e) => e.textContent === %q)`, words))
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

// A faultless turnover, tapped as it happens, comes out faultless, with few taps and fewer
// answers.
func TestAFaultlessTurnoverTakesFewTaps(t *testing.T) {
	c := living(t)
	b, id := c.recording(tablet)
	w := &watcher{tab: b, c: c, id: id, done: map[string]bool{}}
	model, _ := c.Taps("against-the-clock")
	at := time.Duration(0)
	for _, s := range model {
		if gap := time.Duration(s.At)*time.Millisecond - at; gap > 10*time.Second {
			w.see(gap)
		}
		at = time.Duration(s.At) * time.Millisecond
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
	acts := 0
	for _, text := range c.recorded(id) {
		act, err := action.ParseAct(text, c.Procedure.Words)
		require.NoError(t, err)
		if !act.Verb.Event() {
			acts++
		}
	}
	acts -= strings.Count(strings.Join(c.recorded(id), ";"), "undone") // cleanings of hands that were timed
	require.Greater(t, acts, 60)
	require.LessOrEqual(t, w.taps*60, acts*62, "%d taps for %d acts", w.taps, acts)
	require.LessOrEqual(t, w.answers, 8)
	b.click("#end")
	require.Empty(t, eval[[]string](b, `["unanswered", "no-face", "undeclared"].map((id) => document.getElementById(id)).filter((e) => !e.hidden).map((e) => e.textContent)`), "something is left open that nobody asked for")
	b.click("#finish-yes")
	b.until(`document.getElementById("signing") !== null`, "no review")
	require.Contains(t, b.text("h1"), "Passed, with nothing to change")
}
