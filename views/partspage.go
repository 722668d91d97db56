package views

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Parts is the page that shows every part in every state: for whoever makes a page, and
// for the tests that look at it.
type Parts struct {
	Procedure *procedure.Procedure // what the samples are about
}

// sample is a result that shows every kind of line; nobody did it.
func (p Parts) sample(o assess.Outcome) Result {
	first, last := p.Procedure.Surfaces[0].ID, p.Procedure.Surfaces[len(p.Procedure.Surfaces)-1].ID
	at := 95.
	findings := []assess.Finding{
		{Rule: "a", Act: 2, AtS: &at, Surface: first, Message: "Dried 45 seconds too early: " + thing(p.Procedure, first) + ".", Why: "A surface that dried has not had its time.", Next: "Wipe it again while it is still wet.", Source: "the product's label", Critical: true},
		{Rule: "b", Act: 3, Message: "Gloves were kept on between two tasks.", Why: "They carry what the first task left on them.", Next: "Take them off, clean hands, put on new ones.", Source: "the clinic's policy"},
		{Rule: "c", Act: 4, Message: "The supplies were fetched late.", Why: "Each walk is a chance to touch something.", Next: "Lay them out first.", Source: "common practice, no source", Level: assess.AdviceLevel},
	}
	if o == assess.Pass {
		findings = nil
	}
	return Result{
		Procedure: p.Procedure,
		Log:       &action.Log{Acts: []action.Act{{Number: 1}, {Number: 2}, {Number: 3}, {Number: 4}}},
		Result: &assess.Result{Findings: findings, NotAssessed: []assess.Gap{{Rule: "wet", Surface: last, Reason: "nobody looked when its time was over"}},
			Marks: assess.Marks{Met: 8, Missed: 2, Score: .8, Cut: .9, Result: o, Lines: []assess.MarkLine{
				{Title: "Wet for its whole time", Worth: 2, Critical: true, Status: assess.Met}, {Title: "Gloves changed", Worth: 1, Status: assess.Missed},
				{Title: "Blood cleaned off first", Worth: 1, Critical: true, Status: assess.NotApplicable}, {Title: "Call light wiped", Worth: 1, Status: assess.NotAssessed}}}},
	}
}

// outcomes are all of them.
var outcomes = []assess.Outcome{assess.Pass, assess.NotPass, assess.Incomplete}

// standing is a sample of somebody who stands so.
func (p Parts) standing(w training.StandingWord) training.Standing {
	return training.Standing{Person: training.Person{ID: "nobody", Name: "Somebody Invented", StaffNo: "00070"}, Competency: training.Competency{ID: "x", Title: p.Procedure.Definition.Title},
		Word: w, Due: "2027-03-01", Needed: 2, PassedScenarios: []string{"one"}, MissingScenarios: []string{"two"}}
}

// run is a sample with a clock: a surface that stayed wet, one that dried too early, one
// that was wiped again.
func (p Parts) run() Result {
	r := p.sample(assess.NotPass)
	at := func(s int) action.Millis { return action.Millis(s * 1000) }
	r.Log = &action.Log{Witness: action.Order | action.Clock | action.Drying, Acts: []action.Act{
		{Number: 1, Verb: action.RubHands, At: at(10)}, {Number: 2, Verb: action.PutOn, Object: "gloves", At: at(14)},
		{Number: 3, Verb: action.TakeOff, Object: "gloves", At: at(80)}, {Number: 4, Verb: action.RubHands, At: at(300)}}}
	spells := [][]assess.Spell{{{From: at(20), To: at(150)}}, {{From: at(40), To: at(90)}}, {{From: at(60), To: at(120)}, {From: at(140), To: at(290)}}}
	for i, x := range p.Procedure.Surfaces[:min(len(spells), len(p.Procedure.Surfaces))] {
		r.Spells = append(r.Spells, assess.SurfaceSpells{Surface: x.ID, NeedMs: at(120), Spells: spells[i], Reached: i != 1})
	}
	return r
}

// board is the picture with surfaces in every state, as whoever watches taps it.
func (p Parts) board(mirrored bool) Drawing {
	d := Drawing{Name: "board", Picture: p.Procedure.Picture, Title: "Picture with every state", Desc: "Invented states, one after the other.", Mirrored: mirrored && mirrors(p.Procedure)}
	for i, x := range p.Procedure.Surfaces {
		d.Shapes = append(d.Shapes, Shape{ID: x.ID, Title: x.Title, Name: p.Procedure.NameOf(x.ID), State: surfaceLooks[i%len(surfaceLooks)].State, Level: .6, Button: true})
	}
	return d
}
