package procedure

import (
	"encoding/json"
	"fmt"
	"slices"

	"stillwet/internal/action"
)

// What version 1 of the program held in its own code and not in the procedure.
// Stored definitions of that time leave it out; this file is the one place that
// still knows it. A definition is of version 1 when it says nothing of all this.

func fillVersion1(d *Definition) {
	fillChairSide(d)
	if d.Begins != "" || d.Station != "" || d.Work != "" || len(d.Areas) > 0 || len(d.Picture.Shapes) > 0 {
		return
	}
	d.Begins, d.Station, d.Work = PatientThere, "station", "turnover"
	d.Areas = []Area{
		{"hands", "Hands and protection"}, {"patient", "Patient and station"}, {"supplies", "Supplies"},
		{"tear-down", "Used things"}, {"bucket", "Prime bucket"}, {"machine", "Machine"}, {"chair-side", "Chair side"},
	}
	d.Picture = version1Picture(d)
}

// fillChairSide: before surfaces said whether a person in the chair reaches them,
// the steps' area was the one place that told.
func fillChairSide(d *Definition) {
	for _, s := range d.Surfaces {
		if s.ChairSide {
			return
		}
	}
	surfaces := slices.Clone(d.Surfaces) // the caller's list stays as it is
	for _, step := range d.Steps {
		for _, a := range step.Acts {
			i := slices.IndexFunc(surfaces, func(s Surface) bool { return s.ID == a.Object })
			if step.Area == "chair-side" && a.Verb == action.Wipe && i >= 0 {
				surfaces[i].ChairSide = true
			}
		}
	}
	d.Surfaces = surfaces
}

// version1Picture is the drawing of version 1 with the surfaces that the
// procedure has.
func version1Picture(d *Definition) Picture {
	has := map[string]bool{}
	for _, s := range d.Surfaces {
		has[s.ID] = true
	}
	p := Picture{
		Width: 810, Height: 420, Hands: Point{440, 92}, Floor: "M10 399h790",
		Labels: []Label{
			{"Machine", Point{240, 416}}, {"Prime bucket", Point{78, 416}}, {"Chair", Point{566, 416}},
			{"Side table", Point{736, 416}}, {"Counter", Point{715, 108}},
		},
	}
	for _, s := range version1Shapes {
		if !has[s.Surface] {
			s.Surface = ""
		}
		p.Shapes = append(p.Shapes, s)
	}
	return p
}

var version1Shapes = []Shape{
	{Surface: "left", Pair: "machine", Path: "M150 118l-34 18v262l34-12z", At: Point{128, 330}},
	{Surface: "right", Pair: "machine", Path: "M330 118l34 18v262l-34-12z", At: Point{350, 330}},
	{Surface: "front", Path: "M150 118h180v268H150z", At: Point{240, 352}},
	{Surface: "top", Path: "M144 104q0-8 8-8h176q8 0 8 8v14H144z", At: Point{186, 104}},
	{Surface: "pole", Path: "M282 22h44a4 4 0 0 1 0 8h-18v66h-8V30h-18a4 4 0 0 1 0-8z", At: Point{304, 46}},
	{Surface: "screen", Path: "M176 134h128a6 6 0 0 1 6 6v62a6 6 0 0 1-6 6H176a6 6 0 0 1-6-6v-62a6 6 0 0 1 6-6z", At: Point{240, 170}},
	{Surface: "buttons", Path: "M170 220h66v28h-66z", At: Point{203, 234}},
	{Surface: "keyboard", Path: "M246 220h64v28h-64z", At: Point{278, 234}},
	{Surface: "latches", Path: "M182 262h24v56h-24zM228 262h24v56h-24zM274 262h24v56h-24z", At: Point{240, 290}},
	{Surface: "attachments", Path: "M56 150h44v58H56zM100 172h16v10h-16z", At: Point{78, 178}},
	{Surface: "cuff", Path: "M384 172h66a8 8 0 0 1 8 8v24a8 8 0 0 1-8 8h-66zM364 188h20v6h-20z", At: Point{420, 192}},
	{Surface: "bucket-outside", Path: "M34 300h88l-12 84H46z", At: Point{78, 372}},
	{Surface: "bucket-sides", Path: "M52 318h52l-6 40H58z", At: Point{78, 340}},
	{Surface: "bucket-inside", Path: "M34 300a44 12 0 0 1 88 0a44 12 0 0 1-88 0z", At: Point{78, 298}},
	{Surface: "chair", Path: "M494 152h34a14 14 0 0 1 14 14v116h96a14 14 0 0 1 14 14v22h-22v80h-14v-62H508v62h-14v-80h-14V166a14 14 0 0 1 14-14z", At: Point{566, 306}},
	{Surface: "side-table", Path: "M690 286h92v12h-8v100h-10V298h-56v100h-10V298h-8z", At: Point{736, 292}},
	{Surface: "counter", Path: "M640 142h150v12H640zM648 154h134v58H648z", At: Point{715, 184}},
	{Surface: "staging", Path: "M668 122h90v8l-6 12h-78l-6-12z", At: Point{713, 130}},
	{Surface: "call-light", Path: "M588 108h24v42h-24zM598 150h4v66h-4z", At: Point{600, 126}},
}

// version1Verbs are the verbs in the order in which version 1 numbered them.
var version1Verbs = [...]action.Verb{
	0, action.CheckStable, action.HelpOut, action.CheckGone, action.RubHands, action.WashHands, action.PutOn, action.TakeOff,
	action.TakeWipe, action.DropWipe, action.Wipe, action.Clean, action.LookAt, action.Discard, action.SetAt, action.Bring,
	action.Empty, action.PutBack, action.Touch, action.LeaveStation, action.ComeBack, action.StartInternal, action.TagOut,
	action.Wait, action.DeclareReady, action.PatientLeaves, action.PatientSits, action.BloodOn, action.Dry, action.StillWet,
	action.Alarm, action.Prompted, action.NotSeen, action.Pause, action.Resume, action.Undone,
}

// version1 reads acts as version 1 kept them: every field, the verb by number.
func (a *Acts) version1(text []byte) error {
	var old []struct {
		Number, Line, Verb      int
		At, Millis              action.Millis
		Object, Place, With, Of string
		Undoes                  int
	}
	if err := json.Unmarshal(text, &old); err != nil {
		return fmt.Errorf("acts: %w", err)
	}
	*a = make(Acts, len(old))
	for i, o := range old {
		if o.Verb < 1 || o.Verb >= len(version1Verbs) {
			return fmt.Errorf("acts: version 1 had no verb %d", o.Verb)
		}
		act := action.Act{At: o.At, Verb: version1Verbs[o.Verb], Object: o.Object, Place: o.Place, With: o.With, Of: o.Of, Millis: o.Millis, Undoes: o.Undoes}
		if act.Verb == action.TakeWipe {
			act.Of = Shelf // version 1 took what was at hand, whatever its steps said
		}
		(*a)[i] = act
	}
	return nil
}
