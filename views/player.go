package views

import (
	"fmt"
	"strings"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// WatchPart is a worked example to be watched to its end.
type WatchPart struct {
	Page      training.PartPage
	Procedure *procedure.Procedure
	Example   []course.Shown
	Onward    *Onward
}

// WorkedExample is a right run with what each act changes, and why it comes when it does.
type WorkedExample struct {
	Procedure *procedure.Procedure
	Acts      []course.Shown
}

// reason is why an act comes now: what would be found if it were left out. Why that
// matters is said once; on what it rests the lessons and the procedure's page say.
func (w WorkedExample) reason(i int) (message, why string) {
	x := w.Acts[i].Without
	if x == nil {
		return "", ""
	}
	for _, before := range w.Acts[:i] {
		if b := before.Without; b != nil && b.Rule == x.Rule && b.Why == x.Why {
			return x.Message, ""
		}
	}
	return x.Message, x.Why
}

// acted is an act with its time, where the run has a clock. What is a step of its own is
// named as the step is, which is what the learner will press.
func (w WorkedExample) acted(i int) string {
	a := w.Acts[i].Act
	text := ActWords(w.Procedure, a)
	if at := w.Procedure.StepIndex(w.Acts[i].Step); at >= 0 && len(w.Procedure.Steps[at].Acts) == 1 {
		text = w.Procedure.Steps[at].Label
	}
	if a.At >= 0 {
		text = roundClock(a.At) + " " + text
	}
	return text
}

func (w WatchPart) worked() WorkedExample { return WorkedExample{w.Procedure, w.Example} }

func (w WatchPart) seen() bool { return w.Page.Way.Parts[w.Page.Part].Done }

// drawing is the station as a script plays the acts on it. Each shape is drawn with all
// that a state can have, water and a sign; the script shows and hides it.
func (w WorkedExample) drawing(mirrored bool) Drawing {
	p := w.Procedure
	d := Drawing{Picture: pictureOf(p), Title: "The " + p.Station + " after this act", Desc: "What each act changes is told beside it, and in the list below.", Played: true, Mirrored: mirrored && mirrors(p)}
	for _, x := range p.Surfaces {
		d.Shapes = append(d.Shapes, Shape{ID: x.ID, Title: x.Title, Name: p.NameOf(x.ID), State: StateWet, Level: 1})
	}
	return d
}

// states are those that the example comes to, for the key of its picture.
func (w WorkedExample) states() (all []SurfaceState) {
	seen := map[SurfaceState]bool{}
	for _, x := range w.Acts {
		for _, s := range x.Scenes {
			if state := SurfaceState(s.Film); !seen[state] {
				seen[state] = true
				all = append(all, state)
			}
		}
	}
	return all
}

// around are the rows beside the picture as they are before the first act.
func (w WorkedExample) around() (all []Fact) {
	if len(w.Acts) > 0 {
		for _, r := range w.Acts[0].Rows {
			all = append(all, Fact{Term: r.Term, Text: r.Was})
		}
	}
	return all
}

// playedLook is how the script draws a state: its word within a sentence, how it is
// filled, the corners of its sign.
type playedLook struct {
	Word string `json:"word"`
	Fill fill   `json:"fill"`
	Mark string `json:"mark"`
}

// playedAct is one act for the script.
type playedAct struct {
	Text     string            `json:"text"`
	Changes  string            `json:"changes,omitempty"`
	Without  string            `json:"without,omitempty"`
	Why      string            `json:"why,omitempty"`
	Surfaces map[string][2]any `json:"surfaces"`       // state and share, of those that changed
	Rows     []string          `json:"rows,omitempty"` // where they are others than before
}

// played is the whole example for the script.
type played struct {
	Looks  map[SurfaceState]playedLook `json:"looks"`
	Titles map[string]string           `json:"titles"` // of surfaces
	Start  []string                    `json:"start"`  // the rows before the first act
	Acts   []playedAct                 `json:"acts"`
}

func (w WorkedExample) played() played {
	all := played{Looks: map[SurfaceState]playedLook{}, Titles: map[string]string{}}
	for _, s := range w.states() {
		l := lookOf(s)
		all.Looks[s] = playedLook{procedure.Within(l.Word), l.Fill, l.points()}
	}
	for _, x := range w.Procedure.Surfaces {
		all.Titles[x.ID] = x.Title
	}
	for _, f := range w.around() {
		all.Start = append(all.Start, f.Text)
	}
	for i := range w.Acts {
		all.Acts = append(all.Acts, w.playedAct(i))
	}
	return all
}

func (w WorkedExample) playedAct(i int) playedAct {
	x := w.Acts[i]
	a := playedAct{Text: w.acted(i), Changes: strings.Join(x.Changes, " "), Surfaces: map[string][2]any{}}
	a.Without, a.Why = w.reason(i)
	for id, s := range x.Scenes {
		a.Surfaces[id] = [2]any{s.Film, s.Share}
	}
	changed := false
	for _, r := range x.Rows {
		a.Rows = append(a.Rows, r.Is)
		changed = changed || r.Is != r.Was
	}
	if !changed {
		a.Rows = nil
	}
	return a
}

// place is an act among all.
func (w WorkedExample) place(i int) string { return fmt.Sprintf("Act %d of %d", i, len(w.Acts)) }
